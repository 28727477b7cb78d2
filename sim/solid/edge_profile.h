// The cutting part's meridian as the loads of a cut need it: short straight slices from the foot
// up, each with its normal. A place on it is told by how far radius and height have changed from
// the foot's centre up to there, added up: for tools that only widen upwards that is radius plus
// height above the foot. It grows all along the meridian, whatever the shape.
#pragma once

#include <vector>

#include "sim/solid/tool_body.h"

namespace proveout::solid {

struct EdgeSlice {
  double from = 0, to = 0;    // mm, places: sums of changes of radius and height from the foot
  ProfilePoint lower, upper;  // mm, its ends; height above the tip
  double length = 0;          // mm along the meridian
  double normal_radius = 0;   // outward unit normal: away from the axis
  double normal_height = 0;   // and up
};

class EdgeProfile {
 public:
  // body: a cutting part (Body::meridian from the axis up; the lid that closes it on top is left
  // out). Arcs become chords of at most 5 degrees, whose lengths are low by less than 0.04 %.
  explicit EdgeProfile(const Body& body);

  const std::vector<EdgeSlice>& slices() const { return slices_; }
  double last() const { return slices_.empty() ? 0 : slices_.back().to; }  // mm, the topmost place
  double foot() const { return foot_; }                                    // mm above the tip
  // Place of the outermost point at a height above the tip, mm; clamped to the profile.
  double place_at_height(double height) const;
  // Height above the tip of a place, mm; clamped to the profile.
  double height_at(double place) const;
  // Distance from the axis there, mm.
  double radius_at(double place) const;

 private:
  ProfilePoint at(double place) const;
  void add(const ProfilePoint& from, const ProfilePoint& to);
  std::vector<EdgeSlice> slices_;
  double foot_ = 0;
};

}  // namespace proveout::solid
