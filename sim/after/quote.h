// What a part costs in batches. unit = [fixed / N + variable / (1 - scrap)]; money in the job's own
// currency. Formula: common practice, no source; docs/quote.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::after {

struct Terms {  // money per part
  double setup = 0, blank = 0, machine = 0, attendance = 0, handling = 0, finishing = 0, tools = 0,
         scrap = 0;
  double sum() const {
    return setup + blank + machine + attendance + handling + finishing + tools + scrap;
  }
};
struct Sensitivity {
  std::string what;  // "machine time", "labour rate", ...
  double more = 0;   // money per part, where that input is a fifth larger
};
struct BatchPrice {
  int batch = 1;
  Terms terms;  // their sum is the break-even price: the batch earns nothing
  std::vector<Sensitivity> sensitivity;  // the one that moves the price most first
  double low = 0, high = 0;   // money per part with the low and the high time of the estimate
  double hours = 0;           // of the whole batch: setting up, machine, handling
  double attended_hours = 0;  // of these and of finishing, the operator's own
  std::string dominating;     // largest term
};
struct ToolWear {
  int number = 0;
  double minutes_in_cut = 0;  // per part
  double parts_per_tool = 0;  // 0: life not given
};
struct Quote {
  std::vector<BatchPrice> prices;
  std::vector<ToolWear> wear;
  double machine_min = 0;   // per part: the programs, tool changes included
  double change_min = 0;    // per part: of these, tool changes by hand
  double handling_min = 0;  // per part, all setups; the machine stands
  // Per part: changes by hand, handling and finishing. The machine's other minutes run without a
  // hand on them, watched.
  double attended_min = 0;
  double unattended_min = 0;
  double price_per_20_percent_time = 0;  // sensitivity at the largest batch
  double set_up_cost = 0;                // money per batch, whatever its size
  double one_more = 0;                   // money: what each further good part costs

  // The least batch that pays at this price a part: set_up_cost / (price - one_more), rounded up
  // (break-even analysis: fixed cost over contribution). nullopt: no batch does.
  std::optional<int> break_even_batch(double price) const;
};

// job.quote must be given. Labour is charged for setting up, for tool changes by hand, for handling
// and for finishing; the machine for setting up, its programs and handling, in which it stands. The
// operator who stays by a running machine is in machine_rate_per_h.
Quote quote(const job::Quote& terms, const run::JobResult& result);

}  // namespace proveout::after
