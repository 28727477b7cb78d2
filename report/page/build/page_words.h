// The page's sentences: verdict, facts, what was checked and what was not, cautions, checks by
// hand.
#pragma once

#include "report/page/data/page_data.h"
#include "sim/run/result.h"

namespace proveout::page {

void add_words(PageData& page, const run::JobResult& result);

std::string turns_in_words(const std::vector<job::Turn>& turns);  // empty: not turned
std::string located_in_words(job::LocatedBy by);                  // empty: not stated

}  // namespace proveout::page
