#include "report/page/build/surface_error.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/solid/part_distance.h"
#include "sim/stock/distance_reader.h"

namespace proveout::page {
namespace {

mesh::Mesh mesh_of(const Surface& surface) {
  mesh::Mesh mesh;
  for (std::size_t v = 0; v + 2 < surface.vertices.size(); v += 3)
    mesh.vertices.emplace_back(surface.vertices[v], surface.vertices[v + 1],
                               surface.vertices[v + 2]);
  for (std::size_t t = 0; t + 2 < surface.triangles.size(); t += 3)
    mesh.triangles.push_back(
        {surface.triangles[t], surface.triangles[t + 1], surface.triangles[t + 2]});
  return mesh;
}

// Of one leaf, or of one run of triangles: kept apart so that sums do not depend on threads.
struct Share {
  double furthest = 0, sum = 0;
  std::size_t points = 0;
};

// The places where the zero surface crosses lines from the leaf's voxels to the next ones.
Share from_leaf(const stock::DistanceLeaf& leaf, const stock::DistanceReader& distance,
                const stock::Stock::Fields& fields, const solid::PartDistance& mesh) {
  Share share;
  for (auto it = leaf.cbeginValueOn(); it; ++it) {
    const openvdb::Coord here = it.getCoord();
    const double a = distance.mm(*it);
    for (int axis = 0; axis < 3; ++axis) {
      openvdb::Coord next = here;
      ++next[axis];
      const double b = distance.at(next);
      if ((a < 0) == (b < 0)) continue;
      const Vec3 p = fields.middle(here) + a / (a - b) * fields.voxel * Vec3::Unit(axis);
      const double away = std::abs(mesh.at_mostly_near(p, fields.voxel));
      share.furthest = std::max(share.furthest, away);
      share.sum += away;
      ++share.points;
    }
  }
  return share;
}

double from_triangle(const mesh::Mesh& mesh, std::size_t t, const stock::FieldSampler& distance,
                     const stock::Stock::Fields& fields) {
  const auto& triangle = mesh.triangles[t];
  // a is opposite to the shortest side: rows across the triangle, so that a long thin one costs no
  // more than its area and sides ask for.
  std::size_t apex = 0;
  double shortest = 1e300, longest = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    const double side =
        (mesh.vertices[triangle[(k + 1) % 3]] - mesh.vertices[triangle[(k + 2) % 3]]).norm();
    if (side < shortest) apex = k;
    shortest = std::min(shortest, side);
    longest = std::max(longest, side);
  }
  const Vec3 &a = mesh.vertices[triangle[apex]], &b = mesh.vertices[triangle[(apex + 1) % 3]],
             &c = mesh.vertices[triangle[(apex + 2) % 3]];
  const auto pieces = [&](double length) {
    return std::max(1, static_cast<int>(std::ceil(length / fields.voxel)));
  };
  const int rows = pieces(longest);
  double furthest = 0;
  for (int row = 0; row <= rows; ++row) {
    const double share = double(row) / rows;
    const int across = row == 0 ? 1 : pieces(share * shortest);
    for (int n = 0; n <= across; ++n) {
      const Vec3 p = a + share * (b - a + (c - b) * (double(n) / across));
      furthest = std::max(furthest, std::abs(distance(p)));
    }
  }
  return furthest;
}

}  // namespace

SurfaceError surface_error(const stock::Stock& stock, const Surface& surface) {
  if (surface.empty()) return {};
  const stock::Stock::Fields& fields = stock.fields();
  const solid::PartDistance mesh(mesh_of(surface));
  std::vector<const stock::DistanceLeaf*> leaves;
  for (auto leaf = fields.steps->tree().cbeginLeaf(); leaf; ++leaf) leaves.push_back(&*leaf);
  const std::size_t piece = 4096, triangles = mesh.mesh().triangles.size();
  const std::size_t pieces = (triangles + piece - 1) / piece;
  std::vector<Share> shares(leaves.size() + pieces);
  tbb::parallel_for(std::size_t{0}, shares.size(), [&](std::size_t i) {
    if (i < leaves.size()) {
      shares[i] = from_leaf(*leaves[i], stock::DistanceReader(fields), fields, mesh);
      return;
    }
    const stock::FieldSampler distance(fields);
    const std::size_t first = (i - leaves.size()) * piece;
    for (std::size_t t = first; t < std::min(triangles, first + piece); ++t)
      shares[i].furthest =
          std::max(shares[i].furthest, from_triangle(mesh.mesh(), t, distance, fields));
  });
  SurfaceError error;
  for (const Share& share : shares) {
    error.furthest = std::max(error.furthest, share.furthest);
    error.mean += share.sum;
    error.points += share.points;
  }
  if (error.points > 0) error.mean /= static_cast<double>(error.points);
  return error;
}

}  // namespace proveout::page
