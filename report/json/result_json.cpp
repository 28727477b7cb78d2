#include "report/json/result_json.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "report/json/finish_json.h"
#include "report/json/flip_json.h"
#include "report/json/time_use_json.h"
#include "sim/after/mass_change.h"
#include "sim/checks/what_to_do.h"
#include "sim/run/inputs.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

Json point(const Vec3& p) { return {rounded(p.x()), rounded(p.y()), rounded(p.z())}; }

Json peak_json(const run::ToolPeak& peak) {
  const run::MotionPeak& w = peak.worst;
  return {{"axial_depth", rounded(w.axial_depth)},
          {"radial_width", rounded(w.radial_width)},
          {"engagement_deg", rounded(w.engagement_deg)},
          {"removal_mm3_min", rounded(w.removal_mm3_min)},
          {"chip_mm", rounded(w.chip_mm)},
          {"force_n", rounded(w.force_n)},
          {"power_w", rounded(w.power_w)},
          {"bend_mm", rounded(w.bend_mm)},
          {"force_band_n", {rounded(w.force_low_n), rounded(w.force_high_n)}},
          {"power_band_w", {rounded(w.power_low_w), rounded(w.power_high_w)}},
          {"line", peak.line}};
}

Json slow_json(const run::ToolResult& t) {
  Json by = Json::object();
  for (int i = 0; i < timing::slowed_by_count; ++i) {
    if (t.slow_by_s[i] > 0)
      by[timing::name(static_cast<timing::SlowedBy>(i))] = rounded(t.slow_by_s[i]);
  }
  return by;
}

// Bodies that meet nothing (no holder, no fixtures) are left out.
Json clearance_json(const run::ToolResult& t, const run::SetupResult& s) {
  Json out = Json::object(), rows = Json::array();
  clearance::Nearest worst;
  for (int m = 0; m < clearance::movers; ++m) {
    const auto mover = static_cast<clearance::Mover>(m);
    const clearance::Nearest least = t.clearance.worst(mover);
    if (!least.found()) continue;
    out[clearance::name(mover)] = rounded(least.mm);
    if (least.mm < worst.mm) worst = least;
    for (int o = 0; o < clearance::obstacles; ++o) {
      for (const bool rapid : {false, true}) {
        const auto obstacle = static_cast<clearance::Obstacle>(o);
        const clearance::Nearest& n = t.clearance.of(mover, obstacle, rapid);
        if (!n.found()) continue;
        Json row = {{"body", clearance::name(mover)},
                    {"to", clearance::name(obstacle)},
                    {"motion", rapid ? "rapid" : "feed"},
                    {"mm", rounded(n.mm)},
                    {"line", n.line},
                    {"tip", point(n.tip)}};
        if (n.fixture >= 0) row["fixture"] = s.fixture_names[static_cast<std::size_t>(n.fixture)];
        rows.push_back(row);
      }
    }
  }
  out["line"] = worst.line;
  out["within_mm"] = rounded(s.clearance_within_mm);
  out["rows"] = rows;
  return out;
}

Json tool_json(const run::ToolResult& t, const run::SetupResult& s) {
  return {{"number", t.number},
          {"name", t.name},
          {"time_s", rounded(t.time_s())},
          {"feed_s", rounded(t.feed_s)},
          {"rapid_s", rounded(t.rapid_s)},
          {"dwell_s", rounded(t.dwell_s)},
          {"change_s", rounded(t.change_s)},
          {"spin_up_s", rounded(t.spin_up_s)},
          {"air_s", rounded(t.air_s)},
          {"naive_s", rounded(t.naive_s)},
          {"slow_s", rounded(t.slow_s)},
          {"slow_by_s", slow_json(t)},
          {"feed_mm", rounded(t.feed_mm)},
          {"rapid_mm", rounded(t.rapid_mm)},
          {"moves", t.moves},
          {"removed_mm3", rounded(t.removed_mm3)},
          {"energy_j", rounded(t.energy_j)},
          {"peak", peak_json(t.peak)},
          {"reach_used", rounded(t.reach_used)},
          {"stickout", rounded(t.stickout)},
          {"stickout_needed", rounded(t.stickout_needed)},
          {"clearance", clearance_json(t, s)}};
}

Json bridge_json(const run::BridgeResult& b) {
  return {{"at", point(b.at)},
          {"axis", point(b.axis)},
          {"area_mm2", rounded(b.area_mm2)},
          {"thickness", rounded(b.thickness)},
          {"line", b.line},
          {"strength_n", rounded(b.strength_n)},
          {"times_peak", rounded(b.times_peak)},
          {"stub_mm3", rounded(b.stub_mm3)}};
}

// Bridges of all setups in one list, each with the setup after which it was measured.
Json bridges_json(const run::JobResult& result) {
  Json out = Json::array();
  for (const auto& s : result.setups) {
    for (const auto& b : s.bridges) {
      Json one = {{"setup", s.name}};
      one.update(bridge_json(b));
      out.push_back(std::move(one));
    }
  }
  return out;
}

Json setup_json(const run::SetupResult& s) {
  Json tools = Json::array();
  for (const auto& t : s.tools) tools.push_back(tool_json(t, s));
  Json pieces = Json::array();
  for (double v : s.pieces_mm3) pieces.push_back(rounded(v));
  Json pose = Json::array();
  for (int row = 0; row < 3; ++row) {
    Json line = Json::array();
    for (int column = 0; column < 4; ++column) {
      line.push_back(rounded(s.stock_from_setup.matrix()(row, column)));
    }
    pose.push_back(line);
  }
  return {{"name", s.name},
          {"program", s.program},
          {"time_s", rounded(s.time_s)},
          {"time_low_s", rounded(s.time_low_s)},
          {"time_high_s", rounded(s.time_high_s)},
          {"removed_mm3", rounded(s.removed_mm3)},
          {"stock_left_mm3", rounded(s.stock_left_mm3)},
          {"zero_in_stock", point(s.zero_in_stock)},
          {"zero_in_words", s.zero_in_words},
          {"zero_touches",
           {{"text", s.zero_touch.text},
            {"from_low", point(s.zero_touch.from_low)},
            {"on_material", s.zero_touch.on_material},
            {"surface", rounded(s.zero_touch.surface)}}},
          {"stock_from_setup", pose},
          {"pieces_mm3", pieces},
          {"holding",
           {{"strength_n", rounded(s.holding.strength_n)},
            {"peak_force_n", rounded(s.holding.peak_force_n)},
            {"times_peak", rounded(s.holding.times_peak)}}},
          {"tools", tools}};
}

Json trial_json(const run::ZeroTrial& t) {
  return {{"zero", t.words},
          {"zero_in_stock", point(t.stock_from_setup.translation())},
          {"useful_mm3", rounded(t.useful_mm3)},
          {"gouged_mm3", rounded(t.gouged_mm3)},
          {"rapid_mm3", rounded(t.rapid_mm3)},
          {"below", rounded(t.below)}};
}

Json zero_search_json(const run::ZeroSearch& s) {
  Json fits = Json::array();
  for (const auto& t : s.fits) fits.push_back(trial_json(t));
  return {{"setup", s.setup}, {"why", s.why},
          {"text", s.text},   {"voxel", rounded(s.voxel)},
          {"tried", s.tried}, {"declared", trial_json(s.declared)},
          {"fits", fits}};
}

Json mass_faces_json(const run::JobResult& result) {
  Json out = Json::array();
  for (const after::MassFace& f : after::mass_faces(result)) {
    out.push_back({{"kind", after::name(f.kind)},
                   {"at", point(f.at)},
                   {"normal", point(f.normal)},
                   {"area_mm2", rounded(f.area_mm2)},
                   {"depth", rounded(f.depth)},
                   {"web", rounded(f.web)},
                   {"room", rounded(f.room)},
                   {"g_per_mm", rounded(f.g_per_mm)},
                   {"mm", rounded(f.mm)},
                   {"web_after", rounded(f.web_after)},
                   {"within_reach", f.within_reach}});
  }
  return out;
}

Json target_json(const run::JobResult& result) {
  const run::MassTarget& t = result.part.target;
  Json pockets = Json::array(), bores = Json::array(), inserts = Json::array();
  for (const auto& b : t.bores) {
    bores.push_back({{"setup", b.setup},
                     {"at", point(b.at)},
                     {"diameter", rounded(b.diameter)},
                     {"depth", rounded(b.depth)}});
  }
  for (const auto& p : t.pockets) {
    pockets.push_back({{"setup", p.setup},
                       {"at", point(p.at)},
                       {"volume_mm3", rounded(p.volume_mm3)},
                       {"depth", rounded(p.depth)},
                       {"area_mm2", rounded(p.area_mm2)},
                       {"plug_diameter", rounded(p.plug_diameter)}});
  }
  for (const auto& i : t.inserts) {
    inserts.push_back({{"material", i.material},
                       {"density_g_cm3", rounded(i.density_g_cm3)},
                       {"source", i.source},
                       {"added_mm3", rounded(i.added_mm3)},
                       {"replaced_mm3", rounded(i.replaced_mm3)},
                       {"pocket", i.pocket},
                       {"plug_diameter", rounded(i.plug_diameter)},
                       {"plug_height", rounded(i.plug_height)}});
  }
  return {{"target_g", rounded(t.target_g)},
          {"missing_g", rounded(t.missing_g)},
          {"pockets", pockets},
          {"bores", bores},
          {"inserts", inserts},
          {"faces", mass_faces_json(result)}};
}

Json matrix(const Eigen::Matrix3d& m) {
  Json out = Json::array();
  for (int row = 0; row < 3; ++row)
    out.push_back({rounded(m(row, 0)), rounded(m(row, 1)), rounded(m(row, 2))});
  return out;
}

Json part_json(const run::JobResult& result) {
  const run::PartResult& p = result.part;
  return {{"compared", p.compared},
          {"volume_mm3", rounded(p.volume_mm3)},
          {"mass_g", rounded(p.mass_g)},
          {"centre", point(p.centre)},
          {"inertia_g_mm2", matrix(p.inertia_g_mm2)},
          {"mesh_volume_mm3", rounded(p.mesh_volume_mm3)},
          {"mesh_centre", point(p.mesh_centre)},
          {"mesh_inertia_g_mm2", matrix(p.mesh_inertia_g_mm2)},
          {"target", target_json(result)},
          {"gouge_mm3", rounded(p.gouge_mm3)},
          {"gouge_beyond_mm3", rounded(p.gouge_beyond_mm3)},
          {"worst_gouge", rounded(p.worst_gouge)},
          {"worst_gouge_thickness", rounded(p.worst_gouge_thickness)},
          {"excess_mm3", rounded(p.excess_mm3)},
          {"excess_beyond_mm3", rounded(p.excess_beyond_mm3)},
          {"worst_excess", rounded(p.worst_excess)}};
}

Json inputs_json(const run::JobResult& result) {
  Json out = Json::array();
  if (!result.inputs) return out;
  for (const InputFile& f : result.inputs->files)
    out.push_back(
        {{"name", run::input_name(f, result.job)}, {"digest", f.digest}, {"bytes", f.size}});
  return out;
}

Json run_json(const run::RunFigures& r) {
  return {{"wall_s", rounded(r.wall_s)},
          {"moves_per_s", rounded(r.moves_per_s)},
          {"peak_memory_mb", rounded(r.peak_memory_mb)},
          {"threads", r.threads},
          {"stretches_cut", r.tool_runs_cut},
          {"stretches_reused", r.tool_runs_reused},
          {"version", PROVEOUT_VERSION}};
}

}  // namespace

Json finding_json(const Finding& f) {
  Json out = {{"kind", name(f.kind)},
              {"level", name(f.level)},
              {"setup", f.setup},
              {"tool", f.tool},
              {"file", f.file},
              {"line", f.line},
              {"at", point(f.at)},
              {"value", rounded(f.value)},
              {"limit", rounded(f.limit)},
              {"unit", f.unit},
              {"text", f.text},
              {"count", f.count}};
  if (f.last_line > f.line) out["last_line"] = f.last_line;
  if (!f.detail.empty()) out["detail"] = f.detail;
  return out;
}

// Each with what to do, and with the cause it goes with, where it goes with one.
Json findings_json(const run::JobResult& result) {
  Json out = Json::array();
  const std::vector<std::string> remedies = checks::what_to_do(result);
  for (std::size_t i = 0; i < result.findings.size(); ++i) {
    out.push_back(finding_json(result.findings[i]));
    out.back()["remedy"] = remedies[i];
  }
  for (std::size_t c = 0; c < result.causes.size(); ++c) {
    for (const std::size_t f : result.causes[c].findings) out.at(f)["cause"] = c;
  }
  return out;
}

Json cause_json(const run::Cause& c) {
  Json out = {{"kind", run::name(c.kind)},
              {"setup", c.setup},
              {"tool", c.tool},
              {"text", c.text},
              {"remedy", c.remedy}};
  if (c.shift) out["shift"] = point(*c.shift);
  out["explains"] = c.explains;
  out["remains"] = c.remains;
  return out;
}

Json result_json(const run::JobResult& result) {
  Json setups = Json::array();
  for (const auto& s : result.setups) setups.push_back(setup_json(s));
  Json causes = Json::array();
  for (const auto& c : result.causes) causes.push_back(cause_json(c));
  Json zero_search = Json::array();
  for (const auto& s : result.zero_search) zero_search.push_back(zero_search_json(s));
  Json not_checked = Json::array();
  for (const auto& n : result.not_checked)
    not_checked.push_back({{"what", n.what}, {"why", n.why}});
  return {{"schema", result_schema},
          {"job",
           {{"name", result.job.name},
            {"material", result.material},
            {"voxel", rounded(result.voxel)}}},
          {"inputs", inputs_json(result)},
          {"setups", setups},
          {"flips", flips_json(result)},
          {"bridges", bridges_json(result)},
          {"part", part_json(result)},
          {"finish", finish_json(result)},
          {"totals",
           {{"time_s", rounded(result.time_s)},
            {"time_low_s", rounded(result.time_low_s)},
            {"time_high_s", rounded(result.time_high_s)},
            {"removed_mm3", rounded(result.removed_mm3)},
            {"blank_mm3", rounded(result.blank_mm3)},
            {"chips_g", rounded(result.removed_mm3 * result.density_g_cm3 / 1000)},
            {"stock_used", rounded(result.blank_mm3 > 0 && result.part.compared
                                       ? result.part.volume_mm3 / result.blank_mm3
                                       : 0)}}},
          {"time_use", time_use_json(result)},
          {"verdict", result.verdict},
          {"causes", causes},
          {"findings", findings_json(result)},
          {"zero_search", zero_search},
          {"not_checked", not_checked},
          {"assumed", result.assumed},
          {"run", run_json(result.run)}};
}

std::string to_bytes(const Json& json) {
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace proveout::json
