#include "sim/flip/placement.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace proveout::flip {
namespace {

constexpr double bin = farthest;      // mm
constexpr double beside = 2;          // mm: how far along the wall a stretch is looked for
constexpr double turned_away = 0.85;  // cosine: walls that face elsewhere continue nothing
constexpr double least_share = 0.25;  // of the later walls must meet something
// And of those that meet at a distance only, by one way of lying: of a round hole in a pocket's
// corner no more than 4 x 32 of its 360 degrees face as the walls do, which is no wall continued at
// the wrong place.
constexpr double least_share_apart = 0.6;
constexpr double unlike_a_shift = 0.1;  // of the steps' squares, where no shift accounts for them
constexpr std::size_t fewest_stretches = 8;
constexpr std::size_t fewest_facing = 2;  // one way, of a wall

struct Step {
  Vec2 outward = Vec2::Zero();
  double step = 0;
};

// Two walls meet, or fit some shift, by chance: only a third that faces elsewhere can deny it.
bool face_three_ways(const std::vector<Step>& steps) {
  std::array<std::size_t, 4> facing{};
  for (const Step& s : steps) {
    const bool along_x = std::abs(s.outward.x()) > std::abs(s.outward.y());
    const bool up = (along_x ? s.outward.x() : s.outward.y()) > 0;
    ++facing[(along_x ? 0U : 2U) + (up ? 1U : 0U)];
  }
  return std::count_if(facing.begin(), facing.end(), [&](std::size_t n) {
           return n >= fewest_facing && n * 10 >= steps.size();
         }) >= 3;
}

// Whether the steps are those of walls shifted as one: a hole amidst a pocket stands proud all
// round.
bool like_a_shift(const std::vector<Step>& steps) {
  Eigen::Matrix2d a = Eigen::Matrix2d::Zero();
  Vec2 b = Vec2::Zero();
  double all = 0;
  for (const Step& s : steps) {
    a += s.outward * s.outward.transpose();
    b += s.step * s.outward;
    all += s.step * s.step;
  }
  const Vec2 shift = a.completeOrthogonalDecomposition().solve(b);
  return all - b.dot(shift) <= unlike_a_shift * all;
}

// Whether by one way of lying the walls meet within so many mm, which is no chance of a few.
bool meet(const std::vector<Step>& all, double within, bool apart, std::size_t later) {
  std::vector<Step> steps;
  std::copy_if(all.begin(), all.end(), std::back_inserter(steps),
               [&](const Step& s) { return std::abs(s.step) <= within; });
  const double share = apart ? least_share_apart : least_share;
  return steps.size() >= fewest_stretches &&
         static_cast<double>(steps.size()) >= share * static_cast<double>(later) &&
         face_three_ways(steps) && (!apart || like_a_shift(steps));
}

}  // namespace

Stretch moved(const Stretch& stretch, const RigidMotion& motion) {
  Stretch out = stretch;
  const Vec3 at = motion * Vec3(stretch.at.x(), stretch.at.y(), stretch.z);
  const Vec3 outward = motion.linear() * Vec3(stretch.outward.x(), stretch.outward.y(), 0);
  out.at = at.head<2>();
  out.z = at.z();
  out.edge = stretch.edge + (at.z() - stretch.z);
  out.outward = outward.head<2>();
  return out;
}

EarlierWalls::EarlierWalls(std::vector<Stretch> stretches) : stretches_(std::move(stretches)) {
  if (stretches_.empty()) return;
  Eigen::AlignedBox2d box;
  for (const Stretch& s : stretches_) box.extend(s.at);
  x0_ = box.min().x();
  y0_ = box.min().y();
  columns_ = static_cast<int>(box.sizes().x() / bin) + 1;
  rows_ = static_cast<int>(box.sizes().y() / bin) + 1;
  bins_.resize(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_));
  for (std::size_t i = 0; i < stretches_.size(); ++i) {
    const auto column = static_cast<std::size_t>((stretches_[i].at.x() - x0_) / bin);
    const auto row = static_cast<std::size_t>((stretches_[i].at.y() - y0_) / bin);
    bins_[row * static_cast<std::size_t>(columns_) + column].push_back(i);
  }
}

double EarlierWalls::lowest_edge() const {
  double lowest = 1e300;
  for (const Stretch& s : stretches_) lowest = std::min(lowest, s.edge);
  return lowest;
}

std::optional<Continued> EarlierWalls::continued(const Stretch& later) const {
  const double column = std::floor((later.at.x() - x0_) / bin),
               row = std::floor((later.at.y() - y0_) / bin);
  std::optional<Continued> best;
  double least = 1e300;
  for (int j = -1; j <= 1; ++j) {
    for (int i = -1; i <= 1; ++i) {
      const double c = column + i, r = row + j;
      if (!(c >= 0 && r >= 0 && c < columns_ && r < rows_)) continue;
      const auto& list = bins_[static_cast<std::size_t>(r) * static_cast<std::size_t>(columns_) +
                               static_cast<std::size_t>(c)];
      for (std::size_t k : list) {
        const Stretch& earlier = stretches_[k];
        if (earlier.edge > later.edge + thickest_web) continue;
        if (earlier.outward.dot(later.outward) < turned_away) continue;
        const double height = 0.5 * (earlier.edge + later.edge);
        const Vec2 apart = later.at_height(height) - earlier.at_height(height);
        // The mean of two normals of one circle is square to the chord between their places: a
        // round wall shows no step against itself.
        const Vec2 across = (earlier.outward + later.outward).normalized();
        const double step = across.dot(apart);
        const double along = std::abs(across.x() * apart.y() - across.y() * apart.x());
        if (std::abs(step) > farthest || along > beside) continue;
        const double cost = std::abs(step) + 0.5 * along;
        if (cost < least) {
          least = cost;
          best = Continued{step, k};
        }
      }
    }
  }
  return best;
}

Match match(const EarlierWalls& earlier, const std::vector<Stretch>& later,
            const std::vector<Candidate>& candidates, double fine) {
  std::vector<std::vector<double>> apart(candidates.size(), std::vector<double>(later.size()));
  std::vector<double> nearest(later.size(), farthest);
  std::vector<std::vector<Step>> steps(candidates.size());
  for (std::size_t c = 0; c < candidates.size(); ++c) {
    for (std::size_t i = 0; i < later.size(); ++i) {
      const Stretch lying = moved(later[i], candidates[c].moved);
      const auto found = earlier.continued(lying);
      apart[c][i] = found ? std::abs(found->step) : farthest;
      nearest[i] = std::min(nearest[i], apart[c][i]);
      if (found) steps[c].push_back({lying.outward, found->step});
    }
  }
  Match out;
  for (double within : std::array<double, 4>{fine, 2 * fine, 2, 0.99 * farthest}) {
    if (within < out.met_within) continue;
    out.met_within = within;
    out.compared = static_cast<std::size_t>(
        std::count_if(nearest.begin(), nearest.end(), [&](double d) { return d <= within; }));
    if (std::any_of(steps.begin(), steps.end(), [&](const auto& all) {
          return meet(all, within, within > 2 * fine, later.size());
        }))
      break;
    out.compared = 0;
  }
  for (std::size_t c = 0; c < candidates.size(); ++c) {
    Placement p;
    p.name = candidates[c].name;
    p.quarter_turns = candidates[c].quarter_turns;
    p.mirrored = candidates[c].mirrored;
    p.declared = c == 0;
    p.apart = farthest;
    if (out.compared > 0) {
      double sum = 0, met = 0;
      for (std::size_t i = 0; i < later.size(); ++i) {
        if (nearest[i] > out.met_within) continue;
        sum += apart[c][i];
        if (apart[c][i] <= out.met_within) ++met;
      }
      p.apart = sum / static_cast<double>(out.compared);
      p.met = met / static_cast<double>(out.compared);
    }
    out.placements.push_back(std::move(p));
  }
  return out;
}

}  // namespace proveout::flip
