#include "sim/checks/motion_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/checks/load_findings.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

// A rapid that takes less than this many voxels of material is not told from a touching surface.
constexpr double rapid_voxels = 2.0;
// Shank and holder contact shallower than this share of a voxel is a touch, not a cut.
constexpr double contact_voxel_share = 0.5;

class MotionJudge {
 public:
  MotionJudge(const run::SetupContext& context, run::SetupResult& result, FindingCollector& findings,
              double voxel)
      : context_(context),
        result_(result),
        program_(*result.source),
        findings_(findings),
        voxel_(voxel) {
    // The lowest corner of the blank seen along the tool's axis.
    const RigidMotion setup_from_stock = context.stock_from_setup.inverse();
    bottom_ = std::numeric_limits<double>::infinity();
    for (int corner = 0; corner < 8; ++corner) {
      const Vec3 p = context.stock_box.corner(static_cast<Box3::CornerType>(corner));
      bottom_ = std::min(bottom_, (setup_from_stock * p).z());
    }
  }

  void judge(std::size_t i) {
    const nc::Motion& m = program_.motions[i];
    const stock::MotionOutcome& outcome = result_.cut.motions[i];
    if (m.kind == nc::PathKind::rapid && outcome.removed_mm3 > rapid_voxels * std::pow(voxel_, 3)) {
      rapid(m, outcome);
    }
    if (outcome.shank_depth > contact_voxel_share * voxel_) {
      body(m, outcome, FindingKind::shank_contact, "shank", outcome.shank_depth);
    }
    if (outcome.holder_depth > contact_voxel_share * voxel_) {
      body(m, outcome, FindingKind::holder_contact, "holder", outcome.holder_depth);
    }
    below_stock(m);
    clipped(m, result_.plan.motions[i]);
  }

 private:
  Finding finding(const nc::Motion& m, FindingKind kind, Severity level) const {
    return run::motion_finding(result_, m, kind, level);
  }

  void rapid(const nc::Motion& m, const stock::MotionOutcome& outcome) {
    Finding f = finding(m, FindingKind::rapid_contact, Severity::error);
    double depth = 0;
    for (std::uint32_t s = 0; s < outcome.sample_count; ++s) {
      depth = std::max<double>(depth, result_.cut.samples[outcome.first_sample + s].axial_depth);
    }
    f.value = outcome.removed_mm3;
    f.unit = "mm3";
    f.text = fmt::format("a rapid runs through material: {:.2f} mm3 taken, {:.2f} mm deep",
                         outcome.removed_mm3, depth);
    findings_.add(std::move(f));
  }

  void body(const nc::Motion& m, const stock::MotionOutcome& outcome, FindingKind kind,
            const char* part, double depth) {
    Finding f = finding(m, kind, Severity::error);
    f.at = outcome.contact_at;
    f.value = depth;
    f.unit = "mm";
    f.text = fmt::format("the {} goes {:.2f} mm into material", part, depth);
    findings_.add(std::move(f));
  }

  void below_stock(const nc::Motion& m) {
    const double lowest = nc::bounds(m).min().z();
    const double below = bottom_ - lowest;
    if (below <= 0.5 * voxel_) return;
    Finding f = finding(m, FindingKind::below_stock, Severity::warning);
    f.value = below;
    f.unit = "mm";
    f.text = fmt::format("the tip goes {:.2f} mm below the bottom of the blank", below);
    findings_.add(std::move(f));
  }

  void clipped(const nc::Motion& m, const timing::TimedMotion& timed) {
    if (!timed.feed_clipped) return;
    Finding f = finding(m, FindingKind::feed_clipped, Severity::note);
    f.value = m.feed;
    f.limit = 60.0 * timed.cruise_speed;
    f.unit = "mm/min";
    f.at = Vec3::Zero();  // one finding a tool is enough: it is about the feed, not the place
    f.text = fmt::format("feed {:.0f} mm/min asked for, the axes do {:.0f} here", f.value, f.limit);
    findings_.add(std::move(f));
  }

  const run::SetupContext& context_;
  run::SetupResult& result_;
  const nc::Program& program_;
  FindingCollector& findings_;
  double voxel_;
  double bottom_;
};

}  // namespace

void judge_motions(const run::SetupContext& context, run::SetupResult& result, double voxel,
                   FindingCollector& findings) {
  result.peaks.assign(result.source->motions.size(), {});
  result.energy_j.assign(result.source->motions.size(), 0);
  MotionJudge judge(context, result, findings, voxel);
  LoadJudge loads(context, result, findings);
  for (std::size_t i = 0; i < result.source->motions.size(); ++i) {
    judge.judge(i);
    loads.judge(i);
  }
  loads.finish();
}

}  // namespace proveout::checks
