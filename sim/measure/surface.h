// Surface points of a level set, leaf by leaf. Needs OpenVDB; for the .cpp files of this room.
#pragma once

#include <openvdb/openvdb.h>
#include <openvdb/tree/LeafManager.h>
#include <tbb/parallel_for.h>

#include <vector>

#include "sim/measure/plane_section.h"
#include "sim/stock/fields.h"

namespace proveout::measure {

struct SurfacePoint {
  Vec3 at;       // mm, stock coordinates, on the surface
  Vec3 outward;  // unit normal
  openvdb::Coord voxel;
};

// Calls each(leaf number, point) for one point per voxel just inside the surface; points lie within
// the material or on it, never outside. one_face: only where the gradient is that of a single face,
// and the field really vanishes there. Each point stands for voxel^2 of surface.
template <class Each>
void for_surface_points(const stock::Stock::Fields& fields, bool one_face, Each each) {
  const openvdb::tree::LeafManager<const stock::DistanceTree> leaves(fields.steps->tree());
  const double h = fields.voxel, hair = 1e-3 * h;
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    const stock::DistanceReader distance(fields);
    const FieldSampler sampled(fields);
    const auto& leaf = leaves.leaf(n);
    const std::int16_t* steps = leaf.buffer().data();
    for (openvdb::Index i = 0; i < 512; ++i) {
      const double d = distance.mm(steps[i]);
      // A hair off the voxel's middle at both ends: on a face through the middles rounding would
      // take two voxels of a column, or none.
      if (!(d <= hair && d > hair - h)) continue;
      const openvdb::Coord at = leaf.offsetToGlobalCoord(i);
      const Vec3 slope(distance.at(at.offsetBy(1, 0, 0)) - distance.at(at.offsetBy(-1, 0, 0)),
                       distance.at(at.offsetBy(0, 1, 0)) - distance.at(at.offsetBy(0, -1, 0)),
                       distance.at(at.offsetBy(0, 0, 1)) - distance.at(at.offsetBy(0, 0, -1)));
      const double steepness = slope.norm() / (2 * h);
      if (!(steepness > 0.2) || (one_face && steepness < 0.985)) continue;
      SurfacePoint p;
      p.outward = slope.normalized();
      p.voxel = at;
      p.at = fields.middle(at) - d * p.outward;
      if (one_face && std::abs(sampled(p.at)) > 0.1 * h) continue;
      each(n, p);
    }
  });
}

inline std::size_t leaf_count(const stock::Stock::Fields& fields) {
  return fields.steps->tree().leafCount();
}

}  // namespace proveout::measure
