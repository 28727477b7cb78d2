// Straight paths broken into motions of a few voxels, as posted 3D programs are: each motion's
// share of what the path takes against the closed form (area of the cut times the motion's length),
// and what it meets (common practice: the chord of a sphere; width of a slot). Twins: the same path
// as one motion, and the sum over all motions, which must be that path's.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

constexpr double diameter = 6, radius = 3, voxel = diameter / 30;
const Vec3 block(60, 40, 14);
const double top = block.z();

std::vector<nc::Motion> broken(const Vec3& from, const Vec3& to, double each) {
  const int count = static_cast<int>(std::round((to - from).norm() / each));
  std::vector<nc::Motion> out;
  for (int i = 0; i < count; ++i)
    out.push_back(line(from + (to - from) * i / count, from + (to - from) * (i + 1) / count));
  return out;
}

struct Shares {
  double rms = 0, worst = 0, sum = 0;
};

// Of the motions of the second half, in share of what one must take.
Shares shares(const Cut& cut, std::size_t first, double exact) {
  Shares s;
  std::size_t count = 0;
  for (std::size_t i = first; i < cut.motions.size(); ++i) s.sum += cut.motions[i].removed_mm3;
  for (std::size_t i = first + (cut.motions.size() - first) / 2; i < cut.motions.size(); ++i) {
    const double off = cut.motions[i].removed_mm3 / exact - 1;
    s.rms += off * off;
    s.worst = std::max(s.worst, std::abs(off));
    ++count;
  }
  s.rms = std::sqrt(s.rms / static_cast<double>(count));
  return s;
}

struct Case {
  const char* name;
  job::ToolShape shape;
  double depth, width;  // of the cut, mm
  double area;          // mm2
};

const double ball_depth = 0.6;
const double segment =
    radius * radius * std::acos(1 - ball_depth / radius) -
    (radius - ball_depth) * std::sqrt(2 * radius * ball_depth - ball_depth * ball_depth);
const Case cases[] = {
    {"slot", job::ToolShape::flat, 2.33, 6, 2.33 * 6},
    {"side", job::ToolShape::flat, 2.0, 1.5, 2.0 * 1.5},
    {"ball", job::ToolShape::ball, ball_depth,
     2 * std::sqrt(2 * radius * ball_depth - ball_depth * ball_depth), segment},
};

TEST(ShortMotions, EachTakesItsShare) {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> angle(0, 2 * pi), offset(-0.5, 0.5);
  for (const Case& c : cases) {
    const job::Tool tool = tool_of(c.shape, diameter);
    const double z = top - c.depth, y = 20 + (c.width < diameter && c.shape == job::ToolShape::flat
                                                  ? diameter - c.width
                                                  : 0);
    for (const double voxels : {1.25, 2.5, 5.0, 10.0}) {
      double rms = 0, worst = 0;
      const int places = 10;
      for (int i = 0; i < places; ++i) {
        const double a = i % 4 == 0 ? std::floor(angle(random)) * pi / 2 : angle(random);
        const Vec3 shift(offset(random), offset(random), 0);
        std::vector<nc::Motion> motions;
        if (y > 20) motions.push_back(line({15, 20 + diameter, z}, {45, 20 + diameter, z}));
        const std::size_t first = motions.size();
        for (const auto& m : broken({20, y, z}, {40, y, z}, voxels * voxel)) motions.push_back(m);
        std::vector<nc::Motion> whole(motions.begin(),
                                      motions.begin() + static_cast<std::ptrdiff_t>(first));
        whole.push_back(line({20, y, z}, {40, y, z}));
        for (auto& m : motions) m = moved(m, a, {30, 20, 0}, shift);
        for (auto& m : whole) m = moved(m, a, {30, 20, 0}, shift);
        const double each = 20.0 / static_cast<double>(motions.size() - first);
        const Shares s = shares(cut_box(block, voxel, tool, motions).cut, first, c.area * each);
        const std::string at = fmt::format("{} {} voxels, seed 3 case {} angle {} shift {} {}",
                                           c.name, voxels, i, a, shift.x(), shift.y());
        const double one = cut_box(block, voxel, tool, whole).cut.motions.back().removed_mm3;
        EXPECT_NEAR(s.sum, one, 0.001 * one) << at;
        EXPECT_LT(s.worst, 0.1) << at;
        rms += s.rms * s.rms / places;
        worst = std::max(worst, s.worst);
      }
      fmt::print("{}, {} voxels a motion: rms {:.2e}, worst {:.2e}\n", c.name, voxels,
                 std::sqrt(rms), worst);
      EXPECT_LT(std::sqrt(rms), 0.03) << c.name << " " << voxels;
    }
  }
}

TEST(ShortMotions, EachMeetsWhatThePathMeets) {
  std::mt19937 random(4);
  std::uniform_real_distribution<double> angle(0, 2 * pi), offset(-0.5, 0.5);
  for (const Case& c : cases) {
    if (c.width < diameter && c.shape == job::ToolShape::flat) continue;
    const job::Tool tool = tool_of(c.shape, diameter);
    const double z = top - c.depth;
    for (const double voxels : {1.25, 2.5, 5.0, 10.0}) {
      double depth_off = 0, width_off = 0, depth_square = 0, width_square = 0;
      int seen = 0;
      for (int i = 0; i < 10; ++i) {
        const double a = i % 4 == 0 ? std::floor(angle(random)) * pi / 2 : angle(random);
        const Vec3 shift(offset(random), offset(random), 0);
        std::vector<nc::Motion> motions = broken({20, 20, z}, {40, 20, z}, voxels * voxel);
        for (auto& m : motions) m = moved(m, a, {30, 20, 0}, shift);
        const Cutting cut = cut_box(block, voxel, tool, motions);
        for (std::size_t k = motions.size() / 2; k < motions.size(); ++k) {
          const MotionOutcome& m = cut.cut.motions[k];
          for (std::uint32_t n = 0; n < m.sample_count; ++n) {
            const EngagementSample& s = cut.cut.samples[m.first_sample + n];
            depth_off = std::max(depth_off, std::abs(s.axial_depth - c.depth));
            width_off = std::max(width_off, std::abs(s.radial_width - c.width));
            depth_square += std::pow(s.axial_depth - c.depth, 2);
            width_square += std::pow(s.radial_width - c.width, 2);
            ++seen;
          }
        }
      }
      const double depth_rms = std::sqrt(depth_square / seen) / voxel,
                   width_rms = std::sqrt(width_square / seen) / voxel;
      fmt::print(
          "{}, {} voxels a motion, in voxels: depth rms {:.3f}, worst {:.3f}; width {:.3f}, "
          "{:.3f}\n",
          c.name, voxels, depth_rms, depth_off / voxel, width_rms, width_off / voxel);
      // The ball meets the top at 37 degrees: half a voxel of height is 0.7 of width on each side.
      EXPECT_GT(seen, 50);
      EXPECT_LT(depth_rms, 0.1) << c.name << " " << voxels;
      // Under a flat tool the depth is as exact as of whole motions; a ball's edge of the cut is a
      // point of the grid.
      EXPECT_LT(depth_off,
                c.shape == job::ToolShape::flat ? 0.1 * voxel + 0.001 * c.depth : 0.25 * voxel)
          << c.name << " " << voxels;
      EXPECT_LT(width_rms, 0.7) << c.name << " " << voxels;
      EXPECT_LT(width_off, 2 * voxel) << c.name << " " << voxels;
    }
  }
}

}  // namespace
}  // namespace proveout::stock
