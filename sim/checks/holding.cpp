#include "sim/checks/holding.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "parser/job/tool_shape.h"
#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/measure/bridges.h"

namespace proveout::checks {
namespace {

// No gap between part and frame is narrower than the smallest cutter that can have made it.
double narrowest_kerf(const job::Job& job) {
  double least = 1e9;
  for (const job::Tool& t : job.tools) {
    if (job::mills(t)) least = std::min(least, t.diameter);
  }
  return least < 1e9 ? std::clamp(least, 1.0, 12.0) : 6.0;
}

bool leads_to_a_stub(const run::BridgeResult& b) { return b.stub_mm3 > 0; }

struct Force {
  double newton = 0;
  std::string file;
  std::uint32_t line = 0;
};

// Largest force of the motions [first, last) of a setup, if it beats what is known.
void take_peak(const run::SetupResult& setup, std::size_t first, Force& peak) {
  for (std::size_t k = first; k < setup.peaks.size(); ++k) {
    const double force = static_cast<double>(setup.peaks[k].force_n);
    if (force > peak.newton) peak = {force, setup.program, setup.source->motions[k].line};
  }
}

Force peak_while_held(const run::JobResult& result, std::size_t i) {
  Force peak;
  const run::SetupResult& setup = result.setups[i];
  std::size_t first = 0;
  for (const run::BridgeResult& b : setup.bridges) {
    if (const auto by = result.origin(b.left_by); by && by->setup == i)
      first = std::max(first, by->motion);
  }
  take_peak(setup, first, peak);
  if (i + 1 < result.setups.size()) take_peak(result.setups[i + 1], 0, peak);
  return peak;
}

void add_finding(const run::SetupResult& setup, const run::Holding& holding, const Force& peak,
                 FindingCollector& findings) {
  const auto weakest = std::min_element(setup.bridges.begin(), setup.bridges.end(),
                                        [](const run::BridgeResult& a, const run::BridgeResult& b) {
                                          return std::pair(leads_to_a_stub(a), a.area_mm2) <
                                                 std::pair(leads_to_a_stub(b), b.area_mm2);
                                        });
  const auto holding_ones =
      std::count_if(setup.bridges.begin(), setup.bridges.end(),
                    [](const run::BridgeResult& b) { return !leads_to_a_stub(b); });
  Finding f;
  f.kind = FindingKind::weak_bridge;
  f.level = holding.times_peak < 1 ? Severity::error : Severity::warning;
  f.setup = setup.name;
  f.file = peak.file;
  f.line = peak.line;
  f.at = setup.stock_from_setup.inverse() * weakest->at;
  f.value = holding.times_peak;
  f.limit = holding_wanted;
  f.unit = "times";
  f.text = fmt::format(
      "what holds the part, {} bridge{} of {:.1f} mm2 and up, bears {:.0f} N in shear, {:.1f} "
      "times "
      "the peak force of {:.0f} N met here; {:g} times is asked (common practice)",
      holding_ones, holding_ones == 1 ? "" : "s", weakest->area_mm2, holding.strength_n, f.value,
      peak.newton, holding_wanted);
  findings.add(std::move(f));
}

// Tabs were left, but the blank's edge was nearer than the cutter is wide: what they led to is
// gone.
void add_stubs(const run::SetupResult& setup, FindingCollector& findings) {
  const run::BridgeResult& first = setup.bridges.front();
  double least = first.stub_mm3, most = first.stub_mm3;
  for (const run::BridgeResult& b : setup.bridges) {
    least = std::min(least, b.stub_mm3);
    most = std::max(most, b.stub_mm3);
  }
  Finding f;
  f.kind = FindingKind::weak_bridge;
  f.level = Severity::warning;
  f.setup = setup.name;
  f.file = setup.program;
  f.line = first.line;
  f.at = setup.stock_from_setup.inverse() * first.at;
  f.limit = holding_wanted;
  f.unit = "times";
  const std::size_t n = setup.bridges.size();
  f.text = fmt::format(
      "{} left beside the part, as if to hold it, {} of {:.0f}{} mm3: nothing of the blank is left "
      "there that a clamp could hold, so {} nothing",
      n == 1   ? "the bridge"
      : n == 2 ? "both bridges"
               : fmt::format("all {} bridges", n),
      n == 1 ? "leads to a stub" : "lead to stubs", least,
      most > 1.1 * least ? fmt::format(" to {:.0f}", most) : "", n == 1 ? "it holds" : "they hold");
  findings.add(std::move(f));
}

}  // namespace

std::vector<run::BridgeResult> bridges_after(const run::SetupCut& setup, const job::Job& job,
                                             const stock::Stock& stock,
                                             const solid::PartDistance& part) {
  std::vector<run::BridgeResult> out;
  for (const measure::Bridge& found : measure::bridges(stock, part, narrowest_kerf(job))) {
    run::BridgeResult b;
    b.at = found.at;
    b.axis = found.axis;
    b.area_mm2 = found.area_mm2;
    b.thickness = found.thickness;
    b.left_by = found.left_by;
    b.stub_mm3 = found.stub_mm3;
    const stock::MotionId own = found.left_by - setup.first_id;
    if (found.left_by >= setup.first_id && own < setup.source->motions.size())
      b.line = setup.source->motions[own].line;
    out.push_back(b);
  }
  return out;
}

HoldingOutcome judge_holding(const run::JobResult& result, const cutting::Material& material,
                             FindingCollector& findings) {
  HoldingOutcome out;
  bool any = false;
  for (std::size_t i = 0; i < result.setups.size(); ++i) {
    const run::SetupResult& setup = result.setups[i];
    auto& [bridges, holding] = out.setups.emplace_back(HeldAfter{setup.bridges, {}});
    if (bridges.empty()) continue;
    any = true;
    const Force peak = peak_while_held(result, i);
    holding.peak_force_n = peak.newton;
    for (run::BridgeResult& b : bridges) {
      b.strength_n = b.area_mm2 * material.shear_n_mm2;
      if (leads_to_a_stub(b)) continue;
      if (peak.newton > 0) b.times_peak = b.strength_n / peak.newton;
      holding.strength_n += b.strength_n;
    }
    if (std::all_of(bridges.begin(), bridges.end(), leads_to_a_stub)) {
      add_stubs(setup, findings);
      continue;
    }
    if (!(peak.newton > 0) || !(material.shear_n_mm2 > 0)) continue;
    holding.times_peak = holding.strength_n / peak.newton;
    if (holding.times_peak < holding_wanted) add_finding(setup, holding, peak, findings);
  }
  if (any && material.shear_n_mm2 > 0)
    out.assumed = fmt::format("shear strength of {}, {:g} N/mm2: {}", material.name,
                              material.shear_n_mm2, material.shear_source);
  return out;
}

constinit const run::Check kinds::weak_bridge{
    .kind = FindingKind::weak_bridge,
    .level = Severity::error,
    .meaning = "the bridges that hold the part bear too little for the forces met",
    .help =
        "Larger or more bridges, or a lighter cut; where they lead to nothing, a larger blank or "
        "another hold. The strength is that of the section in shear, "
        "and a "
        "long thin bridge shakes before it shears.",
    .needs = "a part mesh",
    .lacks = run::Lack::part,
    .not_checked = lacking_a_part};

}  // namespace proveout::checks
