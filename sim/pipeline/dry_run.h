// The dry run of a whole job: every setup in order, the stock carried from one to the next.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "parser/base/diagnostic.h"
#include "parser/base/input_files.h"
#include "parser/job/job.h"
#include "sim/pipeline/forecast.h"
#include "sim/pipeline/stages.h"
#include "sim/run/result.h"

namespace proveout::pipeline {

class PhaseClock;

struct RunOptions {
  double voxel = 0;      // mm; 0: as the job says
  int threads = -1;      // -1: as the job says; 0: all cores
  std::string material;  // empty: as the job says
  bool keep_stock_after_setups = false;
  // What the job was read from (parser/job/read_job.h): listed first in the result's inputs.
  InputFiles files;
  StageStore stages;  // where the stock after each tool run is kept and taken from
  // MB the run may take; 0: what memory_available_mb says. A job that would need more by a fifth is
  // refused (voxel-too-fine) before memory is asked for.
  double memory_mb = 0;
  // Told once, before the stock is made.
  std::function<void(const Forecast&)> expected;
  // Called from one thread: what is being done and the share of it done. Return false to stop.
  std::function<bool(const std::string& what, double share)> progress;
};

// nullopt with errors in diagnostics when the input cannot be used (exit status 2), or when
// progress asked to stop (no error then). Throws std::bad_alloc when memory runs out.
std::optional<run::JobResult> dry_run(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics);
// The same, with its phases timed by the clock.
std::optional<run::JobResult> dry_run(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics, PhaseClock& clock);

// What dry_run would ask of the computer. nullopt with errors in diagnostics: the input cannot be
// used.
struct JobForecast {
  double voxel = 0;  // mm
  Forecast needs;
  std::size_t motions = 0;
};
std::optional<JobForecast> forecast_job(const job::Job& job, const RunOptions& options,
                                        Diagnostics& diagnostics);

}  // namespace proveout::pipeline
