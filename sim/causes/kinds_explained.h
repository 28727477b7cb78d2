// Which kinds of findings a kind of cause can be behind: what it may explain, wherever it lies.
#pragma once

#include "sim/run/finding.h"
#include "sim/run/result.h"

namespace proveout::causes {

// Whether a finding is one a cause is looked for: no note.
bool counts(const Finding& f);

// Whether a finding is a comment's word on a tool that the job contradicts.
bool speaks_of_tool(const Finding& f);

// Whether a cause of that kind can be behind a finding of that kind.
bool is_of(run::CauseKind cause, const Finding& f);

// Whether a tool in the wrong place does that.
bool is_of_place(FindingKind kind);

// Whether a finding is one a surface in the wrong place makes: a gouge, excess, or a part lost.
bool is_of_surface(const Finding& f);

}  // namespace proveout::causes
