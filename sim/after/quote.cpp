#include "sim/after/quote.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>

#include "sim/timing/range.h"

namespace proveout::after {
// What one part takes, whatever the batch.
struct PartTakes {
  double machine_min = 0, change_min = 0, handling_min = 0;
  double wear = 0;  // money
};

namespace {

double sum_of(std::span<const double> money) {
  return std::accumulate(money.begin(), money.end(), 0.0);
}

constexpr std::size_t setting_up = 0;  // its place in the list: the one cost that a batch shares
constexpr std::array items = {
    CostItem{"setup", "setting up", "set-up", 8, "setting up",
             [](const job::Quote& q, int batch, const PartTakes&, std::span<const double>) {
               return q.setup_min / 60 * (q.labour_rate_per_h + q.machine_rate_per_h) / batch;
             }},
    CostItem{"blank", "blank", "blank", 8, "blank",
             [](const job::Quote& q, int, const PartTakes&, std::span<const double>) {
               return q.blank_cost;
             }},
    CostItem{"machine", "machine", "machine", 9, "machine time",
             [](const job::Quote& q, int, const PartTakes& part, std::span<const double>) {
               return part.machine_min / 60 * q.machine_rate_per_h;
             }},
    CostItem{"tool_changes", "tool changes", "changes", 9, "tool changes",
             [](const job::Quote& q, int, const PartTakes& part, std::span<const double>) {
               return part.change_min / 60 * q.labour_rate_per_h;
             }},
    CostItem{"handling", "handling", "handling", 10, "handling",
             [](const job::Quote& q, int, const PartTakes& part, std::span<const double>) {
               return part.handling_min / 60 * (q.labour_rate_per_h + q.machine_rate_per_h);
             }},
    CostItem{"finishing", "finishing", "finish", 7, "finishing by hand",
             [](const job::Quote& q, int, const PartTakes&, std::span<const double>) {
               return q.finishing_min / 60 * q.labour_rate_per_h;
             }},
    CostItem{"tool_wear", "tool wear", "tools", 7, "tool wear",
             [](const job::Quote&, int, const PartTakes& part, std::span<const double>) {
               return part.wear;
             }},
    // Last: parts that are thrown away cost all that is not shared by the batch.
    CostItem{"scrap", "scrap", "scrap", 7, "scrap",
             [](const job::Quote& q, int, const PartTakes&, std::span<const double> so_far) {
               const double variable = sum_of(so_far) - so_far[setting_up];
               return variable / (1 - q.scrap) - variable;
             }},
};
static_assert(items[setting_up].key == "setup" && items.back().key == "scrap");

std::string largest(const Terms& t) {
  const auto most = std::max_element(t.money.begin(), t.money.end()) - t.money.begin();
  return std::string(items[static_cast<std::size_t>(most)].spoken);
}

Terms terms_for(const job::Quote& q, int batch, const PartTakes& part) {
  Terms t;
  for (const CostItem& item : items) t.money.push_back(item.money(q, batch, part, t.money));
  return t;
}

// Each input by itself a fifth larger, the others as they are.
std::vector<Sensitivity> sensitivity_of(const job::Quote& q, int batch, const PartTakes& part) {
  const double now = terms_for(q, batch, part).sum();
  std::vector<Sensitivity> out;
  const auto taking_more = [&](const char* what, double PartTakes::*input) {
    PartTakes more = part;
    more.*input *= 1.2;
    out.push_back({what, terms_for(q, batch, more).sum() - now});
  };
  const auto dearer = [&](const char* what, double job::Quote::*input) {
    job::Quote changed = q;
    changed.*input *= 1.2;
    changed.scrap = std::min(changed.scrap, 0.99);
    out.push_back({what, terms_for(changed, batch, part).sum() - now});
  };
  taking_more("machine time", &PartTakes::machine_min);
  taking_more("tool changes", &PartTakes::change_min);
  taking_more("handling", &PartTakes::handling_min);
  taking_more("tool wear", &PartTakes::wear);
  dearer("blank", &job::Quote::blank_cost);
  dearer("machine rate", &job::Quote::machine_rate_per_h);
  dearer("labour rate", &job::Quote::labour_rate_per_h);
  dearer("setting up", &job::Quote::setup_min);
  dearer("finishing by hand", &job::Quote::finishing_min);
  dearer("scrap", &job::Quote::scrap);
  std::stable_sort(out.begin(), out.end(),
                   [](const Sensitivity& a, const Sensitivity& b) { return a.more > b.more; });
  return out;
}

BatchPrice price_of(const job::Quote& q, int batch, const PartTakes& part,
                    const run::JobResult& result) {
  // The same factor stretches changes by hand in those times (sim/timing/range.h).
  const auto with_time = [&](double seconds, double waits) {
    PartTakes other = part;
    other.machine_min = seconds / 60;
    other.change_min *= waits;
    return terms_for(q, batch, other).sum();
  };
  BatchPrice p;
  p.batch = batch;
  p.terms = terms_for(q, batch, part);
  p.low = with_time(result.time_low_s, timing::livelier_waits);
  p.high = with_time(result.time_high_s, timing::sluggish_waits);
  const double tries = batch / (1 - q.scrap);
  p.hours = (q.setup_min + tries * (part.machine_min + part.handling_min)) / 60;
  p.attended_hours =
      (q.setup_min + tries * (part.change_min + part.handling_min + q.finishing_min)) / 60;
  p.dominating = largest(p.terms);
  p.sensitivity = sensitivity_of(q, batch, part);
  return p;
}

}  // namespace

std::span<const CostItem> cost_items() { return items; }
double Terms::sum() const { return sum_of(money); }

std::optional<int> Quote::break_even_batch(double price) const {
  if (!(price > one_more)) return std::nullopt;
  // A hair is taken off, so that a batch which pays to the last digit counts.
  const double parts = set_up_cost / (price - one_more) * (1 - 1e-12);
  if (parts > 1e9) return std::nullopt;
  return std::max(1, static_cast<int>(std::ceil(parts)));
}

Quote quote(const job::Quote& q, const run::JobResult& result) {
  Quote out;
  PartTakes part;
  std::map<int, double> in_cut;
  for (const auto& s : result.setups) {
    for (const auto& t : s.tools) {
      in_cut[t.number] += (t.feed_s - t.air_s) / 60;
      if (q.changes_attended) part.change_min += t.change_s / 60;
    }
  }
  part.machine_min = result.time_s / 60;
  part.handling_min = q.handling_min * static_cast<double>(result.setups.size());
  for (const auto& [number, minutes] : in_cut) {
    ToolWear w{number, minutes, 0};
    const auto life = q.tool_life_min.find(number), cost = q.tool_cost.find(number);
    if (life != q.tool_life_min.end() && life->second > 0 && minutes > 0) {
      w.parts_per_tool = life->second / minutes;
      if (cost != q.tool_cost.end()) part.wear += cost->second / w.parts_per_tool;
    }
    out.wear.push_back(w);
  }
  out.machine_min = part.machine_min;
  out.change_min = part.change_min;
  out.handling_min = part.handling_min;
  out.attended_min = part.change_min + part.handling_min + q.finishing_min;
  out.unattended_min = part.machine_min - part.change_min;
  const Terms alone = terms_for(q, 1, part);
  out.set_up_cost = alone.money[setting_up];
  out.one_more = alone.sum() - out.set_up_cost;
  for (int batch : q.batch) out.prices.push_back(price_of(q, batch, part, result));
  if (!q.batch.empty()) {
    PartTakes longer = part;
    longer.machine_min *= 1.2;
    out.price_per_20_percent_time =
        terms_for(q, q.batch.back(), longer).sum() - out.prices.back().terms.sum();
  }
  return out;
}

}  // namespace proveout::after
