#include "sim/checks/clearance_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/measure/height_map.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

using clearance::ClearanceTracker;
using clearance::ColumnMap;
using clearance::Outline;

constexpr double most_cells = 1e6;    // of the columns: 20 MB with their tree
constexpr double least_step = 1e-6;   // mm: less is no motion of an axis
constexpr double rapid_voxels = 2.0;  // as in rapid_contact.cpp: told from a touching surface

bool by_right_angles(const RigidMotion& pose) {
  return (pose.linear().cwiseAbs().array().round() - pose.linear().cwiseAbs().array())
             .abs()
             .maxCoeff() < 1e-9;
}

double sideways(const nc::Motion& m) {
  return std::hypot(m.end.x() - m.start.x(), m.end.y() - m.start.y());
}

// How far one axis has come after a time: ramp up, steady, ramp down, from rest to rest.
double ramped(double distance, double speed, double accel, double time) {
  const double way = std::abs(distance);
  const double top = std::min(speed, std::sqrt(way * accel));
  const double ramp = top / accel, steady = top > 0 ? (way - top * ramp) / top : 0;
  double gone = way;
  if (time < ramp)
    gone = 0.5 * accel * time * time;
  else if (time < ramp + steady)
    gone = 0.5 * top * ramp + top * (time - ramp);
  else if (time < 2 * ramp + steady)
    gone = way - 0.5 * accel * std::pow(2 * ramp + steady - time, 2);
  return std::copysign(gone, distance);
}

double ramped_time(double distance, double speed, double accel) {
  const double way = std::abs(distance);
  if (way < least_step) return 0;
  const double top = std::min(speed, std::sqrt(way * accel));
  return way / top + top / accel;
}

class WayJudge {
 public:
  WayJudge(const run::SetupContext& context, const ClearanceTracker& tracker,
           const run::SetupCut& setup, std::vector<Finding>& findings)
      : context_(context),
        tracker_(tracker),
        setup_(setup),
        program_(*setup.source),
        findings_(findings),
        tolerance_(2 * tracker.stock().cell() + tracker.stock().margin()) {
    fresh_.insert(0);
    for (const nc::Event& e : program_.events) {
      if (e.kind == nc::EventKind::tool_change) fresh_.insert(e.before_motion);
    }
  }

  // The tracker's stock is as motion i finds it.
  void judge(std::size_t i) {
    const nc::Motion& m = program_.motions[i];
    const clearance::ToolShapes* shapes = tracker_.shapes(program_.states[m.state].tool);
    if (fresh_.contains(i)) height_open_ = true;
    if (shapes == nullptr) return;
    if (height_open_) first_move(i, m, *shapes);
    if (m.kind == nc::PathKind::rapid) by_axis(m, *shapes);
  }

 private:
  Finding finding(const nc::Motion& m, Severity level, const char* detail) const {
    Finding f = run::motion_finding(setup_, m, FindingKind::rapid_contact, level);
    f.unit = "mm";
    f.detail = detail;
    return f;
  }

  // Until Z is set the height is unknown; once it is, the tool is where the program says.
  void first_move(std::size_t i, const nc::Motion& m, const clearance::ToolShapes& shapes) {
    const bool sets_height = std::abs(m.end.z() - m.start.z()) > least_step;
    if (sets_height) height_open_ = false;
    if (sideways(m) > least_step && from_anywhere(m)) {
      height_open_ = false;  // said once a change
      return;
    }
    if (sets_height && m.kind == nc::PathKind::rapid &&
        setup_.cut.motions[i].removed_mm3 <= rapid_voxels * std::pow(voxel(), 3)) {
      from_above(m, shapes);
    }
  }

  double voxel() const { return tracker_.stock().cell(); }

  // Sideways from nobody knows where, at the height of its end: what stands higher may be in the
  // way.
  bool from_anywhere(const nc::Motion& m) {
    std::string what;
    double highest = m.end.z();
    const auto add = [&](const std::string& name, double top) {
      if (!(top > m.end.z() + 0.5 * voxel())) return;
      what += (what.empty() ? "" : " or ") + fmt::format("{} (up to Z {:.2f})", name, top);
      highest = std::max(highest, top);
    };
    add("the stock", tracker_.stock().highest());
    for (const auto& b : tracker_.fixtures()) add("the fixture '" + b.name + "'", b.box.max().z());
    if (what.empty()) return false;
    Finding f = finding(m, Severity::warning, "first-move");
    f.value = highest - m.end.z();
    const bool drops = std::abs(m.end.z() - m.start.z()) > least_step;
    f.text = fmt::format(
        "the first move after {} goes sideways {} Z {:.2f} from a place the program does not "
        "know: it may run through {}",
        after_change(m) ? "the tool change" : "the start", drops ? "and to" : "at", m.end.z(),
        what);
    findings_.push_back(std::move(f));
    return true;
  }

  bool after_change(const nc::Motion& m) const {
    const auto index = static_cast<std::uint64_t>(&m - program_.motions.data());
    return std::any_of(program_.events.begin(), program_.events.end(), [&](const nc::Event& e) {
      return e.kind == nc::EventKind::tool_change && e.before_motion <= index;
    });
  }

  // Straight down onto the end from the whole height: what the tool would meet there.
  void from_above(const nc::Motion& m, const clearance::ToolShapes& shapes) {
    for (int k = 0; k < clearance::movers; ++k) {
      const double depth = depth_on({m.end}, shapes.outline[static_cast<std::size_t>(k)]);
      if (!(depth > 0)) continue;
      Finding f = finding(m, Severity::warning, "first-move");
      f.value = depth;
      f.text = fmt::format(
          "lowered from above onto the end of the first move, the {} would go {:.2f} mm into {}",
          clearance::name(static_cast<clearance::Mover>(k)), depth, met_);
      findings_.push_back(std::move(f));
      return;
    }
  }

  void by_axis(const nc::Motion& m, const clearance::ToolShapes& shapes) {
    const Vec3 step = (m.end - m.start).cwiseAbs();
    if ((step.array() > least_step).count() < 2) return;
    std::vector<Vec3> bent;
    for (int k = 0; k < clearance::movers; ++k) {
      const Outline& body = shapes.outline[static_cast<std::size_t>(k)];
      if (body.empty() || !near_anything(m, body)) continue;
      if (bent.empty()) bent = bent_way(m, context_.job.machine, 2 * tracker_.stock().cell());
      const double depth = depth_on(bent, body);
      if (!(depth > 0) || hits_straight(m, body.drawn_in(tolerance_))) continue;
      const bool so = context_.job.machine.rapid_by_axis;
      Finding f = finding(m, so ? Severity::error : Severity::warning, "by-axis");
      depth_on(bent, body);  // for where
      f.value = depth;
      f.at = where_;
      f.text = fmt::format(
          "{} the {} goes {:.2f} mm into {} on this rapid; on the straight way it clears",
          so ? "each axis at its own speed," : "if each axis runs at its own speed,",
          clearance::name(static_cast<clearance::Mover>(k)), depth, met_);
      findings_.push_back(std::move(f));
    }
  }

  // The straight way in pieces of two cells, by halves: a stretch that is clear as a whole, at its
  // lowest height, is clear in its pieces.
  bool hits_straight(const nc::Motion& m, const Outline& body) {
    const int count = std::max(
        1, static_cast<int>(std::ceil((m.end - m.start).norm() / (2 * tracker_.stock().cell()))));
    return hits_between(m, body, count, 0, count);
  }
  bool hits_between(const nc::Motion& m, const Outline& body, int count, int from, int to) {
    const Vec3 way = m.end - m.start;
    if (!hits({m.start + way * from / count, m.start + way * to / count}, body)) return false;
    if (to - from == 1) return true;
    const int middle = from + (to - from) / 2;
    return hits_between(m, body, count, from, middle) || hits_between(m, body, count, middle, to);
  }

  // Both ways lie in the box of the motion.
  bool near_anything(const nc::Motion& m, const Outline& body) const {
    Box3 box = nc::bounds(m);
    box.min() += Vec3(-body.radius, -body.radius, body.bottom);
    box.max() += Vec3(body.radius, body.radius, body.top);
    if (tracker_.stock().anything_above(box.min().z(), box)) return true;
    return std::any_of(tracker_.fixtures().begin(), tracker_.fixtures().end(),
                       [&](const auto& b) { return b.box.intersects(box); });
  }

  // How deep a body goes into stock or fixtures at places in a row, found by drawing it in until it
  // clears; 0 for what is within the tolerance. Sets where_ and met_.
  double depth_on(const std::vector<Vec3>& way, const Outline& body) {
    if (body.empty() || !hits(way, body.drawn_in(tolerance_))) return 0;
    double in = tolerance_, out = std::max(body.radius, tolerance_);
    for (int k = 0; k < 12; ++k) {
      const double middle = 0.5 * (in + out);
      (hits(way, body.drawn_in(middle)) ? in : out) = middle;
    }
    hits(way, body.drawn_in(in));
    return in;
  }

  bool hits(const std::vector<Vec3>& way, const Outline& body) {
    if (body.empty()) return false;
    constexpr double touch = 1e-9;
    for (std::size_t k = 0; k < way.size(); ++k) {
      const Vec3 &a = way[k > 0 ? k - 1 : 0], &b = way[k];
      where_ = b;
      if (tracker_.stock().nearest(body, a, b, touch) < touch) {
        met_ = "the stock";
        return true;
      }
      for (const auto& barrier : tracker_.fixtures()) {
        if (barrier.nearest(body, a, b, touch) >= touch) continue;
        met_ = "the fixture '" + barrier.name + "'";
        return true;
      }
    }
    return false;
  }

  const run::SetupContext& context_;
  const ClearanceTracker& tracker_;
  const run::SetupCut& setup_;
  const nc::Program& program_;
  std::vector<Finding>& findings_;
  double tolerance_;
  std::set<std::size_t> fresh_;  // motions that begin at an unknown place
  bool height_open_ = false;
  Vec3 where_ = Vec3::Zero();
  std::string met_;
};

}  // namespace

ClearanceTracker clearance_tracker(const run::SetupContext& context, const stock::Stock& stock) {
  const RigidMotion setup_from_stock = context.stock_from_setup.inverse();
  const Vec3 size = context.stock_box.sizes();
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    box.extend(Vec3(setup_from_stock.linear() *
                    Box3(Vec3(Vec3::Zero()), size).corner(static_cast<Box3::CornerType>(corner))));
  }
  const double cell =
      std::max(stock.voxel(), std::sqrt(box.sizes().x() * box.sizes().y() / most_cells));
  const measure::HeightMap tops = measure::column_tops(stock, setup_from_stock, cell);
  const double margin = by_right_angles(setup_from_stock) ? 0 : 0.5 * stock.voxel();
  std::shared_ptr<ColumnMap> part;
  if (context.part != nullptr) {
    mesh::Mesh mesh = *context.part;
    for (Vec3& v : mesh.vertices) v = setup_from_stock * v;
    part = std::make_shared<ColumnMap>(mesh::bounds(mesh), tops.cell, 0);
    part->raise(mesh);
    part->build_tree();
  }
  return ClearanceTracker(ColumnMap(tops, margin), std::move(part), run::barriers(context.fixtures),
                          context.bodies, context.job.machine.spindle.nose);
}

std::vector<Vec3> bent_way(const nc::Motion& m, const job::Machine& machine, double step) {
  const Vec3 way = m.end - m.start;
  const Vec3 speed = machine.rapid * machine.rapid_override / 60;
  double time = 0;
  for (int k = 0; k < 3; ++k)
    time = std::max(time, ramped_time(way[k], speed[k], machine.accel[k]));
  // At most top speed times a share of the time between two places.
  const double fastest = time * speed.norm();
  const int count = std::clamp(static_cast<int>(std::ceil(fastest / step)), 1, 20000);
  std::vector<Vec3> out;
  for (int n = 0; n <= count; ++n) {
    Vec3 at = m.start;
    for (int k = 0; k < 3; ++k)
      if (std::abs(way[k]) >= least_step)
        at[k] += ramped(way[k], speed[k], machine.accel[k], time * n / count);
    out.push_back(n == count ? m.end : at);
  }
  return out;
}

ClearanceFindings follow_clearance(const run::SetupContext& context,
                                   clearance::ClearanceTracker& tracker,
                                   const run::SetupCut& setup) {
  ClearanceFindings out;
  WayJudge judge(context, tracker, setup, out.findings);
  out.by_tool = tracker.follow(*setup.source, [&](std::size_t motion) { judge.judge(motion); });
  out.within_mm = tracker.resolution_mm();
  return out;
}

}  // namespace proveout::checks
