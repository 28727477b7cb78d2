// One connected plane section of the material. Needs OpenVDB; for the .cpp files of this room.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "sim/stock/distance_reader.h"

namespace proveout::measure {

using stock::FieldSampler;

struct PlaneSection {
  double area_mm2 = 0;
  Vec3 middle = Vec3::Zero();  // mm
  std::vector<Vec3> places;    // samples in material, a step apart
};

// The section through a place in material, square to normal (unit), as far as it hangs together.
// nullopt: the place lies in air, or the section is larger than most_mm2. step: mm between samples,
// a voxel or a whole part of one.
std::optional<PlaneSection> plane_section(const FieldSampler& field, const Vec3& through,
                                          const Vec3& normal, double most_mm2, double step);

// Shortest way across the material through a place in it, within the plane square to normal: mm,
// at most reach each way.
double narrowest_way(const FieldSampler& field, const Vec3& through, const Vec3& normal,
                     double reach);

// Two unit vectors square to a unit vector and to each other.
std::pair<Vec3, Vec3> across(const Vec3& normal);

}  // namespace proveout::measure
