#include "sim/after/time_use.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <utility>

#include "parser/job/find_tool.h"
#include "sim/after/air_moves.h"
#include "sim/after/finishing.h"
#include "sim/after/pass_families.h"
#include "sim/after/retime.h"
#include "sim/run/inputs.h"
#include "sim/run/tool_summary.h"
#include "sim/timing/limits.h"

namespace proveout::after {
namespace {

constexpr std::size_t most_stretches = 10;
constexpr double least_saving_s = 3, least_share = 0.005;  // less is not worth a word (choice)
constexpr double by_feed_word = 1.02;       // a feed that may rise by less is at its limit (choice)
constexpr double middle_of_rule = 0.5;      // of the chip rule's range (choice)
constexpr double bend_limit_mm = 0.05;      // as the run's findings have it
constexpr double widest_of_diameter = 0.9;  // a row wider than this leaves ribs (choice)

using Seconds = std::vector<double>;  // one a motion of the program as it is

double sum(const Seconds& of) {
  double out = 0;
  for (const double s : of) out += s;
  return out;
}

// A plan's seconds, told to the motions its program was made from.
Seconds told(const timing::Plan& plan, const ChangedProgram& of, std::size_t motions) {
  Seconds out(motions);
  for (std::size_t k = 0; k < plan.motions.size(); ++k) out[of.from[k]] += plan.motions[k].time_s;
  return out;
}

Binds binds_of(Binding b) {
  switch (b) {
    case Binding::chip:
    case Binding::cutting_speed:
      return Binds::chip;
    case Binding::power:
      return Binds::power;
    case Binding::bend:
      return Binds::bend;
    case Binding::machine_feed:
      return Binds::axes;
    case Binding::plunge:
      return Binds::plunge;
    case Binding::as_programmed:
      break;
  }
  return Binds::as_programmed;
}

Binds binds_of(timing::SlowedBy reason) {
  switch (reason) {
    case timing::SlowedBy::corner:
      return Binds::corner;
    case timing::SlowedBy::axis_limit:
      return Binds::axes;
    case timing::SlowedBy::block_rate:
      return Binds::block_rate;
    case timing::SlowedBy::arc:
      return Binds::arc;
    case timing::SlowedBy::nothing:
    case timing::SlowedBy::short_block:
    case timing::SlowedBy::wait:
      break;
  }
  return Binds::acceleration;
}

// One setup: its seconds as it is, and what each change takes off them.
class SetupTime {
 public:
  SetupTime(const run::JobResult& result, std::size_t index, const RetimedSetup& faster,
            const std::vector<bool>& finishing)
      : r_(result),
        index_(index),
        s_(result.setups[index]),
        program_(*s_.source),
        faster_(faster),
        finishing_(finishing) {
    const std::size_t n = program_.motions.size();
    for (auto& saved : saves) saved.assign(n, 0);
    now_.resize(n);
    for (std::size_t i = 0; i < n; ++i) now_[i] = s_.plan.motions[i].time_s;
    air_.assign(n, 0);
    held_.assign(n, 0);
    wide_.assign(n, Freedom{});
    go();
  }

  std::array<Seconds, path_changes> saves;  // one on top of the other
  std::array<double, change_count> saves_s{}, alone_s{};
  std::array<double, change_count> roughing_s{};  // part of saves_s
  std::array<std::string, change_count> where;    // most is won there
  std::size_t changes_dropped = 0;

  void add_shares(TimeUse& out) const {
    for (std::size_t i = 0; i < now_.size(); ++i) {
      if (program_.motions[i].kind == nc::PathKind::rapid) {
        out.rapid_s += now_[i];
        continue;
      }
      out.air_s += air_[i];
      out.held_s += held_[i];
      out.at_feed_s += now_[i] - air_[i] - held_[i];
    }
    out.waits_s += s_.plan.time_s - sum(now_);
    out.time_s += s_.plan.time_s;
  }

  std::vector<Stretch> stretches() const {
    std::vector<Stretch> out;
    const std::size_t n = program_.motions.size();
    for (std::size_t i = 0; i < n;) {
      if (program_.motions[i].kind == nc::PathKind::rapid) {
        ++i;
        continue;
      }
      std::size_t end = i + 1;
      while (end < n && program_.motions[end].kind != nc::PathKind::rapid &&
             tool_of(end) == tool_of(i))
        ++end;
      out.push_back(stretch(i, end - 1));
      i = end;
    }
    return out;
  }

 private:
  struct Freedom {
    double depth = 0, width = 0;  // share of the motion's time that fewer passes take off
    double deeper = 1;            // a level's step, over what it was
  };

  int tool_of(std::size_t i) const { return program_.states[program_.motions[i].state].tool; }

  const job::Tool* tool(int number) const { return job::find_tool(r_.job.tools, number); }

  void go() {
    split();
    const ChangedProgram as_is = unchanged(s_);
    std::vector<Box3> fixtures;
    for (const run::FixtureShape& f : r_.inputs->setups[index_].fixtures) fixtures.push_back(f.box);
    ChangedProgram changed = air_at_rapid(s_, r_.job, r_.inputs->blank, fixtures);
    timing::Plan plan = timing::plan(changed.program, r_.job.machine);
    if (!(plan.time_s < s_.plan.time_s)) {
      changed = as_is;
      plan = s_.plan;
    }
    Seconds left = take(Change::air, now_, told(plan, changed, now_.size()));
    alone_s[0] = saves_s[0];
    put_feeds(changed);
    left = take(Change::feed, left,
                told(timing::plan(changed.program, r_.job.machine), changed, now_.size()));
    ChangedProgram fed = as_is;
    put_feeds(fed);
    alone_s[1] = s_.plan.time_s - timing::plan(fed.program, r_.job.machine).time_s;
    passes(left);
    tool_changes();
    // Air, changes and parts touch no cut.
    for (std::size_t c = 0; c < change_count; ++c)
      roughing_s[c] = c > 0 && c < path_changes ? of_roughing(saves[c]) : saves_s[c];
  }

  double of_roughing(const Seconds& of) const {
    double out = 0;
    for (std::size_t i = 0; i < of.size(); ++i) out += finishing_[i] ? 0 : of[i];
    return out;
  }

  // What of each feed motion's time is in air, and what below the programmed feed.
  void split() {
    for (std::size_t i = 0; i < now_.size(); ++i) {
      const nc::Motion& m = program_.motions[i];
      const double length = nc::length(m);
      if (m.kind == nc::PathKind::rapid || !(length > 0)) continue;
      const stock::MotionOutcome& o = s_.cut.motions[i];
      const double cut = run::time_in_material(
          s_.plan.motions[i], length,
          std::span(s_.cut.samples)
              .subspan(o.sample_count > 0 ? o.first_sample : 0, o.sample_count));
      air_[i] = std::max(0.0, now_[i] - cut);
      held_[i] = std::clamp(now_[i] - asked(i), 0.0, std::min(cut, now_[i]));
    }
  }

  double asked(std::size_t i) const {
    const nc::Motion& m = program_.motions[i];
    const double length = nc::length(m);
    if (!(length > 0)) return 0;
    const double commanded = timing::limits_of(m, length, r_.job.machine).commanded;
    return commanded > 0 ? length / commanded : now_[i];
  }

  Seconds take(Change change, const Seconds& before, Seconds after) {
    const auto c = static_cast<std::size_t>(change);
    for (std::size_t i = 0; i < before.size(); ++i) saves[c][i] = before[i] - after[i];
    saves_s[c] = sum(saves[c]);
    return after;
  }

  void put_feeds(ChangedProgram& of) const {
    for (std::size_t k = 0; k < of.program.motions.size(); ++k) {
      nc::Motion& m = of.program.motions[k];
      const double feed = of.from[k] < faster_.feed.size() ? faster_.feed[of.from[k]] : 0;
      if (m.kind != nc::PathKind::rapid) m.feed = std::max(m.feed, feed);
    }
  }

  // ---- fewer passes

  double power_at(double rpm) const {
    const job::Spindle& sp = r_.job.machine.spindle;
    const double rated = sp.rated_rpm > 0 ? sp.rated_rpm : sp.max_rpm;
    return sp.power_w > 0
               ? sp.power_w * sp.efficiency * (rated > 0 ? std::min(1.0, rpm / rated) : 1)
               : 1e30;
  }

  // Share of what power and bend may be that the passes use, at most: loads grow no faster than the
  // feed. at_new_feed: with what Change::feed makes of it, and deeper by what Change::depth does.
  double load_of(const PassFamily& f, bool at_new_feed) const {
    double out = 0;
    for (const std::uint32_t i : f.motions) {
      if (i >= s_.peaks.size()) continue;
      const double planned = 60 * static_cast<double>(s_.plan.motions[i].cruise_speed);
      double by = at_new_feed && planned > 0 && i < faster_.feed.size()
                      ? std::max(1.0, faster_.feed[i] / planned)
                      : 1;
      if (at_new_feed && f.freedom == PassFreedom::width) by *= wide_[i].deeper;
      const double rpm = program_.states[program_.motions[i].state].spindle_rpm;
      out = std::max({out, by * static_cast<double>(s_.peaks[i].power_w) / power_at(rpm),
                      by * static_cast<double>(s_.peaks[i].bend_mm) / bend_limit_mm});
    }
    return out;
  }

  // How many passes would do, within the tool's declared limit; as many as there are: none less.
  std::size_t enough(const PassFamily& f, double limit, double load) const {
    const bool deep = f.freedom == PassFreedom::depth;
    const double most = deep ? limit : f.step * limit / f.met;
    if (!(most > f.step)) return f.passes;
    for (std::size_t n = f.passes_with(most); n < f.passes; ++n) {
      const double step = f.whole / static_cast<double>(deep ? n : n - 1);
      if (load * step / f.step <= 1) return n;
    }
    return f.passes;
  }

  // Deeper or wider cuts of a tool that may sing are not proposed.
  bool may_sing(int number) const {
    return std::any_of(r_.findings.begin(), r_.findings.end(), [&](const Finding& f) {
      return f.kind == FindingKind::chatter && f.tool == number && f.setup == s_.name;
    });
  }

  void passes(const Seconds& left) {
    std::array<double, 2> best{};
    std::vector<Freedom> alone(now_.size());
    std::vector<PassFamily> families = pass_families(s_, r_.job);
    // Rows grow wider on levels that are deeper by then.
    std::stable_partition(families.begin(), families.end(),
                          [](const PassFamily& f) { return f.freedom == PassFreedom::depth; });
    for (const PassFamily& f : families) {
      const job::Tool* t = tool(f.tool);
      if (t == nullptr || may_sing(f.tool)) continue;
      const job::ToolLimits limits = t->limits_for(r_.material);
      const bool deep = f.freedom == PassFreedom::depth;
      const double limit = deep ? limits.axial_depth
                                : std::min(limits.radial_width, widest_of_diameter * t->diameter);
      if (!(limit > 0)) continue;
      const auto share = [&](std::size_t n) {
        return 1 - static_cast<double>(n) / static_cast<double>(f.passes);
      };
      const std::size_t n = enough(f, limit, load_of(f, true));
      const double of_alone = share(enough(f, limit, load_of(f, false)));
      double won = 0;
      for (const std::uint32_t i : f.motions) {
        (deep ? wide_[i].depth : wide_[i].width) = share(n);
        if (deep && n < f.passes)
          wide_[i].deeper = std::max(1.0, f.whole / static_cast<double>(n) / f.step);
        (deep ? alone[i].depth : alone[i].width) = of_alone;
        won += share(n) * left[i];
      }
      if (n == f.passes || !(won > best[deep ? 0 : 1])) continue;
      best[deep ? 0 : 1] = won;
      where[deep ? 2 : 3] = family_in_words(f, n, limit);
    }
    for (std::size_t i = 0; i < left.size(); ++i) {
      const double by_depth = left[i] * wide_[i].depth;
      saves[2][i] = by_depth;
      saves[3][i] = (left[i] - by_depth) * wide_[i].width;
      alone_s[2] += now_[i] * alone[i].depth;
      alone_s[3] += now_[i] * alone[i].width;
    }
    saves_s[2] = sum(saves[2]);
    saves_s[3] = sum(saves[3]);
  }

  std::string family_in_words(const PassFamily& f, std::size_t n, double limit) const {
    const nc::Motion& m = program_.motions[f.motions.front()];
    const bool deep = f.freedom == PassFreedom::depth;
    return fmt::format("T{} at {}:{} makes {} {} of {:.2f} mm, {} would do within {:.2f} declared",
                       f.tool, s_.program, m.line, f.passes, deep ? "levels" : "rows or laps",
                       f.step, n, limit);
  }

  // ---- tool changes

  // Whether a tool cuts between its change and the next.
  bool cuts(std::size_t event) const {
    std::size_t end = program_.motions.size();
    for (std::size_t k = event + 1; k < program_.events.size(); ++k) {
      if (program_.events[k].kind != nc::EventKind::tool_change) continue;
      end = std::min<std::size_t>(end, program_.events[k].before_motion);
      break;
    }
    for (std::size_t i = program_.events[event].before_motion; i < end; ++i) {
      if (program_.motions[i].kind != nc::PathKind::rapid && s_.cut.motions[i].sample_count > 0)
        return true;
    }
    return false;
  }

  // Whether an event takes a tool again that this setup had before, and cuts with it: one that is
  // put back for the next part, or away, would have to be changed for there.
  std::vector<bool> again() const {
    std::vector<bool> out(program_.events.size());
    std::set<int> had{program_.tool_at_start};
    int before = program_.tool_at_start;
    for (std::size_t k = 0; k < program_.events.size(); ++k) {
      const nc::Event& e = program_.events[k];
      if (e.kind != nc::EventKind::tool_change) continue;
      const int now = program_.states[e.state].tool;
      out[k] = now != before && !had.insert(now).second && cuts(k);
      before = now;
    }
    return out;
  }

  double shared_by_parts(const timing::Plan& plan) const {
    double out = r_.job.machine.program_overhead_s;
    for (const timing::Wait& w : plan.waits) {
      if (w.kind == nc::EventKind::tool_change) out += w.time_s;
    }
    return out;
  }

  // With the changes to tools it had before left out: a tool's cuts are made while it is in.
  void tool_changes() {
    const std::vector<bool> drop = again();
    nc::Program fewer = program_;
    fewer.events.clear();
    for (std::size_t k = 0; k < program_.events.size(); ++k) {
      if (drop[k])
        ++changes_dropped;
      else
        fewer.events.push_back(program_.events[k]);
    }
    const timing::Plan plan = timing::plan(fewer, r_.job.machine);
    saves_s[4] = alone_s[4] = changes_dropped > 0 ? waits_of(s_.plan) - waits_of(plan) : 0;
    saves_s[5] = 0.5 * shared_by_parts(changes_dropped > 0 ? plan : s_.plan);
    alone_s[5] = 0.5 * shared_by_parts(s_.plan);
  }

  static double waits_of(const timing::Plan& plan) {
    double out = 0;
    for (const timing::Wait& w : plan.waits) out += w.time_s;
    return out;
  }

  // ---- what binds

  Binds at_feed(std::size_t i) const {
    if (i >= faster_.feed.size()) return Binds::as_programmed;
    if (faster_.feed[i] > by_feed_word * program_.motions[i].feed) return Binds::feed_word;
    if (wide_[i].width > 0) return Binds::step_over;
    if (wide_[i].depth > 0) return Binds::depth;
    return binds_of(faster_.binding[i]);
  }

  Stretch stretch(std::size_t first, std::size_t last) const {
    Stretch out;
    const nc::Motion& m = program_.motions[first];
    out.setup = index_;
    out.first = first;
    out.last = last;
    out.file = s_.program;
    out.line = m.line;
    out.last_line = program_.motions[last].line;
    out.tool = tool_of(first);
    std::array<double, run::binds_names.size()> held_by{};
    const auto by = [&](Binds b) -> double& { return held_by[static_cast<std::size_t>(b)]; };
    for (std::size_t i = first; i <= last; ++i) {
      out.time_s += now_[i];
      out.asked_s += asked(i);
      out.air_s += air_[i];
      out.held_s += held_[i];
      out.removed_mm3 += s_.cut.motions[i].removed_mm3;
      by(Binds::air) += air_[i];
      by(binds_of(s_.plan.motions[i].slowed_by)) += held_[i];
      by(at_feed(i)) += now_[i] - air_[i] - held_[i];
      for (std::size_t c = 0; c < path_changes; ++c) out.saves_s[c] += saves[c][i];
    }
    const auto most = std::max_element(held_by.begin(), held_by.end());
    out.binds = static_cast<Binds>(std::distance(held_by.begin(), most));
    out.binds_s = *most;
    return out;
  }

  const run::JobResult& r_;
  std::size_t index_;
  const run::SetupResult& s_;
  const nc::Program& program_;
  const RetimedSetup& faster_;
  const std::vector<bool>& finishing_;  // finishing_motions
  Seconds now_, air_, held_;
  std::vector<Freedom> wide_;
};

std::string place(const Stretch& s) {
  return s.last_line > s.line ? fmt::format("{}:{}-{}", s.file, s.line, s.last_line)
                              : fmt::format("{}:{}", s.file, s.line);
}

// Where a change of feeds wins most, of all stretches.
std::string most_at(const std::vector<Stretch>& all, Change change) {
  const auto c = static_cast<std::size_t>(change);
  const auto best = std::max_element(
      all.begin(), all.end(),
      [&](const Stretch& a, const Stretch& b) { return a.saves_s[c] < b.saves_s[c]; });
  if (best == all.end()) return "";
  return fmt::format("T{} at {}", best->tool, place(*best));
}

std::string in_words(Change change, const std::vector<Stretch>& all, const std::string& where,
                     std::size_t dropped) {
  switch (change) {
    case Change::air:
      return "air at rapid: post moves that meet nothing as G0, most " + most_at(all, change) +
             "; clamps the job does not declare are not seen";
    case Change::feed:
      return "feed up to what binds, at the same spindle speed (retime --faster), most " +
             most_at(all, change);
    case Change::depth:
      return "deeper levels: " + where;
    case Change::width:
      return "wider step-over: " + where;
    case Change::changes:
      return fmt::format(
          "fewer tool changes: {} to a tool that was in before, where the order of "
          "cuts allows it",
          dropped);
    case Change::parts:
      break;
  }
  return "two parts in one clamping share the tool changes; a part";
}

}  // namespace

TimeUse time_use(const run::JobResult& result) {
  TimeUse out;
  if (!result.inputs) return out;
  const Retimed faster = retime_faster(result),
                likely = retime_faster(result, faster, middle_of_rule);
  const std::vector<std::vector<bool>> finishing = finishing_motions(result);
  std::array<double, change_count> saves{}, alone{}, roughing{}, carefully{};
  std::array<std::string, change_count> where;
  std::array<double, change_count> best{};
  std::size_t dropped = 0;
  std::vector<Stretch> all;
  for (std::size_t i = 0; i < result.setups.size(); ++i) {
    const SetupTime setup(result, i, faster.setups[i], finishing[i]);
    setup.add_shares(out);
    const SetupTime careful(result, i, likely.setups[i], finishing[i]);
    dropped += setup.changes_dropped;
    for (std::size_t c = 0; c < change_count; ++c) {
      saves[c] += setup.saves_s[c];
      alone[c] += setup.alone_s[c];
      roughing[c] += setup.roughing_s[c];
      carefully[c] += careful.roughing_s[c];
      if (!setup.where[c].empty() && setup.saves_s[c] > best[c]) {
        best[c] = setup.saves_s[c];
        where[c] = setup.where[c];
      }
    }
    std::vector<Stretch> more = setup.stretches();
    std::move(more.begin(), more.end(), std::back_inserter(all));
  }
  for (std::size_t c = 0; c < change_count; ++c) {
    if (saves[c] < std::max(least_saving_s, least_share * out.time_s)) continue;
    const auto change = static_cast<Change>(c);
    Saving saving;
    saving.change = change;
    saving.saves_s = saves[c];
    saving.alone_s = alone[c];
    saving.roughing_s = std::clamp(roughing[c], 0.0, saves[c]);
    saving.likely_s = std::max(carefully[c], 0.0);
    saving.text = in_words(change, all, where[c], dropped);
    out.savings.push_back(std::move(saving));
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Stretch& a, const Stretch& b) { return a.time_s > b.time_s; });
  all.resize(std::min(all.size(), most_stretches));
  out.stretches = std::move(all);
  return out;
}

std::shared_ptr<const TimeUse> time_use_of(const run::JobResult& result) {
  return result.time_use ? result.time_use : std::make_shared<const TimeUse>(time_use(result));
}

}  // namespace proveout::after
