#include "report/page/build/page_of_result.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "parser/job/tool_shape.h"
#include "parser/mesh/mesh.h"
#include "report/page/build/flip_seam.h"
#include "report/page/build/page_tables.h"
#include "report/page/build/page_words.h"
#include "report/page/build/stability.h"
#include "report/page/build/stock_surface.h"
#include "report/picture/colours.h"
#include "sim/run/inputs.h"
#include "sim/solid/tool_body.h"

namespace proveout::page {
namespace {

void append(std::vector<double>& column, const Vec3& p) {
  for (int a = 0; a < 3; ++a) column.push_back(p[a]);
}

Point point(const Vec3& p) { return {p[0], p[1], p[2]}; }

// Radius and height along a body's meridian; arcs as chords of six degrees at most.
void append(std::vector<std::pair<double, double>>& outline, const solid::Body& body) {
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

Tool tool_of(const job::Tool& given, const solid::ToolBody& body) {
  Tool tool;
  tool.number = given.number;
  tool.name = given.name;
  tool.shape = std::string(job::info(given.shape).words);
  tool.diameter = given.diameter;
  tool.stickout = given.stickout;
  tool.flute_length = given.flute_length;
  tool.flutes = given.flutes;
  append(tool.cutting_outline, body.flutes);
  // The closing line back to the axis is no cutting edge.
  while (tool.cutting_outline.size() > 1 && tool.cutting_outline.back().first <= 0)
    tool.cutting_outline.pop_back();
  tool.outline = tool.cutting_outline;
  for (const solid::Body& shank : body.shank) append(tool.outline, shank);
  while (tool.outline.size() > 1 && tool.outline.back().first <= 0) tool.outline.pop_back();
  tool.holder = given.holder;
  return tool;
}

std::string speeds_in_words(const run::SetupResult& setup, int number) {
  std::set<double> speeds;
  for (const nc::ModalState& state : setup.source->states)
    if (state.tool == number && state.turn != nc::SpindleTurn::stopped)
      speeds.insert(state.spindle_rpm);
  std::string words;
  for (const double rpm : speeds) words += fmt::format("{}{:g}", words.empty() ? "" : ", ", rpm);
  return words;
}

ToolRow row_of(const run::SetupResult& setup, const run::ToolResult& from) {
  ToolRow row;
  row.number = from.number;
  row.time_s = from.time_s();
  row.feed_s = from.feed_s;
  row.rapid_s = from.rapid_s;
  row.dwell_s = from.dwell_s;
  row.change_s = from.change_s;
  row.spin_up_s = from.spin_up_s;
  row.air_s = from.air_s;
  row.feed_mm = from.feed_mm;
  row.rapid_mm = from.rapid_mm;
  row.moves = from.moves;
  row.removed_mm3 = from.removed_mm3;
  const run::MotionPeak& worst = from.peak.worst;
  row.peak_axial_depth = worst.axial_depth;
  row.peak_radial_width = worst.radial_width;
  row.peak_engagement_deg = worst.engagement_deg;
  row.peak_removal_mm3_min = worst.removal_mm3_min;
  row.peak_chip_mm = worst.chip_mm;
  row.peak_force_n = worst.force_n;
  row.peak_power_w = worst.power_w;
  row.peak_bend_mm = worst.bend_mm;
  row.force_band_n = {worst.force_low_n, worst.force_high_n};
  row.power_band_w = {worst.power_low_w, worst.power_high_w};
  row.peak_line = from.peak.line;
  row.reach_used = from.reach_used;
  row.stickout_needed = from.stickout_needed;
  row.clear_by = clearance::in_words(from.clearance);
  row.speeds = speeds_in_words(setup, from.number);
  return row;
}

Motions motions_of(const run::SetupResult& setup) {
  Motions out;
  const std::vector<nc::Motion>& motions = setup.source->motions;
  for (std::size_t m = 0; m < motions.size(); ++m) {
    const nc::Motion& motion = motions[m];
    const nc::ModalState& state = setup.source->states[motion.state];
    out.kind.push_back(static_cast<std::uint8_t>(motion.kind));
    out.plane.push_back(static_cast<std::uint8_t>(motion.plane));
    append(out.start, motion.start);
    append(out.end, motion.end);
    append(out.centre, motion.kind == nc::PathKind::arc ? motion.centre : Vec3(Vec3::Zero()));
    out.sweep.push_back(motion.kind == nc::PathKind::arc ? motion.sweep : 0);
    out.file.push_back(motion.file);
    out.line.push_back(motion.line);
    out.tool.push_back(static_cast<std::uint32_t>(std::max(0, state.tool)));
    const bool timed = m < setup.plan.motions.size();
    out.start_s.push_back(timed ? setup.plan.motions[m].start_s : 0);
    out.time_s.push_back(timed ? setup.plan.motions[m].time_s : 0);
    out.feed.push_back(motion.feed);
    out.rpm.push_back(state.turn == nc::SpindleTurn::stopped ? 0 : state.spindle_rpm);
    out.removed_mm3.push_back(m < setup.cut.motions.size() ? setup.cut.motions[m].removed_mm3 : 0);
    const run::MotionPeak peak = m < setup.peaks.size() ? setup.peaks[m] : run::MotionPeak{};
    out.axial_depth.push_back(peak.axial_depth);
    out.radial_width.push_back(peak.radial_width);
    out.engagement_deg.push_back(peak.engagement_deg);
    out.removal_mm3_min.push_back(peak.removal_mm3_min);
    out.chip_mm.push_back(peak.chip_mm);
    out.force_n.push_back(peak.force_n);
    out.power_w.push_back(peak.power_w);
    out.bend_mm.push_back(peak.bend_mm);
    out.sense.push_back(peak.sense);
  }
  return out;
}

std::vector<SourceFile> files_of(const run::SetupResult& setup, const run::SetupInputs& inputs) {
  std::vector<SourceFile> files;
  for (std::size_t f = 0; f < inputs.texts.size(); ++f)
    files.push_back({f == 0 ? setup.program : setup.source->files[f], *inputs.texts[f]});
  return files;
}

Setup setup_of(const run::SetupResult& from, const job::Setup& asked,
               const run::SetupInputs& inputs) {
  Setup setup;
  setup.name = from.name;
  setup.program = from.program;
  setup.zero_in_words = from.zero_in_words;
  setup.turn_in_words = turns_in_words(asked.turn);
  setup.located_by = located_in_words(asked.located_by);
  setup.zero_in_stock = point(from.zero_in_stock);
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 4; ++c)
      setup.stock_from_setup[4 * r + c] = from.stock_from_setup.matrix()(r, c);
  setup.time_s = from.time_s;
  setup.naive_s = from.plan.naive_s;
  setup.removed_mm3 = from.removed_mm3;
  setup.stock_left_mm3 = from.stock_left_mm3;
  for (const run::ToolResult& tool : from.tools) setup.tools.push_back(row_of(from, tool));
  setup.first_id = from.first_id;
  setup.motions = motions_of(from);
  setup.files = files_of(from, inputs);
  for (const job::Fixture& fixture : asked.fixtures)
    if (fixture.box)
      setup.fixtures.push_back(
          {fixture.name, point(fixture.box->min()), point(fixture.box->max())});
  return setup;
}

// The motion of the finding's line that comes nearest to its place.
std::int64_t motion_of(const Finding& finding, const run::SetupResult& setup, const Vec3& at) {
  std::int64_t best = -1;
  double nearest = 1e300;
  if (finding.line == 0) return best;
  const std::vector<nc::Motion>& motions = setup.source->motions;
  for (std::size_t m = 0; m < motions.size(); ++m) {
    if (motions[m].line != finding.line) continue;
    const std::string& file = setup.source->files[motions[m].file];
    if (motions[m].file != 0 && file != finding.file) continue;
    const double away = bounds(motions[m]).squaredExteriorDistance(at);
    if (away < nearest) {
      nearest = away;
      best = static_cast<std::int64_t>(m);
    }
  }
  return best;
}

Finding finding_of(const proveout::Finding& from, const run::JobResult& result) {
  Finding finding;
  finding.kind = name(from.kind);
  finding.level = name(from.level);
  finding.tool = from.tool;
  finding.file = from.file;
  finding.line = from.line;
  finding.at = point(from.at);
  finding.value = from.value;
  finding.limit = from.limit;
  finding.unit = from.unit;
  finding.text = from.text;
  finding.detail = from.detail;
  finding.count = from.count;
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    if (result.setups[s].name != from.setup) continue;
    finding.setup = static_cast<int>(s);
    finding.motion = motion_of(finding, result.setups[s], from.at);
  }
  return finding;
}

void add_surfaces(PageData& page, const run::JobResult& result, std::size_t most_vertices) {
  const solid::PartDistance* const part = run::part_of(result);
  for (std::size_t s = 0; s < page.setups.size(); ++s) {
    const stock::Stock* stock =
        s < result.stock_after.size() ? result.stock_after[s].get() : nullptr;
    if (stock == nullptr && s + 1 == page.setups.size()) stock = result.stock.get();
    if (stock == nullptr) continue;
    // Only the last setup leaves what should be the part.
    const bool last = s + 1 == page.setups.size();
    page.setups[s].after = stock_surface(*stock, last ? part : nullptr, most_vertices);
  }
}

// A blank of its own shape, as it stands before the first setup.
void add_blank(PageData& page, const std::optional<mesh::Mesh>& mesh) {
  if (!mesh || page.setups.empty()) return;
  Surface& blank = page.setups.front().before;
  for (const Vec3& v : mesh->vertices)
    for (int a = 0; a < 3; ++a) blank.vertices.push_back(static_cast<float>(v[a]));
  for (const auto& triangle : mesh->triangles)
    blank.triangles.insert(blank.triangles.end(), triangle.begin(), triangle.end());
  blank.made_by.assign(mesh->vertices.size(), 0);
}

}  // namespace

PageData page_of_result(const run::JobResult& result, std::size_t most_vertices) {
  PageData page;
  add_words(page, result);
  page.stock_size = point(result.inputs->blank.max());
  page.stock_is_box = result.job.stock.mesh.empty();
  page.voxel = result.voxel;
  if (result.job.part) {
    page.deviation_end = picture::deviation_end(*result.job.part);
    page.deviation_grey = picture::deviation_grey_ends * page.deviation_end;
  }
  for (const job::Tool& tool : result.job.tools)
    page.tools.push_back(tool_of(tool, result.inputs->bodies.at(tool.number)));
  for (std::size_t s = 0; s < result.setups.size(); ++s)
    page.setups.push_back(
        setup_of(result.setups[s], result.job.setups[s], result.inputs->setups[s]));
  add_surfaces(page, result, most_vertices);
  add_blank(page, result.inputs->blank_mesh);
  for (const proveout::Finding& finding : result.findings)
    page.findings.push_back(finding_of(finding, result));
  page.stability = stability_charts(result);
  page.flip = flip_seam(result);
  page.holding = holding_tables(result);
  return page;
}

}  // namespace proveout::page
