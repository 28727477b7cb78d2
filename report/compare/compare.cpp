#include "report/compare/compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "parser/base/text_file.h"
#include "report/json/result_json.h"
#include "report/text/words.h"
#include "sim/stock/stock_file.h"

namespace proveout::compare {
namespace {

using Json = nlohmann::ordered_json;

double number(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_number() ? it->get<double>() : 0;
}
std::string word(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_string() ? it->get<std::string>() : "";
}

// Whole numbers that stand for a line or tool; what no program wrote becomes 0.
int whole(const Json& j, const char* key) {
  const double v = number(j, key);
  return v >= 0 && v <= 1e9 ? static_cast<int>(v) : 0;
}

// What every result has (docs/result-keys.md) and compare or check reads.
constexpr std::array<std::pair<const char*, const char*>, 5> wanted_numbers = {
    {{"job", "voxel"},
     {"totals", "time_s"},
     {"totals", "removed_mm3"},
     {"part", "volume_mm3"},
     {"part", "mass_g"}}};

bool has_number(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_number() && it->get<double>() >= 0;
}

// The same of one tool's figures.
std::string lacks_tool(const Json& tool) {
  const auto of_tool = [](const char* key) {
    return fmt::format("a tool of the result has no number '{}' from 0 on", key);
  };
  if (!tool.is_object()) return "a tool of the result is no table";
  if (!has_number(tool, "number") || tool["number"] != whole(tool, "number"))
    return "a tool of the result has no whole number 'number' from 0 on";
  for (const char* key : {"time_s", "feed_mm", "rapid_mm", "removed_mm3"}) {
    if (!has_number(tool, key)) return of_tool(key);
  }
  if (!tool.contains("peak") || !tool["peak"].is_object())
    return "a tool of the result has no table 'peak'";
  for (const char* key : {"axial_depth", "chip_mm", "force_n", "bend_mm"}) {
    if (!has_number(tool["peak"], key)) return of_tool(key);
  }
  return {};
}

// What is missing or of another kind, in words; empty where nothing is.
std::string lacks(const Json& result) {
  for (const char* key : {"setups", "findings"}) {
    if (!result.contains(key) || !result[key].is_array())
      return fmt::format("the result has no list '{}'", key);
  }
  for (const auto& [section, key] : wanted_numbers) {
    if (!result.contains(section) || !result[section].is_object() ||
        !has_number(result[section], key))
      return fmt::format("the result has no number '{}.{}' from 0 on", section, key);
  }
  if (word(result["job"], "material").empty()) return "the result has no word 'job.material'";
  if (std::string what = wrong_with_inputs(result); !what.empty()) return what;
  for (const Json& f : result["findings"]) {
    if (!f.is_object() || word(f, "kind").empty() || word(f, "level").empty())
      return "a finding of the result has no kind or level";
  }
  for (const Json& s : result["setups"]) {
    if (!s.is_object() || !s.contains("tools") || !s["tools"].is_array())
      return "a setup of the result has no tools";
    for (const Json& t : s["tools"]) {
      if (std::string what = lacks_tool(t); !what.empty()) return what;
    }
  }
  return {};
}

// The tools of a result by setup and number.
std::map<std::pair<std::string, int>, const Json*> tools_of(const Json& result) {
  std::map<std::pair<std::string, int>, const Json*> out;
  for (const Json& s : result.at("setups")) {
    for (const Json& t : s.at("tools")) out[{word(s, "name"), whole(t, "number")}] = &t;
  }
  return out;
}

std::string identity(const Json& f) {
  return word(f, "kind") + "|" + word(f, "setup") + "|" + std::to_string(whole(f, "tool")) + "|" +
         word(f, "level");
}

FindingDifference difference_of(const Json& f) {
  FindingDifference d;
  d.level = word(f, "level");
  d.kind = word(f, "kind");
  d.setup = word(f, "setup");
  d.text = word(f, "text");
  d.tool = whole(f, "tool");
  d.place = word(f, "file");
  if (whole(f, "line") > 0) d.place += ":" + std::to_string(whole(f, "line"));
  return d;
}

// Worst finding of every kind, setup, tool and level that only one of the two has.
std::vector<FindingDifference> only_in(const Json& a, const Json& b) {
  std::set<std::string> known;
  for (const Json& f : b.at("findings")) known.insert(identity(f));
  std::vector<FindingDifference> out;
  for (const Json& f : a.at("findings")) {
    if (known.insert(identity(f)).second) out.push_back(difference_of(f));
  }
  return out;
}

Row row(const std::string& what, const std::string& unit, const std::vector<NamedResult>& results,
        const std::function<double(const Json&)>& value) {
  Row r{what, unit, {}};
  for (const auto& n : results) r.values.push_back(value(n.result));
  return r;
}

bool same_figures(const std::vector<double>& v, double share) {
  for (double x : v) {
    if (std::abs(x - v.front()) > share * std::max(1.0, std::abs(v.front()))) return false;
  }
  return true;
}

std::string surface_words(const std::string& first, const Comparison::Surfaces& s) {
  const measure::StockDifference& d = s.apart;
  const std::string same = d.worst_mm <= s.voxel && !d.beyond_reach
                               ? "the same surface within a voxel"
                               : "not the same surface, at a voxel";
  return fmt::format(
      "What is left of {} and {}: {} of {:g} mm. At most {}{:.3f} mm apart (at x {:.2f}, y {:.2f}, "
      "z {:.2f} of the "
      "stock), {:.4f} mm on average; {:.1f} mm3 stand only in {}, {:.1f} mm3 only in {}.",
      first, s.name, same, s.voxel, d.beyond_reach ? "more than " : "", d.worst_mm, d.worst_at.x(),
      d.worst_at.y(), d.worst_at.z(), d.mean_mm, d.only_first_mm3, first, d.only_second_mm3,
      s.name);
}

std::vector<std::string> verdict_of(const Comparison& c) {
  std::vector<std::string> out;
  const bool other_material =
      std::set<std::string>(c.materials.begin(), c.materials.end()).size() > 1;
  const Row* left = nullptr;
  const Row* time = nullptr;
  for (const Row& r : c.totals) {
    if (r.what == "part volume") left = &r;
    if (r.what == "time") time = &r;
  }
  for (const auto& x : c.changes)
    out.push_back(fmt::format("{} against {}: {}", x.name, c.names.front(), in_words(x.inputs)));
  for (const auto& s : c.surfaces) out.push_back(surface_words(c.names.front(), s));
  if (left != nullptr && c.surfaces.empty()) {
    out.push_back(same_figures(left->values, 0.002)
                      ? "What is left has the same volume within 0.2 %: as far as volume tells, "
                        "the same shape."
                      : "What is left differs in volume by more than 0.2 %: not the same shape.");
  }
  if (other_material && time != nullptr && time->values.size() == 2 && time->values[0] > 0) {
    out.push_back(
        fmt::format("Time differs by a factor of {:.1f}.", time->values[1] / time->values[0]));
    out.push_back(
        "A proof in another material shows shape, zero, flip, reach, order and clearance.");
    out.push_back(
        "It does not show force, bend, chatter, chip size, heat, burrs, how supports hold, or tool "
        "life in the metal: look at the metal run's own findings for those.");
  }
  return out;
}

}  // namespace

std::optional<Json> read_result(const std::string& path, Diagnostics& diagnostics) {
  const auto text = read_text_file(path, "result file", diagnostics, std::uintmax_t{1} << 30);
  if (!text) return std::nullopt;
  const Place place{path, 0, 0, 0};
  Json json = Json::parse(*text, nullptr, false);
  if (json.is_discarded() || !json.is_object()) {
    diagnostics.error("result-unreadable", place, "this is no result file",
                      "give a result.json that proveout wrote");
    return std::nullopt;
  }
  if (word(json, "schema") != json::result_schema) {
    diagnostics.error("result-other-schema", place,
                      fmt::format("the result's schema is '{}', not '{}'", word(json, "schema"),
                                  json::result_schema),
                      "run proveout again to make a new result");
    return std::nullopt;
  }
  if (const std::string what = lacks(json); !what.empty()) {
    diagnostics.error("result-unreadable", place, what, "give a result.json that proveout wrote");
    return std::nullopt;
  }
  return json;
}

std::shared_ptr<const stock::Stock> read_left(const std::string& result_path,
                                              Diagnostics& diagnostics) {
  const std::filesystem::path path =
      std::filesystem::path(result_path).replace_filename("left.vdb");
  std::error_code ignored;
  if (!std::filesystem::is_regular_file(path, ignored)) return nullptr;
  const auto bytes = read_text_file(path, "stock file", diagnostics, std::uintmax_t{4} << 30);
  if (!bytes) return nullptr;
  auto stock = stock::read_vdb(*bytes, path.string(), diagnostics);
  return stock ? std::make_shared<const stock::Stock>(std::move(*stock)) : nullptr;
}

Comparison compare(const std::vector<NamedResult>& results) {
  Comparison c;
  for (const auto& r : results) {
    c.names.push_back(r.name);
    c.materials.push_back(r.result.contains("job") ? word(r.result.at("job"), "material") : "");
  }
  const auto part = [](const char* key) {
    return [key](const Json& r) { return r.contains("part") ? number(r.at("part"), key) : 0; };
  };
  const auto total = [](const char* key) {
    return [key](const Json& r) { return r.contains("totals") ? number(r.at("totals"), key) : 0; };
  };
  c.totals.push_back(row("time", "s", results, total("time_s")));
  c.totals.push_back(row("removed", "mm3", results, total("removed_mm3")));
  c.totals.push_back(row("part volume", "mm3", results, part("volume_mm3")));
  c.totals.push_back(row("part mass", "g", results, part("mass_g")));
  c.totals.push_back(row("worst gouge", "mm", results, part("worst_gouge")));
  c.totals.push_back(row("worst excess", "mm", results, part("worst_excess")));
  for (const char* level : {"error", "warning", "note"}) {
    c.totals.push_back(row(std::string(level) + "s", "", results, [level](const Json& r) {
      double n = 0;
      for (const Json& f : r.at("findings")) n += word(f, "level") == level ? 1 : 0;
      return n;
    }));
  }
  std::set<std::pair<std::string, int>> keys;
  std::vector<std::map<std::pair<std::string, int>, const Json*>> tools;
  for (const auto& r : results) {
    tools.push_back(tools_of(r.result));
    for (const auto& [key, t] : tools.back()) keys.insert(key);
  }
  for (const auto& key : keys) {
    Comparison::ToolRows rows;
    rows.setup = key.first;
    rows.tool = "T" + std::to_string(key.second);
    const auto add = [&](const char* what, const char* unit,
                         const std::function<double(const Json&)>& value) {
      Row r{what, unit, {}};
      for (auto& t : tools) {
        const auto it = t.find(key);
        r.values.push_back(it == t.end() ? 0 : value(*it->second));
      }
      rows.rows.push_back(std::move(r));
    };
    add("time", "s", [](const Json& t) { return number(t, "time_s"); });
    add("removed", "mm3", [](const Json& t) { return number(t, "removed_mm3"); });
    const auto peak = [](const char* k) {
      return [k](const Json& t) { return t.contains("peak") ? number(t.at("peak"), k) : 0; };
    };
    add("deepest", "mm", peak("axial_depth"));
    add("chip", "mm", peak("chip_mm"));
    add("force", "N", peak("force_n"));
    add("bend", "mm", peak("bend_mm"));
    c.tools.push_back(std::move(rows));
  }
  for (std::size_t i = 1; i < results.size(); ++i) {
    c.changes.push_back({results[i].name, only_in(results[i].result, results[0].result),
                         only_in(results[0].result, results[i].result),
                         input_changes(results[0].result, results[i].result)});
  }
  for (std::size_t i = 1; i < results.size(); ++i) {
    if (!results[0].left || !results[i].left) continue;
    c.surfaces.push_back({results[i].name,
                          measure::stock_difference(*results[0].left, *results[i].left),
                          std::max(results[0].left->voxel(), results[i].left->voxel())});
  }
  c.verdict = verdict_of(c);
  return c;
}

namespace {

std::string figure(double v, const std::string& unit) {
  if (unit == "s") return text::duration(v);
  if (unit == "mm3") return fmt::format("{:.0f}", v);
  if (unit == "mm") return fmt::format("{:.3f}", v);
  return fmt::format("{:.4g}", v);
}

std::string table_row(const std::string& what, const std::vector<std::string>& cells) {
  std::string out = "  " + text::left(what, 22);
  const std::size_t width = std::max<std::size_t>(
      10, std::min<std::size_t>(18, 56 / std::max<std::size_t>(1, cells.size())));
  for (const auto& c : cells) out += text::right(c, width);
  return out + "\n";
}

std::string rows_text(const std::vector<Row>& rows) {
  std::string out;
  for (const Row& r : rows) {
    std::vector<std::string> cells;
    for (double v : r.values) cells.push_back(figure(v, r.unit));
    out += table_row(r.what + (r.unit.empty() || r.unit == "s" ? "" : ", " + r.unit), cells);
  }
  return out;
}

std::string findings_text(const std::vector<FindingDifference>& list) {
  std::string out;
  for (const auto& f : list) {
    out += "  " + text::left(text::printable(f.level), 8) +
           text::left(text::printable(f.kind), 17) +
           text::shortened(text::printable(f.place + (f.setup.empty() ? "" : "  setup " + f.setup) +
                                           (f.tool > 0 ? "  T" + std::to_string(f.tool) : "")),
                           53) +
           "\n" + text::wrapped(text::printable(f.text), 80, 10);
  }
  return out;
}

std::vector<std::string> shown(std::vector<std::string> words) {
  for (std::string& w : words) w = text::printable(w);
  return words;
}

}  // namespace

std::string to_text(const Comparison& c) {
  std::string out = table_row("", shown(c.names)) + table_row("material", shown(c.materials)) +
                    rows_text(c.totals);
  for (const auto& t : c.tools)
    out += "\nsetup " + text::printable(t.setup) + ", " + t.tool + "\n" + rows_text(t.rows);
  for (const auto& change : c.changes) {
    out += fmt::format("\nIn {} and not in {}:{}\n", text::printable(change.name),
                       text::printable(c.names.front()),
                       change.gained.empty() ? " no further kind of finding" : "");
    out += findings_text(change.gained);
    out += fmt::format("In {} and gone in {}:{}\n", text::printable(c.names.front()),
                       text::printable(change.name), change.lost.empty() ? " nothing" : "");
    out += findings_text(change.lost);
  }
  if (!c.verdict.empty()) out += "\n";
  for (const auto& v : c.verdict) out += text::wrapped(text::printable(v), 80, 0);
  return out;
}

Json to_json(const Comparison& c) {
  const auto rows = [](const std::vector<Row>& list) {
    Json out = Json::array();
    for (const Row& r : list)
      out.push_back({{"what", r.what}, {"unit", r.unit}, {"values", r.values}});
    return out;
  };
  const auto findings = [](const std::vector<FindingDifference>& list) {
    Json out = Json::array();
    for (const auto& f : list) {
      out.push_back({{"level", f.level},
                     {"kind", f.kind},
                     {"setup", f.setup},
                     {"tool", f.tool},
                     {"place", f.place},
                     {"text", f.text}});
    }
    return out;
  };
  Json tools = Json::array(), changes = Json::array();
  for (const auto& t : c.tools)
    tools.push_back({{"setup", t.setup}, {"tool", t.tool}, {"rows", rows(t.rows)}});
  for (const auto& x : c.changes) {
    changes.push_back({{"name", x.name},
                       {"gained", findings(x.gained)},
                       {"lost", findings(x.lost)},
                       {"inputs",
                        {{"known", x.inputs.known},
                         {"changed", x.inputs.changed},
                         {"added", x.inputs.added},
                         {"gone", x.inputs.gone}}}});
  }
  Json surfaces = Json::array();
  for (const auto& x : c.surfaces) {
    surfaces.push_back({{"name", x.name},
                        {"voxel", x.voxel},
                        {"worst_mm", x.apart.worst_mm},
                        {"beyond_reach", x.apart.beyond_reach},
                        {"at", {x.apart.worst_at.x(), x.apart.worst_at.y(), x.apart.worst_at.z()}},
                        {"mean_mm", x.apart.mean_mm},
                        {"only_first_mm3", x.apart.only_first_mm3},
                        {"only_this_mm3", x.apart.only_second_mm3}});
  }
  return {{"schema", "proveout-comparison/1"},
          {"names", c.names},
          {"materials", c.materials},
          {"totals", rows(c.totals)},
          {"tools", tools},
          {"changes", changes},
          {"surfaces", surfaces},
          {"verdict", c.verdict}};
}

std::string to_html(const Comparison& c) {
  std::string text = to_text(c), escaped;
  for (char ch : text) {
    if (ch == '&')
      escaped += "&amp;";
    else if (ch == '<')
      escaped += "&lt;";
    else if (ch == '>')
      escaped += "&gt;";
    else
      escaped += ch;
  }
  return "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>proveout "
         "comparison</title>"
         "<style>body{font:15px/1.45 ui-monospace,monospace;margin:2em;color-scheme:light "
         "dark}</style><pre>" +
         escaped + "</pre></html>\n";
}

namespace {

// Says where two results are of another material or voxel: then every figure differs, or is the
// same by accident.
std::string other_job(const Json& kept, const Json& now) {
  const Json &a = kept.at("job"), &b = now.at("job");
  std::string what;
  if (word(a, "material") != word(b, "material"))
    what = fmt::format("in {}, now {}", word(a, "material"), word(b, "material"));
  if (number(a, "voxel") != number(b, "voxel"))
    what += fmt::format("{}at a voxel of {:g} mm, now {:g}", what.empty() ? "" : "; ",
                        number(a, "voxel"), number(b, "voxel"));
  if (what.empty()) return {};
  return "the kept result is of another job (" + what +
         "): its figures are not comparable with these";
}

}  // namespace

std::vector<Drift> drift(const Json& kept, const Json& now, const Tolerances& t) {
  std::vector<Drift> out;
  const auto held = [&](const std::string& what, double a, double b, double share, const char* unit,
                        bool rise_only) {
    const double allowed = share * std::max(std::abs(a), 1e-9);
    if (rise_only ? b <= a + allowed : std::abs(b - a) <= allowed) return;
    out.push_back({what, a, b, allowed, unit, b > a});
  };
  if (const std::string other = other_job(kept, now); !other.empty())
    out.push_back({other, 0, 1, 0, "", true});
  const auto before = tools_of(kept), after = tools_of(now);
  for (const auto& [key, a] : before) {
    const std::string name = fmt::format("setup {}, T{}: ", key.first, key.second);
    const auto it = after.find(key);
    if (it == after.end()) {
      out.push_back({name + "no longer used", 1, 0, 0, "", true});
      continue;
    }
    const Json& b = *it->second;
    held(name + "time", number(*a, "time_s"), number(b, "time_s"), t.time, "s", false);
    held(name + "feed length", number(*a, "feed_mm"), number(b, "feed_mm"), t.path, "mm", false);
    held(name + "rapid length", number(*a, "rapid_mm"), number(b, "rapid_mm"), t.path, "mm", false);
    held(name + "removed", number(*a, "removed_mm3"), number(b, "removed_mm3"), t.removed, "mm3",
         false);
    if (a->contains("peak") && b.contains("peak")) {
      held(name + "peak force", number(a->at("peak"), "force_n"), number(b.at("peak"), "force_n"),
           t.load, "N", true);
      held(name + "deepest cut", number(a->at("peak"), "axial_depth"),
           number(b.at("peak"), "axial_depth"), t.load, "mm", true);
    }
  }
  for (const auto& [key, b] : after) {
    if (!before.contains(key))
      out.push_back({fmt::format("setup {}, T{}: new", key.first, key.second), 0, 1, 0, "", true});
  }
  if (kept.contains("part") && now.contains("part")) {
    const Json &a = kept.at("part"), &b = now.at("part");
    held("part mass", number(a, "mass_g"), number(b, "mass_g"), t.mass, "g", false);
    for (const char* k : {"worst_gouge", "worst_excess"}) {
      if (number(b, k) > number(a, k) + t.deviation_mm) {
        out.push_back({k[6] == 'g' ? "worst gouge" : "worst excess", number(a, k), number(b, k),
                       t.deviation_mm, "mm", true});
      }
    }
  }
  for (const auto& f : only_in(now, kept)) {
    out.push_back(
        {fmt::format("new {} {} at {}: {}", f.level, f.kind, f.place, f.text), 0, 1, 0, "", true});
  }
  return out;
}

}  // namespace proveout::compare
