// What a part costs in batches. unit = [fixed / N + variable / (1 - scrap)]; money in the job's own
// currency. Formula: common practice, no source; docs/quote.md.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "parser/job/job.h"
#include "sim/run/result.h"

namespace proveout::after {

struct PartTakes;

// One thing a part is charged for. All tables of costs are made from the list of these.
struct CostItem {
  std::string_view key;      // in result.json
  std::string_view title;    // of its column on the page
  std::string_view heading;  // of its column on the terminal, `width` wide
  int width;
  std::string_view spoken;  // in sentences
  // Money per part; so_far: that of the items before it in the list.
  double (*money)(const job::Quote&, int batch, const PartTakes&, std::span<const double> so_far);
};
std::span<const CostItem> cost_items();

struct Terms {
  std::vector<double> money;  // per part, one an item of cost_items()
  double sum() const;
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
