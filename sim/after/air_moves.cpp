#include "sim/after/air_moves.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>

#include "parser/job/tool_shape.h"
#include "sim/timing/limits.h"

namespace proveout::after {
namespace {

constexpr double worth_it = 1.05;  // a rapid faster than the feed by less wins nothing (choice)
constexpr double tiny = 1e-6;      // mm

struct Interval {
  double from = 0, to = 0;  // mm along a stretch of feed motions, or along one motion
};

double widest_radius(const job::Tool& tool) {
  double out = tool.diameter / 2;
  for (const auto& [radius, height] : tool.profile) out = std::max(out, radius);
  return out;
}

// The part of a straight way that lies in a box, as shares of its length; nullopt: none of it does.
std::optional<Interval> within(const Box3& box, const Vec3& start, const Vec3& end) {
  Interval out{0, 1};
  for (int k = 0; k < 3; ++k) {
    const double from = start[k], way = end[k] - start[k];
    if (std::abs(way) < tiny) {
      if (from <= box.min()[k] || from >= box.max()[k]) return std::nullopt;
      continue;
    }
    const double a = (box.min()[k] - from) / way, b = (box.max()[k] - from) / way;
    out.from = std::max(out.from, std::min(a, b));
    out.to = std::min(out.to, std::max(a, b));
  }
  if (!(out.from < out.to)) return std::nullopt;
  return out;
}

class AirMoves {
 public:
  AirMoves(const run::SetupResult& setup, const job::Job& job, const Box3& blank)
      : setup_(setup), program_(*setup.source), job_(job), air_(program_.motions.size()) {
    const RigidMotion setup_from_stock = setup.stock_from_setup.inverse();
    Box3 lies;
    for (int k = 0; k < 8; ++k)
      lies.extend(setup_from_stock * blank.corner(static_cast<Box3::CornerType>(k)));
    for (const job::Tool& t : job.tools) {
      if (!job::mills(t)) continue;
      // Below it there is no end: a tip under the blank has its flutes beside it.
      const double beside = widest_radius(t) + kept_at_feed;
      beside_[t.number] = Box3(
          Vec3(lies.min().x() - beside, lies.min().y() - beside, -1e9),
          Vec3(lies.max().x() + beside, lies.max().y() + beside, lies.max().z() + kept_at_feed));
    }
  }

  ChangedProgram go() {
    find();
    ChangedProgram out;
    out.program.files = program_.files;
    out.program.states = program_.states;
    out.program.chains = program_.chains;
    out.program.tool_at_start = program_.tool_at_start;
    std::vector<std::uint64_t> begins;
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      begins.push_back(out.program.motions.size());
      put(i, out);
    }
    begins.push_back(out.program.motions.size());
    out.program.events = program_.events;
    for (nc::Event& e : out.program.events)
      e.before_motion = begins[std::min<std::size_t>(e.before_motion, begins.size() - 1)];
    return out;
  }

 private:
  bool meets(std::size_t i) const {
    const stock::MotionOutcome& o = setup_.cut.motions[i];
    return o.sample_count > 0 || o.contact != 0 || o.removed_mm3 > 0;
  }

  bool stays(std::size_t i) const {
    const nc::Motion& m = program_.motions[i];
    const nc::ModalState& state = program_.states[m.state];
    if (!beside_.contains(state.tool) || state.turn == nc::SpindleTurn::counter_clockwise)
      return true;
    if (m.kind != nc::PathKind::arc) return false;
    // The box about the whole circle and both ends: more than the arc, never less.
    const double radius = (m.start - m.centre).norm();
    Box3 around(m.centre - Vec3::Constant(radius), m.centre + Vec3::Constant(radius));
    around.extend(m.start);
    around.extend(m.end);
    return beside_.at(state.tool).intersects(around);
  }

  // The part of a straight motion beside where the blank was, mm along it.
  std::optional<Interval> beside(std::size_t i, double length) const {
    const nc::Motion& m = program_.motions[i];
    if (m.kind == nc::PathKind::arc) return std::nullopt;  // stays, or is clear of it
    const auto part = within(beside_.at(program_.states[m.state].tool), m.start, m.end);
    if (!part) return std::nullopt;
    return Interval{part->from * length, part->to * length};
  }

  // Feed motions in a row with one tool.
  void find() {
    const auto tool = [&](std::size_t i) {
      return program_.states[program_.motions[i].state].tool;
    };
    const std::size_t count = program_.motions.size();
    for (std::size_t i = 0; i < count;) {
      if (program_.motions[i].kind == nc::PathKind::rapid) {
        ++i;
        continue;
      }
      std::size_t end = i + 1;
      while (end < count && program_.motions[end].kind != nc::PathKind::rapid &&
             tool(end) == tool(i))
        ++end;
      in_stretch(i, end);
      i = end;
    }
  }

  // Where the stretch meets material, or stays as it is for another reason; in order, apart.
  std::vector<Interval> kept(std::size_t first, std::size_t end, double& whole) const {
    std::vector<Interval> out;
    const auto add = [&](double from, double to) {
      if (!out.empty() && from <= out.back().to + tiny)
        out.back().to = std::max(out.back().to, to);
      else
        out.push_back({from, to});
    };
    double at = 0;
    for (std::size_t i = first; i < end; ++i) {
      const double length = nc::length(program_.motions[i]);
      const stock::MotionOutcome& o = setup_.cut.motions[i];
      if (stays(i) || (o.sample_count == 0 && meets(i))) {
        add(at, at + length);
      } else {
        Interval keep = beside(i, length).value_or(Interval{length, 0});
        for (std::uint32_t k = 0; k < o.sample_count; ++k) {
          const auto& s = setup_.cut.samples[o.first_sample + k];
          const double along = s.along, half = 0.5 * static_cast<double>(s.length);
          keep.from = std::min(keep.from, std::clamp(along - half, 0.0, length));
          keep.to = std::max(keep.to, std::clamp(along + half, 0.0, length));
        }
        if (keep.from <= keep.to && length > tiny) add(at + keep.from, at + keep.to);
      }
      at += length;
    }
    whole = at;
    return out;
  }

  void in_stretch(std::size_t first, std::size_t end) {
    double whole = 0;
    const std::vector<Interval> cuts = kept(first, end, whole);
    std::vector<Interval> air;
    double from = 0;
    for (const Interval& cut : cuts) {
      air.push_back({from, cut.from});
      from = cut.to;
    }
    air.push_back({from, whole});
    std::erase_if(air, [](const Interval& a) { return a.to - a.from < least_at_rapid; });
    double at = 0;
    for (std::size_t i = first; i < end; ++i) {
      const double length = nc::length(program_.motions[i]);
      for (const Interval& a : air) {
        const Interval here{std::max(0.0, a.from - at), std::min(length, a.to - at)};
        if (here.to - here.from > tiny) air_[i].push_back(here);
      }
      at += length;
    }
  }

  bool one_axis(const nc::Motion& m) const {
    const Vec3 way = (m.end - m.start).cwiseAbs();
    return way.sum() - way.maxCoeff() < tiny;
  }

  // As fast as the axes go, by a rapid where the way stays the same; nullopt: nothing is won.
  std::optional<nc::Motion> fast(const nc::Motion& m) const {
    const double length = nc::length(m);
    job::Machine free = job_.machine;  // no block rate: that binds the one as the other
    free.block_rate = 0;
    const double now = timing::limits_of(m, length, free).top();
    nc::Motion out = m;
    const bool line = m.kind == nc::PathKind::line;
    if (line && (!job_.machine.rapid_by_axis || one_axis(m))) {
      out.kind = nc::PathKind::rapid;
      out.feed = 0;
      if (timing::limits_of(out, length, free).top() > worth_it * now) return out;
    }
    out = m;
    out.feed = 60 * timing::limits_of(m, length, free).speed / job_.machine.feed_override;
    if (timing::limits_of(out, length, free).top() > worth_it * now) return out;
    return std::nullopt;
  }

  void put(std::size_t i, ChangedProgram& out) const {
    const nc::Motion& m = program_.motions[i];
    const auto add = [&](const nc::Motion& motion) {
      out.program.motions.push_back(motion);
      out.from.push_back(static_cast<std::uint32_t>(i));
    };
    const double length = nc::length(m);
    const bool whole =
        air_[i].size() == 1 && air_[i][0].from <= tiny && air_[i][0].to >= length - tiny;
    if (air_[i].empty() || (m.kind == nc::PathKind::arc && !whole)) return add(m);
    if (whole) return add(fast(m).value_or(m));
    Vec3 at = m.start;
    const auto piece = [&](double to, bool in_air) {
      nc::Motion part = m;
      part.start = at;
      part.end = to >= length - tiny ? m.end : Vec3(nc::point_at(m, to / length));
      at = part.end;
      if (!(nc::length(part) > tiny)) return;
      add(in_air ? fast(part).value_or(part) : part);
    };
    for (const Interval& a : air_[i]) {
      if (a.from > tiny) piece(a.from, false);
      piece(a.to, true);
    }
    if (air_[i].back().to < length - tiny) piece(length, false);
  }

  const run::SetupResult& setup_;
  const nc::Program& program_;
  const job::Job& job_;
  std::vector<std::vector<Interval>> air_;  // of each motion, mm along it
  std::map<int, Box3> beside_;  // of tools that mill: where their tip is beside the blank
};

}  // namespace

ChangedProgram air_at_rapid(const run::SetupResult& setup, const job::Job& job, const Box3& blank) {
  return AirMoves(setup, job, blank).go();
}

ChangedProgram unchanged(const run::SetupResult& setup) {
  ChangedProgram out{*setup.source, {}};
  out.from.resize(out.program.motions.size());
  std::iota(out.from.begin(), out.from.end(), 0u);
  return out;
}

}  // namespace proveout::after
