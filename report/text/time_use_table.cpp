#include "report/text/time_use_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>
#include <utility>
#include <vector>

#include "report/text/words.h"
#include "sim/after/time_use.h"

namespace proveout::text {
namespace {

constexpr std::size_t width = 80;

bool has_errors(const run::JobResult& r) {
  return std::any_of(r.findings.begin(), r.findings.end(),
                     [](const Finding& f) { return f.level == Severity::error; });
}

std::string_view in_short(after::Change change) {
  switch (change) {
    case after::Change::air:
      return "air at rapid";
    case after::Change::feed:
      return "feed";
    case after::Change::depth:
      return "deeper levels";
    case after::Change::width:
      return "wider step-over";
    case after::Change::changes:
      return "tool changes";
    case after::Change::parts:
      break;
  }
  return "two parts a clamping";
}

std::string stretch_line(const after::Stretch& s) {
  double saves = 0;
  for (const double by : s.saves_s) saves += by;
  const std::string place =
      printable(s.last_line > s.line ? fmt::format("{}:{}-{}", s.file, s.line, s.last_line)
                                     : fmt::format("{}:{}", s.file, s.line));
  return "  " + left(shortened(place, 28), 28) + " " + left(fmt::format("T{}", s.tool), 5) +
         right(duration(s.time_s), 12) + "  " + left(std::string(after::name(s.binds)), 14) +
         right(saves >= 0.5 ? duration(saves) : "-", 12) + "\n";
}

}  // namespace

std::string time_use_table(const run::JobResult& r) {
  const auto held = after::time_use_of(r);
  const after::TimeUse& use = *held;
  if (!(use.time_s > 0)) return "";
  std::string out =
      "\n" + wrapped(fmt::format("Where the time goes: {} in material at the programmed feed, {} "
                                 "below it, {} in air at feed, {} in rapids, {} for tool changes, "
                                 "spindle and waits",
                                 duration(use.at_feed_s), duration(use.held_s), duration(use.air_s),
                                 duration(use.rapid_s), duration(use.waits_s)),
                     width, 0);
  out += "  " + left("the longest stretches", 34) + right("time", 12) + "  " + left("held by", 14) +
         right("could save", 12) + "\n";
  for (const after::Stretch& s : use.stretches) out += stretch_line(s);
  if (use.savings.empty()) return out + "No change was found that would save time worth a word\n";
  out += wrapped(fmt::format("{}What would give time back, each on top of those above it (no "
                             "second is counted twice):",
                             has_errors(r) ? "Errors come first; then: " : ""),
                 width, 0);
  for (const after::Saving& s : use.savings) {
    std::string line = fmt::format("{}: {}", duration(s.saves_s), printable(s.text));
    if (s.alone_s - s.saves_s > 0.5) line += fmt::format(" (alone {})", duration(s.alone_s));
    if (s.saves_s - s.roughing_s > 0.5)
      line += fmt::format("; {} of it in passes that leave the finished surface",
                          duration(s.saves_s - s.roughing_s));
    if (std::abs(s.roughing_s - s.likely_s) > 0.5)
      line += fmt::format("; without those, and with chips in the middle of the rule, {}",
                          duration(s.likely_s));
    out += wrapped(line, width, 2);
  }
  return out + wrapped(fmt::format("All together {} of {}, an estimate. Higher feeds and deeper "
                                   "cuts are rules of common practice and rough models: try one "
                                   "change at a time, and dry-run it again",
                                   duration(use.saves_s()), duration(use.time_s)),
                       width, 0);
}

// Only what leaves the finish as it is: whether a finishing pass may go faster is no matter of
// limits alone. And feeds by the middle of the chip rule: its upper end is for a stiffer machine.
std::string savings_line(const run::JobResult& r) {
  if (has_errors(r)) return "";
  const auto held = after::time_use_of(r);
  std::vector<std::pair<double, after::Change>> savings;
  double all = 0;
  bool feeds = false;
  for (const after::Saving& s : held->savings) {
    if (s.change == after::Change::parts || s.likely_s < 1) continue;
    savings.emplace_back(s.likely_s, s.change);
    all += s.likely_s;
    feeds = feeds || s.change == after::Change::feed;
  }
  if (savings.empty()) return "";
  std::stable_sort(savings.begin(), savings.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  std::string out = fmt::format("At most {} less{}, finish untouched:", duration(all),
                                feeds ? " at middling chips" : "");
  for (std::size_t i = 0; i < savings.size(); ++i) {
    const auto& [seconds, change] = savings[i];
    const std::string more =
        fmt::format("{}{} {}", i == 0 ? " " : ", ", in_short(change), duration(seconds));
    if (out.size() + more.size() > width) break;
    out += more;
  }
  if (out.back() == ':') out.pop_back();
  return out;
}

}  // namespace proveout::text
