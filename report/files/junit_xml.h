// junit.xml: one suite a setup and one for the job as a whole, one case a rule, so that any CI
// shows it.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::files {

// A case fails when its rule has a finding at or above fail_on; it is skipped where its input was
// absent.
std::string junit_xml(const run::JobResult& result, Severity fail_on);

}  // namespace proveout::files
