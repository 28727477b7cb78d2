#include "report/page/build/flip_seam.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

namespace proveout::page {
namespace {

using Json = nlohmann::ordered_json;

struct FlipSeam {
  Json facts = Json::array(), seam = Json::array(), outward = Json::array();
  void add(const std::string& label, const std::string& value) {
    facts.push_back({{"label", label}, {"value", value}});
  }
};

constexpr std::size_t most_places = 1200;

double to_micron(double mm) {
  const double r = std::round(mm * 1000) / 1000;
  return r == 0 ? 0 : r;  // no minus zero
}

void add_placements(FlipSeam& out, const flip::Flip& f) {
  for (const flip::Placement& p : f.placements) {
    std::string value = f.compared_mm > 0 ? fmt::format("walls {:.2f} mm apart", p.apart) : "";
    if (p.from_part)
      value += fmt::format("{}{:.2f} mm off the part", value.empty() ? "" : ", ", *p.from_part);
    if (!value.empty()) out.add(p.name + (p.declared ? " (declared)" : ""), value);
  }
}

void add_spread(FlipSeam& out, const flip::Spread& s) {
  for (const flip::Alone& e : s.each) out.add(e.what, fmt::format("{:.2f} mm of step", e.step));
  if (s.draws == 0) return;
  out.add("worst step, all declared errors",
          fmt::format("{:.2f} mm at the median, below {:.2f} in 95 % of {} draws", s.median_worst,
                      s.high_worst, s.draws));
  if (s.has_web)
    out.add("least web between the sides",
            fmt::format("{:.2f} mm; above {:.2f} in 95 %, cut through in {:.1f} %", s.least_web,
                        s.low_web, 100 * s.break_through));
}

void add_seam(FlipSeam& out, const flip::Seam& s, const run::SetupResult& earlier,
              const run::SetupResult& later) {
  const flip::SeamPoint& worst = s.points[s.worst_point];
  out.add("step", fmt::format("{:.2f} mm on the mean, {:.2f} at worst", s.mean, s.worst));
  out.add("worst at",
          fmt::format("{:.1f}, {:.1f}, {:.1f} (stock)", worst.at.x(), worst.at.y(), worst.at.z()));
  out.add("cut from both sides",
          s.least_overlap < 0 ? fmt::format("no: a web of up to {:.2f} mm along {:.0f} mm",
                                            -s.least_overlap, s.web_mm)
                              : fmt::format("{:.2f} mm or more past each other", s.least_overlap));
  out.add("reads like side " + later.name + " off by",
          fmt::format("{:.3f}, {:.3f} mm, {:.3f} deg", to_micron(s.reading.x),
                      to_micron(s.reading.y), to_micron(s.reading.turn_deg)));
  const RigidMotion later_from_stock = later.stock_from_setup.inverse();
  const RigidMotion later_from_plan = later_from_stock * earlier.stock_from_setup;
  const std::size_t stride = (s.points.size() + most_places - 1) / most_places;
  for (std::size_t i = 0; i < s.points.size(); i += stride) {
    const flip::SeamPoint& p = s.points[i];
    const Vec3 at = later_from_stock * p.at;
    const Vec3 outward = later_from_plan.linear() * Vec3(p.outward.x(), p.outward.y(), 0);
    for (double v : {at.x(), at.y(), p.step}) out.seam.push_back(to_micron(v));
    for (double v : {outward.x(), outward.y()}) out.outward.push_back(to_micron(v));
  }
}

}  // namespace

Json flip_seam(const run::JobResult& result) {
  if (result.flips.empty()) return nullptr;
  const flip::Flip& f = result.flips.back();
  const auto named = [&](const std::string& name) {
    return std::find_if(result.setups.begin(), result.setups.end(),
                        [&](const run::SetupResult& s) { return s.name == name; });
  };
  FlipSeam out;
  add_placements(out, f);
  const auto earlier = named(f.earlier), later = named(f.later);
  if (!f.seam.points.empty() && earlier != result.setups.end() && later != result.setups.end())
    add_seam(out, f.seam, *earlier, *later);
  add_spread(out, f.spread);
  if (f.best_fit.found)
    out.add("side " + f.later + " off the part",
            fmt::format("{:.3f}, {:.3f} mm, {:.3f} deg", to_micron(f.best_fit.x),
                        to_micron(f.best_fit.y), to_micron(f.best_fit.turn_deg)));
  return {{"text", "Sides " + f.earlier + " and " + f.later + ": " + f.text + "."},
          {"facts", out.facts},
          {"seam", out.seam},
          {"outward", out.outward}};
}

}  // namespace proveout::page
