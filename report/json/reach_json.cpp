#include "report/json/reach_json.h"

#include <nlohmann/json.hpp>

#include "report/json/result_json.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

Json point(const Vec3& p) { return {rounded(p.x()), rounded(p.y()), rounded(p.z())}; }

Json tool_json(const reach::ToolReach& t) {
  return {{"number", t.number},
          {"name", t.name},
          {"reached_mm2", rounded(t.reached_mm2)},
          {"reached_as_set_mm2", rounded(t.reached_as_set_mm2)},
          {"stickout", rounded(t.stickout)},
          {"stickout_needed", rounded(t.stickout_needed)},
          {"deepest_at", point(t.deepest_at)},
          {"fits_inside_radius", t.fits_inside_radius},
          {"largest_for_mm2", rounded(t.largest_for_mm2)},
          {"stickout_there", rounded(t.stickout_there)},
          {"stickout_over_diameter", rounded(t.stickout_there / t.diameter)}};
}

Json reach_json(const reach::Reach& r) {
  Json setups = Json::array();
  for (const auto& s : r.setups) {
    Json tools = Json::array();
    for (const auto& t : s.tools) tools.push_back(tool_json(t));
    setups.push_back({{"name", s.name},
                      {"seen_mm2", rounded(s.seen_mm2)},
                      {"reached_mm2", rounded(s.reached_mm2)},
                      {"too_tight_mm2", rounded(s.too_tight_mm2)},
                      {"inside_corner", s.inside_corner},
                      {"inside_radius", rounded(s.inside_radius)},
                      {"inside_radius_at", point(s.inside_radius_at)},
                      {"tools", tools}});
  }
  return {{"step", rounded(r.step)},
          {"surface_mm2", rounded(r.surface_mm2)},
          {"undercut_mm2", rounded(r.undercut_mm2)},
          {"undercut_at", point(r.undercut_at)},
          {"too_tight_mm2", rounded(r.too_tight_mm2)},
          {"too_tight_at", point(r.too_tight_at)},
          {"setups", setups}};
}

}  // namespace

Json reach_result(const std::string& job_name, const reach::Reach& reach) {
  return {{"schema", result_schema}, {"job", {{"name", job_name}}}, {"reach", reach_json(reach)}};
}

}  // namespace proveout::json
