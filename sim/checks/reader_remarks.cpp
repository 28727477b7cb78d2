// What the readers of programs and of the job file have to say; their findings are made where the
// readers' diagnostics are at hand (sim/pipeline).
#include "sim/checks/registry.h"

namespace proveout::checks {

constinit const run::Check kinds::program{.kind = FindingKind::program,
                                          .level = Severity::warning,
                                          .meaning = "the program's text has something to say",
                                          .help = "See the message and docs/language.md."};

constinit const run::Check kinds::job{
    .kind = FindingKind::job,
    .level = Severity::warning,
    .meaning = "the job file or a mesh it names has something to say",
    .help = "See the message; keys are in docs/job-file.md."};

}  // namespace proveout::checks
