#include "sim/cutting/engaged_area.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <vector>

namespace proveout::cutting {
namespace {

// Calls each(from, to), rad, for what is left of column k between two bearings; first the part a
// column has before a turn is over, then the one after.
template <class Each>
void each_part(double area_from, double area_to, std::size_t k, Each each) {
  const double begin = -pi + static_cast<double>(k) * EngagedArea::width;
  for (const double turn : {0.0, 2 * pi}) {
    const double a = std::max(begin + turn, area_from);
    const double b = std::min(begin + turn + EngagedArea::width, area_to);
    if (b > a + 1e-12) each(a, b);
  }
}

// The columns' own ends with their cosines and sines, of either turn.
struct ColumnEnds {
  std::array<std::array<Bearing, 2>, EngagedArea::columns> from, to;
  ColumnEnds() {
    for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
      const double begin = -pi + static_cast<double>(k) * EngagedArea::width;
      for (const std::size_t turn : {0, 1}) {
        const double first = begin + 2 * pi * static_cast<double>(turn);
        from[k][turn] = Bearing(first);
        to[k][turn] = Bearing(first + EngagedArea::width);
      }
    }
  }
};

// The bearing, taken from what is known where it is one of these.
Bearing known(double rad, const std::array<Bearing, 2>& ends) {
  return rad == ends[0].at ? ends[0] : rad == ends[1].at ? ends[1] : Bearing(rad);
}

}  // namespace

ColumnParts::ColumnParts(const EngagedArea& area) {
  static const ColumnEnds ends;
  for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
    if (!(area.high[k] > area.low[k])) continue;
    each_part(area.from, area.to, k, [&](double a, double b) {
      parts_[count_++] = {k, known(a, ends.from[k]), known(b, ends.to[k])};
    });
  }
}

bool EngagedArea::empty() const {
  for (std::size_t k = 0; k < columns; ++k) {
    if (high[k] > low[k]) return false;
  }
  return true;
}

double EngagedArea::lowest() const {
  double least = 1e300;
  for (std::size_t k = 0; k < columns; ++k) {
    if (high[k] > low[k]) least = std::min(least, low[k]);
  }
  return least < 1e300 ? least : 0;
}

double EngagedArea::highest() const {
  double most = 0;
  for (std::size_t k = 0; k < columns; ++k) {
    if (high[k] > low[k]) most = std::max(most, high[k]);
  }
  return most;
}

EngagedArea box_area(double bottom, double depth, double from, double to,
                     const solid::EdgeProfile& profile) {
  EngagedArea area;
  area.from = from;
  area.to = std::min(to, from + 2 * pi);
  const double low = profile.place_at_height(bottom);
  const double high = profile.place_at_height(bottom + depth);
  for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
    each_part(area.from, area.to, k, [&](double, double) {
      area.low[k] = low;
      area.high[k] = high;
    });
  }
  return area;
}

EngagedArea ring_area(double inner, double outer, const solid::EdgeProfile& profile) {
  EngagedArea area;
  double low = 0, high = 0;
  for (const solid::EdgeSlice& s : profile.slices()) {
    if (!(s.normal_height < -1e-9) || !(s.upper.radius > s.lower.radius)) continue;
    const auto place = [&](double radius) {
      const double share =
          std::clamp((radius - s.lower.radius) / (s.upper.radius - s.lower.radius), 0.0, 1.0);
      return s.from + share * (s.to - s.from);
    };
    if (s.lower.radius <= inner) low = place(inner);
    if (s.lower.radius <= outer) high = place(outer);
  }
  area.low.fill(low);
  area.high.fill(high);
  return area;
}

namespace {

// A column's part of an area: its bearings and the depth there.
struct DepthPart {
  double from = 0, to = 0, depth = 0, radius = 0;
};
std::vector<DepthPart> depth_parts(const EngagedArea& area, const solid::EdgeProfile& profile) {
  std::vector<DepthPart> parts;
  parts.reserve(static_cast<std::size_t>(EngagedArea::columns) + 1);
  for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
    if (!(area.high[k] > area.low[k])) continue;
    const double high = profile.height_at(area.high[k]);
    const double depth = high - profile.height_at(area.low[k]);
    const double radius = profile.radius_at(area.high[k]);
    each_part(area.from, area.to, k, [&](double a, double b) {
      parts.push_back({a, b, depth, radius});
    });
  }
  std::sort(parts.begin(), parts.end(), [](const DepthPart& a, const DepthPart& b) {
    return a.depth != b.depth ? a.depth > b.depth : a.from < b.from;
  });
  return parts;
}

}  // namespace

double mean_depth(const EngagedArea& area, const solid::EdgeProfile& profile) {
  double sum = 0, arc = 0;
  for (const DepthPart& p : depth_parts(area, profile)) {
    sum += p.depth * (p.to - p.from);
    arc += p.to - p.from;
  }
  return arc > 0 ? sum / arc : 0;
}

double depth_over_arc(const EngagedArea& area, const solid::EdgeProfile& profile, double degrees) {
  double arc = 0;
  for (const DepthPart& p : depth_parts(area, profile)) {
    arc += (p.to - p.from) * deg_per_rad;
    if (arc >= degrees) return p.depth;
  }
  return 0;
}

double depth_over_width(const EngagedArea& area, const solid::EdgeProfile& profile, double width) {
  double least = 1e300, most = -1e300;
  for (const DepthPart& p : depth_parts(area, profile)) {
    const double sides[] = {p.radius * std::sin(p.from), p.radius * std::sin(p.to)};
    const bool left = p.from <= pi / 2 && p.to >= pi / 2,
               right = p.from <= -pi / 2 && p.to >= -pi / 2;
    least = std::min({least, sides[0], sides[1], right ? -p.radius : least});
    most = std::max({most, sides[0], sides[1], left ? p.radius : most});
    if (most - least >= width) return p.depth;
  }
  return 0;
}

std::uint8_t sense_of(const EngagedArea& area, bool clockwise, double descent) {
  if (descent > pi / 4) return 0;
  double left = 0, right = 0;
  for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
    if (!(area.high[k] > area.low[k])) continue;
    each_part(area.from, area.to, k, [&](double a, double b) {
      const double middle = 0.5 * (a + b);
      const double chip = std::cos(middle) * (b - a) * (area.high[k] - area.low[k]);
      if (chip > 0) (std::sin(middle) > 0 ? left : right) += chip;
    });
  }
  const double all = left + right;
  if (!(all > 0)) return 0;
  const double climb = (clockwise ? right : left) / all;
  std::uint8_t sense = 0;
  if (climb > 0.25) sense |= sense_climb;
  if (climb < 0.75) sense |= sense_conventional;
  return sense;
}

EngagedArea area_of(const stock::EngagementSample& s, std::span<const stock::ColumnExtent> extents,
                    const solid::EdgeProfile& profile) {
  const auto columns = static_cast<std::size_t>(std::popcount(s.columns));
  if (columns == 0 || s.first_extent + columns > extents.size()) {
    if (s.arc_to - s.arc_from > 180.5f) {
      const double outer = 0.5 * static_cast<double>(s.radial_width);
      return ring_area(0, outer, profile);
    }
    return box_area(s.bottom, s.axial_depth, s.arc_from / deg_per_rad, s.arc_to / deg_per_rad,
                    profile);
  }
  EngagedArea area;
  area.from = s.area_from / deg_per_rad;
  area.to = s.area_to / deg_per_rad;
  std::size_t next = s.first_extent;
  for (std::uint64_t left = s.columns; left != 0; left &= left - 1) {
    const auto k = static_cast<std::size_t>(std::countr_zero(left));
    const stock::ColumnExtent& e = extents[next++];
    area.low[k] = e.low / stock::ColumnExtent::places_a_mm;
    area.high[k] = e.high / stock::ColumnExtent::places_a_mm;
  }
  return area;
}

}  // namespace proveout::cutting
