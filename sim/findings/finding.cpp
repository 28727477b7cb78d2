#include "sim/findings/finding.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace proveout {

std::string_view name(FindingKind kind) {
  static constexpr std::array<std::string_view, 24> names = {
      "gouge",           "excess",          "over-depth",    "over-width",      "rapid-contact",
      "shank-contact",   "holder-contact",  "fixture-contact", "below-stock",   "spindle-stopped",
      "over-travel",     "feed-clipped",    "speed-clipped", "chip-thick",      "chip-thin",
      "over-power",      "over-bend",       "chatter",       "plunge",          "came-loose",
      "flip-mismatch",   "unreached",       "over-reach",    "program"};
  return names[static_cast<std::size_t>(kind)];
}

std::string_view name(Severity severity) {
  switch (severity) {
    case Severity::note: return "note";
    case Severity::warning: return "warning";
    case Severity::error: break;
  }
  return "error";
}

FindingCollector::FindingCollector(double spot_mm, std::size_t most_per_kind)
    : spot_mm_(spot_mm), most_per_kind_(most_per_kind) {}

void FindingCollector::add(Finding finding) { kept_.push_back(std::move(finding)); }

std::vector<Finding> FindingCollector::take() { return std::move(kept_); }

}  // namespace proveout
