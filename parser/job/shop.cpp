#include "parser/job/shop.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <system_error>

#include "parser/job/sections.h"
#include "parser/job/toml_file.h"
#include "parser/job/tool_checks.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

constexpr const char* file_ending = ".toml";
constexpr std::size_t longest_name =
    100;  // bytes: with its ending and a temporary's, a file's name

std::string said_in_environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? std::string() : std::string(value);
}

std::string list(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size() && i < 12; ++i) out += (i == 0 ? "" : ", ") + names[i];
  return names.size() > 12 ? out + ", .." : out;
}

// Reads one kept file as read says; false: with errors.
bool read_file(const fs::path& path, Kept kind, InputFiles& files, Diagnostics& diagnostics,
               const std::function<void(TableReader&)>& read) {
  const std::size_t before = diagnostics.errors();
  TomlFile file;
  const std::string what = fmt::format("kept {}", word(kind));
  if (!open_toml(path, what.c_str(), files, file, diagnostics)) return false;
  TableReader t(file.context, "", &file.table);
  file.context.length_scale = read_units(t);
  read(t);
  t.finish();
  return diagnostics.errors() == before;
}

bool read_kept_tool(const fs::path& path, const std::string& name, InputFiles& files,
                    Diagnostics& diagnostics, KeptTool& out) {
  return read_file(path, Kept::tool, files, diagnostics, [&](TableReader& t) {
    out.name = name;
    out.tool.file = path.string();
    read_tool(t, out.tool);
    out.keys = tool_keys(t);
    Tool whole = out.tool;
    complete(whole, out.keys.contains("stickout"));
    check_tool(t, whole, {{}, false});
    if (out.tool.name.empty()) out.tool.name = name;
  });
}

}  // namespace

std::string_view word(Kept kind) {
  switch (kind) {
    case Kept::machine:
      return "machine";
    case Kept::tool:
      return "tool";
    case Kept::material:
      break;
  }
  return "material";
}

std::string_view folder(Kept kind) {
  switch (kind) {
    case Kept::machine:
      return "machines";
    case Kept::tool:
      return "tools";
    case Kept::material:
      break;
  }
  return "materials";
}

fs::path own_shop() {
  if (const std::string own = said_in_environment("PROVEOUT_SHOP"); !own.empty()) return own;
  const fs::path settings = said_in_environment("XDG_CONFIG_HOME");
  if (settings.is_absolute()) return settings / "proveout";
  const fs::path home = said_in_environment("HOME");
  return home.empty() ? fs::path() : home / ".config" / "proveout";
}

std::string wrong_with_name(std::string_view name) {
  if (name.empty()) return "it is empty";
  if (name.size() > longest_name) return fmt::format("it is longer than {} bytes", longest_name);
  if (name.front() == '.') return "it begins with a point";
  for (const char c : name) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '/' || c == '\\') return "it has a slash";
    if (byte < 0x20 || byte == 0x7f) return "it has a control character";
  }
  return {};
}

fs::path kept_file(const fs::path& shop, Kept kind, const std::string& name) {
  return shop / folder(kind) / (name + file_ending);
}

std::vector<std::string> kept_names(const fs::path& shop, Kept kind) {
  std::vector<std::string> out;
  if (shop.empty()) return out;
  std::error_code failed;
  for (fs::directory_iterator at(shop / folder(kind), failed), end; !failed && at != end;
       at.increment(failed)) {
    const fs::path& file = at->path();
    std::error_code ignored;
    if (file.extension() != file_ending || !fs::is_regular_file(file, ignored)) continue;
    if (std::string name = file.stem().string(); wrong_with_name(name).empty())
      out.push_back(std::move(name));
  }
  std::sort(out.begin(), out.end());
  return out;
}

Shop read_shop(const fs::path& shop, Diagnostics& diagnostics) {
  Shop out;
  out.folder = shop;
  InputFiles files;
  for (const std::string& name : kept_names(shop, Kept::machine)) {
    KeptMachine kept{name, {}};
    if (!read_file(kept_file(shop, Kept::machine, name), Kept::machine, files, diagnostics,
                   [&](TableReader& t) { read_machine_keys(t, kept.machine); }))
      continue;
    if (kept.machine.name.empty()) kept.machine.name = name;
    out.machines.push_back(std::move(kept));
  }
  for (const std::string& name : kept_names(shop, Kept::tool)) {
    KeptTool kept;
    if (read_kept_tool(kept_file(shop, Kept::tool, name), name, files, diagnostics, kept))
      out.tools.push_back(std::move(kept));
  }
  for (const std::string& name : kept_names(shop, Kept::material)) {
    Material material;
    if (read_file(kept_file(shop, Kept::material, name), Kept::material, files, diagnostics,
                  [&](TableReader& t) { read_material(t, material); }))
      out.materials.push_back(name);
  }
  return out;
}

// The name itself, or that of the only tool with this number.
std::string KeptReader::name_of(TableReader& table, Kept kind, const std::string& said) {
  const auto refuse = [&](const std::string& what, const std::string& remedy) {
    table.error("kept", "shop-unknown", what, remedy);
    return std::string();
  };
  if (const std::string why = wrong_with_name(said); !why.empty())
    return refuse(fmt::format("kept = \"{}\" can be no name: {}", said, why),
                  "give the name of a file in the shop's folder, without its ending");
  if (shop_.empty())
    return refuse(
        "there is no shop's folder: neither PROVEOUT_SHOP nor XDG_CONFIG_HOME nor HOME "
        "is set",
        "name one with the job's key shop");
  const std::vector<std::string> names = kept_names(shop_, kind);
  if (std::find(names.begin(), names.end(), said) != names.end()) return said;
  if (kind == Kept::tool && said.find_first_not_of("0123456789") == std::string::npos) {
    std::vector<std::string> found;
    for (const std::string& name : names) {
      KeptTool kept;
      InputFiles aside;  // what is only looked at makes no result
      Diagnostics unsaid;
      read_kept_tool(kept_file(shop_, kind, name), name, aside, unsaid, kept);
      if (std::to_string(kept.tool.number) == said) found.push_back(name);
    }
    if (found.size() == 1) return found.front();
    if (!found.empty())
      return refuse(fmt::format("more than one kept tool has the number {}: {}", said, list(found)),
                    "name the one that is meant");
  }
  const std::string near = nearest_word(said, names);
  std::string remedy = near.empty() ? "" : fmt::format("did you mean \"{}\"? ", near);
  remedy += names.empty() ? "'proveout shop --keep FILE.toml' keeps those of a job"
                          : "kept are: " + list(names);
  return refuse(fmt::format("no {} '{}' is kept in {}", word(kind), said, shop_.string()), remedy);
}

std::string KeptReader::read(TableReader& table, Kept kind,
                             const std::function<void(TableReader&)>& read) {
  std::string said;
  const char* meaning = "one of the shop's folder, docs/shop.md; keys beside this one replace its";
  if (kind == Kept::tool)
    table.text_or_whole("kept", said, meaning);
  else
    table.text("kept", said, meaning);
  if (!table.has("kept")) return {};
  const std::string name = name_of(table, kind, said);
  if (name.empty()) return {};
  const fs::path path = kept_file(shop_, kind, name);
  named_.push_back(path);
  return read_file(path, kind, files_, diagnostics_, read) ? name : std::string();
}

std::set<std::string> tool_keys(const TableReader& table) {
  std::set<std::string> out;
  for (const char* key : {"number", "name", "shape", "diameter", "corner_radius", "tip_diameter",
                          "tip_angle", "profile", "flutes", "flute_length", "stickout",
                          "shank_diameter", "holder", "tool_material"})
    if (table.has(key)) out.insert(key);
  return out;
}

}  // namespace proveout::job
