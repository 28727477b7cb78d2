#include "sim/quote/quote.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace proveout::quote {
namespace {

std::string largest(const Terms& t) {
  const std::vector<std::pair<double, const char*>> all = {{t.setup, "setting up"},
                                                           {t.blank, "blank"},
                                                           {t.machine, "machine time"},
                                                           {t.attendance, "tool changes"},
                                                           {t.finishing, "finishing by hand"},
                                                           {t.tools, "tool wear"},
                                                           {t.scrap, "scrap"}};
  return std::max_element(all.begin(), all.end(),
                          [](const auto& a, const auto& b) { return a.first < b.first; })
      ->second;
}

Terms terms_for(const job::Quote& q, int batch, double machine_min, double attended_min,
                double wear) {
  Terms t;
  t.setup = q.setup_min / 60 * (q.labour_rate_per_h + q.machine_rate_per_h) / batch;
  t.blank = q.blank_cost;
  t.machine = machine_min / 60 * q.machine_rate_per_h;
  t.attendance = attended_min / 60 * q.labour_rate_per_h;
  t.finishing = q.finishing_min / 60 * q.labour_rate_per_h;
  t.tools = wear;
  const double variable = t.blank + t.machine + t.attendance + t.finishing + t.tools;
  t.scrap = variable / (1 - q.scrap) - variable;
  return t;
}

// Each input by itself a fifth larger, the others as they are.
std::vector<Sensitivity> sensitivity_of(const job::Quote& q, int batch, double machine_min,
                                        double attended_min, double wear) {
  const double now = terms_for(q, batch, machine_min, attended_min, wear).sum();
  std::vector<Sensitivity> out;
  const auto try_with = [&](const char* what, const job::Quote& changed, double machine,
                            double attended, double tools) {
    out.push_back({what, terms_for(changed, batch, machine, attended, tools).sum() - now});
  };
  const auto change = [&](const char* what, double job::Quote::*input) {
    job::Quote changed = q;
    changed.*input *= 1.2;
    changed.scrap = std::min(changed.scrap, 0.99);
    try_with(what, changed, machine_min, attended_min, wear);
  };
  try_with("machine time", q, 1.2 * machine_min, attended_min, wear);
  try_with("tool changes", q, machine_min, 1.2 * attended_min, wear);
  try_with("tool wear", q, machine_min, attended_min, 1.2 * wear);
  change("blank", &job::Quote::blank_cost);
  change("machine rate", &job::Quote::machine_rate_per_h);
  change("labour rate", &job::Quote::labour_rate_per_h);
  change("setting up", &job::Quote::setup_min);
  change("finishing by hand", &job::Quote::finishing_min);
  change("scrap", &job::Quote::scrap);
  std::stable_sort(out.begin(), out.end(),
                   [](const Sensitivity& a, const Sensitivity& b) { return a.more > b.more; });
  return out;
}

}  // namespace

std::optional<int> Quote::break_even_batch(double price) const {
  if (!(price > one_more)) return std::nullopt;
  // A hair is taken off, so that a batch which pays to the last digit counts.
  const double parts = set_up_cost / (price - one_more) * (1 - 1e-12);
  if (parts > 1e9) return std::nullopt;
  return std::max(1, static_cast<int>(std::ceil(parts)));
}

Quote quote(const job::Quote& q, const run::JobResult& result) {
  Quote out;
  std::map<int, double> in_cut;
  for (const auto& s : result.setups) {
    for (const auto& t : s.tools) {
      in_cut[t.number] += (t.feed_s - t.air_s) / 60;
      out.attended_min += t.change_s / 60;
    }
  }
  out.machine_min = result.time_s / 60;
  double wear = 0;
  for (const auto& [number, minutes] : in_cut) {
    ToolWear w{number, minutes, 0};
    const auto life = q.tool_life_min.find(number), cost = q.tool_cost.find(number);
    if (life != q.tool_life_min.end() && life->second > 0 && minutes > 0) {
      w.parts_per_tool = life->second / minutes;
      if (cost != q.tool_cost.end()) wear += cost->second / w.parts_per_tool;
    }
    out.wear.push_back(w);
  }
  const Terms alone = terms_for(q, 1, out.machine_min, out.attended_min, wear);
  out.set_up_cost = alone.setup;
  out.one_more = alone.sum() - alone.setup;
  for (int batch : q.batch) {
    BatchPrice p;
    p.batch = batch;
    p.terms = terms_for(q, batch, out.machine_min, out.attended_min, wear);
    p.hours = (q.setup_min + batch * out.machine_min / (1 - q.scrap)) / 60;
    p.dominating = largest(p.terms);
    p.sensitivity = sensitivity_of(q, batch, out.machine_min, out.attended_min, wear);
    out.prices.push_back(std::move(p));
  }
  if (!q.batch.empty()) {
    const int batch = q.batch.back();
    out.price_per_20_percent_time =
        terms_for(q, batch, 1.2 * out.machine_min, out.attended_min, wear).sum() -
        out.prices.back().terms.sum();
  }
  return out;
}

}  // namespace proveout::quote
