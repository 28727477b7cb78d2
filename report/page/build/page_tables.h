// Tables of the page that other rooms work out: results side by side, and what a part costs.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "report/compare/compare.h"
#include "sim/after/quote.h"
#include "sim/run/result.h"

namespace proveout::page {

struct Table {
  std::string title, note;
  std::vector<std::string> columns;
  std::vector<std::vector<std::string>> rows;
};
void to_json(nlohmann::ordered_json& json, const Table& table);

// One table of totals, one a setup and tool; e.g. a proof in MDF beside the metal.
std::vector<Table> side_by_side(const compare::Comparison& comparison);

// The bridges of every setup that leaves some, the weakest first: stock coordinates, mm, mm2, kN.
std::vector<Table> holding_tables(const run::JobResult& result);

std::vector<Table> quote_tables(const after::Quote& quote);

}  // namespace proveout::page
