#include "report/page/data/page_json.h"

#include <nlohmann/json.hpp>

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

constexpr double length_quantum = 0.001;  // mm; half of it is the largest error of a drawn point
constexpr double surface_quantum = 0.005;
constexpr double time_quantum = 0.0005;  // s

std::string text(const std::string& value) { return valid_utf8(value); }

template <typename T>
std::span<const T> view(const std::vector<T>& values) {
  return values;
}

Json said(const std::vector<Said>& list) {
  Json out = Json::array();
  for (const Said& item : list) out.push_back({{"what", text(item.what)}, {"why", text(item.why)}});
  return out;
}

Json facts(const std::vector<Fact>& list) {
  Json out = Json::array();
  for (const Fact& fact : list)
    out.push_back({{"label", text(fact.label)}, {"value", text(fact.value)}});
  return out;
}

Json texts(const std::vector<std::string>& list) {
  Json out = Json::array();
  for (const std::string& item : list) out.push_back(text(item));
  return out;
}

Json tool_json(const Tool& tool) {
  return {{"number", tool.number},
          {"name", text(tool.name)},
          {"shape", text(tool.shape)},
          {"diameter", tool.diameter},
          {"stickout", tool.stickout},
          {"flute_length", tool.flute_length},
          {"flutes", tool.flutes},
          {"outline", tool.outline},
          {"cutting_outline", tool.cutting_outline},
          {"holder", tool.holder}};
}

Json row_json(const ToolRow& row) {
  return {{"number", row.number},
          {"time_s", row.time_s},
          {"feed_s", row.feed_s},
          {"rapid_s", row.rapid_s},
          {"dwell_s", row.dwell_s},
          {"change_s", row.change_s},
          {"spin_up_s", row.spin_up_s},
          {"air_s", row.air_s},
          {"feed_mm", row.feed_mm},
          {"rapid_mm", row.rapid_mm},
          {"moves", row.moves},
          {"removed_mm3", row.removed_mm3},
          {"peak",
           {{"axial_depth", row.peak_axial_depth},
            {"radial_width", row.peak_radial_width},
            {"engagement_deg", row.peak_engagement_deg},
            {"removal_mm3_min", row.peak_removal_mm3_min},
            {"chip_mm", row.peak_chip_mm},
            {"force_n", row.peak_force_n},
            {"power_w", row.peak_power_w},
            {"bend_mm", row.peak_bend_mm},
            {"force_band_n", row.force_band_n},
            {"power_band_w", row.power_band_w},
            {"line", row.peak_line}}},
          {"reach_used", row.reach_used},
          {"stickout_needed", row.stickout_needed},
          {"clear_by", text(row.clear_by)},
          {"speeds", text(row.speeds)}};
}

Json motions_json(const Motions& motions, ColumnWriter& columns) {
  return {{"count", motions.size()},
          {"kind", columns.add(view(motions.kind), 1, 1)},
          {"plane", columns.add(view(motions.plane), 1, 1)},
          {"start", columns.add(view(motions.start), 3, length_quantum)},
          {"end", columns.add(view(motions.end), 3, length_quantum)},
          {"centre", columns.add(view(motions.centre), 3, length_quantum)},
          {"sweep", columns.add(view(motions.sweep), 1, 1e-6)},
          {"file", columns.add(view(motions.file), 1, 1)},
          {"line", columns.add(view(motions.line), 1, 1)},
          {"tool", columns.add(view(motions.tool), 1, 1)},
          {"start_s", columns.add(view(motions.start_s), 1, time_quantum)},
          {"time_s", columns.add(view(motions.time_s), 1, time_quantum)},
          {"feed", columns.add(view(motions.feed), 1, 0.1)},
          {"rpm", columns.add(view(motions.rpm), 1, 1)},
          {"removed_mm3", columns.add(view(motions.removed_mm3), 1, 0.001)},
          {"axial_depth", columns.add(view(motions.axial_depth), 1, 0.01)},
          {"radial_width", columns.add(view(motions.radial_width), 1, 0.01)},
          {"engagement_deg", columns.add(view(motions.engagement_deg), 1, 0.5)},
          {"removal_mm3_min", columns.add(view(motions.removal_mm3_min), 1, 1)},
          {"chip_mm", columns.add(view(motions.chip_mm), 1, 0.0005)},
          {"force_n", columns.add(view(motions.force_n), 1, 0.1)},
          {"power_w", columns.add(view(motions.power_w), 1, 0.1)},
          {"bend_mm", columns.add(view(motions.bend_mm), 1, 0.0005)},
          {"sense", columns.add(view(motions.sense), 1, 1)}};
}

Json surface_json(const Surface& surface, ColumnWriter& columns) {
  if (surface.empty()) return nullptr;
  return {{"vertices", columns.add(view(surface.vertices), 3, surface_quantum)},
          {"triangles", columns.add(view(surface.triangles), 3, 1)},
          {"made_by", columns.add(view(surface.made_by), 1, 1)},
          {"deviation", surface.deviation.empty()
                            ? Json(nullptr)
                            : columns.add(view(surface.deviation), 1, surface_quantum)}};
}

Json setup_json(const Setup& setup, ColumnWriter& columns) {
  Json rows = Json::array(), files = Json::array(), fixtures = Json::array();
  for (const ToolRow& row : setup.tools) rows.push_back(row_json(row));
  for (const SourceFile& file : setup.files)
    files.push_back({{"name", text(file.name)}, {"text", columns.add_text(text(file.text))}});
  for (const FixtureBox& box : setup.fixtures)
    fixtures.push_back({{"name", text(box.name)}, {"low", box.low}, {"high", box.high}});
  return {{"name", text(setup.name)},
          {"program", text(setup.program)},
          {"zero_in_words", text(setup.zero_in_words)},
          {"turn_in_words", text(setup.turn_in_words)},
          {"located_by", text(setup.located_by)},
          {"zero_in_stock", setup.zero_in_stock},
          {"stock_from_setup", setup.stock_from_setup},
          {"time_s", setup.time_s},
          {"naive_s", setup.naive_s},
          {"removed_mm3", setup.removed_mm3},
          {"stock_left_mm3", setup.stock_left_mm3},
          {"first_id", setup.first_id},
          {"tools", rows},
          {"files", files},
          {"fixtures", fixtures},
          {"motions", motions_json(setup.motions, columns)},
          {"before", surface_json(setup.before, columns)},
          {"after", surface_json(setup.after, columns)}};
}

Json finding_json(const Finding& finding) {
  return {{"kind", text(finding.kind)}, {"level", text(finding.level)},
          {"setup", finding.setup},     {"tool", finding.tool},
          {"file", text(finding.file)}, {"line", finding.line},
          {"at", finding.at},           {"value", finding.value},
          {"limit", finding.limit},     {"unit", text(finding.unit)},
          {"text", text(finding.text)}, {"detail", text(finding.detail)},
          {"count", finding.count},     {"motion", finding.motion}};
}

Json comparison_json(const Comparison& table) {
  Json rows = Json::array();
  for (const auto& row : table.rows) rows.push_back(texts(row));
  return {{"title", text(table.title)},
          {"note", text(table.note)},
          {"columns", texts(table.columns)},
          {"rows", rows}};
}

}  // namespace

nlohmann::ordered_json page_json(const PageData& data, ColumnWriter& columns) {
  Json out = {{"title", text(data.title)},
              {"verdict", text(data.verdict)},
              {"version", text(data.version)},
              {"errors", data.errors},
              {"warnings", data.warnings},
              {"notes", data.notes},
              {"facts", facts(data.facts)},
              {"checked", said(data.checked)},
              {"not_checked", said(data.not_checked)},
              {"assumed", said(data.assumed)},
              {"cautions", texts(data.cautions)},
              {"by_hand", texts(data.by_hand)},
              {"stock_size", data.stock_size},
              {"stock_is_box", data.stock_is_box},
              {"voxel", data.voxel},
              {"deviation_end", data.deviation_end},
              {"deviation_grey", data.deviation_grey}};
  const auto list = [&](const char* key, const auto& items, auto&& convert) {
    Json& array = out[key] = Json::array();
    for (const auto& item : items) array.push_back(convert(item));
  };
  list("tools", data.tools, tool_json);
  list("setups", data.setups, [&](const Setup& setup) { return setup_json(setup, columns); });
  list("findings", data.findings, finding_json);
  list("stability", data.stability, [](const StabilityChart& chart) {
    return Json{{"title", text(chart.title)},
                {"rpm", chart.rpm},
                {"limit_depth", chart.limit_depth},
                {"used", chart.used},
                {"note", text(chart.note)}};
  });
  if (data.flip)
    out["flip"] = {{"text", text(data.flip->text)},
                   {"facts", facts(data.flip->facts)},
                   {"seam", data.flip->seam},
                   {"outward", data.flip->outward}};
  list("comparisons", data.comparisons, comparison_json);
  list("holding", data.holding, comparison_json);
  list("quote", data.quote, comparison_json);
  return out;
}

}  // namespace proveout::page
