// The part of a tool's face that lies in material, as given data: columns over the bearing about
// the tool's axis, each the lowest and the highest place on its meridian in material (what a place
// is: solid::EdgeProfile). A slot, a side cut, a ramp, a plunge, and any tool are told alike. A
// column with a gap, as under an undercut, counts as full between.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <span>

#include "sim/solid/edge_profile.h"
#include "sim/stock/stock.h"

namespace proveout::cutting {

// Bearings: rad, 0 straight ahead, positive to the left of the feed seen from above; of a cut with
// no sideways feed, about any fixed direction.
struct EngagedArea {
  static constexpr int columns = stock::bearing_columns;
  static constexpr double width = 2 * pi / columns;  // rad, of a column; column 0 begins at -pi
  std::array<double, columns> low{}, high{};         // mm, places; high <= low: nothing there
  // Exact ends: columns are cut off there. to: up to from + 2 pi, which is no end at all.
  double from = -pi, to = pi;

  bool empty() const;
  bool whole_turn() const { return to - from > 2 * pi - 1e-9; }
  // Lowest and highest place over all columns, mm; 0, 0 where it is empty.
  double lowest() const;
  double highest() const;
};

// A bearing, rad, with its cosine and sine.
struct Bearing {
  double at = 0, cosine = 1, sine = 0;
  Bearing() = default;
  explicit Bearing(double rad) : at(rad), cosine(std::cos(rad)), sine(std::sin(rad)) {}
};
// What is left of one column between the area's ends; to above from.
struct ColumnPart {
  std::size_t column = 0;
  Bearing from, to;
};
// The parts of an area's columns that hold any, in the order of the columns. A column may be met
// at either end of the area (where that runs almost round): two parts.
class ColumnParts {
 public:
  explicit ColumnParts(const EngagedArea& area);
  const ColumnPart* begin() const { return parts_.data(); }
  const ColumnPart* end() const { return parts_.data() + count_; }

 private:
  std::array<ColumnPart, 2 * static_cast<std::size_t>(EngagedArea::columns)> parts_;
  std::size_t count_ = 0;
};

// The sample's area. extents: those of the cut the sample is of. A sample without columns (made by
// hand from a depth, a width and an arc) is taken as a box: its depth over its arc, at any arc
// above 180.5 degrees the face of a tool that goes straight down.
EngagedArea area_of(const stock::EngagementSample& sample,
                    std::span<const stock::ColumnExtent> extents,
                    const solid::EdgeProfile& profile);
// The same of a box: from bottom to bottom + depth above the tip (mm) between two bearings (rad).
EngagedArea box_area(double bottom, double depth, double from, double to,
                     const solid::EdgeProfile& profile);
// Depths along the axis, mm, that say more of an uneven area than its extent does. Over its arc in
// the mean; reached over so many degrees of bearing; reached over so much width across the feed
// (mm).
double mean_depth(const EngagedArea& area, const solid::EdgeProfile& profile);
double depth_over_arc(const EngagedArea& area, const solid::EdgeProfile& profile, double degrees);
double depth_over_width(const EngagedArea& area, const solid::EdgeProfile& profile, double width);

// Which way teeth meet the material, as bits: with M3, material to the right of the feed is climb.
enum Sense : std::uint8_t { sense_climb = 1, sense_conventional = 2 };
// Both: less than three quarters of the chips lie on one side, as in a slot. 0: nothing ahead.
std::uint8_t sense_of(const EngagedArea& area, bool clockwise, double descent);

// Material all round the axis between two radii on the underside (mm): what a plunge meets.
EngagedArea ring_area(double inner, double outer, const solid::EdgeProfile& profile);

}  // namespace proveout::cutting
