#include "sim/quote/quote.h"

#include <algorithm>
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

}  // namespace

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
  for (int batch : q.batch) {
    BatchPrice p;
    p.batch = batch;
    p.terms = terms_for(q, batch, out.machine_min, out.attended_min, wear);
    p.hours = (q.setup_min + batch * out.machine_min / (1 - q.scrap)) / 60;
    p.dominating = largest(p.terms);
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
