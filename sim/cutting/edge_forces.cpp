#include "sim/cutting/edge_forces.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace proveout::cutting {
namespace {

// Chip as a function of the bearing: across cos(bearing) + down.
struct Chip {
  double across = 0, down = 0;
  Chip(const solid::EdgeSlice& s, const ToothFeed& feed)
      : across(feed.per_tooth * exact(std::cos(feed.descent)) * s.normal_radius),
        down(-feed.per_tooth * exact(std::sin(feed.descent)) * s.normal_height) {}
  double at_cosine(double cosine) const { return across * cosine + down; }
  // Straight down no side cuts, level no underside: rounding of pi must not say otherwise.
  static double exact(double share) { return std::abs(share) < 1e-9 ? 0 : share; }
};

double faded(double h, double fade) { return h >= fade ? 1 : h / fade; }
double risen(double h, double mc) { return mc == 0 ? h : std::pow(h, 1 - mc); }

// One slice of one column between two bearings: chips of one sign only.
void add_part(ChipIntegrals& sum, const Chip& chip, double a, double b, double surface,
              const LawShape& law) {
  if (!(b > a)) return;
  // The mean of the cosine is exact, so is then the volume.
  const double mean = chip.at_cosine((std::sin(b) - std::sin(a)) / (b - a));
  if (!(mean > 0)) return;
  const double area = surface * (b - a);
  sum.volume += mean * area;
  sum.chip += risen(mean, law.mc) * area;
  sum.edge += faded(mean, law.fade) * area;
  sum.area += area;
  const double nearest = a <= 0 && b >= 0 ? 1 : std::max(std::cos(a), std::cos(b));
  const double farthest = a <= pi && b >= pi ? -1 : std::min(std::cos(a), std::cos(b));
  sum.most_chip = std::max(sum.most_chip, chip.at_cosine(chip.across >= 0 ? nearest : farthest));
}

// The share of a slice between two places: its length, mm, and its middle's radius and height.
struct Piece {
  double length = 0, radius = 0, height = 0;
  Piece(const solid::EdgeSlice& s, double low, double high) {
    const double from = std::max(low, s.from), to = std::min(high, s.to);
    if (!(to > from)) return;
    const double middle = (0.5 * (from + to) - s.from) / (s.to - s.from);
    length = s.length * (to - from) / (s.to - s.from);
    radius = s.lower.radius + middle * (s.upper.radius - s.lower.radius);
    height = s.lower.height + middle * (s.upper.height - s.lower.height);
  }
};

}  // namespace

ChipIntegrals chip_integrals(const EngagedArea& area, const solid::EdgeProfile& profile,
                             const ToothFeed& feed, const LawShape& law) {
  ChipIntegrals sum;
  const double lowest = area.lowest(), highest = area.highest();
  for (const solid::EdgeSlice& s : profile.slices()) {
    if (s.to <= lowest || s.from >= highest) continue;
    const Chip chip(s, feed);
    // Chips change sign where the bearing's cosine is this.
    const double zero = chip.across != 0 ? -chip.down / chip.across : 2;
    const double turn = std::abs(zero) < 1 ? std::acos(zero) : -1;
    for (std::size_t k = 0; k < EngagedArea::columns; ++k) {
      if (!(area.high[k] > area.low[k])) continue;
      const Piece piece(s, area.low[k], area.high[k]);
      if (!(piece.length > 0)) continue;
      const double surface = piece.length * piece.radius;
      each_part(area, static_cast<int>(k), [&](double a, double b) {
        for (const double z : {-turn, turn, 2 * pi - turn}) {
          if (turn < 0 || z <= a || z >= b) continue;
          add_part(sum, chip, a, z, surface, law);
          a = z;
        }
        add_part(sum, chip, a, b, surface, law);
      });
    }
  }
  return sum;
}

namespace {

// Slices thin enough for the lag along a helix, between the area's lowest and highest places.
std::vector<solid::EdgeSlice> thin_slices(const EngagedArea& area,
                                          const solid::EdgeProfile& profile, double lag) {
  const double lowest = area.lowest(), highest = area.highest();
  double length = 0;
  for (const solid::EdgeSlice& s : profile.slices())
    length += std::max(0.0, std::min(s.to, highest) - std::max(s.from, lowest));
  // A slice lags by no more than about a degree along itself, in 48 slices at most.
  constexpr double most_lag = 1 / deg_per_rad;
  const double wanted = lag > 0 ? most_lag / lag : length;
  const double thin = std::max(std::min(wanted, length), length / 48);
  std::vector<solid::EdgeSlice> out;
  for (const solid::EdgeSlice& s : profile.slices()) {
    const double from = std::max(s.from, lowest), to = std::min(s.to, highest);
    if (!(to > from)) continue;
    const bool level = s.normal_radius == 0;
    const int count =
        level ? 1 : std::max(1, static_cast<int>(std::ceil((to - from) / thin - 1e-9)));
    for (int i = 0; i < count; ++i) {
      solid::EdgeSlice t = s;
      t.from = from + (to - from) * i / count;
      t.to = from + (to - from) * (i + 1) / count;
      const double a = (t.from - s.from) / (s.to - s.from), b = (t.to - s.from) / (s.to - s.from);
      t.lower = {s.lower.radius + a * (s.upper.radius - s.lower.radius),
                 s.lower.height + a * (s.upper.height - s.lower.height)};
      t.upper = {s.lower.radius + b * (s.upper.radius - s.lower.radius),
                 s.lower.height + b * (s.upper.height - s.lower.height)};
      t.length = s.length * (b - a);
      out.push_back(t);
    }
  }
  return out;
}

class Walker {
 public:
  Walker(const EngagedArea& area, const ToothFeed& feed, const LawShape& law, const Teeth& teeth)
      : area_(area), feed_(feed), law_(law), sense_(teeth.clockwise ? -1 : 1) {}

  // An edge of one slice at a bearing (rad), its cosine and sine.
  void add(ForceMoment& to, const solid::EdgeSlice& s, const Chip& chip, double bearing, double c,
           double sn) const {
    const double turns = std::floor((bearing + pi) / (2 * pi));
    double b = bearing - 2 * pi * turns;  // -pi to pi
    const int k =
        std::clamp(static_cast<int>((b + pi) / EngagedArea::width), 0, EngagedArea::columns - 1);
    const auto i = static_cast<std::size_t>(k);
    if (!(area_.high[i] > area_.low[i])) return;
    if (b < area_.from) b += 2 * pi;
    if (b > area_.to) return;
    const double h = chip.at_cosine(c);
    if (!(h > 0)) return;
    const double length = s.length *
                          (std::min(area_.high[i], s.to) - std::max(area_.low[i], s.from)) /
                          (s.to - s.from);
    if (!(length > 0)) return;
    const double thick = risen(h, law_.mc) * length, edge = faded(h, law_.fade) * length;
    // Along: against the edge's motion. In: against the face's normal, of which only what lies
    // across the axis bends the tool.
    const double in = s.normal_radius;
    const double ax = sense_ * sn, ay = -sense_ * c, nx = -c * in, ny = -sn * in;
    to.chip[0] += ax * thick, to.chip[1] += ay * thick;
    to.edge[0] += ax * edge, to.edge[1] += ay * edge;
    to.chip_in[0] += nx * thick, to.chip_in[1] += ny * thick;
    to.edge_in[0] += nx * edge, to.edge_in[1] += ny * edge;
  }

 private:
  const EngagedArea& area_;
  const ToothFeed& feed_;
  const LawShape& law_;
  double sense_;
};

}  // namespace

ForceWalk walk_forces(const EngagedArea& area, const solid::EdgeProfile& profile,
                      const ToothFeed& feed, const LawShape& law, const Teeth& teeth) {
  ForceWalk walk;
  const std::vector<solid::EdgeSlice> slices = thin_slices(area, profile, teeth.lag);
  if (slices.empty()) return walk;
  const Walker walker(area, feed, law, teeth);
  const double sense = teeth.clockwise ? -1 : 1;
  const int around = ForceWalk::steps * teeth.count;
  const double step = 2 * pi / around;
  // The finished wall stands square to the feed, where the material ends on that side; an edge
  // makes it at the moment it passes there.
  const bool wall_left = !area.whole_turn() && area.to > 85 / deg_per_rad;
  const bool wall_right = !area.whole_turn() && area.from < -85 / deg_per_rad;
  const auto height_of = [](const solid::EdgeSlice& s) {
    return 0.5 * (s.lower.height + s.upper.height);
  };
  // Steps alone pass by the peak of a short cut. A hair inside, so that rounding does not put the
  // edge out.
  const double hair = std::min(1e-9, (area.to - area.from) / 4);
  const double foot = teeth.lag * height_of(slices.front());
  const double top = teeth.lag * height_of(slices.back());
  const double ends[4] = {sense * (area.from + hair) + foot, sense * (area.to - hair) + foot,
                          sense * (area.from + hair) + top, sense * (area.to - hair) + top};
  std::vector<std::array<double, 2>> turned(static_cast<std::size_t>(around));
  for (int m = 0; m < around; ++m)
    turned[static_cast<std::size_t>(m)] = {std::cos(m * step), std::sin(m * step)};
  for (const solid::EdgeSlice& s : slices) {
    const Chip chip(s, feed);
    const double lag = teeth.lag * height_of(s), cl = std::cos(lag), sl = std::sin(lag);
    for (int m = 0; m < around; ++m) {
      const double bearing = sense * (m * step - lag);
      ForceMoment& to = walk.at[static_cast<std::size_t>(m % ForceWalk::steps)];
      const auto [cm, sm] = turned[static_cast<std::size_t>(m)];
      const double c = cm * cl + sm * sl, sn = sense * (sm * cl - cm * sl);
      if (to.wall_height < 0 && std::abs(c) <= step / 2 && (sn > 0 ? wall_left : wall_right))
        to.wall_height = height_of(s);
      walker.add(to, s, chip, bearing, c, sn);
    }
    for (std::size_t e = 0; e < 4; ++e) {
      for (int tooth = 0; tooth < teeth.count; ++tooth) {
        const double bearing = sense * (ends[e] + 2 * pi * tooth / teeth.count - lag);
        walker.add(walk.at[ForceWalk::steps + e], s, chip, bearing, std::cos(bearing),
                   std::sin(bearing));
      }
    }
  }
  return walk;
}

}  // namespace proveout::cutting
