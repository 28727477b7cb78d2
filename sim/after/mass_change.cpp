#include "sim/after/mass_change.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <unordered_map>

#include "parser/base/disjoint_sets.h"
#include "sim/run/inputs.h"

namespace proveout::after {
namespace {

constexpr double square_to = 0.985;  // cosine of 10 degrees
constexpr double along = 0.29;       // sine of 17 degrees
constexpr double one_face = 0.866;   // cosine of 30 degrees: triangles that meet flatter are one
constexpr double least_share = 0.01;
constexpr std::size_t most_faces = 12;
constexpr double most_rays = 200;  // of a face, about

struct Triangle {
  std::array<Vec3, 3> corners;
  Vec3 normal = Vec3::Zero(), middle = Vec3::Zero();
  double area = 0;
  int kind = 0;  // 0: slopes; 1: square to an axis; 2: along all axes
};

std::vector<Triangle> triangles_of(const mesh::Mesh& mesh, const std::vector<Vec3>& axes) {
  std::vector<Triangle> out;
  out.reserve(mesh.triangles.size());
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const Vec3 cross = (b - a).cross(c - a);
    Triangle one;
    one.corners = {a, b, c};
    one.area = 0.5 * cross.norm();
    one.normal = one.area > 0 ? Vec3(cross / cross.norm()) : Vec3(Vec3::Zero());
    one.middle = (a + b + c) / 3;
    bool wall = one.area > 0;
    for (const Vec3& axis : axes) {
      const double cosine = std::abs(one.normal.dot(axis));
      if (cosine >= square_to) one.kind = 1;
      wall = wall && cosine <= along;
    }
    if (one.kind == 0 && wall) one.kind = 2;
    out.push_back(one);
  }
  return out;
}

// Triangles of one kind that share an edge and meet flat.
std::vector<std::vector<std::uint32_t>> faces_of(const mesh::Mesh& mesh,
                                                 const std::vector<Triangle>& all) {
  DisjointSets sets(all.size());
  std::unordered_map<std::uint64_t, std::uint32_t> edges;
  edges.reserve(all.size() * 2);
  for (std::uint32_t i = 0; i < all.size(); ++i) {
    for (int k = 0; k < 3; ++k) {
      const std::uint64_t a = mesh.triangles[i][static_cast<std::size_t>(k)],
                          b = mesh.triangles[i][static_cast<std::size_t>((k + 1) % 3)];
      const auto [at, fresh] = edges.emplace(std::min(a, b) << 32 | std::max(a, b), i);
      if (fresh) continue;
      const Triangle &one = all[i], &other = all[at->second];
      if (one.kind != 0 && one.kind == other.kind && one.normal.dot(other.normal) >= one_face)
        sets.join(i, at->second);
    }
  }
  std::vector<std::vector<std::uint32_t>> out;
  std::unordered_map<std::size_t, std::size_t> number;
  for (std::uint32_t i = 0; i < all.size(); ++i) {
    if (all[i].kind == 0) continue;
    const auto [at, fresh] = number.emplace(sets.find(i), out.size());
    if (fresh) out.emplace_back();
    out[at->second].push_back(i);
  }
  return out;
}

// How far the part goes on behind a place of its surface, square to it: steps as long as the
// nearest surface is away never step over one.
double thickness(const solid::PartDistance& part, const Vec3& on, const Vec3& normal, double most) {
  const double start = 1e-3, settled = 1e-3;
  double deep = start;
  for (int k = 0; k < 400 && deep < most; ++k) {
    const double inside = -part.at(on - deep * normal);
    if (inside <= settled && deep > 4 * start) return deep + std::max(0.0, inside);
    deep += std::max(inside, 0.5 * settled);
  }
  return std::min(deep, most);
}

// The way before a place of its surface, square to it, out of the blank, or half that to more of
// the part: what faces it there may be the same wall, which closes in from both sides.
double room_before(const solid::PartDistance& part, const Vec3& on, const Vec3& normal,
                   const Box3& blank, double most) {
  double left = most;
  for (int k = 0; k < 3; ++k) {
    if (std::abs(normal[k]) < 1e-9) continue;
    const double wall = normal[k] > 0 ? blank.max()[k] : blank.min()[k];
    left = std::min(left, std::max(0.0, (wall - on[k]) / normal[k]));
  }
  const double start = 1e-3, settled = 1e-3;
  double far = start;
  for (int k = 0; k < 400 && far < left; ++k) {
    const double open = part.at(on + far * normal);
    if (open <= settled && far > 4 * start) return std::min(0.5 * far, left);
    far += std::max(open, 0.5 * settled);
  }
  return left;
}

// The middles of n x n like triangles that make up one.
std::vector<Vec3> places(const Triangle& t, int n) {
  std::vector<Vec3> out;
  const Vec3 u = (t.corners[1] - t.corners[0]) / n, v = (t.corners[2] - t.corners[0]) / n;
  for (int i = 0; i < n; ++i) {
    for (int k = 0; i + k < n; ++k) {
      out.push_back(t.corners[0] + (i + 1.0 / 3) * u + (k + 1.0 / 3) * v);
      if (i + k + 1 < n) out.push_back(t.corners[0] + (i + 2.0 / 3) * u + (k + 2.0 / 3) * v);
    }
  }
  return out;
}

MassFace measured(const solid::PartDistance& part, const std::vector<Triangle>& all,
                  const std::vector<std::uint32_t>& of, const Box3& box, const Box3& blank) {
  MassFace out;
  Vec3 middle = Vec3::Zero();
  for (const std::uint32_t i : of) {
    out.area_mm2 += all[i].area;
    middle += all[i].area * all[i].middle;
  }
  middle /= out.area_mm2;
  const auto nearest = std::min_element(of.begin(), of.end(), [&](auto a, auto b) {
    return (all[a].middle - middle).squaredNorm() < (all[b].middle - middle).squaredNorm();
  });
  out.at = all[*nearest].middle;
  out.normal = all[*nearest].normal;
  const double size = box.diagonal().norm();
  out.web = out.room = size;
  double owed = 0;  // rays, by area
  for (const std::uint32_t i : of) {
    owed += most_rays * all[i].area / out.area_mm2;
    if (owed < 1) continue;
    for (const Vec3& p : places(all[i], static_cast<int>(std::ceil(std::sqrt(owed))))) {
      out.web = std::min(out.web, thickness(part, p, all[i].normal, size));
      out.room = std::min(out.room, room_before(part, p, all[i].normal, blank, size));
    }
    owed = 0;
  }
  if (all[of.front()].kind == 2) {
    out.kind = FaceKind::wall;
    return out;
  }
  double extent = -size;
  for (int corner = 0; corner < 8; ++corner)
    extent = std::max(extent,
                      out.normal.dot(box.corner(static_cast<Box3::CornerType>(corner)) - out.at));
  const bool outermost = extent < 1e-3 * size;
  out.kind = outermost ? FaceKind::face : FaceKind::floor;
  out.depth = outermost ? 0 : extent;
  return out;
}

}  // namespace

std::vector<MassFace> mass_faces(const solid::PartDistance& part, const std::vector<Vec3>& axes,
                                 const Box3& blank, double density, double missing_g) {
  const std::vector<Triangle> all = triangles_of(part.mesh(), axes);
  double surface = 0;
  for (const Triangle& t : all) surface += t.area;
  auto sets = faces_of(part.mesh(), all);
  const auto area = [&](const std::vector<std::uint32_t>& of) {
    double sum = 0;
    for (const std::uint32_t i : of) sum += all[i].area;
    return sum;
  };
  std::erase_if(sets, [&](const auto& of) { return area(of) < least_share * surface; });
  std::stable_sort(sets.begin(), sets.end(),
                   [&](const auto& a, const auto& b) { return area(a) > area(b); });
  if (sets.size() > most_faces) sets.resize(most_faces);
  const Box3 box = mesh::bounds(part.mesh());
  std::vector<MassFace> out;
  for (const auto& of : sets) {
    MassFace f = measured(part, all, of, box, blank);
    f.g_per_mm = f.area_mm2 * density / 1000;
    f.mm = f.g_per_mm > 0 ? missing_g / f.g_per_mm : 0;
    f.web_after = f.web + f.mm;
    f.within_reach =
        f.web_after > 0 && f.mm <= f.room + 1e-2 && (f.kind != FaceKind::floor || f.mm <= f.depth);
    out.push_back(f);
  }
  return out;
}

std::vector<MassFace> mass_faces(const run::JobResult& result) {
  const run::MassTarget& target = result.part.target;
  const solid::PartDistance* part = run::part_of(result);
  if (!(target.target_g > 0) || part == nullptr) return {};
  std::vector<Vec3> axes;
  for (const run::SetupResult& s : result.setups)
    axes.push_back(s.stock_from_setup.linear().col(2));
  return mass_faces(*part, axes, result.inputs->blank, result.density_g_cm3, target.missing_g);
}

}  // namespace proveout::after
