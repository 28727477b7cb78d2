#include "sim/checks/what_to_do.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <optional>
#include <string_view>

#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

// A clause as a sentence.
std::string sentence(std::string clause) {
  if (clause.empty()) return clause;
  // A code or a key keeps its case: "[part] origin", "post G90" are begun by what they name.
  const auto first = static_cast<unsigned char>(clause.front());
  const bool word = clause.size() > 1 && std::islower(static_cast<unsigned char>(clause[1])) != 0;
  if (word) clause.front() = static_cast<char>(std::toupper(first));
  if (clause.back() != '.') clause += '.';
  return clause;
}

// What a detail means beyond what its kind does; empty: nothing.
std::string_view by_detail(const Finding& f) {
  struct Row {
    FindingKind kind;
    std::string_view detail, words;
  };
  using enum FindingKind;
  static constexpr Row rows[] = {
      {program, "tool-size-differs",
       "Measure the tool that will be in the holder and declare it, or post for the declared one."},
      {program, "tool-shape-differs",
       "Declare the tool that will be in the holder, or post for the declared one."},
      {program, "blank-size-differs",
       "Measure the blank and declare it, or post for the declared one."},
      {program, "no-length-offset",
       "Post G43 H with each tool's number, or set every tool to one length."},
      {job, "support-in-part",
       "End the support's box at the part's surface, unless it was meant to reach in."},
      {gouge, "confined",
       "Look at depth and outline posted there: next to all else of this setup lies on the part, "
       "and no shift of its zero fits better; where nothing else of it tells a shift that way, at "
       "the zero too."},
      {excess, "confined",
       "Look at depth, outline and allowance posted there: next to all else of this setup lies on "
       "the part, and no shift of its zero fits better; where nothing else of it tells a shift "
       "that way, at the zero too."},
      {excess, "uncut", "Post what takes it off, or look whether any setup's tool reaches there."},
      {excess, "support", "Post smaller tabs; what is left must still hold the part."},
  };
  for (const Row& row : rows) {
    if (row.kind == f.kind && row.detail == f.detail) return row.words;
  }
  return {};
}

// What a reader said with the words of a finding; empty: no reader's, or nothing to do.
std::string by_reader(const run::JobResult& result, const Finding& f) {
  if (f.kind != FindingKind::program && f.kind != FindingKind::job) return {};
  const auto said =
      std::find_if(result.remarks.begin(), result.remarks.end(), [&](const Diagnostic& d) {
        return d.code == f.detail && d.what == f.text && d.place.line == f.line;
      });
  return said == result.remarks.end() ? std::string() : sentence(said->remedy);
}

std::string of_finding(const run::JobResult& result, const Finding& f) {
  if (std::string said = by_reader(result, f); !said.empty()) return said;
  if (const std::string_view words = by_detail(f); !words.empty()) return std::string(words);
  return std::string(check_of(f.kind).help);
}

}  // namespace

std::vector<std::string> what_to_do(const run::JobResult& result) {
  std::vector<std::string> out;
  out.reserve(result.findings.size());
  for (const Finding& f : result.findings) out.push_back(of_finding(result, f));
  for (std::size_t c = 0; c < result.causes.size(); ++c) {
    const run::Cause& cause = result.causes[c];
    for (const std::size_t i : cause.findings) {
      if (i >= out.size()) continue;
      // The finding that is the cause has the cause's own advice.
      const bool same = cause.text.find(result.findings[i].text) != std::string::npos;
      out[i] =
          same && !cause.remedy.empty()
              ? sentence(cause.remedy)
              : fmt::format("Mend cause {} first, and run again; if it stays: {}", c + 1, out[i]);
    }
  }
  return out;
}

}  // namespace proveout::checks
