#include "report/json/flip_json.h"

#include <algorithm>

#include "report/json/result_json.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t most_points = 400;

Json point(const Vec3& p) { return {rounded(p.x()), rounded(p.y()), rounded(p.z())}; }

const char* word(flip::Decision decision) {
  switch (decision) {
    case flip::Decision::declared:
      return "as declared";
    case flip::Decision::cannot_tell:
      return "cannot tell";
    case flip::Decision::other:
      return "other placement";
    case flip::Decision::undecided:
      break;
  }
  return "not told";
}

Json placement_json(const flip::Placement& p) {
  Json out = {{"name", p.name},
              {"declared", p.declared},
              {"mirrored", p.mirrored},
              {"quarter_turns", p.quarter_turns},
              {"apart", rounded(p.apart)},
              {"met", rounded(p.met)}};
  if (p.from_part) out["from_part"] = rounded(*p.from_part);
  return out;
}

// Where the motion stands that made a surface.
Json line_json(const run::JobResult& result, stock::MotionId by) {
  const auto origin = result.origin(by);
  if (!origin) return {{"setup", ""}, {"file", ""}, {"line", 0}};
  const run::SetupResult& setup = result.setups[origin->setup];
  return {{"setup", setup.name},
          {"file", setup.program},
          {"line", setup.source->motions[origin->motion].line}};
}

Json seam_json(const run::JobResult& result, const flip::Seam& s) {
  const flip::SeamPoint& worst = s.points[s.worst_point];
  const flip::SeamPoint& web = s.points[s.web_point];
  Json points = Json::array();
  const std::size_t stride = (s.points.size() + most_points - 1) / most_points;
  for (std::size_t i = 0; i < s.points.size(); i += stride) {
    const flip::SeamPoint& p = s.points[i];
    points.push_back({rounded(p.at.x()), rounded(p.at.y()), rounded(p.at.z()), rounded(p.step)});
  }
  return {{"length_mm", rounded(s.length_mm)},
          {"worst", rounded(s.worst)},
          {"mean", rounded(s.mean)},
          {"proudest", rounded(s.proudest)},
          {"deepest", rounded(s.deepest)},
          {"worst_at", point(worst.at)},
          {"worst_later", line_json(result, worst.by)},
          {"worst_earlier", line_json(result, worst.by_earlier)},
          {"least_overlap", rounded(s.least_overlap)},
          {"least_overlap_at", point(web.at)},
          {"web_mm", rounded(s.web_mm)},
          {"reads_as",
           {{"x", rounded(s.reading.x)},
            {"y", rounded(s.reading.y)},
            {"turn_deg", rounded(s.reading.turn_deg)},
            {"out_of_square_100", rounded(s.reading.out_of_square_100)},
            {"left", rounded(s.reading.left)}}},
          {"points", points}};
}

Json spread_json(const flip::Spread& s) {
  Json each = Json::array();
  for (const auto& e : s.each)
    each.push_back({{"what", e.what}, {"amount", rounded(e.amount)}, {"step", rounded(e.step)}});
  Json out = {{"each", each}};
  if (s.draws == 0) return out;
  out["draws"] = s.draws;
  out["seed"] = s.seed;
  out["median_worst"] = rounded(s.median_worst);
  out["high_worst"] = rounded(s.high_worst);
  if (!s.has_web) return out;
  out["least_web"] = rounded(s.least_web);
  out["low_web"] = rounded(s.low_web);
  out["break_through"] = rounded(s.break_through);
  return out;
}

Json flip_json(const run::JobResult& result, const flip::Flip& f) {
  Json placements = Json::array();
  for (const auto& p : f.placements) placements.push_back(placement_json(p));
  Json out = {{"earlier", f.earlier},
              {"later", f.later},
              {"told", word(f.decision)},
              {"text", f.text},
              {"margin", rounded(f.margin)},
              {"by_part_margin", rounded(f.by_part_margin)},
              {"compared_mm", rounded(f.compared_mm)},
              {"placements", placements}};
  if (!f.seam.points.empty()) out["seam"] = seam_json(result, f.seam);
  if (!f.spread.each.empty()) out["spread"] = spread_json(f.spread);
  if (f.best_fit.found) {
    out["best_fit"] = {{"x", rounded(f.best_fit.x)},
                       {"y", rounded(f.best_fit.y)},
                       {"turn_deg", rounded(f.best_fit.turn_deg)},
                       {"left", rounded(f.best_fit.left)}};
  }
  return out;
}

}  // namespace

nlohmann::ordered_json flips_json(const run::JobResult& result) {
  Json out = Json::array();
  for (const auto& f : result.flips) out.push_back(flip_json(result, f));
  return out;
}

}  // namespace proveout::json
