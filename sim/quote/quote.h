// What a part costs in batches. unit = [fixed / N + variable / (1 - scrap)]; money in the job's own
// currency. Formula: common practice, no source; docs/quote.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::quote {

struct Terms {  // money per part
  double setup = 0, blank = 0, machine = 0, attendance = 0, finishing = 0, tools = 0, scrap = 0;
  double sum() const { return setup + blank + machine + attendance + finishing + tools + scrap; }
};
struct Sensitivity {
  std::string what;  // "machine time", "labour rate", ...
  double more = 0;   // money per part, where that input is a fifth larger
};
struct BatchPrice {
  int batch = 1;
  Terms terms;  // their sum is the break-even price: the batch earns nothing
  std::vector<Sensitivity> sensitivity;  // the one that moves the price most first
  double hours = 0;                      // of the whole batch, machine and setting up
  std::string dominating;                // largest term
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
  double set_up_cost = 0;                // money per batch, whatever its size
  double one_more = 0;                   // money: what each further good part costs

  // The least batch that pays at this price a part: set_up_cost / (price - one_more), rounded up
  // (break-even analysis: fixed cost over contribution). nullopt: no batch does.
  std::optional<int> break_even_batch(double price) const;
};

// job.quote must be given. Labour is charged for setting up, for tool changes and for finishing;
// the operator who stays by a running machine is in machine_rate_per_h.
Quote quote(const job::Quote& terms, const run::JobResult& result);

}  // namespace proveout::quote
