// One setup of a dry run: program read, timed, cut, and summed up per tool.
#pragma once

#include <functional>
#include <map>
#include <optional>

#include "parser/base/diagnostic.h"
#include "sim/cutting/material.h"
#include "sim/pipeline/phases.h"
#include "sim/pipeline/stages.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"
#include "sim/solid/tool_body.h"

namespace proveout::pipeline {

// Cuts the program into stock and judges each motion; findings of the motions go into findings.
run::SetupResult run_setup(const run::SetupContext& context,
                           std::shared_ptr<const nc::Program> program, stock::Stock& stock,
                           Stages& stages, FindingCollector& findings, PhaseClock& clock);

}  // namespace proveout::pipeline
