// One setup of a dry run: program read, timed, cut, and summed up per tool.
#pragma once

#include <functional>
#include <map>
#include <optional>

#include "parser/base/diagnostic.h"
#include "sim/cutting/material.h"
#include "sim/findings/finding.h"
#include "sim/run/fixture_shapes.h"
#include "sim/run/result.h"
#include "sim/run/stages.h"
#include "sim/tool/tool_body.h"

namespace proveout::run {

struct SetupContext {
  const job::Job& job;
  const job::Setup& setup;
  const cutting::Material& material;
  const std::map<int, tool::ToolBody>& bodies;  // by tool number
  RigidMotion stock_from_setup;
  Box3 stock_box;  // of the blank, stock coordinates
  const std::vector<FixtureShape>& fixtures;
  const part::Mesh* part;  // stock coordinates; none: nullptr
  stock::MotionId first_id;
  int threads;
  std::size_t number;  // of the setup, from 1
  Stages& stages;
  std::function<bool(double)> progress;
};

// Reads the setup's program. nullopt with errors in diagnostics: it cannot be used.
std::optional<nc::Program> read_setup_program(const job::Job& job, const job::Setup& setup,
                                              Diagnostics& diagnostics);

// Cuts the program into stock and judges each motion; findings of the motions go into findings.
SetupResult run_setup(const SetupContext& context, std::shared_ptr<const nc::Program> program,
                      stock::Stock& stock, FindingCollector& findings);

// Stretches of motions made with one tool.
std::vector<stock::ToolUse> tool_uses(const nc::Program& program,
                                      const std::map<int, tool::ToolBody>& bodies);

}  // namespace proveout::run
