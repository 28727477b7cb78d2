#include "sim/checks/lacking.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "parser/job/find_tool.h"
#include "parser/job/tool_shape.h"

namespace proveout::checks {
namespace {

bool uses(const job::Job& job, const run::SetupResult& setup, const OfTool& holds) {
  return std::any_of(setup.tools.begin(), setup.tools.end(), [&](const run::ToolResult& used) {
    const job::Tool* tool = job::find_tool(job.tools, used.number);
    return tool != nullptr && holds(*tool);
  });
}

}  // namespace

bool is_drill(const job::Tool& tool) { return !job::mills(tool); }

std::string listed(const std::vector<std::string>& names) {
  return fmt::format("{}", fmt::join(names, ", "));
}

std::string tools_that(const run::JobContext& context, const OfTool& holds) {
  std::vector<std::string> numbers;
  for (const job::Tool& t : context.job.tools) {
    const auto is_this = [&](const job::Tool& used) { return used.number == t.number; };
    const bool used = std::any_of(
        context.result.setups.begin(), context.result.setups.end(),
        [&](const run::SetupResult& setup) { return uses(context.job, setup, is_this); });
    if (used && holds(t)) numbers.push_back(fmt::format("T{}", t.number));
  }
  return listed(numbers);
}

run::NotChecked lacking_with_tools(const run::JobContext& context, std::string why,
                                   const OfTool& looked_for) {
  run::NotChecked out{{}, std::move(why), false, {}};
  for (const run::SetupResult& setup : context.result.setups) {
    if (uses(context.job, setup, looked_for)) {
      out.in_part = true;
    } else {
      out.setups.push_back(setup.name);
    }
  }
  return out;
}

std::vector<run::NotChecked> lacking_a_limit(const run::JobContext& context, std::string_view key,
                                             const OfTool& limited, bool rule,
                                             std::string_view by_rule) {
  const std::string mills =
      tools_that(context, [&](const job::Tool& t) { return !limited(t) && !is_drill(t); });
  const std::string drills =
      tools_that(context, [&](const job::Tool& t) { return !limited(t) && is_drill(t); });
  std::string why;
  if (!mills.empty())
    why = fmt::format("no limit {} for {}{}", key, mills,
                      rule ? fmt::format(": {}, by the material's rule", by_rule) : "");
  if (!drills.empty())
    why += fmt::format("{}no limit {} for {}", why.empty() ? "" : "; ", key, drills);
  if (why.empty()) return {};
  return {lacking_with_tools(
      context, why, [&](const job::Tool& t) { return limited(t) || (rule && !is_drill(t)); })};
}

std::vector<std::string> setups_that(const run::JobContext& context, const OfSetup& holds) {
  std::vector<std::string> names;
  for (const job::Setup& s : context.job.setups) {
    if (holds(s)) names.push_back(s.name);
  }
  return names;
}

run::NotChecked lacking_in_setups(const run::JobContext& context, std::string why,
                                  std::vector<std::string> setups) {
  const bool in_part = setups.size() < context.job.setups.size();
  return {{}, std::move(why), in_part, std::move(setups)};
}

run::NotChecked lacking(std::string why) { return {{}, std::move(why), false, {}}; }

std::vector<run::NotChecked> lacking_a_part(const run::JobContext& context) {
  if (context.job.part) return {};
  return {lacking("no part mesh is given")};
}

}  // namespace proveout::checks
