#include "sim/run/motion_finding.h"

namespace proveout::run {

Finding motion_finding(const SetupCut& setup, const nc::Motion& m, FindingKind kind,
                       Severity level) {
  Finding f;
  f.kind = kind;
  f.level = level;
  f.setup = setup.name;
  f.tool = setup.source->states[m.state].tool;
  f.file = setup.program;
  f.line = m.line;
  f.at = m.end;
  return f;
}

}  // namespace proveout::run
