#include "report/text/first_screen.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <span>
#include <sstream>
#include <utility>
#include <vector>

#include "report/text/opening_words.h"
#include "report/text/time_use_table.h"
#include "report/text/words.h"
#include "sim/causes/verdict.h"
#include "sim/checks/what_to_do.h"

namespace proveout::text {
namespace {

constexpr std::size_t width = 80;
constexpr std::size_t most_causes = 2;

using Lines = std::vector<std::string>;

// Wrapped, and cut off with an ellipsis behind the last line there is room for.
Lines paragraph(const std::string& text, std::size_t indent, std::size_t most) {
  Lines out;
  std::istringstream in(wrapped(printable(text), width, indent));
  for (std::string line; std::getline(in, line);) {
    if (out.size() == most) {
      out.back() = shortened(out.back() + std::string(width, ' '), width);
      const std::size_t end = out.back().find_last_not_of(" \xE2\x80\xA6");
      out.back() = out.back().substr(0, end + 1) + "…";
      break;
    }
    out.push_back(shortened(line, width));
  }
  // A hanging indent: the first line begins at the margin the caller gives it.
  return out;
}

void append(Lines& to, Lines from) {
  for (std::string& line : from) to.push_back(std::move(line));
}

// Beside what to do about a finding there is room for one.
std::size_t causes_shown(const run::JobResult& r) {
  const std::size_t most = causes::heading(r) == nullptr ? 1 : most_causes;
  return std::min(most, r.causes.size());
}

// One line a kind and level, with its worst and how many there are; errors first.
Lines rows(const run::JobResult& r, bool colour, std::size_t most) {
  std::vector<std::pair<const Finding*, std::size_t>> kinds;
  const auto shown = std::span(r.causes).first(causes_shown(r));
  for (const Finding& f : r.findings) {
    // What a cause above says word for word is not said twice.
    if (std::any_of(shown.begin(), shown.end(),
                    [&](const run::Cause& c) { return c.text == f.text; }))
      continue;
    const auto at = std::find_if(kinds.begin(), kinds.end(), [&](const auto& k) {
      return k.first->kind == f.kind && k.first->level == f.level;
    });
    if (at == kinds.end())
      kinds.emplace_back(&f, 1);
    else
      ++at->second;
  }
  Lines out;
  for (const auto& [worst, count] : kinds) {
    if (out.size() == most) break;
    std::string where = place(*worst);
    if (where.empty()) where = "setup " + worst->setup;
    std::string text = fmt::format(
        "{}{}: {}", where, worst->tool != 0 ? fmt::format(" T{}", worst->tool) : "", worst->text);
    const std::string more = count > 1 ? fmt::format(" (and {} more)", count - 1) : "";
    text = shortened(printable(text), width - 27 - more.size());
    out.push_back(fmt::format("  {}{}{}{}",
                              inked(left(name(worst->level), 8), ink_of(worst->level), colour),
                              left(name(worst->kind), 17), text, more));
  }
  return out;
}

Lines named_causes(const run::JobResult& r, bool colour) {
  Lines out;
  for (std::size_t i = 0; i < causes_shown(r); ++i) {
    const run::Cause& c = r.causes[i];
    Lines text = paragraph(cause_in_words(c), 10, i == 0 ? 3 : 2);
    text.front().replace(0, 10, "  " + inked(left("cause", 8), Ink::bold, colour));
    append(out, std::move(text));
    Lines remedy = paragraph(c.remedy, 10, i == 0 ? 2 : 1);
    if (remedy.empty()) continue;
    remedy.front().replace(0, 10, "  " + left("do", 8));
    append(out, std::move(remedy));
  }
  return out;
}

// Where no cause heads the verdict: what to do about the finding the verdict names.
Lines what_to_do(const run::JobResult& r) {
  if (causes::heading(r) != nullptr) return {};
  const auto worst =
      std::max_element(r.findings.begin(), r.findings.end(),
                       [](const Finding& a, const Finding& b) { return a.level < b.level; });
  if (worst == r.findings.end() || worst->level == Severity::note) return {};
  const auto i = static_cast<std::size_t>(worst - r.findings.begin());
  Lines out = paragraph(checks::what_to_do(r)[i], 10, 2);
  if (!out.empty()) out.front().replace(0, 10, "  " + left("do", 8));
  return out;
}

std::string time_line(const run::JobResult& r) {
  std::map<int, double> by_tool;
  for (const auto& s : r.setups) {
    for (const auto& t : s.tools) by_tool[t.number] += t.time_s();
  }
  std::string tools;
  for (const auto& [tool, seconds] : by_tool)
    tools += fmt::format("{}T{} {}", tools.empty() ? "" : ", ", tool, duration(seconds));
  return fmt::format("Time {}, an estimate ({} to {}): {}", duration(r.time_s),
                     duration(r.time_low_s), duration(r.time_high_s), tools);
}

std::string mass_line(const run::JobResult& r) {
  std::string out = fmt::format("Left {:.1f} g of {}", r.part.mass_g, r.material);
  if (r.job.part && r.job.part->target_mass_g > 0)
    out += fmt::format(", {:.1f} g wanted", r.job.part->target_mass_g);
  if (r.part.compared)
    out += fmt::format("; against the part {:.2f} mm missing at worst, {:.2f} mm too much",
                       r.part.worst_gouge, r.part.worst_excess);
  return out;
}

std::string not_checked(const run::JobResult& r) {
  std::string out;
  for (const auto& n : r.not_checked)
    out += (out.empty() ? "" : ", ") + n.what + (n.in_part ? " (in part)" : "");
  return out.empty() ? out : "Not checked: " + out;
}

}  // namespace

std::string first_screen(const run::JobResult& r, const FirstScreenOptions& options) {
  Lines head = paragraph(job_in_words(r), 0, 1);
  for (const std::string& line : paragraph(r.verdict, 0, 3))
    head.push_back(inked(line, Ink::bold, options.colour));
  head.push_back(counts_in_words(r));
  append(head, what_to_do(r));
  append(head, named_causes(r, options.colour));
  Lines tail = paragraph(time_line(r), 0, 2);
  append(tail, paragraph(savings_line(r), 0, 1));
  append(tail, paragraph(mass_line(r), 0, 2));
  append(tail, paragraph(not_checked(r), 0, 2));
  append(tail, {"It cannot see the bench, and forces are rough: measure, run in air, stay with",
                "the machine; its manual, local rules and qualified people come first."});
  // The folder stands whole, however long: it is to be opened.
  if (!options.output_folder.empty())
    append(tail, {options.page ? "All of it: --full, and report.html and result.json in"
                               : "All of it: --full, and result.json in",
                  printable(options.output_folder)});
  const std::size_t used = head.size() + tail.size();
  const std::size_t room = first_screen_lines > used ? first_screen_lines - used : 0;
  append(head, rows(r, options.colour, room));
  append(head, std::move(tail));
  std::string out;
  for (const std::string& line : head) out += line + "\n";
  return out;
}

}  // namespace proveout::text
