// Form tools with a waist or an undercut (T slot cutters, lollipops, two discs on one shaft) on
// ramps and helices. Such a body leaves a place and meets it again on one straight way, so its
// distance has several least values along the way. Held to a brute-force twin that takes thousands
// of poses one after the other and knows only the polyline of the profile.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>
#include <vector>

#include "sim/stock/distance_reader.h"
#include "sim/stock/sweep.h"
#include "sim/stock/swept_distance.h"
#include "tests/sim/stock/form_corners.h"

namespace proveout::stock {
namespace {

struct Form {
  const char* name;
  Corners corners;
};

std::vector<Form> forms() {
  Corners lollipop;  // a ball of 3 on a shaft of 1.2
  for (int k = 0; k <= 24; ++k) {
    const double a = pi * k / 24 * 0.87;
    lollipop.emplace_back(3 * std::sin(a), 3 * (1 - std::cos(a)));
  }
  lollipop.emplace_back(1.2, lollipop.back().second);
  lollipop.emplace_back(1.2, 14);
  return {
      {"T slot", {{0, 0}, {4, 0}, {4, 3}, {2, 3}, {2, 14}}},
      {"thin T slot", {{0, 0}, {4, 0}, {4, 0.8}, {1, 0.8}, {1, 14}}},
      {"dovetail", {{0, 0}, {5, 0}, {2, 4}, {2, 14}}},
      {"two discs", {{0, 0}, {3, 0}, {3, 2}, {1.5, 2}, {1.5, 5}, {4, 5}, {4, 7}, {2, 7}, {2, 14}}},
      {"lollipop", lollipop}};
}

double radius_at(const Corners& corners, double h) {
  double widest = 0;
  for (std::size_t i = 1; i < corners.size(); ++i) {
    const auto [r0, h0] = corners[i - 1];
    const auto [r1, h1] = corners[i];
    if (h < h0 || h >= h1) continue;
    widest = std::max(widest, r0 + (r1 - r0) * (h - h0) / (h1 - h0));
  }
  return widest;
}

// Volume (mm3) of the block that a tool passes over whose tip goes along x from a to b: for heights
// and ways across the union of what the poses cover along x.
// Poses stand close enough that what they cover overlaps, and just before and after each at which a
// corner of the profile passes the height.
double swept_of_block(const Corners& corners, const Vec3& block, const Vec3& a, const Vec3& b) {
  constexpr int poses = 70, levels = 400, ways = 40;
  double widest = 0;
  for (const auto& [radius, height] : corners) widest = std::max(widest, radius);
  double sum = 0;
  std::vector<std::pair<double, double>> covered;
  std::vector<double> at;
  for (int k = 0; k < levels; ++k) {
    const double z = block.z() * (k + 0.5) / levels;
    at.clear();
    for (int i = 0; i <= poses; ++i) at.push_back(double(i) / poses);
    for (const auto& [radius, height] : corners) {
      const double when = (z - height - a.z()) / (b - a).z();
      for (const double t : {when - 1e-9, when + 1e-9}) {
        if (t > 0 && t < 1) at.push_back(t);
      }
    }
    for (int j = 0; j < ways; ++j) {
      const double y = widest * (j + 0.5) / ways;
      covered.clear();
      for (const double t : at) {
        const Vec3 tip = a + t * (b - a);
        const double r = radius_at(corners, z - tip.z());
        if (r <= y) continue;
        const double half = std::sqrt(r * r - y * y);
        covered.emplace_back(std::max(0.0, tip.x() - half), std::min(block.x(), tip.x() + half));
      }
      std::sort(covered.begin(), covered.end());
      double to = -1;
      for (const auto& [from, end] : covered) {
        sum += std::max(0.0, end - std::max(from, to));
        to = std::max(to, end);
      }
    }
  }
  return sum * 2 * (widest / ways) * (block.z() / levels);
}

// Slope: height over way in plan, from flat to steep, up and down.
TEST(HollowForm, RampsTakeWhatTheirPosesCover) {
  const Vec3 block(40, 24, 12);
  std::mt19937 random(24);
  std::uniform_real_distribution<double> share(0, 1);
  double worst = 0;
  for (const Form& form : forms()) {
    const job::Tool tool = form_of(form.corners);
    for (const double slope : {-0.05, -0.4, 1.0, -3.0}) {
      const double rise = std::clamp(12 * slope, -6.0, 6.0), run = rise / slope;
      const double low = 1 + 3 * share(random);
      const Vec3 a(12 + share(random), 12, rise > 0 ? low : low - rise);
      const Vec3 b = a + Vec3(run, 0, rise);
      const double exact = swept_of_block(form.corners, block, a, b);
      // Across the grid: about the block's middle, which the cut stays clear of the sides of.
      const Vec3 shift(0.3 * share(random), 0.3 * share(random), 0);
      const double angle = share(random);
      const double volume = removed(
          cut_box(block, 0.2, tool, {moved(line(a, b), angle, Vec3(20, 12, 0), shift)}).cut);
      EXPECT_NEAR(volume, exact, 0.002 * exact + 0.2)
          << form.name << ", slope " << slope << ", turned by " << angle << ", seed 24";
      worst = std::max(worst, std::abs(volume / exact - 1));
      std::printf("%s, slope %.2f: %.3f of %.3f mm3, %+.3f %%\n", form.name, slope, volume, exact,
                  100 * (volume / exact - 1));
    }
  }
  std::printf("worst of hollow forms on ramps: %.3f %%\n", 100 * worst);
}

// Which side of the swept body places lie on, by its distance in double precision and by what the
// grid has lost: ramps and helices, against poses a few micrometres apart.
TEST(HollowForm, NoPlaceIsOnTheWrongSide) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> share(0, 1);
  const Vec3 block(30, 30, 14);
  for (const Form& form : forms()) {
    const job::Tool tool = form_of(form.corners);
    const solid::ToolBody body = solid::make_tool_body(tool);
    const Profile profile = make_profile(body.flutes);
    for (int round = 0; round < 4; ++round) {
      const Vec3 start(11 + share(random), 12 + share(random), 2 + 6 * share(random));
      const Vec3 end = start + Vec3(8 * share(random), 6 * share(random), 8 * share(random) - 5);
      const nc::Motion motion =
          round == 3 ? arc(start, start + Vec3(3, 2, 0), 4, -1.5) : line(start, end);
      const SweptDistance swept(motion, profile);
      const double voxel = 0.25;
      const Cutting done = cut_box(block, voxel, tool, {motion});
      const DistanceReader after(done.stock.fields());
      std::vector<Vec3> tips;
      for (int i = 0; i <= 1500; ++i) tips.push_back(nc::point_at(motion, i / 1500.0));
      int asked = 0;
      for (int n = 0; n < 2500; ++n) {
        const openvdb::Coord at(static_cast<int>(120 * share(random)),
                                static_cast<int>(120 * share(random)),
                                static_cast<int>(56 * share(random)));
        const Vec3 p = done.stock.fields().middle(at);
        const double distance = swept.at(p);
        if (std::abs(distance) > 1.5 || std::abs(distance) < 0.02) continue;
        if ((p.array() < 0.3).any() || (p.array() > block.array() - 0.3).any()) continue;
        ++asked;
        const bool inside = std::any_of(tips.begin(), tips.end(), [&](const Vec3& tip) {
          return std::hypot(p.x() - tip.x(), p.y() - tip.y()) <
                 radius_at(form.corners, p.z() - tip.z());
        });
        EXPECT_EQ(distance < 0, inside) << form.name << ", round " << round << ", seed 7, at "
                                        << p.transpose() << ": " << distance;
        EXPECT_EQ(!after.inside(at), inside) << form.name << ", round " << round << ", seed 7, at "
                                             << p.transpose() << ": " << distance;
      }
      EXPECT_GT(asked, 100);
    }
  }
}

}  // namespace
}  // namespace proveout::stock
