// What a dry run has to say about the work, each with its place in the program and on the stock.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <tuple>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"
#include "sim/run/finding_kinds.h"

namespace proveout {

#define PROVEOUT_ENUMERATOR(kind) kind,
enum class FindingKind : std::uint8_t { PROVEOUT_FINDING_KINDS(PROVEOUT_ENUMERATOR) };
#undef PROVEOUT_ENUMERATOR
#define PROVEOUT_COUNTED(kind) +1  // NOLINT(bugprone-macro-parentheses): terms of a sum
inline constexpr std::size_t finding_kind_count = 0 PROVEOUT_FINDING_KINDS(PROVEOUT_COUNTED);
#undef PROVEOUT_COUNTED
std::string_view name(FindingKind kind);  // as in result.json: the enumerator with hyphens
std::string_view name(Severity severity);

struct Finding {
  FindingKind kind = FindingKind::program;
  Severity level = Severity::error;
  std::string setup;
  int tool = 0;                 // 0: none
  std::string file;             // as the job gives it
  std::uint32_t line = 0;       // 1-based; 0: no line
  std::uint32_t last_line = 0;  // where a run of lines shares it; 0 or line: just one
  Vec3 at = Vec3::Zero();       // mm, setup frame
  double value = 0, limit = 0;
  std::string unit;
  std::string text;         // one sentence without a full stop
  std::string detail;       // code of the parser, or further words
  std::uint64_t count = 1;  // motions that share it
};

// How bad a finding is beside others of its kind: value over limit, or limit over value for floors.
double excess_over_limit(const Finding& finding);

// Keeps the worst of each kind, setup, tool, detail and line or spot (cells of spot_mm, setup
// frame), counting the rest; notes once a tool; of one kind, setup and tool at most most_per_kind,
// the worst ones.
class FindingCollector {
 public:
  explicit FindingCollector(double spot_mm = 12.0, std::size_t most_per_kind = 25);
  void add(Finding finding);
  // Those kept so far, in order of arrival.
  const std::vector<Finding>& kept() const { return kept_; }
  // Sorted by level (worst first), setup in order of arrival, kind, tool, then how bad.
  std::vector<Finding> take();

 private:
  using Key = std::tuple<int, std::string, int, std::string, long, long, long>;
  std::vector<Finding> kept_;
  std::map<Key, std::size_t> by_spot_;  // into kept_
  double spot_mm_;
  std::size_t most_per_kind_;
};

}  // namespace proveout
