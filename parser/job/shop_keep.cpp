#include "parser/job/shop_keep.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/read_job.h"
#include "parser/job/toml_file.h"
#include "parser/job/toml_text.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

std::string key_text(std::string_view key) {
  const bool bare = !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-';
  });
  return bare ? std::string(key) : toml_text(key);
}

// The shortest text that reads as the same number.
std::string number_text(double value) {
  if (std::isnan(value)) return "nan";
  if (std::isinf(value)) return value < 0 ? "-inf" : "inf";
  std::string out = fmt::format("{}", value);
  if (out.find_first_of(".e") == std::string::npos) out += ".0";
  return out;
}

// A value on one line. Keys of job files lie a few tables deep at most (key_depth.h).
std::string value_text(const toml::node& node) {  // NOLINT(misc-no-recursion)
  std::string out;
  if (const toml::table* t = node.as_table()) {
    for (const auto& [key, value] : *t)
      out += (out.empty() ? "" : ", ") + key_text(key.str()) + " = " + value_text(value);
    return out.empty() ? "{}" : "{ " + out + " }";
  }
  if (const toml::array* a = node.as_array()) {
    for (const toml::node& value : *a) out += (out.empty() ? "" : ", ") + value_text(value);
    return "[" + out + "]";
  }
  if (const auto* s = node.as_string()) return toml_text(s->get());
  if (const auto* i = node.as_integer()) return fmt::format("{}", i->get());
  if (const auto* f = node.as_floating_point()) return number_text(f->get());
  if (const auto* b = node.as_boolean()) return b->get() ? "true" : "false";
  return toml_text("");  // dates: no key of a job takes one
}

std::string file_name_of(std::string name) {
  for (char& c : name) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '/' || c == '\\' || byte < 0x20 || byte == 0x7f) c = '-';
  }
  name.erase(0, name.find_first_not_of(". "));
  if (name.size() > 100) {
    std::size_t end = 100;  // not within a letter of several bytes
    while (end > 0 && (static_cast<unsigned char>(name[end]) & 0xC0) == 0x80) --end;
    name.resize(end);
  }
  while (!name.empty() && name.back() == ' ') name.pop_back();
  return name;
}

class Taker {
 public:
  Taker(const fs::path& file, Diagnostics& diagnostics) : file_(file), diagnostics_(diagnostics) {}

  void take(Kept kind, std::string name, const toml::table& table, bool inches) {
    if (table.contains("kept")) return;
    name = file_name_of(std::move(name));
    if (name.empty()) name = std::string(word(kind));
    const auto same = std::find_if(
        out.begin(), out.end(), [&](const ToKeep& k) { return k.kind == kind && k.name == name; });
    const auto line = static_cast<std::uint32_t>(table.source().begin.line);
    if (same != out.end()) {
      diagnostics_.error("shop-same-name", {file_.string(), line, 1, 0},
                         fmt::format("there are two {}s called '{}'", word(kind), name),
                         "give each a name of its own: they are kept by it");
      return;
    }
    std::string text;
    if (inches) text += "units = \"inch\"\n";
    for (const auto& [key, value] : table) {
      if (key.str() != "units") text += key_text(key.str()) + " = " + value_text(value) + "\n";
    }
    out.push_back({kind, std::move(name), std::move(text)});
  }

  void tools(const toml::table& table, bool inches) {
    const toml::array* list = table.get_as<toml::array>("tools");
    if (list == nullptr) return;
    for (const toml::node& node : *list) {
      const toml::table* t = node.as_table();
      if (t == nullptr) continue;
      const auto name = (*t)["name"].value_or(std::string());
      take(Kept::tool, name.empty() ? fmt::format("T{}", (*t)["number"].value_or(0)) : name, *t,
           inches);
    }
  }

  std::vector<ToKeep> out;

 private:
  const fs::path& file_;
  Diagnostics& diagnostics_;
};

bool in_inches(const toml::table& table) {
  const auto unit = table["units"].value_or(std::string());
  return !unit.empty() && std::string("iI").find(unit.front()) != std::string::npos;
}

std::string machine_name(const toml::table& machine, const fs::path& file) {
  auto name = machine["name"].value_or(std::string());
  return name.empty() ? file.stem().string() : name;
}

}  // namespace

std::optional<std::vector<ToKeep>> to_keep(const fs::path& path, Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  InputFiles files;
  TomlFile file;
  if (!open_toml(path, "file", files, file, diagnostics)) return std::nullopt;
  const toml::table& table = file.table;
  Taker taker(path, diagnostics);
  // Their readers tell of what is wrong in them.
  if (table.contains("setups")) {
    if (!read_job(path, diagnostics)) return std::nullopt;
    const bool inches = in_inches(table);
    const auto of = [&](const char* key) {  // the other file it names
      return path.parent_path() / table[key].value_or(std::string());
    };
    TomlFile machine, tools;
    if (const toml::table* m = table.get_as<toml::table>("machine")) {
      taker.take(Kept::machine, machine_name(*m, path), *m, inches);
    } else if (table.contains("machine") &&
               open_toml(of("machine"), "machine file", files, machine, diagnostics)) {
      taker.take(Kept::machine, machine_name(machine.table, of("machine")), machine.table,
                 in_inches(machine.table));
    }
    taker.tools(table, inches);
    if (table["tools"].is_string() &&
        open_toml(of("tools"), "tool file", files, tools, diagnostics))
      taker.tools(tools.table, in_inches(tools.table));
    if (const toml::table* materials = table.get_as<toml::table>("materials")) {
      for (const auto& [name, value] : *materials) {
        if (const toml::table* m = value.as_table())
          taker.take(Kept::material, std::string(name.str()), *m, inches);
      }
    }
  } else if (table.contains("tools")) {
    if (!read_tools(path, diagnostics)) return std::nullopt;
    taker.tools(table, in_inches(table));
  } else {
    if (!read_machine(path, diagnostics)) return std::nullopt;
    taker.take(Kept::machine, machine_name(table, path), table, in_inches(table));
  }
  if (diagnostics.errors() != before) return std::nullopt;
  return std::move(taker.out);
}

}  // namespace proveout::job
