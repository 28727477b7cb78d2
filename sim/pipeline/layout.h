// Where blank, part, fixtures and paths of a job lie before anything is cut: for a picture of it.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "sim/pipeline/dry_run.h"

namespace proveout::run {
struct Inputs;
}

namespace proveout::pipeline {

// Motions of one kind by one tool, joined: arcs as chords of 15 degrees at most.
struct Way {
  bool rapid = false;
  int tool = 0;              // its number; 0: none named yet
  std::vector<Vec3> points;  // mm, setup frame
};

struct SetupLayout {
  RigidMotion setup_from_stock = RigidMotion::Identity();
  // False: the zero is taken from milled faces, which are not there yet; here it lies as if they
  // were the blank's.
  bool zero_known = true;
  std::string zero_text;  // for an operator; empty where it is not known
  std::vector<Way> ways;
};

// Blank, part and fixtures stand in run::Inputs and job::Job. Locating errors are left out: this is
// where things are meant to lie.
struct JobLayout {
  std::vector<SetupLayout> setups;  // one a setup of the job
};
JobLayout layout(const job::Job& job, const run::Inputs& inputs);

// forecast_job and layout, of one reading.
struct JobPreview {
  JobForecast forecast;
  JobLayout layout;
  std::shared_ptr<const run::Inputs> inputs;  // not null
};
std::optional<JobPreview> preview_job(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics);

}  // namespace proveout::pipeline
