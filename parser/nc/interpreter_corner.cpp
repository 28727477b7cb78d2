// Corners between two straight moves, rounded by ,R or chamfered by ,C at the end of the first.
// Common practice, no source.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {

// The corner word of a straight move's line; size 0: there is none.
bool Interpreter::corner_of(const Block& block, PendingCorner& corner) {
  std::optional<double> size = block.corner.size;
  std::size_t column = block.corner.column;
  corner.chamfer = block.corner.chamfer;
  const bool plain = reads_.is(Read::corners, "plain");
  for (const char letter : std::string_view("RC")) {
    if (!block.has(letter) || size || strict()) continue;
    column = block.column[static_cast<std::size_t>(letter - 'A')];
    if (letter == 'R' && !plain) {
      block.take('R');
      return fail("corner", column, 2,
                  fmt::format("R{:g} of a straight move rounds the corner on some controls, and is "
                              "nothing on others",
                              block['R']),
                  "post the arc, or ,R; or say machine.reads.corners = \"plain\" in the job");
    }
    if (!plain) continue;
    block.take(letter);
    size = block[letter];
    corner.chamfer = letter == 'C';
  }
  if (!size) return true;
  corner.column = column;
  corner.line = line_;
  corner.text = context_.text;
  corner.state = state_;
  const auto factor = plane_factor(plane_);
  const char* why = reads_.is(Read::corners, "refuse") ? "corner words are refused"
                    : motion_mode_ != 10 ? "only a straight feed move's end can be rounded"
                    : feed_mode_ == FeedMode::inverse_time
                        ? "in inverse time (G93) a corner has no "
                          "time of its own"
                    : !factor   ? "a corner scaled by different factors"
                    : *size < 0 ? "a corner's size must not be negative"
                                : nullptr;
  if (why != nullptr) return fail("corner", column, 2, why, "post the arc or chamfer itself");
  if (block.corner.size) {
    assume(Read::corners, column, 2,
           fmt::format(",{} {} the corner behind this move", corner.chamfer ? 'C' : 'R',
                       corner.chamfer ? "chamfers" : "rounds"));
  }
  corner.size = *factor * to_mm(*size);
  block.corner_used = true;
  return true;
}

// Gives out the pending move up to its corner, and the corner; next then starts behind it.
bool Interpreter::round_corner(Motion& next) {
  const PendingCorner c = *std::exchange(corner_, std::nullopt);
  const PlaneAxes a = axes_of(plane_);
  const auto refuse = [&](const std::string& why) {
    reporter_.report("corner", c.text, c.line, c.column, 2, why, "post the arc or chamfer itself");
    return false;
  };
  const Vec3 before = c.motion.end - c.motion.start, after = next.end - next.start;
  if (next.kind != PathKind::line || !(c.state == state_))
    return refuse("the line behind a corner word must be a straight feed move and nothing else");
  if (std::abs(before[a.normal]) > 1e-9 || std::abs(after[a.normal]) > 1e-9)
    return refuse("both moves at a corner word must lie in the plane (G17, G18, G19)");
  if (!(before.norm() > 1e-9) || !(after.norm() > 1e-9))
    return refuse("a move of no length at a corner word");
  const Vec3 u = before.normalized(), v = after.normalized();
  const double cosine = std::clamp(u.dot(v), -1.0, 1.0);
  const double side = u[a.first] * v[a.second] - u[a.second] * v[a.first];
  const double turn = std::atan2(std::abs(side), cosine);
  if (turn > pi - 1e-6) return refuse("a move straight back behind a corner word");
  const double setback = c.chamfer ? c.size : c.size * std::tan(turn / 2);
  if (setback > before.norm() + 1e-9 || setback > after.norm() + 1e-9) {
    return refuse(
        fmt::format("the corner takes {:.4g} mm of each move, and they are {:.4g} and "
                    "{:.4g} mm long",
                    setback, before.norm(), after.norm()));
  }
  Motion first = c.motion, corner = c.motion;
  first.end = c.motion.end - setback * u;
  corner.start = first.end;
  corner.end = next.start + setback * v;
  if (!c.chamfer && turn > 1e-9) {
    corner.kind = PathKind::arc;
    corner.plane = plane_;
    const Vec3 inward = (v - cosine * u).normalized();
    corner.centre = first.end + c.size * inward;
    corner.sweep = side > 0 ? turn : -turn;
  }
  next.start = corner.end;
  if (length(first) > 1e-12 && !along(first)) return false;
  return length(corner) <= 1e-12 || along(corner);
}

// Something else came where the second move was due.
bool Interpreter::corner_left_open() {
  const PendingCorner c = *std::exchange(corner_, std::nullopt);
  return reporter_.report("corner", c.text, c.line, c.column, 2,
                          "no straight feed move follows this corner word",
                          "post the arc or chamfer itself");
}

}  // namespace proveout::nc
