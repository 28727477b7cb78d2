// Which tools and setups of a job lack what a check needs, in the words of the list of what was not
// checked. NotChecked::what is left to the registry.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/run/check.h"

namespace proveout::checks {

using OfTool = std::function<bool(const job::Tool&)>;
using OfSetup = std::function<bool(const job::Setup&)>;

bool is_drill(const job::Tool& tool);
std::string listed(const std::vector<std::string>& names);  // "A, B"

// "T1, T2": the tools used of which it holds; empty: none.
std::string tools_that(const run::JobContext& context, const OfTool& holds);
// looked_for: whether the kind is looked for with a tool at all.
run::NotChecked lacking_with_tools(const run::JobContext& context, std::string why,
                                   const OfTool& looked_for);

// Of a kind that goes by a limit of the tool (key: its name in a job file), else by a rule of the
// material, drills by the limit alone. limited: a tool needs no limit or has it; rule: the material
// has one; by_rule: what it judges. Empty where nothing is left out.
std::vector<run::NotChecked> lacking_a_limit(const run::JobContext& context, std::string_view key,
                                             const OfTool& limited, bool rule,
                                             std::string_view by_rule);

std::vector<std::string> setups_that(const run::JobContext& context, const OfSetup& holds);
// setups: those in which it is not looked for, by name.
run::NotChecked lacking_in_setups(const run::JobContext& context, std::string why,
                                  std::vector<std::string> setups);

// Nowhere in the job.
run::NotChecked lacking(std::string why);
// For checks that compare with the part.
std::vector<run::NotChecked> lacking_a_part(const run::JobContext& context);

}  // namespace proveout::checks
