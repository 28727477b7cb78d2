#include "parser/job/read_job.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "parser/base/text_file.h"
#include "parser/job/key_depth.h"
#include "parser/job/sections.h"
#include "parser/job/toml.h"
#include "parser/job/tool_shape.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t most_job_bytes = 16u << 20;

// One TOML file, held while its tables are read.
struct TomlFile {
  std::shared_ptr<const std::string> text;
  toml::table table;
  FileContext context;
};

std::vector<std::string_view> lines_of(std::string_view text) {
  std::vector<std::string_view> lines;
  for (std::size_t at = 0; at <= text.size();) {
    std::size_t end = text.find('\n', at);
    if (end == std::string_view::npos) end = text.size();
    std::string_view l = text.substr(at, end - at);
    if (!l.empty() && l.back() == '\r') l.remove_suffix(1);
    lines.push_back(l);
    at = end + 1;
  }
  return lines;
}

bool keys_are_shallow(const fs::path& path, const TomlFile& file, Diagnostics& diagnostics) {
  const auto at = find_deep_key(*file.text);
  if (!at) return true;
  diagnostics.error("job-too-deep", place_in(path, *file.text, *at),
                    fmt::format("a key of more than {} parts", most_key_parts),
                    "no key of a job file lies that deep");
  return false;
}

// Whether most of the first lines are blocks of an NC program: the wrong file was named.
bool looks_like_program(const std::vector<std::string_view>& lines) {
  int blocks = 0, seen = 0;
  for (std::string_view line : lines) {
    const std::size_t first = line.find_first_not_of(" \t/");
    if (first == std::string_view::npos) continue;
    if (++seen > 20) break;
    line.remove_prefix(first);
    const bool word = std::string_view("NGMTOXYZSF").find(line[0]) != std::string_view::npos &&
                      line.size() > 1 &&
                      std::string_view("0123456789.-").find(line[1]) != std::string_view::npos;
    if (word || line[0] == '%' || line[0] == '(') ++blocks;
  }
  return seen > 0 && 2 * blocks > seen;
}

bool open(const fs::path& path, const char* what, InputFiles& files, TomlFile& file,
          Diagnostics& diagnostics) {
  file.text = files.read(path, what, diagnostics, most_job_bytes);
  if (!file.text) return false;
  const std::string& text = *file.text;
  file.context.file = path.string();
  file.context.diagnostics = &diagnostics;
  if (const std::size_t nul = text.find('\0'); nul != std::string::npos) {
    diagnostics.error("file-binary", place_in(path, text, nul),
                      fmt::format("this {} is not text", what));
    return false;
  }
  if (text.find_first_not_of(" \t\r\n") == std::string::npos) {
    diagnostics.error("file-empty", {path.string(), 0, 0, 0},
                      fmt::format("this {} is empty", what));
    return false;
  }
  file.context.lines = lines_of(text);
  if (!keys_are_shallow(path, file, diagnostics)) return false;
  toml::parse_result parsed = toml::parse(text, path.string());
  if (!parsed) {
    const toml::parse_error& e = parsed.error();
    Diagnostic d;
    d.code = "job-not-toml";
    d.place = {path.string(), static_cast<std::uint32_t>(e.source().begin.line),
               static_cast<std::uint32_t>(e.source().begin.column), 1};
    d.what = std::string(e.description());
    d.why = "TOML 1.0";
    if (looks_like_program(file.context.lines)) {
      d.what = fmt::format("this is an NC program, where a {} is wanted", what);
      d.why.clear();
      d.remedy = fmt::format(
          "name the job file, which names its programs; 'proveout propose {}' writes one",
          path.string());
    }
    if (d.place.line >= 1 && d.place.line <= file.context.lines.size()) {
      d.excerpt = std::string(file.context.lines[d.place.line - 1].substr(0, 200));
    }
    diagnostics.add(std::move(d));
    return false;
  }
  file.table = std::move(parsed).table();
  return true;
}

double read_units(TableReader& t) {
  int units = 0;
  t.word("units", units, {"mm", "inch"}, "of the lengths and feeds in this file; default: mm");
  return units == 1 ? mm_per_inch : 1.0;
}

// What says, of one tool, where a key contradicts another.
struct ToolChecker {
  TableReader& table;
  const Tool& tool;

  void bad(const char* key, const std::string& what, const std::string& remedy = {}) const {
    table.error(key, "job-bad-tool", fmt::format("tool {}: {}", tool.number, what), remedy);
  }
  void needs(const char* key, const char* what) const {
    if (!table.has(key)) table.error("", "job-key-missing", what);
  }

  void check() const {
    needs("number", "a tool needs a number");
    needs("shape", "a tool needs a shape");
    const ToolShapeInfo& shape = info(tool.shape);
    if (shape.profile == Asks::must) {
      check_form();
    } else {
      needs("diameter", "a tool needs a diameter");
    }
    if (tool.corner_radius > tool.diameter / 2 + 1e-9) {
      bad("corner_radius", "the corner radius is more than half the diameter");
    }
    if (shape.corner_radius == Asks::must && !(tool.corner_radius > 0)) {
      bad("corner_radius", "a bull nose needs a corner radius",
          "give corner_radius, or the shape \"flat\"");
    }
    if (tool.tip_diameter > tool.diameter) bad("tip_diameter", "the tip is wider than the tool");
    if (tool.stickout > 0 && tool.flute_length > tool.stickout) {
      bad("flute_length", "the flutes are longer than the stick-out",
          "stickout counts from the tip to the holder's face");
    }
    for (std::size_t i = 1; i < tool.profile.size(); ++i) {
      if (tool.profile[i].second < tool.profile[i - 1].second) {
        bad("profile", "the profile's heights must not fall");
        break;
      }
    }
    check_end();
    tell_of_idle_keys();
  }

  // The cutting end: nothing of it can be guessed, and the flutes must hold all of a round one.
  void check_end() const {
    if (info(tool.shape).tip_angle == Asks::must) {
      needs("tip_angle", "a vee or taper tool needs its included angle, tip_angle");
    }
    const double round = info(tool.shape).round_end(tool);
    if (tool.flute_length > 0 && tool.flute_length < round - 1e-9) {
      bad(table.has("flute_length") ? "flute_length" : "stickout",
          fmt::format("what cuts is {:g} mm high and ends within the round end of {:g} mm",
                      tool.flute_length, round),
          "flute_length counts from the tip up");
    }
  }

  // A form tool is its profile: all else said of its size must agree.
  void check_form() const {
    if (tool.profile.size() < 2) {
      return bad("profile", "a form tool needs a profile of at least two points");
    }
    double widest = 0;
    for (const auto& [radius, height] : tool.profile) widest = std::max(widest, 2 * radius);
    if (!(widest > 0)) return bad("profile", "the profile has no width");
    if (!(tool.profile.back().second > tool.profile.front().second)) {
      return bad("profile", "the profile has no height");
    }
    if (widest > a_width.high) bad("profile", "the profile is wider than a metre");
    const double as_written = 0.01;  // mm: a radius may be a rounded half
    if (std::abs(tool.diameter - widest) > as_written) {
      bad("diameter",
          fmt::format("the diameter is {:.7g} mm, the profile's {:.7g} mm", tool.diameter, widest),
          "leave out the diameter: a form tool's is that of its profile");
    }
    const double high = tool.profile.back().second;
    if (table.has("stickout") && high > tool.stickout + 1e-9) {
      bad("profile",
          fmt::format("the profile is {:g} mm high, the stick-out {:g} mm", high, tool.stickout),
          "stickout counts from the tip to the holder's face");
    } else if (table.has("flute_length") && high > tool.flute_length + 1e-9) {
      bad("profile",
          fmt::format("the profile is {:g} mm high, the flutes {:g} mm", high, tool.flute_length),
          "a profile is of what cuts: what is above it belongs to shank_diameter");
    }
  }

  // Keys of another shape: whoever gives them may have another tool in mind.
  void tell_of_idle_keys() const {
    const ToolShapeInfo& shape = info(tool.shape);
    const auto idle = [&](const char* key, const char* whose) {
      table.warning(
          key, "job-idle-key",
          fmt::format("tool {}: {} is for {}, it is not looked at", tool.number, key, whose),
          "check the shape");
    };
    // What says the same as the shape does no harm.
    const bool round = std::abs(tool.corner_radius - shape.round_end(tool)) < 1e-6;
    if (tool.corner_radius > 0 && shape.tip_diameter != Asks::nothing) {
      table.warning(
          "corner_radius", "job-idle-key",
          fmt::format("tool {}: its tip is taken as flat, without the corner", tool.number),
          "a form tool's profile can have it");
    } else if (tool.corner_radius > 0 && shape.corner_radius == Asks::nothing && !round) {
      idle("corner_radius", "bull noses");
    }
    const double flat = 2 * shape.outline(tool, tool.flute_length).front().radius;
    const bool as_flat = std::abs(tool.tip_diameter - flat) < 1e-6;
    if (tool.tip_diameter > 0 && shape.tip_diameter == Asks::nothing && !as_flat) {
      idle("tip_diameter", "taper and vee tools");
    }
    if (!tool.profile.empty() && shape.profile == Asks::nothing) idle("profile", "form tools");
  }
};

// Tools of a list; the key is "tools" in the job file as well as in a file of its own.
void read_tools(TableReader& t, const std::string& file, std::vector<Tool>& tools) {
  std::set<int> numbers;
  t.tables(
      "tools",
      [&](TableReader& r) {
        Tool tool;
        tool.file = file;
        read_tool(r, tool);
        if (!r.present()) return;
        const bool profiled = info(tool.shape).profile == Asks::must;
        if (profiled && tool.diameter == 0) {
          for (const auto& p : tool.profile) tool.diameter = std::max(tool.diameter, 2 * p.first);
        }
        if (tool.stickout == 0)
          tool.stickout = tool.flute_length > 0 ? tool.flute_length : 5 * tool.diameter;
        if (profiled && !r.has("stickout") && !tool.profile.empty())
          tool.stickout = std::max(tool.stickout, tool.profile.back().second);
        if (tool.flute_length == 0) tool.flute_length = tool.stickout;
        ToolChecker{r, tool}.check();
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
                        InputFiles& files, Diagnostics& diagnostics) {
  const auto name = t.file_name("tools");
  if (!name) return read_tools(t, file, job.tools);
  std::string same;
  t.text("tools", same, "");
  if (name->empty()) return t.error("tools", "job-empty-name", "tools names no file");
  TomlFile other;
  const fs::path path = folder / *name;
  if (open(path, "tool file", files, other, diagnostics)) {
    job.named_files.push_back(path);
    TableReader r(other.context, "", &other.table);
    other.context.length_scale = read_units(r);
    read_tools(r, path.string(), job.tools);
    r.finish();
  }
}

std::optional<Machine> read_machine_from(const fs::path& path, InputFiles& files,
                                         Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  TomlFile file;
  if (!open(path, "machine file", files, file, diagnostics)) return std::nullopt;
  TableReader t(file.context, "", &file.table);
  file.context.length_scale = read_units(t);
  Machine machine;
  read_machine_keys(t, machine);
  t.finish();
  if (diagnostics.errors() != before) return std::nullopt;
  return machine;
}

void read_machine_or_file(TableReader& t, const fs::path& folder, Job& job, InputFiles& files,
                          Diagnostics& diagnostics) {
  const auto name = t.file_name("machine");
  if (!name) {
    t.table(
        "machine", [&](TableReader& r) { read_machine_keys(r, job.machine); },
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
  read_machine_or_file(t, section.folder, job, files, diagnostics);
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
  read_tools_or_file(t, section.folder, path.string(), job, files, diagnostics);
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
  if (!open(path, "tool file", files, file, diagnostics)) return std::nullopt;
  if (file.table.contains("setups")) {
    auto whole = read_job(path, files, diagnostics);
    if (!whole) return std::nullopt;
    return std::move(whole->tools);
  }
  TableReader r(file.context, "", &file.table);
  file.context.length_scale = read_units(r);
  std::vector<Tool> tools;
  read_tools(r, path.string(), tools);
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
  if (!open(path, "job file", files, file, diagnostics)) return std::nullopt;
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
