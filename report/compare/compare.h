// Results side by side: version against version, proxy against metal, or a new result against a
// kept one.
#pragma once

#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "report/compare/input_changes.h"
#include "sim/measure/stock_difference.h"

namespace proveout::compare {

struct NamedResult {
  std::string name;  // as shown in columns
  nlohmann::ordered_json result;
  std::shared_ptr<const stock::Stock>
      left;  // what is left, where a left.vdb stands beside the result
};

// Reads and checks a result.json. nullopt with an error (result-unreadable, result-other-schema).
std::optional<nlohmann::ordered_json> read_result(const std::string& path,
                                                  Diagnostics& diagnostics);

// The stock kept beside a result.json as left.vdb; nullptr without an error where there is none,
// with one (stock-unreadable) where it cannot be read.
std::shared_ptr<const stock::Stock> read_left(const std::string& result_path,
                                              Diagnostics& diagnostics);

// One line of figures of every result; the first is what the others are held against.
struct Row {
  std::string what, unit;
  std::vector<double> values;
};
struct FindingDifference {
  std::string level, kind, setup, place, text;
  int tool = 0;
};
struct Comparison {
  std::vector<std::string> names, materials;
  std::vector<Row> totals;
  struct ToolRows {
    std::string setup, tool;
    std::vector<Row> rows;
  };
  std::vector<ToolRows> tools;
  struct Changes {  // of one further result against the first
    std::string name;
    std::vector<FindingDifference> gained, lost;
    InputChanges inputs;
  };
  std::vector<Changes> changes;
  struct Surfaces {  // of one further result against the first
    std::string name;
    measure::StockDifference apart;
    double voxel = 0;  // mm, the coarser of both
  };
  std::vector<Surfaces> surfaces;    // empty where a stock file is missing
  std::vector<std::string> verdict;  // in words: what this does and does not say
};
Comparison compare(const std::vector<NamedResult>& results);

std::string to_text(const Comparison& comparison);  // 80 columns
nlohmann::ordered_json to_json(const Comparison& comparison);
std::string to_html(const Comparison& comparison);  // one page, no script

// For CI: how far each quantity may move. Common practice; editable.
struct Tolerances {
  double time = 0.03;          // share
  double path = 0.001;         // share, feed and rapid length
  double removed = 0.002;      // share
  double load = 0.05;          // share; only a rise counts
  double mass = 0.005;         // share
  double deviation_mm = 0.02;  // worst gouge and excess; only a rise counts
};
struct Drift {
  std::string what;  // "setup A, T2: time"
  double kept = 0, now = 0, allowed = 0;
  std::string unit;
  bool worse = true;  // else merely different, or better
};
std::vector<Drift> drift(const nlohmann::ordered_json& kept, const nlohmann::ordered_json& now,
                         const Tolerances& tolerances);

}  // namespace proveout::compare
