#include "report/page/build/page_of_result.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <set>

#include "parser/mesh/mesh.h"
#include "parser/nc/motion.h"
#include "report/json/result_json.h"
#include "report/page/build/finish_places.h"
#include "report/page/build/flip_seam.h"
#include "report/page/build/page_tables.h"
#include "report/page/build/page_words.h"
#include "report/page/build/part_field.h"
#include "report/page/build/piece_drawing.h"
#include "report/page/build/stability.h"
#include "report/page/build/stock_surface.h"
#include "report/page/build/surface_nets.h"
#include "report/picture/colours.h"
#include "sim/run/exact_after.h"
#include "sim/run/inputs.h"
#include "sim/solid/tool_body.h"

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

constexpr double length_quantum = 0.001;  // mm; half of it is the largest error of a drawn point
constexpr double surface_quantum = 0.005;
constexpr double time_quantum = 0.0005;  // s
constexpr std::size_t most_part_triangles = 100000;

Json point(const Vec3& p) { return {p[0], p[1], p[2]}; }

using Outline = std::vector<std::pair<double, double>>;

// Radius and height along a body's meridian; arcs as chords of six degrees at most.
void append(Outline& outline, const solid::Body& body) {
  for (const solid::ProfileSegment& piece : body.meridian) {
    if (outline.empty()) outline.emplace_back(piece.from.radius, piece.from.height);
    const auto angle = [&](const solid::ProfilePoint& p) {
      return std::atan2(p.height - piece.centre.height, p.radius - piece.centre.radius);
    };
    const double from = piece.is_arc ? angle(piece.from) : 0;
    const double turn = piece.is_arc ? angle(piece.to) - from : 0;
    const int chords = 1 + static_cast<int>(std::abs(turn) * deg_per_rad / 6);
    for (int k = 1; k < chords; ++k) {
      const double at = from + turn * k / chords;
      outline.emplace_back(piece.centre.radius + piece.arc_radius * std::cos(at),
                           piece.centre.height + piece.arc_radius * std::sin(at));
    }
    outline.emplace_back(piece.to.radius, piece.to.height);
  }
}

Json tool_json(const job::Tool& tool, const solid::ToolBody& body) {
  // The closing line back to the axis is no cutting edge.
  const auto open = [](Outline& outline) {
    while (outline.size() > 1 && outline.back().first <= 0) outline.pop_back();
  };
  Outline cutting;
  append(cutting, body.flutes);
  open(cutting);
  Outline all = cutting;
  for (const solid::Body& shank : body.shank) append(all, shank);
  open(all);
  return {{"number", tool.number},     {"name", tool.name}, {"diameter", tool.diameter},
          {"stickout", tool.stickout}, {"outline", all},    {"cutting_outline", cutting},
          {"holder", tool.holder}};
}

struct Load {
  const char* key;
  float run::MotionPeak::*of;
  double quantum;
};
constexpr Load loads[] = {{"axial_depth", &run::MotionPeak::axial_depth, 0.01},
                          {"radial_width", &run::MotionPeak::radial_width, 0.01},
                          {"engagement_deg", &run::MotionPeak::engagement_deg, 0.5},
                          {"removal_mm3_min", &run::MotionPeak::removal_mm3_min, 1},
                          {"chip_mm", &run::MotionPeak::chip_mm, 0.0005},
                          {"force_n", &run::MotionPeak::force_n, 0.1},
                          {"power_w", &run::MotionPeak::power_w, 0.1},
                          {"bend_mm", &run::MotionPeak::bend_mm, 0.0005}};

// The low and high ends of what is known of the material's forces.
constexpr Load bands[] = {{"force_low_n", &run::MotionPeak::force_low_n, 0.1},
                          {"force_high_n", &run::MotionPeak::force_high_n, 0.1},
                          {"power_low_w", &run::MotionPeak::power_low_w, 0.1},
                          {"power_high_w", &run::MotionPeak::power_high_w, 0.1}};

// result.json's peaks count what rapids run into; these are of cuts, as the strips draw them. line:
// of the largest force.
Json cut_peak_json(const run::SetupResult& setup, int tool) {
  run::ToolPeak peak;
  for (std::size_t m = 0; m < setup.peaks.size(); ++m) {
    const nc::Motion& motion = setup.source->motions[m];
    if (motion.kind == nc::PathKind::rapid || setup.source->states[motion.state].tool != tool)
      continue;
    const run::MotionPeak& here = setup.peaks[m];
    if (here.force_n > peak.worst.force_n) peak.line = motion.line;
    const auto raise = [&](const Load& load) {
      peak.worst.*load.of = std::max(peak.worst.*load.of, here.*load.of);
    };
    for (const Load& load : loads) raise(load);
    for (const Load& load : bands) raise(load);
  }
  Json json;
  for (const Load& load : loads) json[load.key] = json::rounded(peak.worst.*load.of);
  for (const Load& load : bands) json[load.key] = json::rounded(peak.worst.*load.of);
  json["line"] = peak.line;
  return json;
}

// What of a tool's use in a setup goes on the sheet: its speeds, its feeds, where it stands before
// its first cut (there a height can be measured), how low it goes, and what it clears.
Json use_json(const run::SetupResult& setup, const run::ToolResult& tool) {
  std::set<double> speeds, feeds;
  Json first_at = nullptr;
  double lowest = 1e300;
  for (const nc::Motion& motion : setup.source->motions) {
    const nc::ModalState& state = setup.source->states[motion.state];
    if (state.tool != tool.number) continue;
    if (state.turn != nc::SpindleTurn::stopped) speeds.insert(state.spindle_rpm);
    lowest = std::min(lowest, nc::bounds(motion).min().z());
    if (motion.kind == nc::PathKind::rapid) continue;
    feeds.insert(motion.feed);
    if (first_at.is_null()) first_at = point(motion.start);
  }
  return {{"speeds", speeds},
          {"feeds", feeds},
          {"peak", cut_peak_json(setup, tool.number)},
          {"first_at", first_at},
          {"lowest", lowest < 1e300 ? Json(lowest) : Json(nullptr)},
          {"clear_by", clearance::in_words(tool.clearance)}};
}

// Tools by number as the program takes them up; one may come back.
Json tool_order(const run::SetupResult& setup) {
  Json order = Json::array();
  for (const nc::Motion& motion : setup.source->motions) {
    const int tool = setup.source->states[motion.state].tool;
    if (order.empty() || order.back() != tool) order.push_back(tool);
  }
  return order;
}

Json motions_json(const run::SetupResult& setup, ColumnWriter& columns) {
  const std::vector<nc::Motion>& motions = setup.source->motions;
  const auto column = [&](int parts, double quantum, auto value) {
    return columns.add(motions.size(), parts, quantum, [&](std::size_t m, int part) -> double {
      return value(m, motions[m], part);
    });
  };
  const auto state = [&](double quantum, auto value) {
    return column(1, quantum, [&](std::size_t, const nc::Motion& motion, int) {
      return value(setup.source->states[motion.state]);
    });
  };
  // Of motions that an error kept from being timed or cut there is nothing.
  const auto timed = [&](double timing::TimedMotion::*of) {
    return column(1, time_quantum, [&](std::size_t m, const nc::Motion&, int) {
      return m < setup.plan.motions.size() ? setup.plan.motions[m].*of : 0;
    });
  };
  const auto arc = [](const nc::Motion& motion) { return motion.kind == nc::PathKind::arc; };
  using nc::Motion;
  Json json = {
      {"count", motions.size()},
      {"kind", column(1, 1, [](auto, const Motion& m, int) { return static_cast<int>(m.kind); })},
      {"plane", column(1, 1, [](auto, const Motion& m, int) { return static_cast<int>(m.plane); })},
      {"start", column(3, length_quantum, [](auto, const Motion& m, int a) { return m.start[a]; })},
      {"end", column(3, length_quantum, [](auto, const Motion& m, int a) { return m.end[a]; })},
      {"centre", column(3, length_quantum,
                        [&](auto, const Motion& m, int a) { return arc(m) ? m.centre[a] : 0; })},
      {"sweep", column(1, 1e-6, [&](auto, const Motion& m, int) { return arc(m) ? m.sweep : 0; })},
      {"file", column(1, 1, [](auto, const Motion& m, int) { return m.file; })},
      {"line", column(1, 1, [](auto, const Motion& m, int) { return m.line; })},
      {"tool", state(1, [](const nc::ModalState& s) { return std::max(0, s.tool); })},
      {"start_s", timed(&timing::TimedMotion::start_s)},
      {"time_s", timed(&timing::TimedMotion::time_s)},
      // From the plan itself: of a motion of a few milliseconds the rounded time would tell another
      // speed.
      {"speed", column(1, 1,
                       [&](std::size_t m, const Motion& motion, int) {
                         const double time =
                             m < setup.plan.motions.size() ? setup.plan.motions[m].time_s : 0;
                         return time > 0 ? 60 * nc::length(motion) / time : 0;
                       })},
      {"feed", column(1, 0.1, [](auto, const Motion& m, int) { return m.feed; })},
      {"rpm", state(1,
                    [](const nc::ModalState& s) {
                      return s.turn == nc::SpindleTurn::stopped ? 0 : s.spindle_rpm;
                    })},
      {"removed_mm3", column(1, 0.001, [&](std::size_t m, const Motion&, int) {
         return m < setup.cut.motions.size() ? setup.cut.motions[m].removed_mm3 : 0;
       })}};
  for (const Load& load : loads)
    json[load.key] = column(1, load.quantum, [&](std::size_t m, const Motion&, int) {
      return m < setup.peaks.size() ? setup.peaks[m].*load.of : 0;
    });
  json["sense"] = column(1, 1, [&](std::size_t m, const Motion&, int) {
    return m < setup.peaks.size() ? setup.peaks[m].sense : 0;
  });
  return json;
}

// Adds files and inches.
void add_files(Json& json, const run::SetupResult& setup, const run::SetupInputs& inputs,
               ColumnWriter& columns) {
  Json& files = json["files"] = Json::array();
  bool inches = false;
  for (std::size_t f = 0; f < inputs.texts.size(); ++f) {
    const std::string& text = *inputs.texts[f];
    inches = inches || asks_for_inches(text);
    files.push_back({{"name", f == 0 ? setup.program : setup.source->files[f]},
                     {"text", columns.add_text(text)}});
  }
  json["inches"] = inches;
}

Json surface_json(const Surface& surface, ColumnWriter& columns) {
  if (surface.empty()) return nullptr;
  return {{"vertices", columns.add(surface.vertices, 3, surface_quantum)},
          {"triangles", columns.add(surface.triangles, 3, 1)},
          {"made_by", columns.add(surface.made_by, 1, 1)},
          {"deviation", surface.deviation.empty()
                            ? Json(nullptr)
                            : columns.add(surface.deviation, 1, surface_quantum)}};
}

Json mesh_json(const mesh::Mesh& mesh, ColumnWriter& columns) {
  return {
      {"vertices", columns.add(mesh.vertices.size(), 3, surface_quantum,
                               [&](std::size_t i, int axis) { return mesh.vertices[i][axis]; })},
      {"triangles", columns.add(mesh.triangles.size(), 3, 1, [&](std::size_t i, int corner) {
         return mesh.triangles[i][corner];
       })}};
}

Json mesh_json(const Surface& surface, ColumnWriter& columns) {
  return {{"vertices", columns.add(surface.vertices, 3, surface_quantum)},
          {"triangles", columns.add(surface.triangles, 3, 1)}};
}

// What result.json does not say of a setup.
Json setup_json(const run::SetupResult& setup, const job::Setup& asked,
                const run::SetupInputs& inputs, ColumnWriter& columns) {
  Json fixtures = Json::array(), tools = Json::array(), turns = Json::array();
  for (const run::FixtureShape& fixture : inputs.fixtures)
    fixtures.push_back(
        {{"name", fixture.name},
         {"low", point(fixture.box.min())},
         {"high", point(fixture.box.max())},
         {"mesh", fixture.mesh ? mesh_json(fixture.mesh->mesh(), columns) : Json(nullptr)}});
  for (const run::ToolResult& tool : setup.tools) tools.push_back(use_json(setup, tool));
  for (const job::Turn& turn : asked.turn)
    turns.push_back({{"about", std::string(1, "xyz"[static_cast<int>(turn.about)])},
                     {"degrees", turn.degrees}});
  Json json = {{"turns", turns},
               {"located_by", located_in_words(asked.located_by)},
               {"first_id", setup.first_id},
               {"tools", tools},
               {"tool_order", tool_order(setup)},
               {"fixtures", fixtures},
               {"motions", motions_json(setup, columns)},
               {"before", nullptr}};
  add_files(json, setup, inputs, columns);
  return json;
}

// A blank of its own shape, as it stands before the first setup.
Surface surface_of(const mesh::Mesh& mesh) {
  Surface surface;
  for (const Vec3& v : mesh.vertices)
    for (int a = 0; a < 3; ++a) surface.vertices.push_back(static_cast<float>(v[a]));
  for (const auto& triangle : mesh.triangles)
    surface.triangles.insert(surface.triangles.end(), triangle.begin(), triangle.end());
  surface.made_by.assign(mesh.vertices.size(), 0);
  return surface;
}

void add_part(Json& about, ColumnWriter& columns, const job::Part& part,
              const solid::PartDistance& distance) {
  const double end = picture::deviation_end(part), grey = picture::deviation_grey_ends * end;
  about["deviation_end"] = end;
  about["deviation_grey"] = grey;
  about["tolerance"] = {{"gouge", part.gouge_tolerance}, {"excess", part.excess_tolerance}};
  const Lattice field = part_field(distance, grey);
  about["part_field"] = {{"origin", point(field.origin)},
                         {"step", field.step},
                         {"count", field.count},
                         {"values", columns.add(field.values, 1, surface_quantum)}};
  // The part itself, to be seen over the stock: as it was given, or where that is more than a page
  // should carry as the lattice has it, its edges rounded.
  const mesh::Mesh& mesh = distance.mesh();
  const bool whole = mesh.triangles.size() <= most_part_triangles;
  about["part_mesh"] =
      whole ? mesh_json(mesh, columns) : mesh_json(surface_nets(field).surface, columns);
  about["part_mesh"]["within"] = whole ? 0.0 : field.step;
}

}  // namespace

PageData page_of_result(const run::JobResult& result, std::size_t most_vertices) {
  PageData page;
  Json& about = page.about;
  add_words(about, result);
  Json& figures = about["result"] = json::result_json(result);
  for (const char* key : {"run", "flips"}) figures.erase(key);
  const run::Inputs& inputs = *result.inputs;
  about["stock_size"] = point(inputs.blank.max());
  const solid::PartDistance* const part = run::part_of(result);
  if (part) add_part(about, page.columns, *result.job.part, *part);
  if (result.finish) about["finish_places"] = finish_places(*result.finish, page.columns);
  Json& tools = about["tools"] = Json::array();
  for (const job::Tool& tool : result.job.tools)
    tools.push_back(tool_json(tool, inputs.bodies.at(tool.number)));
  Json& setups = about["setups"] = Json::array();
  const stock::Stock* before = nullptr;
  std::optional<solid::FaceTree> blank_mesh;
  if (inputs.blank_mesh) blank_mesh.emplace(*inputs.blank_mesh);
  const stock::BlankShape blank{inputs.blank, blank_mesh ? &*blank_mesh : nullptr};
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    const run::SetupResult& from = result.setups[s];
    Json setup = setup_json(from, result.job.setups[s], inputs.setups[s], page.columns);
    if (s == 0 && inputs.blank_mesh)
      setup["before"] = surface_json(surface_of(*inputs.blank_mesh), page.columns);
    setup["drawing"] = before ? piece_drawing(*before, from.stock_from_setup) : Json(nullptr);
    before = s < result.stock_after.size() ? result.stock_after[s].get() : nullptr;
    if (before == nullptr && s + 1 == result.setups.size()) before = result.stock.get();
    setup["after"] = nullptr;
    if (before != nullptr) {
      const auto exact = run::exact_after(result, s + 1, blank, inputs.bodies, blank.box);
      setup["after"] =
          surface_json(stock_surface(*before, part, most_vertices, exact.get()), page.columns);
    }
    setups.push_back(std::move(setup));
  }
  about["stability"] = stability_charts(result);
  about["flip"] = flip_seam(result);
  about["holding"] = holding_tables(result);
  return page;
}

}  // namespace proveout::page
