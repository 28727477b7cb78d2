// Cusps and steps against closed forms and a dense twin.
#include "sim/measure/finish.h"

#include <gtest/gtest.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <memory>
#include <random>

#include "../stock/cutting_case.h"
#include "compared_scene.h"
#include "extruded_mesh.h"

namespace proveout::measure {
namespace {

using job::ToolShape;
using stock::line;
using stock::tool_of;

struct Side {
  job::Tool tool;
  std::vector<nc::Motion> motions;
  RigidMotion stock_from_setup = RigidMotion::Identity();
  std::size_t change_at = 0;  // 0: one tool; else this motion is the next tool's first
  job::Tool next_tool{};
};

struct Work {
  Vec3 blank;  // mm, its low corner at 0 before the turn
  std::vector<Side> sides;
  double voxel = 0.2;
  RigidMotion turn = RigidMotion::Identity();
  const mesh::Mesh* part = nullptr;  // before the turn
};

Finish finish_of(const Work& w, int threads = 0) {
  MilledBlank blank(Vec3::Zero(), w.blank, w.turn, w.voxel);
  for (const Side& s : w.sides) {
    const std::size_t all = s.motions.size();
    blank.mill(s.motions, w.turn * s.stock_from_setup,
               {{s.tool, s.change_at > 0 ? s.change_at : all}, {s.next_tool, all}});
  }
  const stock::ExactStock exact = blank.exact();
  mesh::Mesh part;
  std::unique_ptr<solid::FaceTree> part_faces;
  if (w.part != nullptr) {
    part = turned(*w.part, w.turn);
    part_faces = std::make_unique<solid::FaceTree>(part);
  }
  const FinishInput in{exact, blank.cut(), part_faces.get()};
  return threads > 0 ? tbb::task_arena(threads).execute([&] { return look_at_finish(in); })
                     : look_at_finish(in);
}

// Passes along x on a plane that falls to +y at an angle: tips of a ball whose contact points are
// `step` apart along the plane.
std::vector<nc::Motion> slope_passes(double from, double to, double first_y, double step, int count,
                                     double z, double degrees) {
  std::vector<nc::Motion> all;
  const double c = std::cos(degrees / deg_per_rad), s = std::sin(degrees / deg_per_rad);
  for (int k = 0; k < count; ++k) {
    const double y = first_y + k * step * c, at = z - k * step * s;
    all.push_back(k % 2 == 0 ? line({from, y, at}, {to, y, at}) : line({to, y, at}, {from, y, at}));
  }
  return all;
}

double sagitta(double radius, double step) {
  return radius - std::sqrt(radius * radius - step * step / 4);
}

// Between two passes, of a circle's arcs: how much stands above a height.
double arc_above(double radius, double step, double height) {
  const double top = std::asin(step / 2 / radius);
  const double from = std::acos(1 - height / radius);
  return from >= top ? 0 : 2 * radius * (top - from);
}

// Cusps of a ball: R - sqrt(R^2 - s^2 / 4) (the circle's sagitta), level and on slopes of 20 and 50
// degrees, straight and turned by 17 degrees about z.
TEST(Finish, CuspsOfABallLevelAndOnSlopes) {
  for (const double degrees : {0.0, 20.0, 50.0}) {
    for (const auto& [diameter, step] : {std::pair{6.0, 1.1}, {3.0, 0.73}, {10.0, 2.0}}) {
      for (const double turn : {0.0, 17.0}) {
        Work w{{16, 14, 16}, {}, 0.3};
        w.turn = about(Vec3::UnitZ(), turn);
        w.sides = {
            {tool_of(ToolShape::ball, diameter), slope_passes(-8, 24, 4, step, 6, 14, degrees)}};
        const Finish f = finish_of(w);
        const double high = sagitta(diameter / 2, step);
        EXPECT_NEAR(f.highest, high, 1e-6) << degrees << " " << diameter << " " << turn;
        ASSERT_EQ(f.lines.size(), 5u) << degrees << " " << diameter << " " << turn;
        for (const FinishLine& l : f.lines) {
          EXPECT_NEAR(l.height, high, 1e-6);
          EXPECT_NEAR(l.length, 16, 2 * w.voxel);
          EXPECT_EQ(l.second, l.first + 1);
          EXPECT_EQ(l.between, FinishBetween::passes);
          EXPECT_FALSE(l.step);
        }
        EXPECT_NEAR(f.length, 5 * 16, 5 * w.voxel);
        for (std::size_t k = 0; k < finish_heights.size(); ++k) {
          const double truth = 5 * 16 * arc_above(diameter / 2, step, finish_heights[k]);
          EXPECT_NEAR(f.area_mm2[k], truth, 0.03 * truth + 0.01) << finish_heights[k];
        }
      }
    }
  }
}

// Finer than the least height, and finer than a voxel: nothing to tell.
TEST(Finish, FineBallPassesLeaveNothing) {
  Work w{{12, 8, 8}, {}, 0.3};
  w.sides = {{tool_of(ToolShape::ball, 6), slope_passes(-8, 20, 1, 0.2, 30, 6, 0)}};
  const Finish f = finish_of(w);
  EXPECT_EQ(f.lines.size(), 0u);
  EXPECT_EQ(f.area_mm2[0], 0);
}

// A small ball in steps of less than a voxel still leaves its cusps: R 0.4, 0.25 apart: 0.02.
TEST(Finish, PassesNearerThanAVoxel) {
  Work w{{6, 6, 4}, {}, 0.3};
  w.sides = {{tool_of(ToolShape::ball, 0.8), slope_passes(-2, 8, 1, 0.25, 12, 3.5, 0)}};
  const Finish f = finish_of(w);
  EXPECT_NEAR(f.highest, sagitta(0.4, 0.25), 1e-6);
  EXPECT_NEAR(f.length, 11 * 6, 0.1 * 66);
}

// Stairs of a flat end mill on a slope: w wide and d high, the height of the right-angled triangle.
TEST(Finish, StairsOfAFlatEndMill) {
  for (const double turn : {0.0, 17.0}) {
    const double wide = 0.4, down = 0.15;
    Work w{{10, 12, 8}, {}, 0.2};
    w.turn = about(Vec3::UnitZ(), turn);
    Side s{tool_of(ToolShape::flat, 3), {}};
    for (int k = 0; k < 10; ++k)
      s.motions.push_back(line({-4, 4 + wide * k, 7 - down * k}, {14, 4 + wide * k, 7 - down * k}));
    w.sides = {s};
    // The way down is to +y: the lower pass's side makes the riser, 1.5 before its own path.
    const Finish f = finish_of(w);
    EXPECT_NEAR(f.highest, wide * down / std::hypot(wide, down), 1e-6) << turn;
    EXPECT_NEAR(f.length, 9 * 10, 9 * 0.4);
  }
}

// A planted step of 0.02 between two levels of a flat end mill and of a bull nose, with the lines
// of its two motions; on one level nothing, nor in a slot of one pass.
TEST(Finish, APlantedStepIsSeenAndOneLevelIsNot) {
  for (const bool bull : {false, true}) {
    for (const double planted : {0.02, 0.05, 0.0}) {
      for (const double turn : {0.0, 17.0}) {
        Work w{{20, 14, 6}, {}, 0.25};
        w.turn = about(Vec3::UnitZ(), turn);
        job::Tool tool = tool_of(bull ? ToolShape::bull : ToolShape::flat, 6);
        if (bull) tool.corner_radius = 1;
        w.sides = {{tool,
                    {line({-4, 2, 5}, {24, 2, 5}), line({24, 6, 5}, {-4, 6, 5}),
                     line({-4, 10, 5 - planted}, {24, 10, 5 - planted}),
                     line({24, 13, 5 - planted}, {-4, 13, 5 - planted})}}};
        const Finish f = finish_of(w);
        if (planted == 0) {
          EXPECT_TRUE(f.lines.empty()) << bull << turn;
          continue;
        }
        ASSERT_EQ(f.lines.size(), 1u) << bull << planted << turn;
        EXPECT_NEAR(f.lines[0].height, planted, 1e-6) << bull << planted << turn;
        EXPECT_NEAR(f.lines[0].length, 20, 2 * w.voxel);
        EXPECT_EQ(f.lines[0].first, 2u);
        EXPECT_EQ(f.lines[0].second, 3u);
        EXPECT_TRUE(f.lines[0].step);
        EXPECT_EQ(f.lines[0].between, FinishBetween::levels);
        EXPECT_EQ(f.area_mm2[0], 0);  // how far it would be blended is not known
      }
    }
  }
  Work slot{{20, 14, 6}, {}, 0.25};
  slot.sides = {
      {tool_of(ToolShape::flat, 6), {line({-4, 7, 5}, {24, 7, 5}), line({24, 7, 4}, {-4, 7, 4})}}};
  EXPECT_TRUE(finish_of(slot).lines.empty());
}

// Without a part an edge 2 mm high is meant, and so is its low end where a ramp runs out of it.
TEST(Finish, WithoutAPartHighEdgesAreMeant) {
  Work w{{20, 14, 6}, {}, 0.25};
  w.sides = {{tool_of(ToolShape::flat, 6),
              {line({-4, 3, 5}, {24, 3, 5}), line({24, 10, 5}, {-4, 10, 5}),
               line({-4, 7, 5}, {24, 7, 5}), line({20, 7, 3}, {2, 7, 5})}}};
  EXPECT_TRUE(finish_of(w).lines.empty());
}

// The step of one tool too long by 0.03, and of two sides milled 0.04 apart: the work turned over
// about x, its zero off across.
TEST(Finish, BetweenToolsAndBetweenSides) {
  Work tools{{20, 14, 6}, {}, 0.25};
  tools.sides = {{tool_of(ToolShape::flat, 6),
                  {line({-4, 3, 5}, {24, 3, 5}), line({-4, 9, 4.97}, {24, 9, 4.97})},
                  RigidMotion::Identity(),
                  1,
                  tool_of(ToolShape::flat, 8)}};
  const Finish a = finish_of(tools);
  ASSERT_FALSE(a.lines.empty());
  EXPECT_NEAR(a.lines[0].height, 0.03, 1e-6);
  EXPECT_EQ(a.lines[0].between, FinishBetween::tools);
  EXPECT_EQ(a.lines[0].first, 1u);
  EXPECT_EQ(a.lines[0].second, 2u);
  // A wall at y = 5 cut to z = 4 from above, and from below at y = 5.04 to the same height.
  Work sides{{20, 14, 8}, {}, 0.25};
  RigidMotion over = RigidMotion::Identity();
  over.linear() = Eigen::AngleAxisd(pi, Vec3::UnitX()).toRotationMatrix();
  over.translation() = Vec3(0, 0, 8);  // setup z 0 at the stock's top: its z down is the stock's up
  sides.sides = {{tool_of(ToolShape::flat, 6), {line({-4, 2, 4}, {24, 2, 4})}},
                 {tool_of(ToolShape::flat, 6), {line({-4, -2.04, 3.9}, {24, -2.04, 3.9})}, over}};
  for (const double turn : {0.0, 17.0}) {
    sides.turn = about(Vec3::UnitZ(), turn);
    const Finish b = finish_of(sides);
    ASSERT_FALSE(b.lines.empty()) << turn;
    EXPECT_NEAR(b.lines[0].height, 0.04, 1e-5) << turn;
    EXPECT_EQ(b.lines[0].between, FinishBetween::sides);
    EXPECT_TRUE(b.lines[0].step);
    EXPECT_NEAR(b.lines[0].length, 20, 2 * sides.voxel);
  }
}

// With the part: its own edges are no lines, at whatever size; a step beside them is.
TEST(Finish, ThePartsOwnEdgesAreNoLines) {
  for (const double turn : {0.0, 17.0}) {
    for (const double ledge : {0.05, 0.15, 3.0}) {
      mesh::Mesh part = box_mesh({0, 0, 0}, {20, 14, 5});
      // A rebate along y = 9: a part of two boxes would not be one closed mesh, so an L drawn out.
      part = extruded({{0, 0}, {14, 0}, {14, 5 - ledge}, {9, 5 - ledge}, {9, 5}, {0, 5}}, 0, 20);
      Work w{{20, 14, 6}, {}, 0.25};
      w.turn = about(Vec3::UnitZ(), turn);
      w.part = &part;
      w.sides = {{tool_of(ToolShape::flat, 6),
                  {line({-4, 2, 5}, {24, 2, 5}), line({24, 7, 5}, {-4, 7, 5}),
                   line({-4, 12, 5 - ledge}, {24, 12, 5 - ledge})}}};
      EXPECT_TRUE(finish_of(w).lines.empty()) << turn << " " << ledge;
      w.sides[0].motions[0] = line({-4, 2, 5.02}, {24, 2, 5.02});
      const Finish f = finish_of(w);
      ASSERT_EQ(f.lines.size(), 1u) << turn << " " << ledge;
      EXPECT_NEAR(f.lines[0].height, 0.02, 1e-6);
      EXPECT_EQ(f.lines[0].first, 1u);
      EXPECT_EQ(f.lines[0].second, 2u);
    }
  }
}

// Fine ball passes a little lower from one on: the ball's own round blends the step. Off the part
// the edge stands as the lowest of all circles does where one takes over from another, over the
// lower of their two tips (a twin by bisection).
TEST(Finish, AStepBlendedByABallStandsAsHighAsItIs) {
  const double radius = 3, step = 0.5;
  for (const double planted : {0.02, 0.03, 0.05, 0.11}) {
    for (const double turn : {0.0, 17.0}) {
      const mesh::Mesh part = box_mesh({0, 0, 0}, {10, 14, 5 - planted});
      Work w{{10, 14, 6}, {}, 0.25};
      w.turn = about(Vec3::UnitZ(), turn);
      w.part = &part;
      Side side{tool_of(ToolShape::ball, 2 * radius), {}};
      std::vector<Vec3> tips;
      for (int k = 0; k * step <= 14; ++k) {
        tips.emplace_back(0, k * step, k < 14 ? 5 : 5 - planted);
        side.motions.push_back(
            line({-5, tips.back().y(), tips.back().z()}, {15, tips.back().y(), tips.back().z()}));
      }
      w.sides = {side};
      const auto height = [&](const Vec3& tip, double y) {
        const double aside = y - tip.y();
        return std::abs(aside) >= radius
                   ? 1e9
                   : tip.z() + radius - std::sqrt(radius * radius - aside * aside);
      };
      const auto lowest = [&](double y) {
        return std::min_element(tips.begin(), tips.end(), [&](const Vec3& a, const Vec3& b) {
          return height(a, y) < height(b, y);
        });
      };
      double truth = 0;
      for (double y = 1; y < 13; y += 0.001) {
        const auto a = lowest(y), b = lowest(y + 0.001);
        if (a == b) continue;
        double low = y, high = y + 0.001;
        for (int i = 0; i < 50; ++i) {
          const double middle = 0.5 * (low + high);
          (height(*a, middle) < height(*b, middle) ? low : high) = middle;
        }
        truth = std::max(truth, height(*a, low) - std::min(a->z(), b->z()));
      }
      const Finish f = finish_of(w);
      EXPECT_NEAR(f.highest, truth, 1e-5) << planted << " " << turn;
      EXPECT_GT(truth, 0.9 * planted);
    }
  }
}

// Of a line that is as high all along, the two motions that made most of it are named.
TEST(Finish, ThePairThatMadeMostIsNamed) {
  for (const double split : {6.0, 13.0}) {
    Work w{{20, 14, 8}, {}, 0.25};
    w.sides = {{tool_of(ToolShape::ball, 6),
                {line({-5, 6, 6}, {split, 6, 6}), line({split, 6, 6}, {25, 6, 6}),
                 line({25, 7.1, 6}, {-5, 7.1, 6})}}};
    const Finish f = finish_of(w);
    ASSERT_EQ(f.lines.size(), 1u);
    EXPECT_EQ(f.lines[0].first, split < 10 ? 2u : 1u);
    EXPECT_EQ(f.lines[0].second, 3u);
    EXPECT_NEAR(f.lines[0].length, 20, 2 * w.voxel);
  }
}

// What is shown is the longest, and the highest whatever its length.
TEST(Finish, TheHighestIsShownToo) {
  Finish f;
  for (int k = 0; k < 9; ++k) f.lines.push_back({10.0 - k, k == 7 ? 0.09 : 0.02});
  EXPECT_EQ(finish_lines_to_show(f, 3), (std::vector<std::size_t>{0, 1, 2, 7}));
  EXPECT_EQ(finish_lines_to_show(f, 8).size(), 8u);
  EXPECT_TRUE(finish_lines_to_show({}, 3).empty());
}

// Over a part that is round, height is over the part: ball passes round a rod of radius Q, in steps
// of a turn t, stand sqrt((Q + R)^2 - ...) off it: with the centres on a circle of Q + R, c = 2
// (Q + R) sin(t / 2) apart, the cusp lies (Q + R) cos(t / 2) - sqrt(R^2 - c^2 / 4) from the axis.
TEST(Finish, OverARoundPart) {
  const double rod = 8, ball = 2, turn = 0.12;
  std::vector<Eigen::Vector2d> outline{{-12, 0}, {12, 0}};
  for (int k = 0; k <= 400; ++k) {
    const double a = pi * k / 400;
    outline.emplace_back(rod * std::cos(a), 1 + rod * std::sin(a));
  }
  outline.erase(outline.begin());
  outline[0] = {rod, 0};
  outline.emplace_back(-rod, 0);
  for (auto& p : outline) p.x() += 12;
  const mesh::Mesh part = extruded(outline, 0, 8);
  Work w{{8, 24, 10}, {}, 0.25};
  w.part = &part;
  Side s{tool_of(ToolShape::ball, 2 * ball), {}};
  for (int k = -4; k <= 4; ++k) {
    const double y = 12 + (rod + ball) * std::sin(k * turn),
                 z = 1 + (rod + ball) * std::cos(k * turn) - ball;
    s.motions.push_back(line({-4, y, z}, {12, y, z}));
  }
  w.sides = {s};
  const Finish f = finish_of(w);
  const double apart = 2 * (rod + ball) * std::sin(turn / 2);
  const double off =
      (rod + ball) * std::cos(turn / 2) - std::sqrt(ball * ball - apart * apart / 4) - rod;
  ASSERT_EQ(f.lines.size(), 8u);
  // The mesh of 400 sides lies up to 8 (1 - cos(pi / 800)) = 0.00006 within the rod.
  for (const FinishLine& l : f.lines) EXPECT_NEAR(l.height, off, 2e-4);
}

// The same work written in inches (25.4 mm to the inch) is the same work.
TEST(Finish, InInches) {
  Work w{{25.4, 12.7, 8}, {}, 0.25};
  w.sides = {{tool_of(ToolShape::ball, 0.25 * mm_per_inch),
              slope_passes(-0.3 * mm_per_inch, 1.3 * mm_per_inch, 2, 0.05 * mm_per_inch, 6, 6, 0)}};
  const Finish f = finish_of(w);
  EXPECT_NEAR(f.highest, sagitta(0.125 * mm_per_inch, 0.05 * mm_per_inch), 1e-6);
}

bool same(const Finish& a, const Finish& b) {
  if (a.area_mm2 != b.area_mm2 || a.length != b.length || a.lines.size() != b.lines.size() ||
      a.places.size() != b.places.size())
    return false;
  for (std::size_t i = 0; i < a.lines.size(); ++i) {
    const FinishLine &x = a.lines[i], &y = b.lines[i];
    if (x.length != y.length || x.height != y.height || x.at != y.at || x.first != y.first ||
        x.second != y.second || x.between != y.between)
      return false;
  }
  for (std::size_t i = 0; i < a.places.size(); ++i) {
    if (a.places[i].at != b.places[i].at || a.places[i].line != b.places[i].line) return false;
  }
  return true;
}

TEST(Finish, SameForAnyNumberOfThreads) {
  Work w{{16, 14, 16}, {}, 0.25};
  w.sides = {{tool_of(ToolShape::ball, 6), slope_passes(-8, 24, 2, 1.1, 8, 14, 20)}};
  w.turn = about(Vec3::UnitZ(), 17);
  const Finish one = finish_of(w, 1);
  EXPECT_FALSE(one.lines.empty());
  EXPECT_TRUE(same(one, finish_of(w, 2)));
  EXPECT_TRUE(same(one, finish_of(w, 5)));
}

// A slow twin, knowing nothing of slopes, hulls or Newton's method: across two passes of balls or
// flat tools at random places the lowest air is sampled densely, and the line laid under it.
TEST(Finish, ATwinBySampling) {
  std::mt19937 random(24);
  std::uniform_real_distribution<double> any(0, 1);
  int compared = 0;
  for (int trial = 0; trial < 12; ++trial) {
    const double first = 3 + any(random), step = 0.5 + 1.2 * any(random), fall = 0.4 * any(random);
    const double radius[2] = {2 + any(random), 2 + 2 * any(random)};
    const Vec3 tip[2] = {{0, first, 6}, {0, first + step, 6 - fall}};
    Work w{{6, 8, 8}, {}, 0.25};
    for (int k = 0; k < 2; ++k) {
      w.sides.push_back({tool_of(ToolShape::ball, 2 * radius[k]),
                         {line(tip[k] - Vec3(5, 0, 0), tip[k] + Vec3(11, 0, 0))}});
    }
    const auto floor_of = [&](double y) {
      double low = 1e9;
      for (int k = 0; k < 2; ++k) {
        const double off = y - tip[k].y();
        if (std::abs(off) < radius[k])
          low =
              std::min(low, tip[k].z() + radius[k] - std::sqrt(radius[k] * radius[k] - off * off));
      }
      return low;
    };
    // Lower hull of the profile's samples; the deepest place between it and the profile.
    std::vector<Eigen::Vector2d> hull, samples;
    for (double y = first - 1.9; y < first + step + 1.9; y += 0.001)
      samples.emplace_back(y, floor_of(y));
    for (const auto& p : samples) {
      while (hull.size() > 1) {
        const Eigen::Vector2d u = hull.back() - hull[hull.size() - 2], v = p - hull.back();
        if (u.x() * v.y() - u.y() * v.x() > 0) break;
        hull.pop_back();
      }
      hull.push_back(p);
    }
    double high = 0;
    std::size_t at = 0;
    for (const auto& p : samples) {
      while (hull[at + 1].x() < p.x()) ++at;
      const Eigen::Vector2d u = (hull[at + 1] - hull[at]).normalized(), v = p - hull[at];
      high = std::max(high, u.x() * v.y() - u.y() * v.x());
    }
    const Finish f = finish_of(w);
    if (high < 0.0095 || high > finish_most_without_part) continue;
    SCOPED_TRACE(testing::Message() << trial << " step " << step << " fall " << fall);
    // Where one ball lies so deep that its neighbour's face is the plane's it counts as a riser.
    if (!f.lines.empty() && f.lines[0].step) continue;
    ASSERT_EQ(f.lines.size(), 1u);
    EXPECT_NEAR(f.lines[0].height, high, 1e-4);
    ++compared;
  }
  EXPECT_GE(compared, 5);
}

}  // namespace
}  // namespace proveout::measure
