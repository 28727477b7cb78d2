// Tables of the page that other rooms work out: results side by side, and what a part costs.
#pragma once

#include <vector>

#include "report/compare/compare.h"
#include "report/page/data/page_data.h"
#include "sim/after/quote.h"
#include "sim/run/result.h"

namespace proveout::page {

// One table of totals, one a setup and tool; e.g. a proof in MDF beside the metal.
std::vector<Comparison> side_by_side(const compare::Comparison& comparison);

// The bridges of every setup that leaves some, the weakest first: stock coordinates, mm, mm2, kN.
std::vector<Comparison> holding_tables(const run::JobResult& result);

std::vector<Comparison> quote_tables(const after::Quote& quote);

}  // namespace proveout::page
