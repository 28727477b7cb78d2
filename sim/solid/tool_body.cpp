#include "sim/solid/tool_body.h"

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"

namespace proveout::solid {
namespace {

ProfileSegment straight(ProfilePoint from, ProfilePoint to) {
  ProfileSegment segment;
  segment.from = from;
  segment.to = to;
  return segment;
}

ProfileSegment arc(ProfilePoint from, ProfilePoint to, ProfilePoint centre, double radius) {
  ProfileSegment segment = straight(from, to);
  segment.is_arc = true;
  segment.centre = centre;
  segment.arc_radius = radius;
  return segment;
}

// Appends a straight segment unless it has no length.
void add_straight(Body& body, ProfilePoint from, ProfilePoint to) {
  if (from.radius == to.radius && from.height == to.height) return;
  body.meridian.push_back(straight(from, to));
}

Body cylinder(Role role, double diameter, double bottom, double top) {
  Body body;
  body.role = role;
  body.bottom = bottom;
  body.top = top;
  body.largest_radius = diameter / 2;
  add_straight(body, {0, bottom}, {diameter / 2, bottom});
  add_straight(body, {diameter / 2, bottom}, {diameter / 2, top});
  add_straight(body, {diameter / 2, top}, {0, top});
  return body;
}

// The cutting end up to the top of the flutes.
void add_cutting_end(Body& body, const job::Tool& t, double top) {
  const std::vector<job::OutlineStep> outline = job::info(t.shape).outline(t, top);
  ProfilePoint last{0, outline.front().height};
  for (const job::OutlineStep& step : outline) {
    const ProfilePoint to{step.radius, step.height};
    if (step.is_arc) {
      body.meridian.push_back(
          arc(last, to, {step.centre_radius, step.centre_height}, step.arc_radius));
    } else {
      add_straight(body, last, to);
    }
    last = to;
  }
}

Body flutes_of(const job::Tool& t) {
  Body body;
  body.role = Role::flutes;
  double top = t.flute_length > 0 ? t.flute_length : t.stickout;
  if (job::info(t.shape).profile == job::Asks::must && !t.profile.empty())
    top = t.profile.back().second;
  if (!(top > 0)) top = 4 * t.diameter;
  body.top = top;
  add_cutting_end(body, t, top);
  const ProfilePoint last = body.meridian.back().to;
  add_straight(body, last, {0, last.height});
  for (const ProfileSegment& segment : body.meridian) {
    body.largest_radius = std::max({body.largest_radius, segment.from.radius, segment.to.radius});
  }
  return body;
}

}  // namespace

double ToolBody::cutting_radius(double height) const {
  if (height < flutes.bottom || height > flutes.top) return 0;
  double radius = 0;
  for (const ProfileSegment& p : flutes.meridian) {
    const double low = std::min(p.from.height, p.to.height);
    const double high = std::max(p.from.height, p.to.height);
    if (height < low || height > high) continue;
    if (p.is_arc) {
      const double dz = height - p.centre.height;
      radius = std::max(radius, p.centre.radius + std::sqrt(std::max(
                                                      0.0, p.arc_radius * p.arc_radius - dz * dz)));
    } else if (high > low) {
      const double share = (height - p.from.height) / (p.to.height - p.from.height);
      radius = std::max(radius, p.from.radius + share * (p.to.radius - p.from.radius));
    } else if (p.to.height < flutes.top || flutes.top == flutes.bottom) {
      radius = std::max({radius, p.from.radius, p.to.radius});
    }
  }
  return radius;
}

ToolBody make_tool_body(const job::Tool& t) {
  ToolBody body;
  body.number = t.number;
  body.shape = t.shape;
  body.diameter = t.diameter;
  body.centre_cutting = t.centre_cutting;
  body.flutes = flutes_of(t);
  const double shank = t.shank_diameter > 0 ? t.shank_diameter : t.diameter;
  if (t.stickout > body.flutes.top) {
    body.shank.push_back(cylinder(Role::shank, shank, body.flutes.top, t.stickout));
  }
  double height = std::max(t.stickout, body.flutes.top);
  for (const auto& [diameter, part_height] : t.holder) {
    body.holder.push_back(cylinder(Role::holder, diameter, height, height + part_height));
    height += part_height;
  }
  return body;
}

}  // namespace proveout::solid
