#include "report/page/build/page_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "sim/checks/registry.h"

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

std::string counted(int count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string minutes(double seconds) {
  const long whole = std::lround(seconds);
  if (whole < 3600) return fmt::format("{}:{:02} min", whole / 60, whole % 60);
  return fmt::format("{}:{:02}:{:02} h", whole / 3600, whole / 60 % 60, whole % 60);
}

// "12:30 min" and, where the machine's figures are known to a range, its ends.
std::string time_in_words(double seconds, double low, double high) {
  const std::string words = minutes(seconds);
  if (!(high > low) || minutes(low) == minutes(high)) return words;
  return fmt::format("{} ({} to {})", words, minutes(low), minutes(high));
}

// The run's own sentence, which says how much was not checked, and the time.
std::string verdict(const run::JobResult& result) {
  std::string words = result.verdict.empty() ? "Nothing was asked of this result" : result.verdict;
  if (!result.not_checked.empty() && words.find("not checked") == std::string::npos)
    words += fmt::format("; {} not checked", counted(static_cast<int>(result.not_checked.size()),
                                                     "thing was", "things were"));
  return words + (result.setups.size() > 1 ? ". The programs take " : ". The program takes ") +
         time_in_words(result.time_s, result.time_low_s, result.time_high_s) +
         " in all, an estimate.";
}

void add_facts(Json& page, const run::JobResult& result) {
  const job::Job& job = result.job;
  Json& facts = page["facts"] = Json::array();
  const auto add = [&](const char* label, const std::string& value) {
    facts.push_back({{"label", label}, {"value", value}});
  };
  if (!job.machine.name.empty()) add("machine", job.machine.name);
  if (job.stock.mesh.empty())
    add("stock", fmt::format("{:g} x {:g} x {:g} mm", job.stock.size[0], job.stock.size[1],
                             job.stock.size[2]));
  else
    add("stock", job.stock.mesh.filename().string());
  add("material", result.material);
  add("removed", fmt::format("{:.1f} cm3", result.removed_mm3 / 1000));
  if (result.part.mass_g > 0) add("mass left", fmt::format("{:.1f} g", result.part.mass_g));
  if (result.blank_mm3 > 0 && result.part.compared)
    add("stock used", fmt::format("{:.0f} % of the blank; {:.1f} g of chips",
                                  100 * result.part.volume_mm3 / result.blank_mm3,
                                  result.removed_mm3 * result.density_g_cm3 / 1000));
  if (result.part.compared) {
    add("worst gouge", fmt::format("{:.3f} mm of {:g} allowed", result.part.worst_gouge,
                                   job.part ? job.part->gouge_tolerance : 0));
    add("worst excess", fmt::format("{:.3f} mm of {:g} allowed", result.part.worst_excess,
                                    job.part ? job.part->excess_tolerance : 0));
  }
  add("voxel", fmt::format("{:g} mm", result.voxel));
}

void add_checked(Json& page, const run::JobResult& result) {
  std::set<std::string> missing, in_part;
  for (const run::NotChecked& item : result.not_checked)
    (item.in_part ? in_part : missing).insert(item.what);
  std::map<std::string, int> found;
  for (const proveout::Finding& finding : result.findings) ++found[std::string(name(finding.kind))];
  Json& checked = page["checked"] = Json::array();
  for (const run::Check* check : checks::all_checks()) {
    if (check->kind == FindingKind::program || check->kind == FindingKind::job) continue;
    const std::string kind(name(check->kind));
    if (missing.contains(kind)) continue;
    const auto at = found.find(kind);
    const std::string count =
        at == found.end() ? "none found" : fmt::format("{} found", at->second);
    checked.push_back(
        {{"what", kind}, {"why", count + (in_part.contains(kind) ? ", in part" : "")}});
  }
}

void add_sheet(Json& page, const run::JobResult& result) {
  const job::Stock& stock = result.job.stock;
  const auto first = std::find_if(result.setups.begin(), result.setups.end(),
                                  [](const run::SetupResult& s) { return !s.tools.empty(); });
  std::vector<std::string> by_hand = {
      stock.mesh.empty() ? fmt::format("Stock measured: {:g} x {:g} x {:g} mm wanted",
                                       stock.size[0], stock.size[1], stock.size[2])
                         : std::string("Stock held against the drawing of the blank"),
      "Stick-out of each tool measured against the list",
      "Each tool's length and diameter entered in the control, as the setup needs it",
      "Zero touched off in X, Y and Z as drawn, and read back",
      "Clamps and screws clear of the whole path, rapids included",
      "Emergency stop tried",
      "First run above the work with the feed turned down",
  };
  if (result.setups.size() > 1)
    by_hand.push_back(
        "After the turn: the milled edges that carry the zero are clean, and the zero is touched "
        "off anew");
  if (first != result.setups.end())
    by_hand.push_back(
        fmt::format("Tool T{} in the spindle before the start, or changed by the program",
                    first->tools.front().number));
  std::vector<std::string> cautions = {
      "A dry run sees the program and the job file, not the machine, the clamps or the tool in the "
      "spindle.",
      "The machine's manual, the rules of the place and a qualified person come first.",
      "Eye protection; no gloves near a turning spindle; chips are sharp and hot.",
  };
  for (const run::SetupResult& setup : result.setups)
    if (setup.pieces_mm3.size() > 1)
      cautions.push_back(fmt::format(
          "Setup {}: {} come loose while it is cut; hold or tab them.", setup.name,
          counted(static_cast<int>(setup.pieces_mm3.size()) - 1, "piece will", "pieces will")));
  page["by_hand"] = by_hand;
  page["cautions"] = cautions;
}

}  // namespace

bool asks_for_inches(std::string_view program) {
  char comment_ends = 0;
  for (std::size_t i = 0; i < program.size(); ++i) {
    const char c = program[i];
    if (comment_ends != 0) {
      if (c == comment_ends || c == '\n') comment_ends = 0;
    } else if (c == '(' || c == ';') {
      comment_ends = c == '(' ? ')' : '\n';
    } else if (c == 'G' || c == 'g') {
      std::string number;  // spaces may stand anywhere in a word
      while (++i < program.size() &&
             std::string_view(" \t0123456789.").find(program[i]) != std::string_view::npos)
        if (program[i] != ' ' && program[i] != '\t') number += program[i];
      --i;
      if (!number.empty() && std::strtod(number.c_str(), nullptr) == 20) return true;
    }
  }
  return false;
}

std::string located_in_words(job::LocatedBy by) {
  switch (by) {
    case job::LocatedBy::unstated:
      return "";
    case job::LocatedBy::corner:
      return "a corner stop";
    case job::LocatedBy::pins:
      return "pins";
    case job::LocatedBy::centre:
      return "its centre, touched off on both sides";
  }
  return "";
}

void add_words(Json& page, const run::JobResult& result) {
  page["title"] = result.job.name.empty() ? result.job.file.stem().string() : result.job.name;
  page["version"] = PROVEOUT_VERSION;
  page["verdict"] = verdict(result);
  add_facts(page, result);
  add_checked(page, result);
  add_sheet(page, result);
}

}  // namespace proveout::page
