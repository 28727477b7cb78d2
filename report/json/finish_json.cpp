#include "report/json/finish_json.h"

#include <algorithm>

#include "report/json/result_json.h"
#include "sim/measure/finish.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t most_lines = 30;  // choice: the longest

Json made_by_json(const run::JobResult& result, stock::MotionId by) {
  const auto origin = result.origin(by);
  if (!origin) return {{"setup", ""}, {"tool", 0}, {"file", ""}, {"line", 0}};
  const run::SetupResult& setup = result.setups[origin->setup];
  const nc::Motion& motion = setup.source->motions[origin->motion];
  return {{"setup", setup.name},
          {"tool", setup.source->states[motion.state].tool},
          {"file", setup.program},
          {"line", motion.line}};
}

}  // namespace

nlohmann::ordered_json finish_json(const run::JobResult& result) {
  const measure::Finish none;
  const measure::Finish& f = result.finish ? *result.finish : none;
  Json above = Json::array(), lines = Json::array();
  for (std::size_t i = 0; i < f.area_mm2.size(); ++i)
    above.push_back({{"height", measure::finish_heights[i]}, {"area_mm2", rounded(f.area_mm2[i])}});
  for (const std::size_t i : measure::finish_lines_to_show(f, most_lines)) {
    const measure::FinishLine& l = f.lines[i];
    lines.push_back({{"between", measure::word(l.between)},
                     {"step", l.step},
                     {"length", rounded(l.length)},
                     {"height", rounded(l.height)},
                     {"at", {rounded(l.at.x()), rounded(l.at.y()), rounded(l.at.z())}},
                     {"made_by", {made_by_json(result, l.first), made_by_json(result, l.second)}}});
  }
  return {{"looked_at", result.finish != nullptr},
          {"highest", rounded(f.highest)},
          {"length", rounded(f.length)},
          {"line_count", f.lines.size()},
          {"above", above},
          {"lines", lines}};
}

}  // namespace proveout::json
