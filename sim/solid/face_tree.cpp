#include "sim/solid/face_tree.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <unordered_map>

namespace proveout::solid {
namespace {

// Closest point of a triangle and the feature it lies on: 0 face, 1..3 vertex, 4..6 edge k (from
// corner k). Ericson, "Real-Time Collision Detection", section 5.1.5.
Vec3 closest(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c, int& feature) {
  const Vec3 ab = b - a, ac = c - a, ap = p - a;
  const double d1 = ab.dot(ap), d2 = ac.dot(ap);
  if (d1 <= 0 && d2 <= 0) {
    feature = 1;
    return a;
  }
  const Vec3 bp = p - b;
  const double d3 = ab.dot(bp), d4 = ac.dot(bp);
  if (d3 >= 0 && d4 <= d3) {
    feature = 2;
    return b;
  }
  const double vc = d1 * d4 - d3 * d2;
  if (vc <= 0 && d1 >= 0 && d3 <= 0) {
    feature = 4;
    return a + d1 / (d1 - d3) * ab;
  }
  const Vec3 cp = p - c;
  const double d5 = ab.dot(cp), d6 = ac.dot(cp);
  if (d6 >= 0 && d5 <= d6) {
    feature = 3;
    return c;
  }
  const double vb = d5 * d2 - d1 * d6;
  if (vb <= 0 && d2 >= 0 && d6 <= 0) {
    feature = 6;
    return a + d2 / (d2 - d6) * ac;
  }
  const double va = d3 * d6 - d5 * d4;
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    feature = 5;
    return b + (d4 - d3) / ((d4 - d3) + (d5 - d6)) * (c - b);
  }
  feature = 0;
  const double denominator = 1 / (va + vb + vc);
  return a + ab * (vb * denominator) + ac * (vc * denominator);
}

}  // namespace

FaceTree::FaceTree(const mesh::Mesh& mesh) : mesh_(&mesh), order_(mesh.triangles.size()) {
  for (std::uint32_t i = 0; i < order_.size(); ++i) order_[i] = i;
  nodes_.reserve(order_.size() / 2 + 1);
  build(0, static_cast<std::uint32_t>(order_.size()));
  pseudonormals();
}

Box3 FaceTree::box_of(std::uint32_t first, std::uint32_t count) const {
  Box3 box;
  for (std::uint32_t i = first; i < first + count; ++i) {
    for (std::uint32_t v : mesh_->triangles[order_[i]]) box.extend(mesh_->vertices[v]);
  }
  return box;
}

// Halves by the longest extent of the triangles' middles, down to four triangles.
std::uint32_t FaceTree::build(std::uint32_t first, std::uint32_t count) {
  const auto index = static_cast<std::uint32_t>(nodes_.size());
  nodes_.emplace_back();
  Box3 centres;
  for (std::uint32_t i = first; i < first + count; ++i) {
    Vec3 sum = Vec3::Zero();
    for (std::uint32_t v : mesh_->triangles[order_[i]]) sum += mesh_->vertices[v];
    centres.extend(sum / 3);
  }
  int axis = 0;
  if (count > 0) centres.sizes().maxCoeff(&axis);
  const std::uint32_t half = count / 2;
  const auto key = [&](std::uint32_t t) {
    const auto& tri = mesh_->triangles[t];
    return mesh_->vertices[tri[0]][axis] + mesh_->vertices[tri[1]][axis] +
           mesh_->vertices[tri[2]][axis];
  };
  std::nth_element(order_.begin() + first, order_.begin() + first + half,
                   order_.begin() + first + count, [&](std::uint32_t a, std::uint32_t b) {
                     const double ka = key(a), kb = key(b);
                     return ka != kb ? ka < kb : a < b;
                   });
  const auto down = [](double v) { return std::nextafter(static_cast<float>(v), -1e30f); };
  const auto up = [](double v) { return std::nextafter(static_cast<float>(v), 1e30f); };
  for (std::size_t side = 0; side < 2; ++side) {
    const std::uint32_t from = side == 0 ? first : first + half;
    const std::uint32_t many = side == 0 ? half : count - half;
    const Box3 box = box_of(from, many);  // of nothing: so far off that no search comes there
    for (int k = 0; k < 3; ++k) {
      nodes_[index].low[side][k] = many == 0 ? 3e38f : down(box.min()[k]);
      nodes_[index].high[side][k] = many == 0 ? 3e38f : up(box.max()[k]);
    }
    const bool held = many <= 4;
    const std::uint32_t below = held ? from : build(from, many);
    nodes_[index].first[side] = below;
    nodes_[index].count[side] = held ? many : 0;
  }
  return index;
}

void FaceTree::pseudonormals() {
  const std::size_t n = mesh_->triangles.size();
  face_normal_.resize(n);
  edge_normal_.resize(n);
  vertex_normal_.assign(mesh_->vertices.size(), Vec3::Zero());
  std::unordered_map<std::uint64_t, Vec3> edges;
  edges.reserve(2 * n);
  const auto key = [](std::uint64_t a, std::uint64_t b) {
    return a < b ? a << 32 | b : b << 32 | a;
  };
  for (std::size_t i = 0; i < n; ++i) {
    const auto& t = mesh_->triangles[i];
    const Vec3 &a = mesh_->vertices[t[0]], &b = mesh_->vertices[t[1]], &c = mesh_->vertices[t[2]];
    const Vec3 cross = (b - a).cross(c - a);
    const double norm = cross.norm();
    face_normal_[i] = norm > 0 ? Vec3(cross / norm) : Vec3(Vec3::Zero());
    const std::array<Vec3, 3> corner = {a, b, c};
    for (int k = 0; k < 3; ++k) {
      const Vec3 u = corner[(k + 1) % 3] - corner[k], v = corner[(k + 2) % 3] - corner[k];
      const double angle = std::atan2(u.cross(v).norm(), u.dot(v));
      vertex_normal_[t[k]] += angle * face_normal_[i];
      edges.try_emplace(key(t[k], t[(k + 1) % 3]), Vec3::Zero()).first->second += face_normal_[i];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    const auto& t = mesh_->triangles[i];
    for (int k = 0; k < 3; ++k) edge_normal_[i][k] = edges.at(key(t[k], t[(k + 1) % 3]));
  }
}

FaceTree::Found FaceTree::find(const Vec3& p, double reach, int hint) const {
  const Eigen::Vector3f q = p.cast<float>();
  Found found;
  found.square = reach < 1e15 ? reach * reach : std::numeric_limits<double>::infinity();
  const auto look_at = [&](std::uint32_t number) {
    const auto& t = mesh_->triangles[number];
    int feature = 0;
    const Vec3 on =
        closest(p, mesh_->vertices[t[0]], mesh_->vertices[t[1]], mesh_->vertices[t[2]], feature);
    const double square = (p - on).squaredNorm();
    if (square < found.square) found = {square, number, feature, on, true};
  };
  if (hint >= 0) look_at(static_cast<std::uint32_t>(hint));
  std::array<Waiting, most_waiting> waiting;
  std::size_t depth = 0;
  waiting[depth++] = {};
  while (depth > 0) {
    const Waiting next = waiting[--depth];
    if (next.square >= found.square) continue;
    if (next.count > 0) {
      for (std::uint32_t i = next.first; i < next.first + next.count; ++i) look_at(order_[i]);
      continue;
    }
    const Node& node = nodes_[next.first];
    const std::array<double, 2> square{node.square(0, q), node.square(1, q)};
    const std::size_t nearer = square[0] < square[1] ? 0 : 1;
    for (const std::size_t side : {1 - nearer, nearer}) {
      if (square[side] < found.square)
        waiting[depth++] = {node.first[side], node.count[side], square[side]};
    }
  }
  return found;
}

Vec3 FaceTree::normal_of(const Found& f) const {
  return f.feature == 0  ? face_normal_[f.triangle]
         : f.feature < 4 ? vertex_normal_[mesh_->triangles[f.triangle][f.feature - 1]]
                         : edge_normal_[f.triangle][f.feature - 4];
}

double FaceTree::at(const Vec3& p, double reach) const {
  const Found f = find(p, reach, -1);
  if (!f.any) return reach;
  const double distance = std::sqrt(f.square);
  return (p - f.on).dot(normal_of(f)) < 0 ? -distance : distance;
}

FaceTree::Nearest FaceTree::nearest(const Vec3& p, double reach, int hint) const {
  const Found f = find(p, reach, hint);
  Nearest n;
  n.distance = reach;
  if (!f.any) return n;
  const Vec3 away = p - f.on, normal = normal_of(f);
  const double way = away.norm(), sign = away.dot(normal) < 0 ? -1 : 1;
  n.distance = sign * way;
  // On the surface itself the way out is the feature's normal.
  n.slope = way > 1e-9 ? Vec3(away * (sign / way)) : Vec3(normal.normalized());
  n.on = f.on;
  n.within_face = f.feature == 0;
  n.face = static_cast<int>(f.triangle);
  return n;
}

template <class Look>
void FaceTree::triangles_near(const Vec3& p, double reach, Look look) const {
  const double most = reach * reach;
  const Eigen::Vector3f q = p.cast<float>();
  std::array<std::uint32_t, most_waiting> waiting;
  std::size_t depth = 0;
  waiting[depth++] = 0;
  while (depth > 0) {
    const Node& node = nodes_[waiting[--depth]];
    for (std::size_t side = 0; side < 2; ++side) {
      if (node.square(side, q) > most) continue;
      if (node.count[side] == 0) {
        waiting[depth++] = node.first[side];
        continue;
      }
      for (std::uint32_t i = node.first[side]; i < node.first[side] + node.count[side]; ++i) {
        if (!look(order_[i])) return;
      }
    }
  }
}

bool FaceTree::comes_within(std::uint32_t triangle, const Vec3& p, double reach) const {
  const auto& t = mesh_->triangles[triangle];
  int feature = 0;
  const Vec3 on =
      closest(p, mesh_->vertices[t[0]], mesh_->vertices[t[1]], mesh_->vertices[t[2]], feature);
  return (p - on).squaredNorm() <= reach * reach;
}

bool FaceTree::plain_within(const Vec3& p, double reach, const Vec3& normal, double sine) const {
  const double least = std::sqrt(std::max(0.0, 1 - sine * sine));
  bool plain = true;
  triangles_near(p, reach, [&](std::uint32_t triangle) {
    plain = face_normal_[triangle].dot(normal) >= least || !comes_within(triangle, p, reach);
    return plain;
  });
  return plain;
}

double FaceTree::normals_apart(const Vec3& p, double reach, const Vec3& normal, double most) const {
  double furthest = 0;
  triangles_near(p, reach, [&](std::uint32_t triangle) {
    const double apart = (face_normal_[triangle] - normal).squaredNorm();
    if (apart > furthest && comes_within(triangle, p, reach)) furthest = apart;
    return furthest <= most * most;
  });
  return furthest > most * most ? 2 : std::sqrt(furthest);
}

FaceTree::OffPlane FaceTree::off_plane(const Vec3& on, double reach, const Vec3& normal) const {
  OffPlane off;
  triangles_near(on, reach, [&](std::uint32_t triangle) {
    const auto& t = mesh_->triangles[triangle];
    const Vec3& a = mesh_->vertices[t[0]];
    const double heights[3] = {normal.dot(a - on), normal.dot(mesh_->vertices[t[1]] - on),
                               normal.dot(mesh_->vertices[t[2]] - on)};
    double high = std::min(reach, std::max({heights[0], heights[1], heights[2]}));
    double low = std::max(-reach, std::min({heights[0], heights[1], heights[2]}));
    const Vec3& facing = face_normal_[triangle];
    const double cosine = facing.dot(normal);
    // Its plane within reach, which a large triangle's corners say little of.
    if (cosine > 0.1) {
      const double middle = facing.dot(a - on) / cosine;
      const double aside = reach * std::sqrt(std::max(0.0, 1 - cosine * cosine)) / cosine;
      high = std::min(high, middle + aside);
      low = std::max(low, middle - aside);
    }
    const bool more = high > off.above || low < -off.below;
    if (more && comes_within(triangle, on, reach)) {
      off.above = std::max(off.above, high);
      off.below = std::max(off.below, -low);
    }
    return true;
  });
  return off;
}

}  // namespace proveout::solid
