#include "sim/cutting/edge_forces.h"

#include <algorithm>
#include <array>
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
void add_part(ChipIntegrals& sum, const Chip& chip, const Bearing& a, const Bearing& b,
              double surface, const LawShape& law) {
  if (!(b.at > a.at)) return;
  // The mean of the cosine is exact, so is then the volume.
  const double mean = chip.at_cosine((b.sine - a.sine) / (b.at - a.at));
  if (!(mean > 0)) return;
  const double area = surface * (b.at - a.at);
  sum.volume += mean * area;
  sum.chip += risen(mean, law.mc) * area;
  sum.edge += faded(mean, law.fade) * area;
  sum.area += area;
  const double nearest = a.at <= 0 && b.at >= 0 ? 1 : std::max(a.cosine, b.cosine);
  const double farthest = a.at <= pi && b.at >= pi ? -1 : std::min(a.cosine, b.cosine);
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
  const ColumnParts columns(area);
  const double lowest = area.lowest(), highest = area.highest();
  for (const solid::EdgeSlice& s : profile.slices()) {
    if (s.to <= lowest || s.from >= highest) continue;
    const Chip chip(s, feed);
    if (chip.across == 0 && !(chip.down > 0)) continue;
    // Chips change sign where the bearing's cosine is this.
    const double zero = chip.across != 0 ? -chip.down / chip.across : 2;
    const bool turns = std::abs(zero) < 1;
    std::array<Bearing, 3> signs;
    if (turns) {
      const double turn = std::acos(zero);
      signs = {Bearing(-turn), Bearing(turn), Bearing(2 * pi - turn)};
    }
    for (const ColumnPart& part : columns) {
      const Piece piece(s, area.low[part.column], area.high[part.column]);
      if (!(piece.length > 0)) continue;
      const double surface = piece.length * piece.radius;
      Bearing from = part.from;
      if (turns) {
        for (const Bearing& z : signs) {
          if (z.at <= from.at || z.at >= part.to.at) continue;
          add_part(sum, chip, from, z, surface, law);
          from = z;
        }
      }
      add_part(sum, chip, from, part.to, surface, law);
    }
  }
  return sum;
}

namespace {

// Slices thin enough for the lag along a helix, between the area's lowest and highest places.
void thin_slices(const EngagedArea& area, const solid::EdgeProfile& profile, double lag,
                 std::vector<solid::EdgeSlice>& out) {
  const double lowest = area.lowest(), highest = area.highest();
  double length = 0;
  for (const solid::EdgeSlice& s : profile.slices())
    length += std::max(0.0, std::min(s.to, highest) - std::max(s.from, lowest));
  // A slice lags by no more than about a degree along itself, in 48 slices at most.
  constexpr double most_lag = 1 / deg_per_rad;
  const double wanted = lag > 0 ? most_lag / lag : length;
  const double thin = std::max(std::min(wanted, length), length / 48);
  out.clear();
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
}

class Walker {
 public:
  Walker(const EngagedArea& area, const LawShape& law, const Teeth& teeth)
      : area_(area), law_(law), sense_(teeth.clockwise ? -1 : 1) {}

  // The column an edge at this bearing (rad) is in, -1: none that holds material.
  int column_at(double bearing) const {
    const double turns = std::floor((bearing + pi) / (2 * pi));
    double b = bearing - 2 * pi * turns;  // -pi to pi
    const int k =
        std::clamp(static_cast<int>((b + pi) / EngagedArea::width), 0, EngagedArea::columns - 1);
    const auto i = static_cast<std::size_t>(k);
    if (!(area_.high[i] > area_.low[i])) return -1;
    if (b < area_.from) b += 2 * pi;
    return b > area_.to ? -1 : k;
  }

  // An edge of one slice in a column, the cosine and sine of its bearing.
  void add(ForceMoment& to, const solid::EdgeSlice& s, const Chip& chip, int column, double c,
           double sn) const {
    const auto i = static_cast<std::size_t>(column);
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
  const LawShape& law_;
  double sense_;
};

// Calls each(m), 0 <= m < around, upwards, for the whole numbers from `first` to `last` and what
// lies a turn of `around` from them; with one more at either end, so that rounding leaves none out.
template <class Each>
void over_turn(double first, double last, int around, Each each) {
  const double from = std::floor(first) - 1, count = std::ceil(last) + 2 - from;
  if (!(count < around)) {
    for (int m = 0; m < around; ++m) each(m);
    return;
  }
  const int begin = static_cast<int>(from - around * std::floor(from / around));
  const int end = begin + static_cast<int>(count);
  for (int m = 0; m < end - around; ++m) each(m);
  for (int m = begin; m < std::min(end, around); ++m) each(m);
}

// The bearings a turn of so many teeth is walked in, counted from the first edge's foot.
std::vector<Bearing> steps_of(int teeth) {
  const int around = ForceWalk::steps * teeth;
  const double step = 2 * pi / around;
  std::vector<Bearing> out;
  out.reserve(static_cast<std::size_t>(around));
  for (int m = 0; m < around; ++m) out.emplace_back(m * step);
  return out;
}

// What one walk leaves for the next on the same thread: room for slices, and the steps as long as
// the tool has as many teeth.
struct WalkRoom {
  std::vector<solid::EdgeSlice> slices;
  std::vector<Bearing> turn;
  int teeth = 0;
};

}  // namespace

ForceWalk walk_forces(const EngagedArea& area, const solid::EdgeProfile& profile,
                      const ToothFeed& feed, const LawShape& law, const Teeth& teeth) {
  ForceWalk walk;
  thread_local WalkRoom room;
  std::vector<solid::EdgeSlice>& slices = room.slices;
  thin_slices(area, profile, teeth.lag, slices);
  if (slices.empty()) return walk;
  if (room.teeth != teeth.count) {
    room.turn = steps_of(teeth.count);
    room.teeth = teeth.count;
  }
  const std::vector<Bearing>& turn = room.turn;
  const Walker walker(area, law, teeth);
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
  // An edge m steps on stands at sense (m step - lag): these are in material.
  const double in_from = teeth.clockwise ? -area.to : area.from;
  const double in_to = teeth.clockwise ? -area.from : area.to;
  for (const solid::EdgeSlice& s : slices) {
    const Chip chip(s, feed);
    const double lag = teeth.lag * height_of(s), cl = std::cos(lag), sl = std::sin(lag);
    const auto cosine_sine = [&](int m) -> std::array<double, 2> {
      const Bearing& at = turn[static_cast<std::size_t>(m)];
      return {at.cosine * cl + at.sine * sl, sense * (at.sine * cl - at.cosine * sl)};
    };
    if (wall_left || wall_right) {
      for (const double square : {-pi / 2, pi / 2}) {
        const double m_there = (square + lag) / step;
        over_turn(m_there, m_there, around, [&](int m) {
          ForceMoment& to = walk.at[static_cast<std::size_t>(m % ForceWalk::steps)];
          const auto [c, sn] = cosine_sine(m);
          if (to.wall_height < 0 && std::abs(c) <= step / 2 && (sn > 0 ? wall_left : wall_right))
            to.wall_height = height_of(s);
        });
      }
    }
    if (chip.across == 0 && !(chip.down > 0)) continue;  // no chip anywhere
    over_turn((in_from + lag) / step, (in_to + lag) / step, around, [&](int m) {
      const int column = walker.column_at(sense * (m * step - lag));
      if (column < 0) return;
      const auto [c, sn] = cosine_sine(m);
      walker.add(walk.at[static_cast<std::size_t>(m % ForceWalk::steps)], s, chip, column, c, sn);
    });
    for (std::size_t e = 0; e < 4; ++e) {
      for (int tooth = 0; tooth < teeth.count; ++tooth) {
        const double bearing = sense * (ends[e] + 2 * pi * tooth / teeth.count - lag);
        const int column = walker.column_at(bearing);
        if (column < 0) continue;
        walker.add(walk.at[ForceWalk::steps + e], s, chip, column, std::cos(bearing),
                   std::sin(bearing));
      }
    }
  }
  return walk;
}

}  // namespace proveout::cutting
