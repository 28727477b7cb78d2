#include "sim/causes/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string>
#include <utility>
#include <vector>

namespace proveout::causes {
namespace {

constexpr double same_shift_mm = 0.1;  // (choice)

std::string plural(std::size_t n, const char* word) {
  return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
}

// Up to its first colon: the rest is detail.
std::string head_of(const std::string& text) { return text.substr(0, text.find(": ")); }

std::string where(const Finding& f) {
  std::string out;
  if (f.line > 0)
    out = fmt::format("{}:{}", f.file, f.line);
  else if (!f.setup.empty())
    out = "setup " + f.setup;
  else
    out = f.file;
  return out.empty() ? out : " (" + out + ")";
}

// The same said of another setup: by the sentence, or, where a fit told both zeros, as far off each
// way to what fits tell.
bool alike(const run::Cause& a, const run::Cause& b) {
  if (a.kind != b.kind || a.setup.empty() || b.setup.empty() || a.setup == b.setup) return false;
  if (a.shift && b.shift)
    return (a.shift->cwiseAbs() - b.shift->cwiseAbs()).cwiseAbs().maxCoeff() < same_shift_mm;
  const auto sentence = [](const run::Cause& c) {
    std::string out = head_of(c.text);
    const std::string name = "setup " + c.setup;
    if (const std::size_t at = out.find(name); at != std::string::npos) out.erase(at, name.size());
    return out;
  };
  return sentence(a) == sentence(b);
}

// The same mistake made in other setups, each a cause of its own, and what all of them leave: a
// reader who mends the first alone would cut the others.
std::pair<std::string, std::size_t> others_alike(const run::JobResult& r, const run::Cause& first) {
  std::vector<std::string> setups;
  std::size_t explained = 0;
  for (const run::Cause& c : r.causes) {
    if (!alike(c, first)) continue;
    if (std::find(setups.begin(), setups.end(), c.setup) == setups.end()) setups.push_back(c.setup);
    explained += c.explains;
  }
  std::string out;
  for (std::size_t i = 0; i < setups.size(); ++i)
    out += (i == 0 ? "" : i + 1 == setups.size() ? " and " : ", ") + setups[i];
  if (!out.empty()) out = "; so with " + out;
  return {out, first.remains - std::min(first.remains, explained)};
}

}  // namespace

const run::Cause* heading(const run::JobResult& r) {
  if (r.causes.empty()) return nullptr;
  const auto worst =
      std::max_element(r.findings.begin(), r.findings.end(),
                       [](const Finding& a, const Finding& b) { return a.level < b.level; });
  if (worst == r.findings.end() || worst->level == Severity::note) return nullptr;
  const run::Cause& first = r.causes.front();
  const bool of_worst =
      std::any_of(first.findings.begin(), first.findings.end(),
                  [&](std::size_t i) { return r.findings[i].level == worst->level; });
  return of_worst ? &first : nullptr;
}

std::string verdict(const run::JobResult& r) {
  std::array<std::size_t, 3> count{};
  const Finding* first = nullptr;
  for (const Finding& f : r.findings) {
    ++count[static_cast<std::size_t>(f.level)];
    if (first == nullptr || f.level > first->level) first = &f;
  }
  const std::size_t warnings = count[static_cast<std::size_t>(Severity::warning)];
  const std::size_t errors = count[static_cast<std::size_t>(Severity::error)];
  const std::string unlooked =
      r.not_checked.empty()
          ? ""
          : fmt::format("; {} not checked", plural(r.not_checked.size(), "thing"));
  if (const run::Cause* cause = heading(r)) {
    const auto [also, remains] = others_alike(r, *cause);
    return fmt::format("{}: {}{}{}{}", errors > 0 ? "Do not cut" : "Look before cutting",
                       head_of(cause->text), also,
                       remains > 0 ? fmt::format("; {} more to look at", plural(remains, "finding"))
                                   : std::string(),
                       errors > 0 ? std::string() : unlooked);
  }
  if (errors > 0)
    return fmt::format("Do not cut: {}, the worst: {}{}", plural(errors, "error"), first->text,
                       where(*first));
  if (warnings > 0)
    return fmt::format("Look before cutting: {}, the first: {}{}{}", plural(warnings, "warning"),
                       first->text, where(*first), unlooked);
  return fmt::format("No error and no warning in what was looked for{}: the bench decides",
                     unlooked);
}

}  // namespace proveout::causes
