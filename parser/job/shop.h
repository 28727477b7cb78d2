// A shop: one's own machines, tools and materials, kept once in a folder of plain TOML files that
// jobs name by the key `kept` (docs/shop.md).
//   machines/NAME.toml    the keys of [machine]
//   tools/NAME.toml       those of a tool in [[tools]]; its number may be left out
//   materials/NAME.toml   those of [materials.NAME]
// Each may say units = "inch" for its own lengths.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/input_files.h"
#include "parser/job/job.h"
#include "parser/job/table_reader.h"

namespace proveout::job {

enum class Kept : std::uint8_t { machine, tool, material };
std::string_view word(Kept kind);    // "machine", "tool", "material"
std::string_view folder(Kept kind);  // "machines", "tools", "materials"

// The folder of whoever runs this: PROVEOUT_SHOP of the environment, else proveout in
// XDG_CONFIG_HOME, else .config/proveout in HOME. Empty: none of them is set. The XDG base
// directory specification has relative paths in XDG_CONFIG_HOME ignored.
std::filesystem::path own_shop();

// Empty: can be a name; else why not, in words. A name is a file's: without slashes and control
// characters, not empty, not beginning with a point, at most 100 bytes.
std::string wrong_with_name(std::string_view name);

std::filesystem::path kept_file(const std::filesystem::path& shop, Kept kind,
                                const std::string& name);

// The names of what is kept, sorted.
std::vector<std::string> kept_names(const std::filesystem::path& shop, Kept kind);

struct KeptTool {
  std::string name;
  Tool tool;                   // what is not said stands at its default
  std::set<std::string> keys;  // said in its file
};
struct KeptMachine {
  std::string name;
  Machine machine;
};

struct Shop {
  std::filesystem::path folder;
  std::vector<KeptMachine> machines;  // each by name
  std::vector<KeptTool> tools;
  std::vector<std::string> materials;

  bool empty() const { return machines.empty() && tools.empty() && materials.empty(); }
};

// All that is kept there; a file that cannot be used is left out, with its errors in diagnostics. A
// folder that is not there holds nothing.
Shop read_shop(const std::filesystem::path& shop, Diagnostics& diagnostics);

// Reads what tables of a job name as kept.
class KeptReader {
 public:
  // named: where the files that were read are written down.
  KeptReader(std::filesystem::path shop, InputFiles& files,
             std::vector<std::filesystem::path>& named, Diagnostics& diagnostics)
      : shop_(std::move(shop)), files_(files), named_(named), diagnostics_(diagnostics) {}

  // Where table has the key `kept`: its file's table goes to read. The name; empty: none is kept,
  // or an error at the key says why it cannot be had. A tool is named by its file's name or its
  // number.
  std::string read(TableReader& table, Kept kind, const std::function<void(TableReader&)>& read);

 private:
  std::string name_of(TableReader& table, Kept kind, const std::string& said);

  std::filesystem::path shop_;
  InputFiles& files_;
  std::vector<std::filesystem::path>& named_;
  Diagnostics& diagnostics_;
};

// The keys of a tool that table has and that others look at: for ToolKeys of tool_checks.h.
std::set<std::string> tool_keys(const TableReader& table);

}  // namespace proveout::job
