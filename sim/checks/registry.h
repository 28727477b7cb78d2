// All checks, one a kind of finding, in the order of sim/run/finding_kinds.h. Names, meanings and
// levels on every list of the program and of docs come from here.
#pragma once

#include <span>
#include <vector>

#include "sim/run/check.h"

namespace proveout::checks {

// Each is defined in the file of its check.
namespace kinds {
#define PROVEOUT_CHECK(kind) extern const run::Check kind;
PROVEOUT_FINDING_KINDS(PROVEOUT_CHECK)
#undef PROVEOUT_CHECK
}  // namespace kinds

std::span<const run::Check* const> all_checks();
const run::Check& check_of(FindingKind kind);

// What this run could not look for, for want of input: by what is lacking, then in order of kinds.
std::vector<run::NotChecked> not_checked(const run::JobContext& context);

// Checks whose findings are of other checks' kinds.
extern const run::StartToolCheck other_material;

}  // namespace proveout::checks
