#include "sim/after/air_moves.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>
#include <utility>

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

// Of tool, shank and holder.
double widest_of_all(const job::Tool& tool) {
  double out = std::max(widest_radius(tool), tool.shank_diameter / 2);
  for (const auto& [diameter, height] : tool.holder) out = std::max(out, diameter / 2);
  return out;
}

// Where a tip is with any of the tool beside a box or above it, nearer than within. Below it there
// is no end: a tip under it has its flutes beside it.
Box3 tips_near(const Box3& box, double radius, double within) {
  const double beside = radius + within;
  return Box3(Vec3(box.min().x() - beside, box.min().y() - beside, -1e9),
              Vec3(box.max().x() + beside, box.max().y() + beside, box.max().z() + within));
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
  AirMoves(const run::SetupResult& setup, const job::Job& job, const Box3& blank,
           const std::vector<Box3>& fixtures)
      : setup_(setup), program_(*setup.source), job_(job), air_(program_.motions.size()) {
    const RigidMotion setup_from_stock = setup.stock_from_setup.inverse();
    Box3 lies;
    for (int k = 0; k < 8; ++k)
      lies.extend(setup_from_stock * blank.corner(static_cast<Box3::CornerType>(k)));
    for (const job::Tool& t : job.tools) {
      if (!job::mills(t)) continue;
      std::vector<Box3>& near = near_[t.number];
      near.push_back(tips_near(lies, widest_radius(t), kept_at_feed));
      for (const Box3& box : fixtures)
        near.push_back(tips_near(box, widest_of_all(t), kept_from_fixtures));
    }
  }

  ChangedProgram go() {
    find();
    agree();
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
    if (!near_.contains(state.tool) || state.turn == nc::SpindleTurn::counter_clockwise)
      return true;
    if (m.kind != nc::PathKind::arc) return false;
    // The box about the whole circle and both ends: more than the arc, never less.
    const double radius = (m.start - m.centre).norm();
    Box3 around(m.centre - Vec3::Constant(radius), m.centre + Vec3::Constant(radius));
    around.extend(m.start);
    around.extend(m.end);
    const std::vector<Box3>& near = near_.at(state.tool);
    return std::any_of(near.begin(), near.end(),
                       [&](const Box3& box) { return box.intersects(around); });
  }

  // The parts of a straight motion beside where the blank was or a fixture stands, mm along it.
  std::vector<Interval> beside(std::size_t i, double length) const {
    std::vector<Interval> out;
    const nc::Motion& m = program_.motions[i];
    if (m.kind == nc::PathKind::arc) return out;  // stays, or is clear of them
    for (const Box3& box : near_.at(program_.states[m.state].tool)) {
      if (const auto part = within(box, m.start, m.end))
        out.push_back({part->from * length, part->to * length});
    }
    return out;
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
        std::vector<Interval> keep = beside(i, length);
        Interval met{length, 0};
        for (std::uint32_t k = 0; k < o.sample_count; ++k) {
          const auto& s = setup_.cut.samples[o.first_sample + k];
          const double along = s.along, half = 0.5 * static_cast<double>(s.length);
          met.from = std::min(met.from, std::clamp(along - half, 0.0, length));
          met.to = std::max(met.to, std::clamp(along + half, 0.0, length));
        }
        if (met.from <= met.to) keep.push_back(met);
        std::sort(keep.begin(), keep.end(),
                  [](const Interval& a, const Interval& b) { return a.from < b.from; });
        for (const Interval& k : keep) {
          if (length > tiny) add(at + k.from, at + k.to);
        }
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

  // What is in air each time a line runs, of lines that run more than once.
  void agree() {
    std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<std::size_t>> runs;
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      const nc::Motion& m = program_.motions[i];
      if (m.kind != nc::PathKind::rapid) runs[{m.file, m.line}].push_back(i);
    }
    for (const auto& [line, all] : runs) {
      if (all.size() < 2) continue;
      const double length = nc::length(program_.motions[all.front()]);
      std::vector<Interval> both = air_[all.front()];
      for (const std::size_t i : all) {
        if (std::abs(nc::length(program_.motions[i]) - length) > tiny) both.clear();
        both = common(both, air_[i]);
      }
      for (const std::size_t i : all) air_[i] = both;
    }
  }

  static std::vector<Interval> common(const std::vector<Interval>& a,
                                      const std::vector<Interval>& b) {
    std::vector<Interval> out;
    for (const Interval& one : a) {
      for (const Interval& other : b) {
        const Interval both{std::max(one.from, other.from), std::min(one.to, other.to)};
        if (both.to - both.from > tiny) out.push_back(both);
      }
    }
    return out;
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
  // Of tools that mill: where their tip is near the blank, and near each fixture.
  std::map<int, std::vector<Box3>> near_;
};

}  // namespace

ChangedProgram air_at_rapid(const run::SetupResult& setup, const job::Job& job, const Box3& blank,
                            const std::vector<Box3>& fixtures) {
  return AirMoves(setup, job, blank, fixtures).go();
}

ChangedProgram unchanged(const run::SetupResult& setup) {
  ChangedProgram out{*setup.source, {}};
  out.from.resize(out.program.motions.size());
  std::iota(out.from.begin(), out.from.end(), 0u);
  return out;
}

}  // namespace proveout::after
