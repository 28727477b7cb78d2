#include "sim/run/motion_finding.h"

namespace proveout::run {

Finding motion_finding(const SetupResult& result, const nc::Motion& m, FindingKind kind,
                       Severity level) {
  Finding f;
  f.kind = kind;
  f.level = level;
  f.setup = result.name;
  f.tool = result.source->states[m.state].tool;
  f.file = result.program;
  f.line = m.line;
  f.at = m.end;
  return f;
}

}  // namespace proveout::run
