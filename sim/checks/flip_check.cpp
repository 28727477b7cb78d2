#include "sim/checks/flip_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/flip/candidates.h"

namespace proveout::checks {
namespace {

constexpr std::size_t most_wall_samples = 2'000'000;
constexpr std::size_t most_part_samples = 30'000;  // of the whole stock, before those of one side
constexpr std::size_t most_fit_samples = 4'000;
constexpr double near_part = 1;        // mm
constexpr double largest_step = 0.25;  // mm, of the seam: common practice, no source

// Resolution of the walls: stretches of a millimetre or some voxels, from the samples of the last
// millimetre or some voxels of height.
double stretch_cell(double voxel) { return std::max(1.0, 5 * voxel); }
double edge_window(double voxel) { return std::max(1.0, 5 * voxel); }
double map_cell(double voxel) { return std::max(0.5, 2.5 * voxel); }

bool made_by(const run::SetupResult& setup, stock::MotionId id) {
  return id >= setup.first_id && id - setup.first_id < setup.cut.motions.size();
}

std::vector<measure::SurfaceSample> walls_along(const stock::Stock& stock, const Vec3& axis) {
  return measure::surface_samples(
      stock,
      [&](const Vec3& outward, stock::MotionId by) {
        return by != stock::from_blank && std::abs(outward.dot(axis)) <= flip::steepest_wall;
      },
      most_wall_samples);
}

// Evenly drawn from those of one side.
std::vector<measure::SurfaceSample> some_of(const std::vector<measure::SurfaceSample>& samples,
                                            const std::function<bool(stock::MotionId)>& keep,
                                            std::size_t most) {
  std::vector<measure::SurfaceSample> kept;
  for (const measure::SurfaceSample& s : samples) {
    if (keep(s.by)) kept.push_back(s);
  }
  const std::size_t stride = (kept.size() + most - 1) / std::max<std::size_t>(1, most);
  std::vector<measure::SurfaceSample> out;
  for (std::size_t i = 0; i < kept.size(); i += std::max<std::size_t>(1, stride))
    out.push_back(kept[i]);
  return out;
}

// Stretches within near_part of the part under at least one of the ways: a ledge between frame and
// slot is no step on the part.
std::vector<flip::Stretch> on_part(const std::vector<flip::Stretch>& walls,
                                   std::span<const flip::Candidate> ways,
                                   const RigidMotion& stock_from_plan,
                                   const solid::PartDistance* part) {
  if (part == nullptr) return walls;
  std::vector<flip::Stretch> out;
  for (const flip::Stretch& wall : walls) {
    const bool near = std::any_of(ways.begin(), ways.end(), [&](const flip::Candidate& way) {
      const flip::Stretch lying = flip::moved(wall, way.moved);
      const Vec3 at = stock_from_plan * Vec3(lying.at.x(), lying.at.y(), lying.z);
      return std::abs(part->at(at, 2 * near_part)) <= near_part;
    });
    if (near) out.push_back(wall);
  }
  return out;
}

// By how much the sides miss each other as declared: the walls met, or the shift that the steps of
// the seam read like. 0: nothing tells.
double missed_by(const flip::Flip& flip) {
  if (!(flip.compared_mm > 0)) return 0;
  // Where no wall meets one as declared its distance is only the most that is looked for.
  const flip::Placement& declared = flip.placements.front();
  return std::max(declared.met > 0 ? declared.apart : 0,
                  std::hypot(flip.seam.reading.x, flip.seam.reading.y));
}

Finding flip_finding(const flip::Flip& flip, const run::SetupResult& later, Severity level) {
  Finding f;
  f.kind = FindingKind::flip_mismatch;
  f.level = level;
  f.setup = later.name;
  f.file = later.program;
  f.value = flip.placements.front().apart;
  f.limit = flip.placements[flip.best_other].apart;
  f.unit = "mm";
  return f;
}

void say(const flip::Flip& flip, const run::SetupResult& later, double step_limit,
         FindingCollector& findings) {
  if (flip.decision == flip::Decision::other || flip.decision == flip::Decision::cannot_tell) {
    const bool other = flip.decision == flip::Decision::other;
    Finding f = flip_finding(flip, later, other ? Severity::error : Severity::note);
    f.text = flip.text;
    f.detail = other ? "placement" : "cannot tell";
    findings.add(std::move(f));
  }
  const double missed = missed_by(flip);
  if (flip.decision == flip::Decision::other || !(missed > step_limit)) return;
  Finding f = flip_finding(flip, later, Severity::warning);
  f.detail = "step";
  f.value = missed;
  f.limit = step_limit;
  f.text = fmt::format(
      "as declared, sides {} and {} miss each other by about {:.2f} mm where their walls should "
      "meet: look at both zeros and at how the blank lies",
      flip.earlier, flip.later, missed);
  findings.add(std::move(f));
}

// One pair of sides, step by step.
class Pair {
 public:
  Pair(const run::JobResult& result, const run::SetupResult& later, const SidesBefore& before,
       const SidesContext& context)
      : result_(result),
        later_(later),
        earlier_(result.setups[before.earlier]),
        before_(before),
        context_(context),
        voxel_(result.stock->voxel()),
        plan_from_stock_(earlier_.stock_from_setup.inverse()),
        ways_(flip::candidates(context.setup, earlier_.stock_from_setup, context.blank,
                               context.milled)) {}

  flip::Flip compare() {
    const auto samples = walls_along(*result_.stock, earlier_.stock_from_setup.linear().col(2));
    const auto by_later = [&](stock::MotionId by) { return made_by(later_, by); };
    const std::vector<flip::Stretch> walls =
        on_part(flip::stretches(samples, plan_from_stock_, flip::Edge::highest,
                                stretch_cell(voxel_), edge_window(voxel_), by_later),
                ways_, earlier_.stock_from_setup, context_.part);
    flip::Flip flip;
    flip.earlier = earlier_.name;
    flip.later = later_.name;
    compare_placements(walls, flip);
    if (context_.part != nullptr) {
      flip.best_fit = flip::best_fit(some_of(samples, by_later, most_fit_samples), *context_.part,
                                     later_.stock_from_setup, supports());
    }
    if (flip.compared_mm > 0) look_along_seam(walls, flip);
    return flip;
  }

 private:
  std::span<const Box3> supports() const {
    return result_.job.part ? std::span<const Box3>(result_.job.part->supports)
                            : std::span<const Box3>();
  }

  void compare_placements(const std::vector<flip::Stretch>& walls, flip::Flip& flip) const {
    const double fine = std::max(0.5, 2 * voxel_);
    const flip::Match match = flip::match(before_.walls, walls, ways_, fine);
    flip.placements = match.placements;
    flip.compared_mm = static_cast<double>(match.compared) * stretch_cell(voxel_);
    flip.met_within = match.met_within;
    if (context_.part != nullptr) {
      const auto surface = measure::surface_samples(
          *result_.stock, [&](const Vec3&, stock::MotionId by) { return made_by(later_, by); },
          most_part_samples);
      flip::match_part(flip.placements, ways_, surface, plan_from_stock_, *context_.part, fine);
    }
    flip::judge(flip, std::max(0.1, 0.5 * voxel_));
    if (flip.decision != flip::Decision::undecided) return;
    const char* where = context_.part != nullptr ? " near the part" : "";
    flip.text = before_.walls.empty() ? fmt::format("side {} left no walls", flip.earlier)
                : walls.empty()       ? fmt::format("side {} makes no walls{}", flip.later, where)
                                      : fmt::format(
                                            "no wall of side {} continues one of side {}, "
                                                  "however the blank lies",
                                            flip.later, flip.earlier);
  }

  void look_along_seam(const std::vector<flip::Stretch>& walls, flip::Flip& flip) const {
    const RigidMotion plan_from_later = plan_from_stock_ * later_.stock_from_setup;
    const measure::HeightMap reached =
        flip::reach_map(*later_.source, context_.bodies, plan_from_later, before_.left);
    const std::vector<flip::Stretch> as_declared =
        on_part(walls, std::span(ways_).first(1), earlier_.stock_from_setup, context_.part);
    flip.seam = flip::seam({before_.walls, as_declared, earlier_.stock_from_setup,
                            later_.stock_from_setup, std::max(flip.met_within, 1.0),
                            stretch_cell(voxel_), before_.left, reached, supports()});
    const Vec3 middle = plan_from_stock_ * context_.blank.center();
    flip.spread =
        flip::spread({result_.job.setups[before_.earlier], context_.setup, plan_from_later,
                      middle.head<2>(), flip.seam, before_.left, reached});
  }

  const run::JobResult& result_;
  const run::SetupResult &later_, &earlier_;
  const SidesBefore& before_;
  const SidesContext& context_;
  double voxel_;
  RigidMotion plan_from_stock_;
  std::vector<flip::Candidate> ways_;
};

std::vector<run::NotChecked> not_told(const run::JobContext& context) {
  const std::vector<flip::Flip>& flips = context.result.flips;
  if (context.job.setups.size() < 2) return {lacking("there is one setup only")};
  if (flips.empty()) return {lacking("no setup comes from the side opposite to an earlier one's")};
  const auto silent = [](const flip::Flip& f) { return f.decision == flip::Decision::undecided; };
  const bool in_part = !std::all_of(flips.begin(), flips.end(), silent);
  std::vector<run::NotChecked> out;
  for (const flip::Flip& f : flips) {
    if (silent(f)) out.push_back({{}, f.text, in_part, {f.later}});
  }
  return out;
}

}  // namespace

std::optional<SidesBefore> look_before_turning(const run::JobResult& result,
                                               const stock::Stock& stock,
                                               const RigidMotion& stock_from_later) {
  std::optional<std::size_t> nearest;
  for (std::size_t k = 0; k < result.setups.size(); ++k) {
    if (flip::opposed(result.setups[k].stock_from_setup, stock_from_later)) nearest = k;
  }
  if (!nearest) return std::nullopt;
  const RigidMotion& stock_from_plan = result.setups[*nearest].stock_from_setup;
  const double voxel = stock.voxel();
  // Every setup from that side counts: a roughing setup may have left what a later one did not
  // touch.
  const auto keep = [&](stock::MotionId by) {
    return std::any_of(result.setups.begin(), result.setups.end(), [&](const run::SetupResult& s) {
      return made_by(s, by) && flip::opposed(s.stock_from_setup, stock_from_later);
    });
  };
  const auto samples = walls_along(stock, stock_from_plan.linear().col(2));
  return SidesBefore{
      *nearest,
      flip::EarlierWalls(flip::stretches(samples, stock_from_plan.inverse(), flip::Edge::lowest,
                                         stretch_cell(voxel), edge_window(voxel), keep)),
      measure::height_map(stock, stock_from_plan.inverse(), map_cell(voxel))};
}

flip::Flip check_flip(const run::JobResult& result, const run::SetupResult& later,
                      const SidesBefore& before, const SidesContext& context,
                      FindingCollector& findings) {
  flip::Flip flip = Pair(result, later, before, context).compare();
  say(flip, later, std::max(largest_step, result.stock->voxel()), findings);
  return flip;
}

constinit const run::Check kinds::flip_mismatch{
    .kind = FindingKind::flip_mismatch,
    .level = Severity::error,
    .meaning = "the two sides do not meet as declared",
    .help = "Check the turn, the zero and the corner; mark the blank.",
    .needs = "two setups",
    .lacks = run::Lack::setups,
    .not_checked = not_told};

}  // namespace proveout::checks
