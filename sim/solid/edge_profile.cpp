#include "sim/solid/edge_profile.h"

#include <algorithm>
#include <cmath>

#include "parser/base/geometry.h"

namespace proveout::solid {
namespace {

constexpr double longest_chord = 5 / deg_per_rad;

}  // namespace

void EdgeProfile::add(const ProfilePoint& from, const ProfilePoint& to) {
  const double dr = to.radius - from.radius, dh = to.height - from.height;
  const double length = std::hypot(dr, dh);
  if (!(length > 0)) return;
  EdgeSlice s;
  s.from = last();
  s.to = s.from + std::abs(dr) + std::abs(dh);
  s.lower = from;
  s.upper = to;
  s.length = length;
  // The body lies to the left of the meridian on its way up, so outward is to the right.
  s.normal_radius = dh / length;
  s.normal_height = -dr / length;
  slices_.push_back(s);
}

EdgeProfile::EdgeProfile(const Body& body) : foot_(body.bottom) {
  for (std::size_t i = 0; i < body.meridian.size(); ++i) {
    const ProfileSegment& piece = body.meridian[i];
    const bool lid = i + 1 == body.meridian.size() && i > 0 && piece.to.radius == 0 &&
                     piece.from.height == piece.to.height;
    if (lid) break;
    if (!piece.is_arc) {
      add(piece.from, piece.to);
      continue;
    }
    const auto angle = [&](const ProfilePoint& p) {
      return std::atan2(p.height - piece.centre.height, p.radius - piece.centre.radius);
    };
    const double begin = angle(piece.from), end = angle(piece.to);
    const int chords =
        std::max(1, static_cast<int>(std::ceil(std::abs(end - begin) / longest_chord - 1e-9)));
    ProfilePoint before = piece.from;
    for (int k = 1; k <= chords; ++k) {
      const double at = begin + (end - begin) * k / chords;
      const ProfilePoint next =
          k == chords ? piece.to
                      : ProfilePoint{piece.centre.radius + piece.arc_radius * std::cos(at),
                                     piece.centre.height + piece.arc_radius * std::sin(at)};
      add(before, next);
      before = next;
    }
  }
}

double EdgeProfile::place_at_height(double height) const {
  double place = 0, widest = -1;
  for (const EdgeSlice& s : slices_) {
    const double low = std::min(s.lower.height, s.upper.height);
    const double high = std::max(s.lower.height, s.upper.height);
    if (height < low) continue;
    // Above all of a slice its upper end is the best known so far; within it, the place itself.
    if (height > high) {
      place = s.to;
      widest = -1;
      continue;
    }
    const double share =
        high > low ? (height - s.lower.height) / (s.upper.height - s.lower.height) : 1;
    const double radius = s.lower.radius + share * (s.upper.radius - s.lower.radius);
    if (radius < widest) continue;
    widest = radius;
    place = s.from + share * (s.to - s.from);
  }
  return place;
}

ProfilePoint EdgeProfile::at(double place) const {
  for (const EdgeSlice& s : slices_) {
    if (place > s.to) continue;
    const double share = std::clamp((place - s.from) / (s.to - s.from), 0.0, 1.0);
    return {s.lower.radius + share * (s.upper.radius - s.lower.radius),
            s.lower.height + share * (s.upper.height - s.lower.height)};
  }
  return slices_.empty() ? ProfilePoint{} : slices_.back().upper;
}

double EdgeProfile::height_at(double place) const { return at(place).height; }
double EdgeProfile::radius_at(double place) const { return at(place).radius; }

}  // namespace proveout::solid
