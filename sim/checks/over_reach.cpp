// Tools that stand out further than their diameter bears: as set, and as the programs need
// (ToolResult::stickout_needed).
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "parser/job/tool_shape.h"
#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// Stick-out over diameter: above the first a note (caution), above the second a warning (a tool
// made for it). Common practice, no source.
constexpr double stickout_caution = 4, stickout_special = 8;

// A tool is set once and stands out alike in all setups: it is told of once, where it needs most.
struct Use {
  const run::SetupResult* setup = nullptr;
  const job::Tool* tool = nullptr;
  double needed = -1;  // mm, the most of all setups
  std::size_t setups = 0;
};

std::map<int, Use> uses_of(const run::JobResult& result) {
  std::map<int, Use> uses;
  for (const run::SetupResult& setup : result.setups) {
    for (const run::ToolResult& used : setup.tools) {
      const auto tool = std::find_if(result.job.tools.begin(), result.job.tools.end(),
                                     [&](const job::Tool& t) { return t.number == used.number; });
      if (tool == result.job.tools.end() || !job::mills(*tool)) continue;
      Use& use = uses[used.number];
      ++use.setups;
      if (used.stickout_needed <= use.needed) continue;
      use.setup = &setup;
      use.tool = &*tool;
      use.needed = used.stickout_needed;
    }
  }
  return uses;
}

void look(const run::JobContext& context, FindingCollector& findings) {
  for (const auto& [number, use] : uses_of(context.result)) {
    if (use.tool == nullptr) continue;
    const double has = use.tool->stickout / use.tool->diameter;
    const double needs = use.needed / use.tool->diameter;
    // Set further out than it bears counts even where less would do: it can be pushed in.
    const double worst = std::max(has, needs);
    if (worst <= stickout_caution) continue;
    Finding f;
    f.kind = FindingKind::over_reach;
    f.level = worst > stickout_special ? Severity::warning : Severity::note;
    f.setup = use.setup->name;
    f.tool = number;
    f.file = use.setup->program;
    f.value = worst;
    f.limit = f.level == Severity::warning ? stickout_special : stickout_caution;
    f.unit = "diameters";
    f.text = fmt::format("stands out {:.1f} mm, {:.1f} diameters", use.tool->stickout, has);
    if (use.needed > 0)
      f.text += fmt::format("; {} {:.1f} mm, {:.1f} diameters",
                            use.setups > 1 ? "the programs need at most" : "the program needs",
                            use.needed, needs);
    f.text +=
        fmt::format("; above {:g} takes care, above {:g} a tool made for it (common practice)",
                    stickout_caution, stickout_special);
    findings.add(std::move(f));
  }
}

}  // namespace

constinit const run::Check kinds::over_reach{
    .kind = FindingKind::over_reach,
    .level = Severity::warning,
    .meaning = "the tool is set further out than its diameter bears",
    .help = "Use the shortest stick-out that clears, or a thicker tool; drills are not judged.",
    .after_last = look};

}  // namespace proveout::checks
