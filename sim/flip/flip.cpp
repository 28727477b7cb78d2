#include "sim/flip/flip.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace proveout::flip {
namespace {

constexpr double poor_match = 0.5;     // mm: no way of lying is any good beyond it
constexpr double lies_on_part = 0.25;  // mm, mean: a cut as near as this was made for the part

double from_part(const Placement& p) { return p.from_part.value_or(farthest); }

std::string words(const Flip& flip, const Placement& p) {
  return p.mirrored ? fmt::format("side {}'s {}", flip.later,
                                  p.name.find("as declared") == 0 ? "program mirrored"
                                                                  : "program mirrored and the "
                                                                    "blank turned otherwise")
                    : "the blank " + p.name;
}

std::string other_text(const Flip& flip, const Placement& declared, const Placement& other,
                       bool by_walls) {
  return by_walls ? fmt::format(
                        "the walls of sides {} and {} meet better with {}: {:.2f} mm apart, "
                        "{:.2f} as declared",
                        flip.earlier, flip.later, words(flip, other), other.apart, declared.apart)
                  : fmt::format(
                        "side {}'s cut fits the part better with {}: {:.2f} mm off it, {:.2f} "
                        "as declared",
                        flip.later, words(flip, other), from_part(other), from_part(declared));
}

std::string even_text(const Flip& flip, const Placement& declared, const Placement& rival,
                      bool by_walls, double tell) {
  if (!by_walls)
    return fmt::format(
        "cannot tell from the part: side {}'s cut fits it as well with the blank {} ({:.2f} mm "
        "off, {:.2f} as declared)",
        flip.later, rival.name, from_part(rival), from_part(declared));
  const bool nearer = rival.apart < declared.apart - tell;
  return fmt::format(
      "cannot tell from the walls: sides {} and {} meet {} with the blank {} ({:.2f} "
      "mm apart, {:.2f} as declared)",
      flip.earlier, flip.later, nearer ? "better but badly" : "as well", rival.name, rival.apart,
      declared.apart);
}

std::string disagreement(const Flip& flip, const Placement& declared, const Placement& other) {
  return fmt::format(
      "cannot tell: the walls of sides {} and {} meet better with {} ({:.2f} mm apart, {:.2f} as "
      "declared), but side {}'s cut lies on the part as declared ({:.2f} mm off it, {:.2f} there): "
      "mark the blank, and look where side {}'s walls lie",
      flip.earlier, flip.later, words(flip, other), other.apart, declared.apart, flip.later,
      from_part(declared), from_part(other), flip.earlier);
}

// The other placement that lies nearest by a figure. A mirrored program only where it is nearer by
// more than tell: an even outline fits mirrored as well as turned, and turning is the likelier
// slip.
template <class Figure>
std::size_t nearest_other(const std::vector<Placement>& all, std::optional<double> mirrored_by,
                          Figure figure) {
  std::size_t best = 0, mirrored = 0;
  for (std::size_t i = 1; i < all.size(); ++i) {
    std::size_t& kind = all[i].mirrored ? mirrored : best;
    if (kind == 0 || figure(all[i]) < figure(all[kind])) kind = i;
  }
  const bool by_mirror =
      mirrored_by && mirrored != 0 && figure(all[mirrored]) < figure(all[best]) - *mirrored_by;
  return by_mirror ? mirrored : best;
}

}  // namespace

void match_part(std::vector<Placement>& placements, const std::vector<Candidate>& candidates,
                std::span<const measure::SurfaceSample> later, const RigidMotion& plan_from_stock,
                const solid::PartDistance& part, double fine) {
  std::vector<std::vector<double>> off(candidates.size(), std::vector<double>(later.size()));
  std::vector<double> nearest(later.size(), farthest);
  for (std::size_t c = 0; c < candidates.size(); ++c) {
    const Eigen::Matrix4d in_stock = plan_from_stock.inverse().matrix() *
                                     candidates[c].moved.matrix() * plan_from_stock.matrix();
    for (std::size_t i = 0; i < later.size(); ++i) {
      const Vec3 at = (in_stock * later[i].at.cast<double>().homogeneous()).head<3>();
      off[c][i] = std::min(farthest, std::abs(part.at(at, farthest)));
      nearest[i] = std::min(nearest[i], off[c][i]);
    }
  }
  std::size_t on_part = 0;
  for (double d : nearest) on_part += d <= fine ? 1 : 0;
  if (on_part < 20 || on_part * 20 < later.size()) return;
  for (std::size_t c = 0; c < candidates.size(); ++c) {
    double sum = 0;
    for (std::size_t i = 0; i < later.size(); ++i) sum += nearest[i] <= fine ? off[c][i] : 0;
    placements[c].from_part = sum / static_cast<double>(on_part);
  }
}

void judge(Flip& flip, double tell) {
  const std::vector<Placement>& all = flip.placements;
  const Placement& declared = all.front();
  const auto apart = [](const Placement& p) { return p.apart; };
  const bool by_part = declared.from_part.has_value();
  // Walls that meet badly however the blank lies (holes and facing beside an outline) have nothing
  // in common, where the cut lies on the part as declared.
  if (by_part && from_part(declared) <= lies_on_part &&
      std::all_of(all.begin(), all.end(), [&](const auto& p) { return p.apart > poor_match; }))
    flip.compared_mm = 0;
  const bool by_walls = flip.compared_mm > 0;
  const std::size_t wall_rival = nearest_other(all, std::nullopt, apart),
                    part_rival = nearest_other(all, std::nullopt, from_part);
  const std::size_t wall_best = nearest_other(all, tell, apart),
                    part_best = nearest_other(all, tell, from_part);
  if (by_walls) flip.margin = all[wall_rival].apart - declared.apart;
  if (by_part) flip.by_part_margin = from_part(all[part_rival]) - from_part(declared);
  flip.best_other = by_walls ? wall_rival : by_part ? part_rival : 0;
  if (!by_walls && !by_part) {
    flip.decision = Decision::undecided;
    return;
  }
  const Placement& nearer = all[wall_best];
  if (by_walls && nearer.apart < declared.apart - tell && nearer.apart <= poor_match) {
    flip.best_other = wall_best;
    flip.margin = nearer.apart - declared.apart;
    const bool denied = by_part && from_part(declared) <= lies_on_part &&
                        from_part(nearer) > from_part(declared) + tell;
    flip.decision = denied ? Decision::cannot_tell : Decision::other;
    flip.text =
        denied ? disagreement(flip, declared, nearer) : other_text(flip, declared, nearer, true);
    return;
  }
  if (by_part && from_part(all[part_best]) < from_part(declared) - tell) {
    flip.decision = Decision::other;
    flip.best_other = part_best;
    flip.by_part_margin = from_part(all[part_best]) - from_part(declared);
    flip.text = other_text(flip, declared, all[part_best], false);
    return;
  }
  const Placement& rival = all[flip.best_other];
  const double margin = by_walls ? flip.margin : flip.by_part_margin;
  if (margin > tell) {
    flip.decision = Decision::declared;
    flip.text = by_walls
                    ? fmt::format(
                          "the walls of sides {} and {} meet as declared, {:.2f} mm apart; with "
                          "the blank {} they would lie {:.2f} apart",
                          flip.earlier, flip.later, declared.apart, rival.name, rival.apart)
                    : fmt::format(
                          "side {}'s cut fits the part as declared, {:.2f} mm off it; with the "
                          "blank {} it would be {:.2f}",
                          flip.later, from_part(declared), rival.name, from_part(rival));
    return;
  }
  flip.decision = Decision::cannot_tell;
  flip.text = even_text(flip, declared, rival, by_walls, tell);
  if (by_walls && by_part) {
    flip.text += rival.from_part && *rival.from_part - from_part(declared) <= tell
                     ? ", and lie on the part as well"
                     : fmt::format(", but {:.2f} mm off the part", from_part(rival));
  }
  const bool far = (by_walls ? declared.apart : from_part(declared)) > poor_match;
  flip.text += far ? "; neither fits well: look at the zeros first" : ": mark the blank";
}

}  // namespace proveout::flip
