// One setup as its checks see it: the job, where the work lies, what may be met.
#pragma once

#include <functional>
#include <map>

#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "parser/mesh/mesh.h"
#include "sim/cutting/material.h"
#include "sim/run/fixture_shapes.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::run {

struct SetupContext {
  const job::Job& job;
  const job::Setup& setup;
  const cutting::Material& material;
  const std::map<int, solid::ToolBody>& bodies;  // by tool number
  RigidMotion stock_from_setup;
  Box3 stock_box;  // of the blank, stock coordinates
  const std::vector<FixtureShape>& fixtures;
  const mesh::Mesh* part;  // stock coordinates; none: nullptr
  stock::MotionId first_id;
  int threads;
  std::size_t number;  // of the setup, from 1
  std::function<bool(double)> progress;
};

}  // namespace proveout::run
