// The page that a run left beside its result.json: what a second picture is drawn from.
#pragma once

#include <string>

#include "parser/base/diagnostic.h"
#include "report/compare/compare.h"
#include "report/page/data/page_html.h"

namespace proveout::cli {

// Without data, and with a warning (result-without-page), where there is none, or none of this
// result: a run with --no-html leaves an earlier run's page beside its result.
page::OtherPage page_beside(const std::string& result_path, const compare::NamedResult& result,
                            Diagnostics& diagnostics);

}  // namespace proveout::cli
