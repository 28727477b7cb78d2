#include "sim/checks/registry.h"

#include <algorithm>
#include <array>
#include <string>

namespace proveout::checks {
namespace {

#define PROVEOUT_LISTED(kind) &kinds::kind,
constexpr std::array<const run::Check*, finding_kind_count> in_order = {
    PROVEOUT_FINDING_KINDS(PROVEOUT_LISTED)};
#undef PROVEOUT_LISTED

}  // namespace

std::span<const run::Check* const> all_checks() { return in_order; }
const run::Check& check_of(FindingKind kind) { return *in_order[static_cast<std::size_t>(kind)]; }

std::vector<run::NotChecked> not_checked(const run::JobContext& context) {
  auto by_lack = in_order;
  std::stable_sort(by_lack.begin(), by_lack.end(),
                   [](const run::Check* a, const run::Check* b) { return a->lacks < b->lacks; });
  std::vector<run::NotChecked> out;
  for (const run::Check* check : by_lack) {
    if (check->not_checked == nullptr) continue;
    for (run::NotChecked& skipped : check->not_checked(context)) {
      skipped.what = std::string(name(check->kind));
      out.push_back(std::move(skipped));
    }
  }
  return out;
}

}  // namespace proveout::checks
