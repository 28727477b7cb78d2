// What moves where it must not: into fixtures, and beyond the machine's travel.
#pragma once

#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"

namespace proveout::checks {

// Fixtures, boxes and meshes, in the setup frame: flutes, shank and holder, each as a cylinder of
// its largest radius, at poses at most a quarter of a radius apart. Rapids too, on their
// straight way; the bent one is clearance_check.h's.
void judge_fixtures(const run::SetupContext& context, const run::SetupResult& result,
                    FindingCollector& findings);

// Machine coordinates of the tip against the travel: 0 to travel on an axis whose zero_in_machine
// is not negative, else -travel to 0.
void judge_travel(const run::SetupContext& context, const run::SetupResult& result,
                  FindingCollector& findings);

}  // namespace proveout::checks
