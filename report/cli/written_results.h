// The files every simulating command leaves in its output folder.
#pragma once

#include "report/cli/options.h"

namespace proveout::cli {

// result.json, moves.csv, junit.xml, findings.sarif and, if asked for, report.html. Throws files::WriteError.
void write_results(const run::JobResult& result, const SimulateOptions& options);

}  // namespace proveout::cli
