#include "parser/nc/difference.h"

#include <fmt/format.h>

#include <cmath>

namespace proveout::nc {
namespace {

std::string place(const Vec3& p) {
  const auto word = [](char letter, double v) {
    return fmt::format("{}{:.6g}", letter, std::abs(v) < 5e-7 ? 0.0 : v);
  };
  return word('X', p.x()) + " " + word('Y', p.y()) + " " + word('Z', p.z());
}

const char* kind_name(PathKind kind) {
  return kind == PathKind::rapid  ? "a rapid"
         : kind == PathKind::line ? "a straight feed"
                                  : "an arc";
}

const char* turn_name(SpindleTurn turn) {
  return turn == SpindleTurn::stopped     ? "stopped"
         : turn == SpindleTurn::clockwise ? "clockwise"
                                          : "counter-clockwise";
}

// Motions and the events that make the machine wait, in order of execution.
class Steps {
 public:
  explicit Steps(const Program& p) : p_(p) { skip(); }
  bool more() const { return event_due() || motion_ < p_.motions.size(); }
  bool event_due() const {
    return event_ < p_.events.size() && p_.events[event_].before_motion <= motion_;
  }
  const Event& event() const { return p_.events[event_]; }
  const Motion& motion() const { return p_.motions[motion_]; }
  const ModalState& state() const {
    return p_.states[event_due() ? event().state : motion().state];
  }
  std::uint32_t line() const { return !more() ? 0 : event_due() ? event().line : motion().line; }
  std::uint64_t number() const { return counted_ + 1; }
  void next() {
    if (event_due()) {
      ++event_;
    } else {
      ++motion_;
      ++counted_;
    }
    skip();
  }

 private:
  static bool counts(const Event& e) {
    return e.kind == EventKind::tool_change || e.kind == EventKind::dwell ||
           e.kind == EventKind::stop;
  }
  void skip() {
    for (;;) {
      if (event_due() && !counts(event()))
        ++event_;
      else if (!event_due() && motion_ < p_.motions.size() && !(length(motion()) > 0))
        ++motion_;
      else
        return;
    }
  }
  const Program& p_;
  std::size_t event_ = 0, motion_ = 0;
  std::uint64_t counted_ = 0;
};

bool near(double a, double b) {
  return std::abs(a - b) <= 1e-6 * std::max({1e-3, std::abs(a), std::abs(b)});
}

std::string states_differ(const ModalState& a, const ModalState& b, double tolerance) {
  if (a.tool != b.tool) return fmt::format("tool T{}, not T{}", b.tool, a.tool);
  if (a.turn != b.turn)
    return fmt::format("spindle {}, not {}", turn_name(b.turn), turn_name(a.turn));
  if (a.turn != SpindleTurn::stopped && !near(a.spindle_rpm, b.spindle_rpm)) {
    return fmt::format("speed S{:g}, not S{:g}", b.spindle_rpm, a.spindle_rpm);
  }
  if (a.mist != b.mist || a.flood != b.flood) return "coolant differs";
  if (a.length_offset != b.length_offset) {
    return fmt::format("length offset H{}, not H{}", b.length_offset, a.length_offset);
  }
  if (a.path_control != b.path_control ||
      (a.path_control == PathControl::continuous &&
       std::abs(a.path_tolerance - b.path_tolerance) > tolerance)) {
    return "path control (G61, G61.1, G64) differs";
  }
  return {};
}

std::string motions_differ(const Motion& a, const Motion& b, double tolerance) {
  if (a.kind != b.kind) return fmt::format("{}, not {}", kind_name(b.kind), kind_name(a.kind));
  if ((a.start - b.start).cwiseAbs().maxCoeff() > tolerance) {
    return fmt::format("starts at {}, not {}", place(b.start), place(a.start));
  }
  if ((a.end - b.end).cwiseAbs().maxCoeff() > tolerance) {
    return fmt::format("ends at {}, not {}", place(b.end), place(a.end));
  }
  if (a.kind == PathKind::arc) {
    if (a.plane != b.plane) return "an arc in another plane";
    const int normal = a.plane == Plane::xy ? 2 : a.plane == Plane::zx ? 1 : 0;
    Vec3 apart = a.centre - b.centre;
    apart[normal] = 0;
    // Along a short arc the centre is known less well than the path: what counts is how far the
    // paths part.
    if (apart.norm() > 10 * tolerance && (point_at(a, 0.5) - point_at(b, 0.5)).norm() > tolerance) {
      return fmt::format("an arc about {}, not {}", place(b.centre), place(a.centre));
    }
    if (std::abs(a.sweep - b.sweep) > 1e-6 + 10 * tolerance / std::max(1e-3, arc_radius(a))) {
      return fmt::format("turns by {:.6g} degrees, not {:.6g}", b.sweep * deg_per_rad,
                         a.sweep * deg_per_rad);
    }
  }
  if (a.kind != PathKind::rapid && !near(a.feed, b.feed)) {
    return fmt::format("feed {:.6g} mm/min, not {:.6g}", b.feed, a.feed);
  }
  return {};
}

std::string steps_differ(const Steps& a, const Steps& b, double tolerance) {
  if (a.event_due() != b.event_due()) {
    return b.event_due() ? "waits (dwell, stop or tool change), where there was a motion"
                         : "moves, where there was a wait (dwell, stop or tool change)";
  }
  if (a.event_due()) {
    if (a.event().kind != b.event().kind) return "another kind of wait";
    if (a.event().kind == EventKind::tool_change) {
      return a.state().tool == b.state().tool
                 ? std::string()
                 : fmt::format("changes to tool T{}, not T{}", b.state().tool, a.state().tool);
    }
    if (a.event().kind == EventKind::stop) {
      return a.event().value == b.event().value
                 ? std::string()
                 : fmt::format("stops by M{:g}, not M{:g}", b.event().value, a.event().value);
    }
    return near(a.event().value, b.event().value)
               ? std::string()
               : fmt::format("waits {:g} s, not {:g} s", b.event().value, a.event().value);
  }
  std::string what = motions_differ(a.motion(), b.motion(), tolerance);
  return what.empty() ? states_differ(a.state(), b.state(), tolerance) : what;
}

}  // namespace

std::optional<Difference> first_difference(const Program& first, const Program& second,
                                           double tolerance) {
  Steps a(first), b(second);
  for (; a.more() && b.more(); a.next(), b.next()) {
    std::string what = steps_differ(a, b, tolerance);
    if (!what.empty()) return Difference{a.number(), a.line(), b.line(), std::move(what)};
  }
  if (a.more()) return Difference{a.number(), a.line(), 0, "ends, where there was more"};
  if (b.more()) return Difference{a.number(), 0, b.line(), "goes on, where there was an end"};
  return std::nullopt;
}

void Statistics::motion(const Motion& m, const ModalState&) {
  const double l = length(m);
  const Box3 around = bounds(m);
  for (int k = 0; k < 3; ++k) {
    const auto axis = static_cast<std::size_t>(k);
    const bool before = placed_[axis];
    placed_[axis] = before || (m.axes_given >> k & 1) != 0 || around.min()[k] != around.max()[k];
    if (!placed_[axis]) continue;
    // The axis's first move comes from a place nobody programmed; the arc's bulge is its own.
    const bool whole = before || m.kind == PathKind::arc;
    const double low = whole ? around.min()[k] : m.end[k];
    const double high = whole ? around.max()[k] : m.end[k];
    const auto extend = [&](Extent& e) {
      e.low[k] = std::min(e.low[k], low);
      e.high[k] = std::max(e.high[k], high);
    };
    extend(programmed);
    if (m.kind != PathKind::rapid) extend(cutting);
  }
  if (m.kind == PathKind::rapid) {
    ++rapids;
    rapid_mm += l;
    return;
  }
  ++(m.kind == PathKind::line ? lines : arcs);
  feed_mm += l;
  least_feed = least_feed == 0 ? m.feed : std::min(least_feed, m.feed);
  largest_feed = std::max(largest_feed, m.feed);
}

void Statistics::event(const Event& e, const ModalState&) {
  if (e.kind == EventKind::tool_change) ++tool_changes;
  if (e.kind == EventKind::dwell) dwell_s += e.value;
  if (e.kind == EventKind::stop) ++stops;
}

}  // namespace proveout::nc
