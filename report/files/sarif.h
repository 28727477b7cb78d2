// findings.sarif: SARIF 2.1.0 (OASIS Standard, 27 March 2020), so that code hosts mark the NC
// lines.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::files {

// Runs of consecutive lines with one kind and tool become one result; fingerprints come from kind,
// setup, tool and place, not from line numbers.
std::string sarif(const run::JobResult& result);

}  // namespace proveout::files
