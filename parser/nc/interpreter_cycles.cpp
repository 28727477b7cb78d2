// Canned cycles (NISTIR 6556 section 3.5.16), expanded into moves and waits. G73 is common
// practice.
#include <fmt/format.h>

#include <cmath>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

// How far a peck stops above the bottom it left, and how far a chip break lifts: 0.254 mm (0.010
// inch), from memory of common practice; the report says 'backed off a bit'.
constexpr double back_off = 0.254;
constexpr std::string_view axis_letters = "XYZ";

}  // namespace

bool Interpreter::cycle(const Block& block, int code) {
  const int n = normal_axis(), a = (n + 1) % 3, b = (n + 2) % 3;
  const char depth_letter = axis_letters[static_cast<std::size_t>(n)];
  const std::size_t column = g_[static_cast<std::size_t>(Group::motion)] >= 0
                                 ? g_column_[static_cast<std::size_t>(Group::motion)]
                                 : 0;
  const auto refuse = [&](std::string_view which, std::string what) {
    return fail(which, column, 3, std::move(what));
  };
  if (compensation_.on()) return refuse("compensation", "no cycle while cutter compensation is on");
  if (feed_mode_ == FeedMode::inverse_time)
    return refuse("cycle-feed-mode", "a cycle in inverse time feed (G93)");
  if (g_[static_cast<std::size_t>(Group::motion)] >= 0) {
    old_level_ = to_program(position_)[n];
    sticky_.peck = sticky_.dwell = sticky_.i = sticky_.j = sticky_.k = std::nullopt;
  }
  if (n != 2) fail("cycle-plane", column, 3, "a cycle in another plane than xy");
  const auto keep = [&](char letter, std::optional<double>& into) {
    if (block.has(letter)) into = to_mm(block[letter]);
  };
  if (block.has('P')) {
    if (block['P'] < 0)
      return fail_at(block, 'P', "value-negative", "a dwell must not be negative");
    sticky_.dwell = block['P'];
  }
  keep('Q', sticky_.peck);
  keep('I', sticky_.i);
  keep('J', sticky_.j);
  keep('K', sticky_.k);
  const Vec3 now = to_program(position_);
  double retract = 0, depth = 0;
  if (block.has('R')) sticky_.retract = to_mm(block['R']);
  if (block.has(depth_letter)) sticky_.depth = to_mm(block[depth_letter]);
  if (!sticky_.depth)
    return refuse("cycle-depth-missing", fmt::format("the cycle has no {}", depth_letter));
  if (!sticky_.retract) return refuse("cycle-retract-missing", "the cycle has no R");
  retract = absolute_ ? *sticky_.retract : now[n] + *sticky_.retract;
  depth = absolute_ ? *sticky_.depth : retract + *sticky_.depth;
  if (retract < depth)
    return refuse("cycle-retract-below",
                  fmt::format("R {:g} lies below the depth {:g}", retract, depth));
  int repeats = 1;
  if (block.has('L')) {
    if (std::abs(block['L'] - std::round(block['L'])) > 1e-4 || block['L'] < 1 ||
        block['L'] > 9999) {
      return fail_at(block, 'L', "cycle-repeats", "L must be a whole number from 1 to 9999");
    }
    repeats = static_cast<int>(std::lround(block['L']));
  }
  const auto feed = feed_for(block, 1);
  if (!feed) return false;
  // Clear level: the level before the cycle under G98 if that is higher, else R.
  const double clear = return_to_old_ && old_level_ > retract ? old_level_ : retract;
  const auto rapid_to = [&](const Vec3& program) { emit_straight(from_program(program), 0, true); };
  if (now[n] < retract) {
    Vec3 up = now;
    up[n] = retract;
    rapid_to(up);
  }
  Vec3 place = now;
  for (int r = 0; r < repeats; ++r) {
    if (r > 0 && !count_cycle_moves(8)) return false;
    for (int k : {a, b}) {
      const char letter = axis_letters[static_cast<std::size_t>(k)];
      if (!block.has(letter)) continue;
      place[k] = absolute_ ? to_mm(block[letter]) : place[k] + to_mm(block[letter]);
    }
    Vec3 over = place;
    over[n] = to_program(position_)[n];
    if (!in_reach(block, from_program(over))) return false;
    rapid_to(over);
    if (!cycle_at(block, code, place, retract, depth, clear, *feed)) return false;
  }
  return true;
}

void Interpreter::peck(double retract, double depth, double step, double feed, bool full_retract) {
  const int n = normal_axis();
  const auto level = [&](double at, bool rapid) {
    Vec3 p = to_program(position_);
    p[n] = at;
    emit_straight(from_program(p), feed, rapid);
  };
  double bottom = retract;
  while (bottom - step > depth + 1e-9) {
    const double next = bottom - step;
    if (!count_cycle_moves(3)) return;
    level(next, false);
    if (full_retract) {
      level(retract, true);
      level(std::min(retract, next + back_off), true);
    } else {
      level(std::min(retract, next + back_off), true);
    }
    bottom = next;
  }
  level(depth, false);
}

bool Interpreter::cycle_at(const Block&, int code, const Vec3& place, double retract, double depth,
                           double clear, double feed) {
  const int n = normal_axis();
  const std::size_t column = g_[static_cast<std::size_t>(Group::motion)] >= 0
                                 ? g_column_[static_cast<std::size_t>(Group::motion)]
                                 : 0;
  const auto level = [&](double at, bool rapid) {
    Vec3 p = to_program(position_);
    p[n] = at;
    emit_straight(from_program(p), feed, rapid);
  };
  const auto spindle = [&](SpindleTurn turn) {
    state_.turn = turn;
    event(EventKind::spindle);
  };
  const auto wait = [&] { event(EventKind::dwell, sticky_.dwell.value_or(0)); };
  const auto needs = [&](bool there, const char* what) {
    return there || fail("cycle-word", column, 3, what);
  };
  const SpindleTurn turning = state_.turn;
  if (code != 870 && std::abs(to_program(position_)[n] - retract) > 1e-12) level(retract, true);
  switch (code) {
    case 810:
      level(depth, false);
      break;
    case 820:
      if (!needs(sticky_.dwell.has_value(), "G82 without a dwell P")) return false;
      level(depth, false);
      wait();
      break;
    case 730:
    case 830:
      if (!needs(sticky_.peck.has_value() && *sticky_.peck > 0,
                 "a pecking cycle without Q above 0"))
        return false;
      if ((retract - depth) / *sticky_.peck > 100000)
        return needs(false, "Q is far too small for the depth");
      peck(retract, depth, *sticky_.peck, feed, code == 830);
      if (ended_) return false;
      break;
    case 840:
      if (turning != SpindleTurn::clockwise) {
        return fail("cycle-spindle", column, 3, "G84 needs the spindle turning clockwise (M3)");
      }
      level(depth, false);
      spindle(SpindleTurn::counter_clockwise);
      level(clear, false);
      spindle(SpindleTurn::clockwise);
      return true;
    case 850:
      level(depth, false);
      level(clear, false);
      return true;
    case 860:
    case 880:
      if (turning == SpindleTurn::stopped)
        return fail("cycle-spindle", column, 3, "the cycle needs the spindle turning");
      level(depth, false);
      wait();
      spindle(SpindleTurn::stopped);
      if (code == 880) event(EventKind::stop, 0);
      level(clear, true);
      spindle(turning);
      return true;
    case 870: {
      if (!needs(sticky_.i && sticky_.j && sticky_.k, "G87 needs I, J and K")) return false;
      if (turning == SpindleTurn::stopped)
        return fail("cycle-spindle", column, 3, "G87 needs the spindle turning");
      Vec3 aside = place;
      aside[(n + 1) % 3] += n == 2 ? *sticky_.i : n == 1 ? *sticky_.k : *sticky_.j;
      aside[(n + 2) % 3] += n == 2 ? *sticky_.j : n == 1 ? *sticky_.i : *sticky_.k;
      const auto across = [&](const Vec3& to) {
        Vec3 p = to;
        p[n] = to_program(position_)[n];
        emit_straight(from_program(p), feed, true);
      };
      // The offset along the plane's normal is where the cutting feed goes: K, J or I.
      const double along = n == 2 ? *sticky_.k : n == 1 ? *sticky_.j : *sticky_.i;
      const double up = absolute_ ? along : depth + along;
      across(aside);
      spindle(SpindleTurn::stopped);
      level(depth, true);
      across(place);
      spindle(turning);
      level(up, false);
      level(depth, false);
      spindle(SpindleTurn::stopped);
      across(aside);
      level(clear, true);
      across(place);
      spindle(turning);
      return true;
    }
    case 890:
      if (!needs(sticky_.dwell.has_value(), "G89 without a dwell P")) return false;
      level(depth, false);
      wait();
      level(clear, false);
      return true;
    default:
      return fail("g-code-unknown", column, 3, "this cycle is not understood");
  }
  level(clear, true);
  return true;
}

}  // namespace proveout::nc
