#include "sim/run/finding.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>

namespace proveout {

namespace {

// An enumerator as it is written in results: over_depth -> over-depth.
template <std::size_t size>
constexpr std::array<char, size> hyphened(const char (&enumerator)[size]) {
  std::array<char, size> out{};
  for (std::size_t i = 0; i < size; ++i) out[i] = enumerator[i] == '_' ? '-' : enumerator[i];
  return out;
}

#define PROVEOUT_NAME(kind) constexpr auto name_of_##kind = hyphened(#kind);
PROVEOUT_FINDING_KINDS(PROVEOUT_NAME)
#undef PROVEOUT_NAME
#define PROVEOUT_NAME(kind) name_of_##kind.data(),
constexpr std::array<std::string_view, finding_kind_count> names = {
    PROVEOUT_FINDING_KINDS(PROVEOUT_NAME)};
#undef PROVEOUT_NAME

}  // namespace

std::string_view name(FindingKind kind) { return names[static_cast<std::size_t>(kind)]; }

std::string_view name(Severity severity) {
  switch (severity) {
    case Severity::note:
      return "note";
    case Severity::warning:
      return "warning";
    case Severity::error:
      break;
  }
  return "error";
}

double excess_over_limit(const Finding& f) {
  // Kinds whose limit is a floor (a chip too thin) are worse the further the value falls below it.
  if (f.limit > 0 && f.value > 0) return std::max(f.value / f.limit, f.limit / f.value);
  return std::abs(f.value - f.limit);
}

FindingCollector::FindingCollector(double spot_mm, std::size_t most_per_kind)
    : spot_mm_(spot_mm), most_per_kind_(most_per_kind) {}

void FindingCollector::add(Finding finding) {
  // Notes are about a tool as a whole: its worst place stands for all.
  const double spot = finding.level == Severity::note ? 1e9 : spot_mm_;
  const auto cell = [&](double v) { return static_cast<long>(std::floor(v / spot + 0.5)); };
  const Key by_place{
      static_cast<int>(finding.kind), finding.setup,        finding.tool,        finding.detail,
      cell(finding.at.x()),           cell(finding.at.y()), cell(finding.at.z())};
  constexpr long no_spot = std::numeric_limits<long>::max();  // no cell has this number
  const Key by_line{static_cast<int>(finding.kind),
                    finding.setup,
                    finding.tool,
                    finding.detail,
                    static_cast<long>(finding.line),
                    -1,
                    no_spot};
  auto place = by_spot_.find(by_place);
  if (place == by_spot_.end() && finding.line != 0) place = by_spot_.find(by_line);
  if (place == by_spot_.end()) {
    by_spot_.emplace(by_place, kept_.size());
    if (finding.line != 0) by_spot_.emplace(by_line, kept_.size());
    kept_.push_back(std::move(finding));
    return;
  }
  Finding& kept = kept_[place->second];
  const std::uint64_t count = kept.count + finding.count;
  // An error decides how the run ends: no warning may stand in its place.
  const bool worse = finding.level != kept.level
                         ? finding.level > kept.level
                         : excess_over_limit(finding) > excess_over_limit(kept);
  if (worse) kept = std::move(finding);
  kept.count = count;
}

std::vector<Finding> FindingCollector::take() {
  // Worst first within a kind, setup and tool; then the tail is folded into the last kept one.
  std::vector<Finding> sorted = std::move(kept_);
  kept_.clear();
  by_spot_.clear();
  std::map<std::string, std::size_t> setup_order;
  for (const auto& f : sorted) setup_order.try_emplace(f.setup, setup_order.size());
  const auto group = [&](const Finding& f) {
    return std::tuple(-static_cast<int>(f.level), setup_order[f.setup], static_cast<int>(f.kind),
                      f.tool);
  };
  std::stable_sort(sorted.begin(), sorted.end(), [&](const Finding& a, const Finding& b) {
    const auto ga = group(a), gb = group(b);
    if (ga != gb) return ga < gb;
    const double ea = excess_over_limit(a), eb = excess_over_limit(b);
    if (ea != eb) return ea > eb;
    return a.line < b.line;
  });
  std::vector<Finding> out;
  std::size_t in_group = 0;
  for (auto& f : sorted) {
    const bool same = !out.empty() && group(out.back()) == group(f);
    in_group = same ? in_group + 1 : 1;
    if (in_group > most_per_kind_) {
      out.back().count += f.count;
    } else {
      out.push_back(std::move(f));
    }
  }
  return out;
}

}  // namespace proveout
