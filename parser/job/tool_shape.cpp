#include "parser/job/tool_shape.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace proveout::job {
namespace {

using Outline = std::vector<OutlineStep>;

double no_round_end(const Tool&) { return 0; }
double ball_radius(const Tool& t) { return t.diameter / 2; }
double corner_radius(const Tool& t) { return t.corner_radius; }

Outline rounded(const Tool& t, double corner, double top) {
  const double r = t.diameter / 2;
  Outline out = {{r - corner, 0}};
  if (corner > 0) out.push_back({r, corner, true, r - corner, corner, corner});
  out.push_back({r, top});
  return out;
}
Outline flat_end(const Tool& t, double top) { return rounded(t, 0, top); }
Outline ball_end(const Tool& t, double top) { return rounded(t, t.diameter / 2, top); }
Outline bull_end(const Tool& t, double top) {
  return rounded(t, std::min(t.corner_radius, t.diameter / 2), top);
}

Outline cone(const Tool& t, double tip, double top) {
  const double slope = std::tan(t.tip_angle / 2 / deg_per_rad);
  const double shoulder = std::min(top, (t.diameter / 2 - tip) / slope);
  const double at_shoulder = tip + shoulder * slope;
  return {{tip, 0}, {at_shoulder, shoulder}, {at_shoulder, top}};
}
Outline tipped_cone(const Tool& t, double top) { return cone(t, t.tip_diameter / 2, top); }
Outline drill_point(const Tool& t, double top) { return cone(t, 0, top); }

Outline as_profiled(const Tool& t, double top) {
  Outline out;
  for (const auto& [radius, height] : t.profile) out.push_back({radius, height});
  if (out.empty()) out = {{0, 0}};
  if (out.back().height < top) out.push_back({out.back().radius, top});
  return out;
}

constexpr auto nothing = Asks::nothing, may = Asks::may, must = Asks::must;
constexpr std::array shapes = {
    // shape, word, words, mills, corner radius, tip diameter, tip angle, profile
    ToolShapeInfo{ToolShape::flat, "flat", "flat end", true, nothing, nothing, nothing, nothing,
                  no_round_end, flat_end},
    ToolShapeInfo{ToolShape::ball, "ball", "ball end", true, nothing, nothing, nothing, nothing,
                  ball_radius, ball_end},
    ToolShapeInfo{ToolShape::bull, "bull", "flat end with corner radius", true, must, nothing,
                  nothing, nothing, corner_radius, bull_end},
    ToolShapeInfo{ToolShape::taper, "taper", "tapered", true, nothing, may, must, nothing,
                  no_round_end, tipped_cone},
    ToolShapeInfo{ToolShape::vee, "vee", "vee", true, nothing, may, must, nothing, no_round_end,
                  tipped_cone},
    ToolShapeInfo{ToolShape::drill, "drill", "drill", false, nothing, nothing, may, nothing,
                  no_round_end, drill_point},
    ToolShapeInfo{ToolShape::form, "form", "form", true, nothing, nothing, nothing, must,
                  no_round_end, as_profiled},
};

constexpr bool in_order() {
  for (std::size_t i = 0; i < shapes.size(); ++i)
    if (static_cast<std::size_t>(shapes[i].shape) != i) return false;
  return static_cast<std::size_t>(ToolShape::form) + 1 == shapes.size();
}
static_assert(in_order(), "the table follows ToolShape");

}  // namespace

std::span<const ToolShapeInfo> tool_shapes() { return shapes; }
const ToolShapeInfo& info(ToolShape shape) { return shapes[static_cast<std::size_t>(shape)]; }

}  // namespace proveout::job
