// What every finding about one motion has in common.
#pragma once

#include "sim/run/result.h"

namespace proveout::run {

// A finding about a motion of the setup: its place is the motion's end (setup frame, mm); value,
// limit and text are left to the caller. m must be a motion of setup.source.
Finding motion_finding(const SetupCut& setup, const nc::Motion& m, FindingKind kind,
                       Severity level);

}  // namespace proveout::run
