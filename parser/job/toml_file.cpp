#include "parser/job/toml_file.h"

#include <fmt/format.h>

#include "parser/base/text_file.h"
#include "parser/job/key_depth.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t most_job_bytes = 16u << 20;

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

}  // namespace

bool open_toml(const fs::path& path, const char* what, InputFiles& files, TomlFile& file,
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

}  // namespace proveout::job
