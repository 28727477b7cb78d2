#include "sim/run/check.h"

#include <algorithm>

#include "sim/run/motion_finding.h"

namespace proveout::run {

double CutSample::downward() const {
  const double length = nc::length(path);
  if (!(length > 0)) return 0;
  const double share = std::clamp(static_cast<double>(engagement.along) / length, 0.0, 1.0);
  return -nc::tangent_at(path, share).z();
}

double CutSample::depth() const {
  return std::max(static_cast<double>(engagement.axial_depth),
                  static_cast<double>(engagement.length) * downward());
}

Finding ToolCheck::finding(std::size_t motion, double along, FindingKind kind,
                           Severity level) const {
  const nc::Motion& m = use_.setup.source->motions[motion];
  Finding f = motion_finding(use_.setup, m, kind, level);
  const double length = nc::length(m);
  f.at = nc::point_at(m, length > 0 ? std::clamp(along / length, 0.0, 1.0) : 1);
  return f;
}

}  // namespace proveout::run
