#include "sim/causes/support_signs.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace proveout::causes {
namespace {

// Of the part's volume: what is left on it beyond that is no cusp or forgotten corner, but a frame.
constexpr double frame_share = 0.1;
// Cosine between a bridge's axis and the tool's, from which on the part stands on it (choice).
constexpr double standing = 0.7;

std::string counted(std::size_t n, const char* word) {
  return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
}

}  // namespace

std::optional<run::Cause> supports_gone(const run::JobResult& result) {
  if (!result.job.part || result.job.part->supports.empty()) return std::nullopt;
  const std::size_t declared = result.job.part->supports.size();
  for (std::size_t i = result.setups.size(); i-- > 0;) {
    const run::SetupResult& s = result.setups[i];
    if (!s.bridges.empty() || s.pieces_mm3.size() < 2) continue;
    run::Cause c;
    c.kind = run::CauseKind::support;
    c.setup = s.name;
    c.text = fmt::format("{} declared, and after setup {} none of them holds the part",
                         declared == 1 ? "one support is" : counted(declared, "support") + " are",
                         s.name);
    c.remedy = "leave tabs where the job declares supports, or declare what holds the part";
    return c;
  }
  return std::nullopt;
}

std::optional<run::Cause> frame_left_on(const run::JobResult& result) {
  if (!result.job.part || !result.part.compared || result.setups.empty()) return std::nullopt;
  // Tabs as wide as may be cut nothing into the part: what does leaves more on it too.
  if (std::any_of(result.findings.begin(), result.findings.end(), [](const Finding& f) {
        return f.kind == FindingKind::gouge && f.level == Severity::error;
      }))
    return std::nullopt;
  const run::SetupResult& last = result.setups.back();
  if (last.bridges.empty() || last.bridges.size() > 24) return std::nullopt;
  // A gap all round, crossed by bridges: one that runs round the part, or that the part stands on,
  // is a skin, or no gap at all.
  const Vec3 up = last.stock_from_setup.linear().col(2);
  const bool round =
      std::any_of(last.bridges.begin(), last.bridges.end(), [&](const run::BridgeResult& b) {
        return b.axis.isZero() || std::abs(b.axis.dot(up)) > standing;
      });
  if (round || result.part.volume_mm3 < (1 + frame_share) * result.part.mesh_volume_mm3)
    return std::nullopt;
  const std::size_t declared = result.job.part->supports.size();
  run::Cause c;
  c.kind = run::CauseKind::support;
  c.setup = last.name;
  const std::string held = counted(last.bridges.size(), "bridge");
  c.text = declared == 0
               ? fmt::format(
                     "the part hangs on {} after setup {} and the job declares no support: what "
                     "they tie to it counts as left on it",
                     held, last.name)
               : fmt::format(
                     "the part still hangs on {} after setup {} once the declared supports ({}) "
                     "are off: what the program leaves is wider than they are, or elsewhere",
                     held, last.name, declared);
  c.remedy = declared == 0
                 ? "declare each as a box in [[part.supports]], or cut them"
                 : "post tabs as wide as the job declares, or declare them as they will be";
  return c;
}

}  // namespace proveout::causes
