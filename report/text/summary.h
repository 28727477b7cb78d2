// The summary of a dry run on the terminal: 80 columns, the worst first.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::text {

struct SummaryOptions {
  bool colour = false;
  std::size_t worst = 5;      // findings shown in full
  std::string output_folder;  // named at the end; empty: nothing was written
};

std::string summary(const run::JobResult& result, const SummaryOptions& options);

}  // namespace proveout::text
