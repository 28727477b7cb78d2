// The dry run of a whole job: every setup in order, the stock carried from one to the next.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "parser/base/diagnostic.h"
#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::run {

struct RunOptions {
  double voxel = 0;      // mm; 0: as the job says
  int threads = -1;      // -1: as the job says; 0: all cores
  std::string material;  // empty: as the job says
  bool keep_stock_after_setups = false;
  // Called from one thread: what is being done and the share of it done. Return false to stop.
  std::function<bool(const std::string& what, double share)> progress;
};

// nullopt with errors in diagnostics when the input cannot be used (exit status 2), or when
// progress asked to stop (no error then). Throws std::bad_alloc when memory runs out.
std::optional<JobResult> dry_run(const job::Job& job, const RunOptions& options,
                                 Diagnostics& diagnostics);

}  // namespace proveout::run
