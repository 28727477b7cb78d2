// What a part costs in batches. unit = [fixed / N + variable / (1 - scrap)]; money in the job's own
// currency. Formula: common practice, no source; docs/quote.md.
#pragma once

#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::quote {

struct Terms {  // money per part
  double setup = 0, blank = 0, machine = 0, attendance = 0, finishing = 0, tools = 0, scrap = 0;
  double sum() const { return setup + blank + machine + attendance + finishing + tools + scrap; }
};
struct BatchPrice {
  int batch = 1;
  Terms terms;
  double hours = 0;        // of the whole batch, machine and setting up
  std::string dominating;  // largest term
};
struct ToolWear {
  int number = 0;
  double minutes_in_cut = 0;  // per part
  double parts_per_tool = 0;  // 0: life not given
};
struct Quote {
  std::vector<BatchPrice> prices;
  std::vector<ToolWear> wear;
  double machine_min = 0;   // per part
  double attended_min = 0;  // per part: tool changes by hand; what is left runs alone, watched
  double price_per_20_percent_time = 0;  // sensitivity at the largest batch
};

// job.quote must be given. Labour is charged for setting up, for tool changes and for finishing;
// the operator who stays by a running machine is in machine_rate_per_h.
Quote quote(const job::Quote& terms, const run::JobResult& result);

}  // namespace proveout::quote
