// The outcome of a run in one sentence: what heads the terminal, the page, JUnit and SARIF.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::causes {

// result: whole but for its verdict. A sentence without a full stop. Never says that nothing can go
// wrong: at best, what was found of what was looked for.
std::string verdict(const run::JobResult& result);

// The cause that heads the verdict; null: it names a finding, or nothing. Where there are errors,
// only one that explains some of them.
const run::Cause* heading(const run::JobResult& result);

}  // namespace proveout::causes
