#include "sim/causes/shift_fit.h"

#include <tbb/parallel_for.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace proveout::causes {
namespace {

constexpr std::size_t fewest = 60;
constexpr std::size_t few = 250, most = 3000;  // samples while screening, and to end with
constexpr std::size_t most_given = 1000;       // to choose from the starts given
constexpr int steps_few = 10, steps_most = 12;
constexpr std::size_t finalists = 4;
constexpr int again = 2;
constexpr double inside_weight = 1.5;  // a gouge speaks louder against a shift than waste's walls
// Least of the surface on the part, and more than before by so much (choices, tried on the demo and
// on random shifts of three parts).
constexpr double least_on = 0.25, least_gain = 0.1;
// Where little of the surface tells: so many samples, and so much of it, come to lie on the part,
// and next to none that did leaves it (choices, tried on plates with a small pocket and an outline
// cut through).
constexpr std::size_t least_gained = 20;
constexpr double nearly_all_on = 0.97;
constexpr double least_gained_share = 0.008, most_lost = 0.1;
constexpr double least_walls_off = 0.04;  // mm: half of a tool's size as far from its name (choice)
// Where more of the surface would leave the blank a shift fits too little of it (choice).
constexpr double most_leaving = 0.35;

struct Shares {
  double on = 0, inside = 0;
  double score() const { return on - inside_weight * inside; }
};

class Fit {
 public:
  Fit(const solid::PartDistance& part, double within, double reach, const Box3* blank)
      : part_(part), within_(within), reach_(reach) {
    if (blank != nullptr)
      blank_ = Box3(blank->min().array() - within, blank->max().array() + within);
  }

  // Only shifts in there count: mm.
  void keep_to(const Box3& shifts) { shifts_ = shifts; }

  Shares shares(std::span<const measure::SurfaceSample> of, const Vec3& shift) const {
    Shares out;
    if (of.empty()) return out;
    if (shifts_ && !shifts_->contains(shift)) return {0, 1};
    if (leaving(of, shift) > most_leaving) return {0, 1};
    for (const measure::SurfaceSample& s : of) {
      const double d = part_.at(moved_back(s, shift), reach_);
      if (std::abs(d) <= within_) out.on += 1;
      if (d < -within_) out.inside += 1;
    }
    out.on /= static_cast<double>(of.size());
    out.inside /= static_cast<double>(of.size());
    return out;
  }

  // Share of the samples that would leave the blank.
  double leaving(std::span<const measure::SurfaceSample> of, const Vec3& shift) const {
    if (!blank_) return 0;
    std::size_t out = 0;
    for (const measure::SurfaceSample& s : of)
      out += blank_->contains(Vec3(s.at.cast<double>() - shift)) ? 0 : 1;
    return static_cast<double>(out) / static_cast<double>(of.size());
  }

  // How many samples a shift lays on the part, and how many that lay on it leave it.
  struct Moved {
    std::size_t gained = 0, lost = 0;
  };
  Moved moved(std::span<const measure::SurfaceSample> of, const Vec3& shift) const {
    Moved out;
    for (const measure::SurfaceSample& s : of) {
      const bool before = std::abs(part_.at(s.at.cast<double>(), 2 * within_)) <= within_;
      const bool after = std::abs(part_.at(moved_back(s, shift), 2 * within_)) <= within_;
      if (after && !before) ++out.gained;
      if (before && !after) ++out.lost;
    }
    return out;
  }

  // Without what of it nothing speaks for.
  Vec3 simplest(std::span<const measure::SurfaceSample> of, Vec3 shift) const {
    double score = shares(of, shift).score();
    for (int axis = 0; axis < 3; ++axis) {
      Vec3 less = shift;
      less[axis] = 0;
      const double without = shares(of, less).score();
      if (without < score - 0.002) continue;
      shift = less;
      score = std::max(score, without);
    }
    return shift;
  }

  Vec3 refined(std::span<const measure::SurfaceSample> of, const Vec3& shift, int steps,
               double scale) const {
    return refined_shift(of, part_, shift, steps, scale, 0.4 * within_, reach_);
  }

 private:
  // What would leave the blank is judged as it lies.
  Vec3 moved_back(const measure::SurfaceSample& s, const Vec3& shift) const {
    const Vec3 at = s.at.cast<double>();
    return !blank_ || blank_->contains(Vec3(at - shift)) ? Vec3(at - shift) : at;
  }

  const solid::PartDistance& part_;
  double within_, reach_;
  std::optional<Box3> blank_, shifts_;
};

std::vector<measure::SurfaceSample> thinned(std::span<const measure::SurfaceSample> of,
                                            std::size_t count) {
  std::vector<measure::SurfaceSample> out;
  const std::size_t every = std::max<std::size_t>(1, of.size() / count);
  for (std::size_t i = every / 2; i < of.size(); i += every) out.push_back(of[i]);
  return out;
}

std::vector<Vec3> all_starts(std::span<const Vec3> given, double reach) {
  std::vector<Vec3> out{Vec3::Zero()};
  out.insert(out.end(), given.begin(), given.end());
  for (double size = reach; size > 0.02 * reach; size /= 2) {
    for (int axis = 0; axis < 3; ++axis) {
      for (const double sign : {-1.0, 1.0}) out.push_back(sign * size * Vec3::Unit(axis));
    }
  }
  return out;
}

// Whether along some axis the shift turned round puts nearly as much of the surface on the part as
// the shift itself: material left on (or missing from) two walls that face each other, of which a
// shift fits the one or the other and mends neither.
bool either_way(const Fit& fit, std::span<const measure::SurfaceSample> of, const Vec3& shift,
                double on) {
  constexpr double nearly = 0.4;  // choice: of walls of unlike sizes
  for (int axis = 0; axis < 3; ++axis) {
    Vec3 without = shift, turned = shift;
    without[axis] = 0;
    turned[axis] = -shift[axis];
    const double from = fit.shares(of, without).on;
    const double gain = on - from, other_gain = fit.shares(of, turned).on - from;
    if (gain > 0.02 && other_gain >= nearly * gain) return true;
  }
  return false;
}

ShiftFit best_shift(const Fit& fit, std::span<const measure::SurfaceSample> samples,
                    std::span<const Vec3> starts, double within, double reach) {
  ShiftFit out;
  out.within = within;
  out.samples = samples.size();
  if (samples.size() < fewest) return out;
  const auto coarse = thinned(samples, few), fine = thinned(samples, most);
  const Shares before = fit.shares(fine, Vec3::Zero());
  out.on_before = out.on_after = before.on;
  out.inside_before = out.inside_after = before.inside;
  // Too little is off for any shift to be found.
  if (before.on > 1 - least_gained_share) return out;

  struct End {
    Vec3 shift;
    double score;
  };
  std::vector<End> ends;
  const auto by_score = [](const End& a, const End& b) { return a.score > b.score; };
  const auto try_from = [&](const std::vector<Vec3>& all) {
    std::vector<std::optional<End>> found(all.size());  // one a start: the order is that of starts
    tbb::parallel_for(std::size_t{0}, all.size(), [&](std::size_t i) {
      const Vec3 shift = fit.refined(coarse, all[i], steps_few, 0.25 * reach / 4.685);
      if ((shift - all[i]).norm() <= 1.5 * reach)
        found[i] = End{shift, fit.shares(coarse, shift).score()};
    });
    for (const std::optional<End>& end : found) {
      if (end) ends.push_back(*end);
    }
  };
  try_from(all_starts(starts, reach));
  // One axis may have been caught on the wrong wall: from the best ends so far, along each axis
  // anew.
  for (int round = 0; round < again; ++round) {
    std::stable_sort(ends.begin(), ends.end(), by_score);
    if (ends.empty()) return out;
    ends.resize(std::min(ends.size(), finalists));
    std::vector<Vec3> anew;
    for (std::size_t i = 0; i < std::min<std::size_t>(2, ends.size()); ++i) {
      for (const Vec3& step : all_starts({}, 0.5 * reach)) anew.push_back(ends[i].shift + step);
    }
    try_from(anew);
  }
  std::stable_sort(ends.begin(), ends.end(), by_score);
  Shares best = before;
  ends.resize(std::min(finalists, ends.size()));
  // Of the starts given the best as they are: what little tells them is lost among few samples.
  const auto some = thinned(samples, most_given);
  std::vector<End> as_given(starts.size());
  tbb::parallel_for(std::size_t{0}, starts.size(), [&](std::size_t i) {
    as_given[i] = {starts[i], fit.shares(some, starts[i]).score()};
  });
  std::stable_sort(as_given.begin(), as_given.end(), by_score);
  as_given.resize(std::min<std::size_t>(2, as_given.size()));
  ends.insert(ends.end(), as_given.begin(), as_given.end());
  std::vector<std::pair<Vec3, Shares>> last(ends.size());
  tbb::parallel_for(std::size_t{0}, last.size(), [&](std::size_t i) {
    const Vec3 shift = fit.refined(fine, ends[i].shift, steps_most, 3 * within);
    last[i] = {shift, fit.shares(fine, shift)};
    const Shares unrefined = fit.shares(fine, ends[i].shift);
    if (unrefined.score() > last[i].second.score()) last[i] = {ends[i].shift, unrefined};
  });
  for (const auto& [shift, now] : last) {
    if (!(now.score() > best.score())) continue;
    best = now;
    out.shift = shift;
  }
  out.shift = fit.simplest(fine, out.shift);
  best = fit.shares(fine, out.shift);
  out.on_after = best.on;
  out.inside_after = best.inside;
  const bool clean = best.inside <= std::max(0.01, 0.1 * before.inside);
  if (!(out.shift.norm() > within) || !clean || either_way(fit, fine, out.shift, best.on))
    return out;
  out.found = best.on >= least_on && best.on >= before.on + least_gain;
  if (out.found) return out;
  // So little evidence bears no more than one axis, free in three it fits anything; two where the
  // whole of what was cut is right then.
  const auto axes = (out.shift.array() != 0).count();
  const bool all_right = best.on >= nearly_all_on;
  if (axes != 1 && !(axes == 2 && all_right)) return out;
  const Fit::Moved moved = fit.moved(fine, out.shift);
  const auto share = static_cast<double>(moved.gained) / static_cast<double>(fine.size());
  out.found = moved.gained >= least_gained && share >= least_gained_share &&
              static_cast<double>(moved.lost) <= most_lost * static_cast<double>(moved.gained);
  out.by_little = out.found;
  return out;
}

}  // namespace

// Distance of a sample moved back by a shift that is off by e is about outward . e.
Vec3 refined_shift(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                   Vec3 shift, int steps, double scale, double last_scale, double reach) {
  for (int k = 0; k < steps; ++k) {
    Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
    Vec3 right = Vec3::Zero();
    const double weighed = 4.685 * scale;  // what lies farther has no weight, and need not be known
    for (const measure::SurfaceSample& s : samples) {
      const double d = part.at(s.at.cast<double>() - shift, std::min(reach, weighed));
      const double u = d / weighed;
      if (std::abs(u) >= 1) continue;
      const double w = (1 - u * u) * (1 - u * u);
      const Vec3 n = s.outward.cast<double>();
      normal += w * n * n.transpose();
      right += w * d * n;
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(normal);
    const double largest = solver.eigenvalues().maxCoeff();
    if (!(largest > 0)) return shift;
    for (int j = 0; j < 3; ++j) {
      if (!(solver.eigenvalues()[j] > 1e-3 * largest)) continue;
      const Vec3 way = solver.eigenvectors().col(j);
      shift += way * (way.dot(right) / solver.eigenvalues()[j]);
    }
    scale = std::max(last_scale, 0.7 * scale);
  }
  return shift;
}

ShiftFit fit_shift(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                   std::span<const Vec3> starts, double within, double reach, const Box3* blank) {
  return best_shift(Fit(part, within, 1.2 * reach, blank), samples, starts, within, reach);
}

ShiftFit fit_part_shift(std::span<const measure::SurfaceSample> samples,
                        const solid::PartDistance& part, std::span<const Vec3> starts,
                        double within, double reach, const Box3& blank) {
  Fit fit(part, within, 1.2 * reach, nullptr);
  const Box3 as_declared = mesh::bounds(part.mesh());
  fit.keep_to(Box3(blank.min() - as_declared.min() - Vec3::Constant(within),
                   blank.max() - as_declared.max() + Vec3::Constant(within)));
  ShiftFit out = best_shift(fit, samples, starts, within, reach);
  out.part_moves = out.found;
  return out;
}

ShiftFit fit_in_place(std::span<const measure::SurfaceSample> samples,
                      const solid::PartDistance& part, double within, double reach) {
  ShiftFit out;
  out.within = within;
  out.samples = samples.size();
  if (samples.size() < fewest) return out;
  const Fit fit(part, within, 1.2 * reach, nullptr);
  const auto fine = thinned(samples, most);
  const Shares before = fit.shares(fine, Vec3::Zero());
  out.shift = fit.simplest(fine, fit.refined(fine, Vec3::Zero(), steps_most, 3 * within));
  const Shares after = fit.shares(fine, out.shift);
  out.on_before = before.on;
  out.inside_before = before.inside;
  out.on_after = after.on;
  out.inside_after = after.inside;
  return out;
}

void tell_levels(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                 const Vec3& up, ShiftFit& fit) {
  if (!fit.found || std::abs(up.dot(fit.shift)) < 0.95 * fit.shift.norm()) return;
  std::vector<double> heights;
  for (const measure::SurfaceSample& s : thinned(samples, most)) {
    const Vec3 at = s.at.cast<double>();
    if (up.dot(s.outward.cast<double>()) < 0.9) continue;
    const double far = 2 * fit.within;
    if (std::abs(part.at(at, far)) > fit.within &&
        std::abs(part.at(at - fit.shift, far)) <= fit.within)
      heights.push_back(up.dot(at));
  }
  std::sort(heights.begin(), heights.end());
  std::size_t levels = 0, first = 0;
  for (std::size_t i = 1; i <= heights.size(); ++i) {
    if (i < heights.size() && heights[i] - heights[i - 1] <= 2 * fit.within) continue;
    if (10 * (i - first) >= heights.size()) ++levels;
    first = i;
  }
  fit.one_level = levels <= 1;
}

void tell_walls_off(std::span<const measure::SurfaceSample> samples,
                    const solid::PartDistance& part, const Vec3& up, double reach,
                    const std::function<double(const measure::SurfaceSample&)>& radius_of,
                    ShiftFit& fit) {
  constexpr double steepest = 0.3;  // sine against the tool's axis: a wall
  const auto some = thinned(samples, most);
  std::vector<double> walls;
  std::vector<std::pair<double, double>> all;  // distance, and how much of a wall it is
  for (const measure::SurfaceSample& s : some) {
    const double d = part.at(s.at.cast<double>(), 1.2 * reach);
    const double along = up.dot(s.outward.cast<double>());
    all.emplace_back(d, std::sqrt(std::max(0.0, 1 - along * along)));
    if (std::abs(along) <= steepest && std::abs(d) < std::min(reach, radius_of(s)))
      walls.push_back(d);
  }
  if (walls.size() < fewest) return;
  const auto middle = walls.begin() + static_cast<std::ptrdiff_t>(walls.size() / 2);
  std::nth_element(walls.begin(), middle, walls.end());
  const double off = *middle;
  // Flat walls are told far finer than a shift: what a tool of another size leaves on them may be
  // less than counts as on the part.
  const double fine = std::min(fit.within, std::abs(off) / 2);
  if (std::abs(off) <= least_walls_off) return;
  double on = 0, on_walls = 0, before = 0;
  for (const auto& [d, wall] : all) {
    const bool hit = std::abs(d - off * wall) <= fine;
    before += std::abs(d) <= fine ? 1 : 0;
    on += hit ? 1 : 0;
    on_walls += hit && wall > 0.95 ? 1 : 0;
  }
  on /= static_cast<double>(all.size());
  before /= static_cast<double>(all.size());
  const bool most_walls = on_walls >= 0.5 * static_cast<double>(walls.size());
  if (!most_walls || on < before + least_gain) return;
  if (fit.found && (on <= fit.on_after || fine < fit.within)) return;
  fit.found = false;
  fit.walls_off = off;
}

}  // namespace proveout::causes
