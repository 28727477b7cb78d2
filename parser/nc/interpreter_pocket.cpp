// G12 and G13: a round pocket about where the tool stands. Common practice, from memory, no source.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::size_t once_slot = static_cast<std::size_t>(Group::once);
constexpr double most_circles = 10000;

}  // namespace

// I: radius of the first circle; K: of the last, where there is more than one, by steps of Q; D:
// whose radius is taken off; Z: the depth, gone to over the centre; L: how often.
bool Interpreter::circular_pocket(const Block& block) {
  const bool clockwise = g_[once_slot] == 120;
  const std::size_t column = g_column_[once_slot];
  const auto refuse = [&](std::string what) {
    return fail("circular-pocket", column, 3, std::move(what), "post the arcs themselves");
  };
  if (strict()) return fail("g-code-unknown", column, 3, "the report has no circular pockets");
  if (plane_ != Plane::xy) return refuse("a circular pocket in another plane than xy");
  if (compensation_.on()) return refuse("a circular pocket while cutter compensation is on");
  if (scaling_ || mirroring_) return refuse("a scaled or mirrored circular pocket");
  if (feed_mode_ == FeedMode::inverse_time)
    return refuse("a circular pocket in inverse time feed (G93)");
  if (tool_at_ && (position_ - *tool_at_).norm() > 1e-6)
    return refuse("a circular pocket before the straight move that ends cutter compensation");
  block.take_all("IKQL");
  if (!block.has('I')) return refuse("a circular pocket without the radius I");
  if (block.has('K') != block.has('Q'))
    return refuse("a circular pocket with one of K and Q: the last radius and the step");
  if (d_word_ < 0)
    return refuse("a circular pocket without D: whether I is of the pocket or of the path");
  const auto diameter = offset_diameter(block, column);
  if (!diameter) return false;
  int times = 1;
  if (block.has('L') && !whole(block, 'L', 1, 9999, times)) return false;
  const double first = to_mm(block['I']) - *diameter / 2;
  const double last = block.has('K') ? to_mm(block['K']) - *diameter / 2 : first;
  const double step = block.has('Q') ? to_mm(block['Q']) : 1;
  if (!(first > 1e-6)) {
    return refuse(fmt::format("a tool of {:g} mm has no way round a circle of radius I{:g}",
                              *diameter, block['I']));
  }
  if (!(last >= first) || !(step > 0) || !((last - first) / step <= most_circles))
    return refuse("K must not be below I, and Q above 0 and not far too small");
  tell_of_units();
  if (block.has('Q') && step >= last - first) {
    fail_at(block, 'Q', "word-unused",
            fmt::format("Q{:g} reaches from the first circle to the last at once", block['Q']));
  }
  const auto feed = feed_for(block, 2 * pi * last);
  if (!feed) return false;
  fail("pocket-way-in", column, 3,
       "the pocket is gone into and left by half circles: controls differ in this",
       "see that the tool may cut its way in");
  for (int k = 0; k < times; ++k) {
    if (!pocket_turns(block, first, last, step, *feed, clockwise)) return false;
  }
  return true;
}

// Radii of the tool's path and the step in mm. Half circles lie at the circles they join as
// tangents, on the x axis of the program.
bool Interpreter::pocket_turns(const Block& block, double first, double last, double step,
                               double feed, bool clockwise) {
  if (corner_ && !corner_left_open()) return false;
  if (block.take('Z')) {
    Vec3 down = to_program(position_);
    down.z() = to_mm(block['Z']) + (absolute_ ? 0 : down.z());
    if (!in_reach(block, from_program(down))) return false;
    emit_straight(from_program(down), feed, false);
  }
  const Vec3 centre = to_program(position_);
  double x = 0;  // of the tool, from the centre
  const auto arc_to = [&](double to, double sweep) {
    Motion m;
    m.kind = PathKind::arc;
    m.plane = Plane::xy;
    m.feed = feed;
    m.sweep = clockwise ? -sweep : sweep;
    m.start = position_;
    m.end = from_program(centre + Vec3(to, 0, 0));
    m.centre = from_program(centre + Vec3(sweep > 4 ? 0 : (x + to) / 2, 0, 0));
    position_ = m.end;
    x = to;
    emit(m);
  };
  for (double radius = first;; radius = std::min(last, radius + step)) {
    if (!count_cycle_moves(2)) return false;
    const bool to_left = x > 0;
    arc_to(to_left ? -radius : radius, pi);
    arc_to(x, 2 * pi);
    if (!(radius < last)) break;
  }
  arc_to(0, pi);
  return true;
}

}  // namespace proveout::nc
