// docs/result.schema.json says in JSON Schema (draft 2020-12) what docs/result-keys.md says in
// words: it is made from that page and from the code's own lists. With PROVEOUT_REWRITE=1 in the
// environment the test writes it anew.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

#include "report/json/result_json.h"
#include "sim/checks/registry.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

struct Row {
  std::string key, type, meaning;
};

std::vector<Row> rows_of_page() {
  std::ifstream file(PROVEOUT_SOURCE "/docs/result-keys.md");
  std::vector<Row> rows;
  for (std::string line; std::getline(file, line);) {
    if (!line.starts_with("| `")) continue;
    const auto a = line.find('`', 3), b = line.find('|', a), c = line.find('|', b + 1),
               d = line.rfind('|');
    const auto trimmed = [](std::string s) {
      while (!s.empty() && s.front() == ' ') s.erase(0, 1);
      while (!s.empty() && s.back() == ' ') s.pop_back();
      return s;
    };
    rows.push_back({line.substr(3, a - 3), trimmed(line.substr(b + 1, c - b - 1)),
                    trimmed(line.substr(c + 1, d - c - 1))});
  }
  return rows;
}

// What other programs rely on; the rest may be left out by a future version.
const std::map<std::string, std::vector<std::string>>& required() {
  static const std::map<std::string, std::vector<std::string>> keys = {
      {"job", {"name"}},
      {"inputs[]", {"name", "digest", "bytes"}},
      {"setups[]",
       {"name", "program", "time_s", "removed_mm3", "stock_left_mm3", "zero_in_stock", "tools"}},
      {"setups[].tools[]",
       {"number", "name", "time_s", "feed_s", "rapid_s", "dwell_s", "change_s", "spin_up_s",
        "air_s", "feed_mm", "rapid_mm", "moves", "removed_mm3", "peak", "reach_used",
        "stickout_needed"}},
      {"setups[].tools[].peak",
       {"axial_depth", "radial_width", "engagement_deg", "removal_mm3_min", "chip_mm", "force_n",
        "power_w", "bend_mm", "line"}},
      {"part",
       {"volume_mm3", "mass_g", "centre", "gouge_mm3", "worst_gouge", "excess_mm3",
        "worst_excess"}},
      {"totals", {"time_s", "removed_mm3"}},
      {"findings[]",
       {"kind", "level", "setup", "tool", "file", "line", "at", "value", "limit", "unit", "text"}},
      {"reach", {"step", "surface_mm2", "undercut_mm2", "too_tight_mm2", "setups"}},
      {"run", {"wall_s", "moves_per_s", "peak_memory_mb", "threads", "version"}}};
  return keys;
}

Json numbers() { return {{"type", "array"}, {"items", {{"type", "number"}}}}; }

class Maker {
 public:
  Maker() {
    for (Row& row : rows_of_page()) rows_[row.key] = row, order_.push_back(row.key);
  }
  Json schema() const {
    Json out = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                {"$id", "urn:proveout:result:1"},
                {"title", "result.json of proveout"}};
    out.update(object("", ""));
    out["properties"]["schema"] = {{"const", std::string(result_schema)}};
    // Sections that a run writes where the job or the command asks for them.
    for (const char* section : {"retime", "quote"})
      out["properties"][section] = {{"type", "object"}};
    const Json number = {{"type", "number"}, {"minimum", 0}};
    Json point = numbers();
    point["minItems"] = point["maxItems"] = 3;
    out["properties"]["meshes"] = {
        {"description",
         "with --meshes: mm from the level set, largest with its place (stock coordinates) and "
         "mean"},
        {"type", "array"},
        {"items",
         {{"type", "object"},
          {"required", {"setup", "triangles", "furthest", "furthest_at", "mean"}},
          {"properties",
           {{"setup", {{"type", "string"}}},
            {"triangles", number},
            {"furthest", number},
            {"furthest_at", point},
            {"mean", number}}},
          {"additionalProperties", false}}}};
    // `reach` writes no run: each of the two kinds of file asks for what it must have.
    out["if"] = asks_for({"reach"});
    out["then"] = asks_for({"schema", "job", "reach"});
    out["else"] = asks_for({"schema", "job", "setups", "part", "totals", "findings", "run"});
    out["else"]["properties"]["job"] = asks_for({"name", "material", "voxel"});
    return out;
  }

 private:
  static Json asks_for(const std::vector<std::string>& keys) {
    Json out = {{"type", "object"}, {"properties", Json::object()}, {"required", keys}};
    for (const std::string& key : keys) out["properties"][key] = true;
    return out;
  }

  Json object(const std::string& key, const std::string& meaning) const {
    Json out = {{"type", "object"}};
    if (!meaning.empty()) out["description"] = meaning;
    Json properties = Json::object();
    const std::string prefix = key.empty() ? "" : key + ".";
    for (const std::string& k : order_) {
      if (!k.starts_with(prefix) || k.size() == prefix.size()) continue;
      const std::string name = k.substr(prefix.size());
      if (name.find('.') != std::string::npos || name.find('[') != std::string::npos) continue;
      properties[name] = value(rows_.at(k));
    }
    if (const auto it = required().find(key); it != required().end()) out["required"] = it->second;
    out["properties"] = properties;
    out["additionalProperties"] = false;
    return out;
  }

  Json value(const Row& row) const {
    const bool has_entries = std::any_of(order_.begin(), order_.end(), [&](const std::string& k) {
      return k.starts_with(row.key + "[].");
    });
    Json out;
    if (row.key.ends_with("slow_by_s")) {
      out = {{"type", "object"}, {"additionalProperties", {{"type", "number"}}}};
    } else if (row.key == "findings[].kind") {
      out = {{"enum", Json::array()}};
      for (const run::Check* check : checks::all_checks())
        out["enum"].push_back(std::string(name(check->kind)));
    } else if (row.key == "inputs[].digest") {
      out = {{"type", "string"}, {"pattern", "^[0-9a-f]{64}$"}};
    } else if (row.key == "findings[].level") {
      out = {{"enum", {"note", "warning", "error"}}};
    } else if (row.type == "object") {
      return object(row.key, row.meaning);
    } else if (row.type == "list" && has_entries) {
      out = {{"type", "array"}, {"items", object(row.key + "[]", "")}};
    } else if (row.type == "list") {
      out = list(row.meaning);
    } else {
      out = {{"type", row.type == "text" ? "string" : row.type == "number" ? "number" : "boolean"}};
    }
    if (!row.meaning.empty()) out["description"] = row.meaning;
    return out;
  }

  static Json list(const std::string& meaning) {
    const auto says = [&](const char* word) { return meaning.find(word) != std::string::npos; };
    Json out = numbers();
    if (says("sentence") || says("text") || says("name")) {
      out["items"] = {{"type", "string"}};
    } else if (says("rows") || says("3 x 3")) {
      out["items"] = numbers();
    } else if (says("point") || says("coordinates")) {
      out["minItems"] = out["maxItems"] = 3;
    }
    return out;
  }

  std::map<std::string, Row> rows_;
  std::vector<std::string> order_;
};

TEST(ResultSchema, IsWhatTheKeysPageSays) {
  const std::string made = Maker().schema().dump(1) + "\n";
  const std::string path = PROVEOUT_SOURCE "/docs/result.schema.json";
  if (std::getenv("PROVEOUT_REWRITE") != nullptr) std::ofstream(path) << made;
  std::ifstream file(path);
  std::stringstream kept;
  kept << file.rdbuf();
  EXPECT_EQ(kept.str(), made) << "run this test once with PROVEOUT_REWRITE=1";
}

}  // namespace
}  // namespace proveout::json
