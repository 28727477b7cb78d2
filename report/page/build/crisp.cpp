#include "report/page/build/crisp.h"

#include <Eigen/Eigenvalues>
#include <cmath>
#include <optional>
#include <span>

#include "report/page/build/exact_places.h"

namespace proveout::page {
namespace {

// Cosine of the angle between two faces from which on they are told apart (choice: 8 degrees).
constexpr double one_face = 0.99;
// Of the largest, below which a singular value counts as none (Ju and others).
constexpr double least_singular = 0.05;

// Where the grid is believed although the motions tell otherwise.
bool taken_away(double grid, double motions, double voxel) { return grid > motions + 0.5 * voxel; }

struct Cell {
  Vec3 low = Vec3::Zero();
  double step = 0;
  std::array<double, 8> value{};
  Vec3 corner(int c) const { return low + step * Vec3(c & 1, c >> 1 & 1, c >> 2); }
  bool holds(const Vec3& at, double spare) const {
    return ((at - low).array() >= -spare).all() && ((at - low).array() <= step + spare).all();
  }
};

Cell cell_of(const Lattice& lattice, std::size_t first) {
  const auto [i, j, k] = lattice.at(first);
  Cell cell;
  cell.low = lattice.place(i, j, k);
  cell.step = lattice.step;
  for (int c = 0; c < 8; ++c)
    cell.value[static_cast<std::size_t>(c)] = static_cast<double>(
        lattice.values[lattice.index(i + (c & 1), j + (c >> 1 & 1), k + (c >> 2))]);
  return cell;
}

template <class Each>  // each(corner a, corner b, place by the values)
void for_crossings(const Cell& cell, Each each) {
  for (const auto& [a, b] : cell_edges) {
    const double va = cell.value[static_cast<std::size_t>(a)],
                 vb = cell.value[static_cast<std::size_t>(b)];
    if ((va < 0) == (vb < 0)) continue;
    each(a, b, Vec3(cell.corner(a) + va / (va - vb) * (cell.corner(b) - cell.corner(a))));
  }
}

// Whether one face goes through the cell, as far as the grid tells.
bool plain(const Cell& cell, const stock::FieldSampler& grid) {
  std::optional<Vec3> first;
  bool alike = true;
  for_crossings(cell, [&](int, int, const Vec3& at) {
    if (!alike) return;
    const Vec3 slope = slope_of(grid, at);
    const double length = slope.norm();
    alike = length > steep;
    if (!alike) return;
    if (!first) first = slope / length;
    alike = first->dot(slope) / length > one_face;
  });
  return alike;
}

struct Crossing {
  Vec3 at = Vec3::Zero(), normal = Vec3::Zero();
  Sheet sheet;
};

// Where the motions' surface crosses the edge from corner a to b of the cell: false position, the
// end that stays halved (Illinois). Where a corner lies on the surface the grid may have it on the
// other side of it: there it crosses.
bool cross(ExactPlace& place, const Cell& cell, int a, int b, Vec3& at) {
  const Vec3 from = cell.corner(a), to = cell.corner(b);
  const double tolerance = 1e-6 * cell.step, hair = 0.02 * cell.step;
  double low = 0, high = 1, f_low = place.value(from), f_high = place.value(to);
  if ((f_low < 0) == (f_high < 0)) {
    at = std::abs(f_low) < std::abs(f_high) ? from : to;
    return std::min(std::abs(f_low), std::abs(f_high)) < hair;
  }
  int side = 0;
  for (int round = 0; round < 40; ++round) {
    const double share = (low * f_high - high * f_low) / (f_high - f_low);
    at = from + share * (to - from);
    const double f = place.value(at);
    if (std::abs(f) < tolerance) return true;
    if ((f < 0) == (f_low < 0)) {
      low = share;
      f_low = f;
      if (side < 0) f_high *= 0.5;
      side = -1;
    } else {
      high = share;
      f_high = f;
      if (side > 0) f_low *= 0.5;
      side = 1;
    }
  }
  return true;
}

// The place with the least squares of its distances to the crossings' planes, nearest to their
// middle where that leaves a choice.
Vec3 least_squares(std::span<const Crossing> crossings) {
  Vec3 mean = Vec3::Zero(), right = Vec3::Zero();
  for (const Crossing& c : crossings) mean += c.at;
  mean /= static_cast<double>(crossings.size());
  Eigen::Matrix3d square = Eigen::Matrix3d::Zero();
  for (const Crossing& c : crossings) {
    square += c.normal * c.normal.transpose();
    right += c.normal.dot(c.at - mean) * c.normal;
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solved(square);
  const double least = least_singular * least_singular * solved.eigenvalues()[2];
  Vec3 at = mean;
  for (int k = 0; k < 3; ++k) {
    if (solved.eigenvalues()[k] <= least) continue;
    const Vec3 way = solved.eigenvectors().col(k);
    at += way.dot(right) / solved.eigenvalues()[k] * way;
  }
  return at;
}

// The faces that meet in a cell, three at most: each turned from those before.
std::vector<Sheet> faces_of(std::span<const Crossing> crossings) {
  std::vector<Sheet> sheets;
  std::vector<Vec3> normals;
  for (const Crossing& c : crossings) {
    const bool known = std::any_of(normals.begin(), normals.end(),
                                   [&](const Vec3& n) { return n.dot(c.normal) > one_face; });
    if (known || sheets.size() == 3) continue;
    sheets.push_back(c.sheet);
    normals.push_back(c.normal);
  }
  return sheets;
}

// To where all these faces meet, the least way there: Newton's method with the least-norm solution.
bool meet(ExactPlace& place, std::span<const Sheet> sheets, double reach, Vec3& at) {
  const auto count = static_cast<Eigen::Index>(sheets.size());
  const Vec3 start = at;
  for (int round = 0; round < 10; ++round) {
    Eigen::Matrix<double, Eigen::Dynamic, 3, 0, 3, 3> slopes(count, 3);
    Eigen::Matrix<double, Eigen::Dynamic, 1, 0, 3, 1> values(count);
    for (Eigen::Index k = 0; k < count; ++k) {
      Vec3 slope;
      values[k] = place.value_of(sheets[static_cast<std::size_t>(k)], at, slope);
      slopes.row(k) = slope.transpose();
    }
    if (values.cwiseAbs().maxCoeff() < 1e-9) return true;
    const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, 3, 3> square =
        slopes * slopes.transpose();
    if (!(std::abs(square.determinant()) > 1e-5)) return false;
    at -= slopes.transpose() * square.inverse() * values;
    if (!((at - start).cwiseAbs().array() < reach).all()) return false;
  }
  return true;
}

// The middle of what a straight line has in the cell; false: none.
bool middle_within(const Cell& cell, const Vec3& along, Vec3& at) {
  double from = -1e30, to = 1e30;
  for (int k = 0; k < 3; ++k) {
    const double low = cell.low[k] - at[k], high = low + cell.step;
    if (std::abs(along[k]) < 1e-9) {
      if (low > 0 || high < 0) return false;
      continue;
    }
    const double a = low / along[k], b = high / along[k];
    from = std::max(from, std::min(a, b));
    to = std::min(to, std::max(a, b));
  }
  if (from > to) return false;
  at += 0.5 * (from + to) * along;
  return true;
}

// Where two of the faces meet in the cell: the place of their edge nearest to the cell's middle may
// lie beside it although the edge goes through.
bool edge_within(ExactPlace& place, const Cell& cell, std::span<const Sheet> two, Vec3& at) {
  if (!meet(place, two, 3 * cell.step, at)) return false;
  Vec3 a, b;
  place.value_of(two[0], at, a);
  place.value_of(two[1], at, b);
  const Vec3 along = a.cross(b);
  if (!(along.norm() > 1e-3) || !middle_within(cell, along.normalized(), at)) return false;
  return meet(place, two, cell.step, at) && cell.holds(at, 1e-2 * cell.step);
}

// Down f onto the surface.
void settle(ExactPlace& place, Vec3& at) {
  for (int round = 0; round < 4; ++round) {
    const double f = place.value(at);
    if (std::abs(f) < 1e-7) return;
    Vec3 slope;
    place.value_of(place.sheet_at(at), at, slope);
    at -= f / std::max(slope.squaredNorm(), 0.1) * slope;
  }
}

// A hair inside the cell, where it is a hair outside or on the border: cells that share the border
// must not get the same vertex.
Vec3 inside(const Cell& cell, const Vec3& at) {
  const Vec3 hair = Vec3::Constant(1e-3 * cell.step);
  const Vec3 high = cell.low + Vec3::Constant(cell.step);
  return at.cwiseMax(cell.low + hair).cwiseMin(high - hair);
}

// Where the cell's vertex belongs; none: the grid is to be believed.
std::optional<Vec3> vertex_in(ExactPlace& place, const Cell& cell, const stock::FieldSampler& grid,
                              double voxel) {
  std::vector<Crossing> crossings;
  bool known = true;
  const double tolerance = 1e-6 * cell.step;
  for_crossings(cell, [&](int a, int b, const Vec3& by_values) {
    Crossing c;
    if (!cross(place, cell, a, b, c.at)) {
      // Both ends lie on one side of the motions' surface, by a little: it passes beside.
      c.at = by_values;
      settle(place, c.at);
      known = known && cell.holds(c.at, 0.5 * cell.step);
    }
    known = known && !taken_away(grid(c.at), 0, voxel);
    if (!known) return;
    c.sheet = place.sheet_at(c.at);
    place.value_of(c.sheet, c.at, c.normal);
    known = c.normal.norm() > 0.1;
    c.normal.normalize();
    crossings.push_back(c);
  });
  if (!known || crossings.size() < 3) return std::nullopt;
  Vec3 at = least_squares(crossings);
  const Vec3 high = cell.low + Vec3::Constant(cell.step);
  const Vec3 held = at.cwiseMax(cell.low).cwiseMin(high);
  const std::vector<Sheet> sheets = faces_of(crossings);
  at = held;
  if (meet(place, sheets, 2 * cell.step, at) && cell.holds(at, 1e-3 * cell.step) &&
      std::abs(place.value(at)) < tolerance)
    return inside(cell, at);
  for (std::size_t i = 0; i < sheets.size(); ++i) {
    for (std::size_t j = i + 1; j < sheets.size(); ++j) {
      at = held;
      const std::array<Sheet, 2> two{sheets[i], sheets[j]};
      if (edge_within(place, cell, two, at) && std::abs(place.value(at)) < tolerance)
        return inside(cell, at);
    }
  }
  Vec3 mean = Vec3::Zero();
  for (const Crossing& c : crossings) mean += c.at / static_cast<double>(crossings.size());
  // Of two walls of a groove whose bottom lies beside the cell, one has it.
  for (const Vec3& from : {held, mean, crossings.front().at}) {
    at = from;
    settle(place, at);
    if (!cell.holds(at, 0.1 * cell.step) || std::abs(place.value(at)) > 0.01 * cell.step) continue;
    return cell.holds(at, 1e-3 * cell.step) ? inside(cell, at) : at;
  }
  return inside(cell, mean);
}

Vec3 vertex(const Surface& surface, std::size_t i) {
  return {surface.vertices[3 * i], surface.vertices[3 * i + 1], surface.vertices[3 * i + 2]};
}

// Quads with a vertex that was placed: the diagonal whose middle lies nearer to the surface.
void choose_diagonals(const stock::ExactStock& exact, const std::vector<char>& placed, double step,
                      Surface& surface) {
  std::vector<std::size_t> quads;
  std::vector<Vec3> places;
  for (std::size_t t = 0; t + 5 < surface.triangles.size(); t += 6) {
    const std::uint32_t* q = &surface.triangles[t];
    const std::array<std::uint32_t, 4> corner{q[0], q[1], q[2], q[5]};
    if (std::none_of(corner.begin(), corner.end(), [&](std::uint32_t v) { return placed[v] != 0; }))
      continue;
    quads.push_back(t);
    places.push_back(0.25 * (vertex(surface, corner[0]) + vertex(surface, corner[1]) +
                             vertex(surface, corner[2]) + vertex(surface, corner[3])));
  }
  for_places(exact, places, step, root3 * step, [&](ExactPlace& place, std::uint32_t i) {
    std::uint32_t* q = &surface.triangles[quads[i]];
    const std::array<std::uint32_t, 4> v{q[0], q[1], q[2], q[5]};
    const auto off = [&](std::size_t a, std::size_t b) {
      return std::abs(place.value(0.5 * (vertex(surface, v[a]) + vertex(surface, v[b]))));
    };
    if (off(1, 3) >= off(0, 2) - 1e-6) return;
    const std::array<std::uint32_t, 6> other{v[1], v[2], v[3], v[1], v[3], v[0]};
    std::copy(other.begin(), other.end(), q);
  });
}

}  // namespace

void make_exact(const stock::ExactStock& exact, const stock::Stock& stock, Lattice& lattice) {
  const double voxel = stock.voxel(), near = std::max(0.75 * voxel, 0.5 * lattice.step);
  std::vector<std::vector<std::size_t>> found(static_cast<std::size_t>(lattice.count[2]));
  tbb::parallel_for(0, lattice.count[2], [&](int k) {
    const stock::FieldSampler grid(stock.fields());
    for (int j = 0; j < lattice.count[1]; ++j) {
      for (int i = 0; i < lattice.count[0]; ++i) {
        const std::size_t n = lattice.index(i, j, k);
        if (std::abs(lattice.values[n]) < near &&
            slope_of(grid, lattice.place(i, j, k)).norm() < steep)
          found[static_cast<std::size_t>(k)].push_back(n);
      }
    }
  });
  std::vector<std::size_t> points;
  std::vector<Vec3> places;
  for (const auto& of_layer : found) {
    for (const std::size_t n : of_layer) {
      const auto [i, j, k] = lattice.at(n);
      points.push_back(n);
      places.push_back(lattice.place(i, j, k));
    }
  }
  for_places(exact, places, lattice.step, 0.1 * lattice.step,
             [&](ExactPlace& place, std::uint32_t i) {
               const double own = place.value(places[i]);
               float& value = lattice.values[points[i]];
               if (taken_away(static_cast<double>(value), own, voxel)) return;
               // A point on the surface itself counts as air, whatever rounding makes of it.
               value = std::abs(own) < 1e-6 ? 0.f : static_cast<float>(own);
             });
}

std::vector<char> sharpen(const stock::ExactStock& exact, const stock::Stock& stock,
                          const Lattice& lattice, SurfaceNet& net) {
  std::vector<char> placed(net.cells.size(), 0), asked(net.cells.size(), 0);
  const std::size_t piece = 4096;
  tbb::parallel_for(std::size_t{0}, (net.cells.size() + piece - 1) / piece, [&](std::size_t block) {
    const stock::FieldSampler grid(stock.fields());
    for (std::size_t v = block * piece; v < std::min(net.cells.size(), (block + 1) * piece); ++v)
      asked[v] = plain(cell_of(lattice, net.cells[v]), grid) ? 0 : 1;
  });
  std::vector<std::size_t> vertices;
  std::vector<Vec3> places;
  for (std::size_t v = 0; v < net.cells.size(); ++v) {
    if (asked[v] == 0) continue;
    const auto [i, j, k] = lattice.at(net.cells[v]);
    vertices.push_back(v);
    places.push_back(lattice.place(i, j, k) + Vec3::Constant(0.5 * lattice.step));
  }
  tbb::enumerable_thread_specific<stock::FieldSampler> grids(
      [&] { return stock::FieldSampler(stock.fields()); });
  for_places(exact, places, lattice.step, 0.5 * root3 * 1.2 * lattice.step,
             [&](ExactPlace& place, std::uint32_t i) {
               const std::size_t v = vertices[i];
               const auto at =
                   vertex_in(place, cell_of(lattice, net.cells[v]), grids.local(), stock.voxel());
               if (!at) return;
               for (int a = 0; a < 3; ++a)
                 net.surface.vertices[3 * v + static_cast<std::size_t>(a)] =
                     static_cast<float>((*at)[a]);
               placed[v] = 1;
             });
  choose_diagonals(exact, placed, lattice.step, net.surface);
  return placed;
}

}  // namespace proveout::page
