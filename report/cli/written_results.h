// The files every simulating command leaves in its output folder.
#pragma once

#include "report/cli/options.h"
#include "report/compare/compare.h"
#include "report/page/data/page_html.h"

namespace proveout::cli {

// Further results to show beside a run's, and the page of each, in the same order.
struct OtherResults {
  std::vector<compare::NamedResult> results;
  std::vector<page::OtherPage> pages;
};

// result.json, moves.csv, junit.xml, findings.sarif and, if asked for, report.html, pictures and
// meshes: all get their names together, at the end. Throws files::WriteError, Interrupted.
// others: further results to show beside this one on the page.
void write_results(const run::JobResult& result, const SimulateOptions& options,
                   const OtherResults& others = {});

}  // namespace proveout::cli
