// The page's data from a finished run: surfaces are taken from the level sets, motions and loads
// from the result, sentences from the findings.
#pragma once

#include "report/page/data/page_html.h"
#include "sim/run/result.h"

namespace proveout::page {

// result should keep the stock after each setup (RunOptions::keep_stock_after_setups); setups
// without one are shown without an end surface. most_vertices: bound for each surface, which sets
// its mesh size.
PageData page_of_result(const run::JobResult& result, std::size_t most_vertices = 250000);

}  // namespace proveout::page
