#include "parser/job/read_job.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "parser/job/sections.h"
#include "parser/job/shop.h"
#include "parser/job/toml_file.h"
#include "parser/job/tool_checks.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

// Tools of a list; the key is "tools" in the job file as well as in a file of its own.
void read_tools(TableReader& t, const std::string& file, KeptReader& kept,
                std::vector<Tool>& tools) {
  std::set<int> numbers;
  t.tables(
      "tools",
      [&](TableReader& r) {
        Tool tool;
        ToolKeys also;
        const std::string name = kept.read(r, Kept::tool, [&](TableReader& k) {
          read_tool(k, tool);
          also.keys = tool_keys(k);
        });
        if (tool.name.empty()) tool.name = name;
        tool.file = file;
        read_tool(r, tool);
        if (!r.present()) return;
        if (r.has("kept") && name.empty()) {  // said already
          tools.push_back(std::move(tool));
          return;
        }
        complete(tool, r.has("stickout") || also.keys.contains("stickout"));
        check_tool(r, tool, also);
        if (tool.name.empty()) tool.name = fmt::format("tool {}", tool.number);
        if (tool.number != 0 && !numbers.insert(tool.number).second) {
          r.error("number", "job-duplicate-tool",
                  fmt::format("there are two tools {}", tool.number));
        }
        tools.push_back(std::move(tool));
      },
      "a tool");
}

void read_tools_or_file(TableReader& t, const fs::path& folder, const std::string& file, Job& job,
                        InputFiles& files, KeptReader& kept, Diagnostics& diagnostics) {
  const auto name = t.file_name("tools");
  if (!name) return read_tools(t, file, kept, job.tools);
  std::string same;
  t.text("tools", same, "");
  if (name->empty()) return t.error("tools", "job-empty-name", "tools names no file");
  TomlFile other;
  const fs::path path = folder / *name;
  if (open_toml(path, "tool file", files, other, diagnostics)) {
    job.named_files.push_back(path);
    TableReader r(other.context, "", &other.table);
    other.context.length_scale = read_units(r);
    read_tools(r, path.string(), kept, job.tools);
    r.finish();
  }
}

std::optional<Machine> read_machine_from(const fs::path& path, InputFiles& files,
                                         Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  TomlFile file;
  if (!open_toml(path, "machine file", files, file, diagnostics)) return std::nullopt;
  TableReader t(file.context, "", &file.table);
  file.context.length_scale = read_units(t);
  Machine machine;
  read_machine_keys(t, machine);
  t.finish();
  if (diagnostics.errors() != before) return std::nullopt;
  return machine;
}

void read_machine_or_file(TableReader& t, const fs::path& folder, Job& job, InputFiles& files,
                          KeptReader& kept, Diagnostics& diagnostics) {
  const auto name = t.file_name("machine");
  if (!name) {
    t.table(
        "machine",
        [&](TableReader& r) {
          const std::string is = kept.read(
              r, Kept::machine, [&](TableReader& k) { read_machine_keys(k, job.machine); });
          if (job.machine.name.empty()) job.machine.name = is;
          read_machine_keys(r, job.machine);
        },
        "the machine, or the name of a TOML file with these keys");
    return;
  }
  std::string same;
  t.text("machine", same, "");
  if (name->empty()) return t.error("machine", "job-empty-name", "machine names no file");
  const fs::path path = folder / *name;
  if (const auto read = read_machine_from(path, files, diagnostics)) {
    job.named_files.push_back(path);
    job.machine = *read;
  }
}

// Checks that need more than one section.
void check_whole(TableReader& t, const Job& job) {
  if (!t.has("stock")) t.error("", "job-key-missing", "the job has no [stock]");
  if (job.setups.empty()) t.error("", "job-key-missing", "the job has no [[setups]]");
  if (job.tools.empty()) t.error("", "job-key-missing", "the job has no [[tools]]");
  if (!job.setups.empty() && job.setups.front().zero.on == ZeroOn::milled) {
    t.error("setups", "job-contradiction",
            "the first setup's zero lies on what earlier setups left, and there are none");
  }
}

void read_sections(TableReader& t, const fs::path& path, Job& job, InputFiles& files,
                   Diagnostics& diagnostics, FileContext& context) {
  const SectionContext section{path.parent_path()};
  t.text("name", job.name, "what the job is called in reports");
  context.length_scale = read_units(t);
  t.table(
      "simulation", [&](TableReader& r) { read_simulation(r, job.simulation); },
      "how finely to simulate");
  std::string shop;
  t.text("shop", shop,
         "folder of kept machines, tools and materials; default: one's own, docs/shop.md");
  if (t.has("shop") && shop.empty()) t.error("shop", "job-empty-name", "shop names no folder");
  KeptReader kept(shop.empty() ? own_shop() : section.folder / shop, files, job.named_files,
                  diagnostics);
  read_machine_or_file(t, section.folder, job, files, kept, diagnostics);
  t.table(
      "stock", [&](TableReader& r) { read_stock(r, section, job.stock); }, "the blank");
  t.table(
      "part",
      [&](TableReader& r) {
        Part part;
        read_part(r, section, part);
        if (r.present()) job.part = std::move(part);
      },
      "what should be left at the end");
  read_tools_or_file(t, section.folder, path.string(), job, files, kept, diagnostics);
  std::map<std::string, std::uint32_t> setup_lines;
  t.tables(
      "setups",
      [&](TableReader& r) {
        Setup setup;
        read_setup(r, section, setup);
        if (!r.present()) return;
        const auto [same, first] = setup_lines.try_emplace(setup.name, setup.line);
        if (!first && !setup.name.empty()) {
          r.error("name", "job-duplicate-setup",
                  fmt::format("there are two setups '{}': the other stands on line {}", setup.name,
                              same->second),
                  "results are told apart by the setups' names: give each its own");
        }
        job.setups.push_back(std::move(setup));
      },
      "a setup: one clamping, one program");
  t.named_tables(
      "materials",
      [&](const std::string& name, TableReader& r) {
        Material material;
        kept.read(r, Kept::material, [&](TableReader& k) { read_material(k, material); });
        read_material(r, material);
        if (r.present()) job.materials[name] = material;
      },
      "changes of, and additions to, the built-in materials");
  t.table(
      "quote",
      [&](TableReader& r) {
        Quote quote;
        read_quote(r, quote);
        if (r.present()) job.quote = std::move(quote);
      },
      "money");
}

}  // namespace

std::optional<Machine> read_machine(const fs::path& path, Diagnostics& diagnostics) {
  InputFiles files;
  return read_machine_from(path, files, diagnostics);
}

std::optional<std::vector<Tool>> read_tools(const fs::path& path, Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  InputFiles files;
  TomlFile file;
  if (!open_toml(path, "tool file", files, file, diagnostics)) return std::nullopt;
  if (file.table.contains("setups")) {
    auto whole = read_job(path, files, diagnostics);
    if (!whole) return std::nullopt;
    return std::move(whole->tools);
  }
  TableReader r(file.context, "", &file.table);
  file.context.length_scale = read_units(r);
  std::vector<Tool> tools;
  std::vector<fs::path> named;
  KeptReader kept(own_shop(), files, named, diagnostics);
  read_tools(r, path.string(), kept, tools);
  r.finish();
  if (diagnostics.errors() != before) return std::nullopt;
  return tools;
}

std::optional<Job> read_job(const fs::path& path, Diagnostics& diagnostics) {
  InputFiles files;
  return read_job(path, files, diagnostics);
}

std::optional<Job> read_job(const fs::path& path, InputFiles& files, Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  TomlFile file;
  if (!open_toml(path, "job file", files, file, diagnostics)) return std::nullopt;
  TableReader t(file.context, "", &file.table);
  Job job;
  job.file = path;
  read_sections(t, path, job, files, diagnostics, file.context);
  if (job.name.empty()) job.name = path.stem().string();
  check_whole(t, job);
  t.finish();
  if (diagnostics.errors() != before) return std::nullopt;
  return job;
}

std::vector<KeyDoc> job_keys() {
  std::vector<KeyDoc> keys;
  Diagnostics none;
  FileContext context;
  context.diagnostics = &none;
  context.record = &keys;
  TableReader t(context, "", nullptr);
  Job job;
  InputFiles files;
  read_sections(t, "job.toml", job, files, none, context);
  return keys;
}

std::string job_reference_markdown() {
  std::string out = "| key | type | meaning |\n|---|---|---|\n";
  const auto cell = [](std::string text) {
    for (std::size_t at = 0; (at = text.find('|', at)) != std::string::npos; at += 2) {
      text.replace(at, 1, "\\|");
    }
    return text;
  };
  for (const KeyDoc& k : job_keys()) {
    out += fmt::format("| `{}{}` | {} | {} |\n", k.section, k.key, cell(k.type), cell(k.meaning));
  }
  return out;
}

}  // namespace proveout::job
