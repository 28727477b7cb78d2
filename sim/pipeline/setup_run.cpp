#include "sim/pipeline/setup_run.h"

#include <fmt/format.h>
#include <tbb/parallel_invoke.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <set>

#include "sim/checks/clearance_check.h"
#include "sim/checks/registry.h"
#include "sim/checks/tool_checks.h"
#include "sim/pipeline/reach_tracker.h"
#include "sim/run/tool_runs.h"
#include "sim/run/tool_summary.h"
#include "sim/timing/range.h"

namespace proveout::pipeline {
namespace {

// All pieces of work, at once where more than one thread may be used.
template <class... Work>
void side_by_side(int threads, const Work&... work) {
  tbb::task_arena(threads).execute([&] {
    if (threads > 1)
      tbb::parallel_invoke(work...);
    else
      (work(), ...);
  });
}

}  // namespace

run::SetupResult run_setup(const run::SetupContext& context,
                           std::shared_ptr<const nc::Program> program, stock::Stock& stock,
                           Stages& stages, FindingCollector& findings, PhaseClock& clock) {
  run::SetupResult result;
  result.name = context.setup.name;
  result.program = context.setup.program.filename().string();
  result.source = program;
  result.first_id = context.first_id;
  result.voxel = stock.voxel();
  result.stock_from_setup = context.stock_from_setup;
  result.zero_in_stock = context.stock_from_setup.translation();
  clock.time("planned speeds", [&] { result.plan = timing::plan(*program, context.job.machine); });

  stock::CutOptions options;
  options.threads = context.threads;
  options.progress = context.progress;
  // The height maps are those of the stock before this setup, so they are taken now.
  ReachTracker reach = clock.time("height maps", [&] {
    return ReachTracker(measure::height_map(stock, context.stock_from_setup.inverse(), 1.0),
                        context.bodies, run::barriers(context.fixtures));
  });
  clearance::ClearanceTracker clearance =
      clock.time("height maps", [&] { return checks::clearance_tracker(context, stock); });
  const std::vector<stock::ToolRun> uses = run::tool_runs(*program, context.bodies);
  result.cut = clock.time("cutting", [&] {
    return stages.cut(context.number, program->motions, uses, context.stock_from_setup,
                      context.first_id, options, stock);
  });
  if (result.cut.stopped) return result;

  // Ways through the program that do not read what the others write.
  const run::SetupCut& cut = result;
  checks::ClearanceFindings clear;
  run::MotionLoads loads;
  std::map<int, ReachTracker::Reach> reached;
  clock.time("clearance, reach and loads", [&] {
    side_by_side(
        context.threads, [&] { clear = checks::follow_clearance(context, clearance, cut); },
        [&] { reached = reach.follow(*program); },
        [&] {
          for (const run::Check* check : checks::all_checks()) {
            if (check->after_cut != nullptr) check->after_cut(context, cut, findings);
          }
          loads = checks::follow_tools(context, cut, findings);
        });
  });
  for (Finding& f : clear.findings) findings.add(std::move(f));

  result.tools = run::tool_summary(cut, loads, context.job);
  for (run::ToolResult& t : result.tools) {
    if (const auto way = clear.by_tool.find(t.number); way != clear.by_tool.end())
      t.clearance = way->second;
    if (const auto reach_of = reached.find(t.number); reach_of != reached.end()) {
      t.reach_used = reach_of->second.reach_used;
      t.stickout_needed = reach_of->second.stickout_needed;
    }
  }
  static_cast<run::MotionLoads&>(result) = std::move(loads);
  for (const run::FixtureShape& f : context.fixtures) result.fixture_names.push_back(f.name);
  result.clearance_within_mm = clear.within_mm;
  for (const auto& t : result.tools) result.removed_mm3 += t.removed_mm3;
  result.time_s = result.plan.time_s;
  const timing::TimeRange range = timing::time_range(*program, context.job.machine);
  result.time_low_s = range.low_s;
  result.time_high_s = range.high_s;
  double in_tools = 0;
  for (const auto& t : result.tools) in_tools += t.time_s();
  result.other_s = std::max(0.0, result.time_s - in_tools);
  return result;
}

}  // namespace proveout::pipeline
