#include "report/page/build/page_tables.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace proveout::page {
namespace {

std::string money(double value) { return fmt::format("{:.2f}", value); }

// As many digits as say something, and no zeros at the end.
std::string number(double value) {
  const double size = std::abs(value);
  std::string digits = fmt::format("{:.{}f}", value, size >= 100 ? 0 : size >= 1 ? 2 : 4);
  if (digits.find('.') == std::string::npos) return digits;
  digits.erase(digits.find_last_not_of('0') + 1);
  if (digits.back() == '.') digits.pop_back();
  return digits == "-0" ? "0" : digits;
}

Table table(std::string title, const compare::Comparison& from,
            const std::vector<compare::Row>& rows) {
  Table out;
  out.title = std::move(title);
  out.columns.push_back("");
  for (std::size_t i = 0; i < from.names.size(); ++i) {
    const bool known = i < from.materials.size() && !from.materials[i].empty();
    out.columns.push_back(known ? from.names[i] + ", " + from.materials[i] : from.names[i]);
  }
  for (const compare::Row& row : rows) {
    std::vector<std::string> cells{row.unit.empty() ? row.what : row.what + ", " + row.unit};
    for (const double value : row.values) cells.push_back(number(value));
    out.rows.push_back(std::move(cells));
  }
  return out;
}

}  // namespace

void to_json(nlohmann::ordered_json& json, const Table& table) {
  json = {{"title", table.title},
          {"note", table.note},
          {"columns", table.columns},
          {"rows", table.rows}};
}

std::vector<Table> side_by_side(const compare::Comparison& comparison) {
  std::vector<Table> tables{table("All setups", comparison, comparison.totals)};
  for (const std::string& words : comparison.verdict)
    tables.front().note += (tables.front().note.empty() ? "" : " ") + words;
  for (const auto& tool : comparison.tools)
    tables.push_back(
        table(fmt::format("Setup {}, {}", tool.setup, tool.tool), comparison, tool.rows));
  for (const auto& change : comparison.changes) {
    Table out;
    out.title = "Findings that differ in " + change.name;
    out.columns = {"", "level", "kind", "setup", "where", "what"};
    const auto add = [&](const char* which, const std::vector<compare::FindingDifference>& list) {
      for (const auto& f : list)
        out.rows.push_back({which, f.level, f.kind, f.setup, f.place, f.text});
    };
    add("gained", change.gained);
    add("lost", change.lost);
    if (!out.rows.empty()) tables.push_back(std::move(out));
  }
  return tables;
}

std::vector<Table> holding_tables(const run::JobResult& result) {
  std::vector<Table> tables;
  for (const run::SetupResult& setup : result.setups) {
    if (setup.bridges.empty()) continue;
    Table out;
    out.title = "Bridges between the part and the rest after setup " + setup.name;
    out.columns = {"middle at (stock)",     "smallest section, mm²", "thickness, mm",
                   "strength in shear, kN", "times the peak force",  "last shaped by"};
    std::vector<run::BridgeResult> bridges = setup.bridges;
    std::stable_sort(bridges.begin(), bridges.end(),
                     [](const auto& a, const auto& b) { return a.area_mm2 < b.area_mm2; });
    for (const run::BridgeResult& b : bridges) {
      out.rows.push_back(
          {fmt::format("{:.1f}, {:.1f}, {:.1f}", b.at.x(), b.at.y(), b.at.z()),
           fmt::format("{:.1f}", b.area_mm2),
           b.thickness > 0 ? fmt::format("{:.2f}", b.thickness) : "-",
           b.stub_mm3 > 0 ? fmt::format("nothing: a stub of {:.0f} mm³", b.stub_mm3)
                          : fmt::format("{:.2f}", b.strength_n / 1000),
           b.times_peak > 0 ? fmt::format("{:.0f}", b.times_peak) : "-",
           b.line > 0 ? fmt::format("{}:{}", setup.program, b.line) : "an earlier setup"});
    }
    out.note = fmt::format(
        "Together {:.1f} kN{}. In shear only: a long thin bridge shakes and bends before it "
        "shears.",
        setup.holding.strength_n / 1000,
        setup.holding.times_peak > 0
            ? fmt::format(", {:.0f} times the peak force of {:.0f} N met while they hold",
                          setup.holding.times_peak, setup.holding.peak_force_n)
            : "");
    tables.push_back(std::move(out));
  }
  return tables;
}

std::vector<Table> quote_tables(const after::Quote& quote) {
  Table prices;
  prices.title = "Cost of one part, in the job's own currency";
  prices.columns = {"batch", "each"};
  for (const after::CostItem& item : after::cost_items()) prices.columns.emplace_back(item.title);
  for (const char* column :
       {"low to high", "machine, hours a batch", "operator, hours a batch", "most of it"})
    prices.columns.emplace_back(column);
  for (const after::BatchPrice& price : quote.prices) {
    std::vector<std::string>& row = prices.rows.emplace_back();
    row = {std::to_string(price.batch), money(price.terms.sum())};
    for (const double each : price.terms.money) row.push_back(money(each));
    row.push_back(fmt::format("{} to {}", money(price.low), money(price.high)));
    row.push_back(fmt::format("{:.1f}", price.hours));
    row.push_back(fmt::format("{:.1f}", price.attended_hours));
    row.push_back(price.dominating);
  }
  prices.note = fmt::format(
      "A part's programs take {:.1f} min, {:.1f} of them without a hand on the machine, and the "
      "operator {:.1f} min of changes by hand, handling and finishing; a fifth more machine time "
      "adds {} a part in "
      "the largest batch. Low to high: the price with both ends of the time. Times are simulated.",
      quote.machine_min, quote.unattended_min, quote.attended_min,
      money(quote.price_per_20_percent_time));
  Table wear;
  wear.title = "Wear of tools";
  wear.columns = {"tool", "minutes in the cut a part", "parts a tool"};
  for (const after::ToolWear& w : quote.wear)
    wear.rows.push_back(
        {fmt::format("T{}", w.number), fmt::format("{:.1f}", w.minutes_in_cut),
         w.parts_per_tool > 0 ? fmt::format("{:.0f}", w.parts_per_tool) : "life not given"});
  std::vector<Table> tables{std::move(prices)};
  if (!wear.rows.empty()) tables.push_back(std::move(wear));
  return tables;
}

}  // namespace proveout::page
