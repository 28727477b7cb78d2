#include "sim/after/air_moves.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>
#include <set>

#include "parser/job/tool_shape.h"
#include "sim/timing/limits.h"

namespace proveout::after {
namespace {

constexpr double worth_it = 1.05;  // a rapid faster than the feed by less wins nothing (choice)
constexpr double tiny = 1e-6;      // mm

struct Interval {
  double from = 0, to = 0;  // mm along a stretch of feed motions, or along one motion
};

// The same way, in either sense, to a hundredth of a millimetre.
std::array<long long, 9> way_of(const nc::Motion& m) {
  const auto key = [](const Vec3& v) {
    return std::array<long long, 3>{std::llround(100 * v.x()), std::llround(100 * v.y()),
                                    std::llround(100 * v.z())};
  };
  const auto a = key(m.start), b = key(m.end),
             c = m.kind == nc::PathKind::arc ? key(m.centre) : std::array<long long, 3>{};
  const auto& low = std::min(a, b);
  const auto& high = std::max(a, b);
  return {low[0], low[1], low[2], high[0], high[1], high[2], c[0], c[1], c[2]};
}

class AirMoves {
 public:
  AirMoves(const run::SetupResult& setup, const job::Job& job)
      : setup_(setup), program_(*setup.source), job_(job), air_(program_.motions.size()) {
    for (const job::Tool& t : job.tools) {
      if (job::mills(t)) milling_.insert(t.number);
    }
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      if (meets(i)) cut_ways_.insert(way_of(program_.motions[i]));
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
    return !milling_.contains(state.tool) || state.turn == nc::SpindleTurn::counter_clockwise ||
           cut_ways_.contains(way_of(m));
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
      if (o.sample_count > 0) {
        for (std::uint32_t k = 0; k < o.sample_count; ++k) {
          const auto& s = setup_.cut.samples[o.first_sample + k];
          const double along = s.along, half = 0.5 * static_cast<double>(s.length);
          add(at + std::clamp(along - half, 0.0, length),
              at + std::clamp(along + half, 0.0, length));
        }
      } else if (meets(i) || stays(i)) {
        add(at, at + length);
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
      air.push_back({from, cut.from - kept_at_feed});
      from = cut.to + kept_at_feed;
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
  std::set<int> milling_;
  std::set<std::array<long long, 9>> cut_ways_;
};

}  // namespace

ChangedProgram air_at_rapid(const run::SetupResult& setup, const job::Job& job) {
  return AirMoves(setup, job).go();
}

ChangedProgram unchanged(const run::SetupResult& setup) {
  ChangedProgram out{*setup.source, {}};
  out.from.resize(out.program.motions.size());
  std::iota(out.from.begin(), out.from.end(), 0u);
  return out;
}

}  // namespace proveout::after
