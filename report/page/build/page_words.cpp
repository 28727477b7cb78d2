#include "report/page/build/page_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "sim/checks/registry.h"

namespace proveout::page {
namespace {

std::string counted(int count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string minutes(double seconds) {
  const long whole = std::lround(seconds);
  if (whole < 3600) return fmt::format("{}:{:02} min", whole / 60, whole % 60);
  return fmt::format("{}:{:02}:{:02} h", whole / 3600, whole / 60 % 60, whole % 60);
}

// The run's own sentence, what to do about its first cause, and the time.
std::string verdict(const run::JobResult& result) {
  std::string words = result.verdict;
  if (!result.not_checked.empty() && words.find("not checked") == std::string::npos)
    words += fmt::format("; {} not checked", counted(static_cast<int>(result.not_checked.size()),
                                                     "thing was", "things were"));
  if (!result.causes.empty())
    words +=
        fmt::format(". To do for {}: {}",
                    result.causes.front().setup.empty() ? std::string("the job")
                                                        : "setup " + result.causes.front().setup,
                    result.causes.front().remedy);
  return words + (result.setups.size() > 1 ? ". The programs take " : ". The program takes ") +
         minutes(result.time_s) + " in all, an estimate.";
}

void add_facts(PageData& page, const run::JobResult& result) {
  const job::Job& job = result.job;
  const auto add = [&](const char* label, std::string value) {
    page.facts.push_back({label, std::move(value)});
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

void add_checked(PageData& page, const run::JobResult& result) {
  std::set<std::string> missing, in_part;
  for (const run::NotChecked& item : result.not_checked) {
    page.not_checked.push_back({item.what, item.why});
    (item.in_part ? in_part : missing).insert(item.what);
  }
  std::map<std::string, int> found;
  for (const proveout::Finding& finding : result.findings) ++found[std::string(name(finding.kind))];
  for (const run::Check* check : checks::all_checks()) {
    if (check->kind == FindingKind::program || check->kind == FindingKind::job) continue;
    const std::string kind(name(check->kind));
    if (missing.contains(kind)) continue;
    const auto at = found.find(kind);
    const std::string count =
        at == found.end() ? "none found" : fmt::format("{} found", at->second);
    page.checked.push_back({kind, count + (in_part.contains(kind) ? ", in part" : "")});
  }
  for (const std::string& words : result.assumed) page.assumed.push_back({words, ""});
}

void add_sheet(PageData& page, const run::JobResult& result) {
  const job::Stock& stock = result.job.stock;
  const auto first = std::find_if(result.setups.begin(), result.setups.end(),
                                  [](const run::SetupResult& s) { return !s.tools.empty(); });
  page.by_hand = {
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
    page.by_hand.push_back(
        "After the turn: the milled edges that carry the zero are clean, and the zero is touched "
        "off anew");
  if (first != result.setups.end())
    page.by_hand.push_back(
        fmt::format("Tool T{} in the spindle before the start, or changed by the program",
                    first->tools.front().number));
  page.cautions = {
      "A dry run sees the program and the job file, not the machine, the clamps or the tool in the "
      "spindle.",
      "The machine's manual, the rules of the place and a qualified person come first.",
      "Eye protection; no gloves near a turning spindle; chips are sharp and hot.",
  };
  for (const run::SetupResult& setup : result.setups)
    if (setup.pieces_mm3.size() > 1)
      page.cautions.push_back(fmt::format(
          "Setup {}: {} come loose while it is cut; hold or tab them.", setup.name,
          counted(static_cast<int>(setup.pieces_mm3.size()) - 1, "piece will", "pieces will")));
}

}  // namespace

std::string turns_in_words(const std::vector<job::Turn>& turns) {
  std::string words;
  for (const job::Turn& turn : turns) {
    if (!words.empty()) words += ", then ";
    words += fmt::format("turned {:g} degrees about {}", turn.degrees,
                         "xyz"[static_cast<int>(turn.about)]);
  }
  return words;
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

void add_words(PageData& page, const run::JobResult& result) {
  page.title = result.job.name.empty() ? result.job.file.stem().string() : result.job.name;
#ifdef PROVEOUT_VERSION
  page.version = PROVEOUT_VERSION;
#endif
  for (const proveout::Finding& finding : result.findings) {
    if (finding.level == Severity::error)
      ++page.errors;
    else if (finding.level == Severity::warning)
      ++page.warnings;
    else
      ++page.notes;
  }
  add_facts(page, result);
  add_checked(page, result);
  page.verdict = verdict(result);
  add_sheet(page, result);
}

}  // namespace proveout::page
