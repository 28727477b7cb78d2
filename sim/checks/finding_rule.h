// What each kind of finding means, for help texts, SARIF rules and docs. One table, so they cannot
// drift.
#pragma once

#include <span>
#include <string_view>

#include "sim/run/finding.h"

namespace proveout {

struct FindingRule {
  FindingKind kind;
  std::string_view meaning;  // one sentence without a full stop
  std::string_view help;     // what to look at and do
  std::string_view needs;    // input without which it is not checked; empty: always checked
};

std::span<const FindingRule> finding_rules();
const FindingRule& rule(FindingKind kind);

}  // namespace proveout
