#include "report/json/time_use_json.h"

#include <string>

#include "report/files/rounded.h"
#include "sim/after/time_use.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;
using files::rounded;

Json stretch_json(const after::Stretch& s, const run::JobResult& result) {
  Json saves = Json::object();
  for (std::size_t c = 0; c < after::path_changes; ++c)
    saves[std::string(after::name(static_cast<after::Change>(c)))] = rounded(s.saves_s[c]);
  return {{"setup", result.setups[s.setup].name},
          {"tool", s.tool},
          {"file", s.file},
          {"line", s.line},
          {"last_line", s.last_line},
          {"time_s", rounded(s.time_s)},
          {"asked_s", rounded(s.asked_s)},
          {"air_s", rounded(s.air_s)},
          {"held_s", rounded(s.held_s)},
          {"removed_mm3", rounded(s.removed_mm3)},
          {"binds", after::name(s.binds)},
          {"binds_s", rounded(s.binds_s)},
          {"saves_s", saves}};
}

}  // namespace

Json time_use_json(const run::JobResult& result) {
  const auto held = after::time_use_of(result);
  const after::TimeUse& use = *held;
  Json stretches = Json::array(), savings = Json::array();
  for (const after::Stretch& s : use.stretches) stretches.push_back(stretch_json(s, result));
  for (const after::Saving& s : use.savings) {
    savings.push_back({{"change", after::name(s.change)},
                       {"saves_s", rounded(s.saves_s)},
                       {"alone_s", rounded(s.alone_s)},
                       {"roughing_s", rounded(s.roughing_s)},
                       {"likely_s", rounded(s.likely_s)},
                       {"text", s.text}});
  }
  return {{"at_feed_s", rounded(use.at_feed_s)},
          {"held_s", rounded(use.held_s)},
          {"air_s", rounded(use.air_s)},
          {"rapid_s", rounded(use.rapid_s)},
          {"waits_s", rounded(use.waits_s)},
          {"stretches", stretches},
          {"savings", savings},
          {"saves_s", rounded(use.saves_s())}};
}

}  // namespace proveout::json
