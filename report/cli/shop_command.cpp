// shop: one's own machines, tools and materials, shown and set.
#include <fmt/format.h>

#include <cstdio>

#include "parser/job/shop.h"
#include "parser/job/shop_keep.h"
#include "parser/job/tool_shape.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/text/words.h"

namespace proveout::cli {

namespace po = boost::program_options;
namespace fs = std::filesystem;

namespace {

void row(const std::string& name, const std::string& what) {
  tell("  {:<28} {}\n", text::printable(name), text::printable(what));
}

std::string in_words(const job::KeptTool& k) {
  const auto says = [&](const char* key) { return k.keys.contains(key); };
  std::string out = k.tool.number > 0 ? fmt::format("T{}, ", k.tool.number) : "no number, ";
  out += fmt::format("{:.4g} mm {}", k.tool.diameter, job::info(k.tool.shape).word);
  if (says("flutes")) out += fmt::format(", {} flutes", k.tool.flutes);
  out += says("stickout") ? fmt::format(", stands out {:.4g} mm", k.tool.stickout)
                          : ", stick-out not kept";
  return out + (says("holder") ? ", holder" : ", no holder");
}

// Lists what is kept; false: a file of it cannot be used.
bool show(const fs::path& folder) {
  Diagnostics diagnostics;
  const job::Shop shop = job::read_shop(folder, diagnostics);
  print(diagnostics);
  tell("{}\n", text::printable(folder.string()));
  if (shop.empty() && !diagnostics.has_errors())
    tell(
        "  nothing is kept; 'proveout shop --keep JOB.toml' keeps the machine, tools and materials "
        "of a job\n");
  if (!shop.machines.empty()) tell("Machines\n");
  for (const job::KeptMachine& m : shop.machines)
    row(m.name, fmt::format("feeds to {:g}, {:g}, {:g} mm/min", m.machine.max_feed.x(),
                            m.machine.max_feed.y(), m.machine.max_feed.z()));
  if (!shop.tools.empty()) tell("Tools\n");
  for (const job::KeptTool& k : shop.tools) row(k.name, in_words(k));
  if (!shop.materials.empty()) tell("Materials\n");
  for (const std::string& name : shop.materials) row(name, "");
  return !diagnostics.has_errors();
}

Status keep(const fs::path& folder, const fs::path& from, bool replace) {
  Diagnostics diagnostics;
  const auto wanted = job::to_keep(from, diagnostics);
  print(diagnostics);
  if (!wanted) return unusable_input;
  files::FileSet set;
  std::vector<std::string> told;
  for (const job::ToKeep& k : *wanted) {
    const fs::path file = job::kept_file(folder, k.kind, k.name);
    keep_inputs({from}, file, "--keep");
    std::error_code ignored;
    if (!replace && fs::exists(file, ignored))
      throw UsageError(
          fmt::format("a {} '{}' is kept already, in {}: --replace puts this one in "
                      "its place",
                      job::word(k.kind), k.name, file.string()));
    files::make_folder(file.parent_path());
    set.write(file, "# From " + from.filename().string() + ".\n" + k.text);
    told.push_back(fmt::format("{}/{}", job::folder(k.kind), k.name));
  }
  set.commit();
  for (const std::string& t : told) tell("kept: {}\n", text::printable(t));
  if (told.empty()) tell("{} has nothing of its own to keep\n", text::printable(from.string()));
  return ran;
}

Status forget(const fs::path& folder, const std::string& which) {
  const std::size_t slash = which.find('/');
  for (const job::Kept kind : {job::Kept::machine, job::Kept::tool, job::Kept::material}) {
    if (which.substr(0, slash) != job::folder(kind) || slash == std::string::npos) continue;
    const std::string name = which.substr(slash + 1);
    if (const std::string why = job::wrong_with_name(name); !why.empty())
      throw UsageError(fmt::format("--forget: '{}' is no name: {}", name, why));
    std::error_code failed;
    if (!fs::remove(job::kept_file(folder, kind, name), failed)) {
      if (failed)
        throw files::WriteError(fmt::format("cannot take away {}: {}",
                                            job::kept_file(folder, kind, name).string(),
                                            failed.message()));
      throw UsageError(
          fmt::format("no {} '{}' is kept in {}", job::word(kind), name, folder.string()));
    }
    tell("forgotten: {}\n", text::printable(which));
    return ran;
  }
  throw UsageError("--forget takes machines/NAME, tools/NAME or materials/NAME");
}

}  // namespace

Status shop_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("shop", po::value<std::string>()->value_name("DIR"),
      "the folder (default: PROVEOUT_SHOP of the environment, else proveout in XDG_CONFIG_HOME or "
      "in .config of your home)");
  add("keep", po::value<std::string>()->value_name("FILE.toml"),
      "keep the machine, tools and materials of a job, the tools of a file of tools, or a machine");
  add("replace", po::bool_switch(), "with --keep: in place of those of the same names");
  add("forget", po::value<std::string>()->value_name("KIND/NAME"),
      "take away machines/NAME, tools/NAME or materials/NAME");
  const auto values =
      parse(arguments, options, {},
            "usage: proveout shop [options]\n\n"
            "Shows your own machines, tools and materials: a folder of plain TOML files that\n"
            "jobs name by the key kept, and that propose takes tools and machine from.");
  if (!values) return ran;
  fs::path folder = job::own_shop();
  if (values->count("shop")) folder = (*values)["shop"].as<std::string>();
  if (folder.empty())
    throw UsageError(values->count("shop")
                         ? "--shop names no folder"
                         : "there is no folder for a shop: neither PROVEOUT_SHOP nor "
                           "XDG_CONFIG_HOME nor HOME is set; name one with --shop");
  if (values->count("keep") + values->count("forget") > 1)
    throw UsageError("--keep and --forget are two things to do");
  if (values->count("keep"))
    return keep(folder, (*values)["keep"].as<std::string>(), (*values)["replace"].as<bool>());
  if (values->count("forget")) return forget(folder, (*values)["forget"].as<std::string>());
  return show(folder) ? ran : unusable_input;
}

}  // namespace proveout::cli
