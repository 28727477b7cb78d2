// A surface that lies off by a known shift: the fit gives it back, and stays silent where a shift
// explains nothing.
#include "sim/causes/shift_fit.h"

#include <gtest/gtest.h>
#include <tbb/task_arena.h>

#include <optional>
#include <random>
#include <sstream>

#include "parser/mesh/mesh.h"
#include "tests/sim/causes/stepped_block.h"

namespace proveout::causes {
namespace {

solid::PartDistance block() {
  const pipeline::WorkFolder work;
  Diagnostics diagnostics;
  auto mesh = mesh::read_mesh(work.file("part.stl", SteppedBlock::stl()), 1, Vec3::Zero(), "part",
                              diagnostics);
  EXPECT_TRUE(mesh);
  return solid::PartDistance(std::move(*mesh));
}

// Places on the faces that the program cuts, by area, moved by a shift.
std::vector<measure::SurfaceSample> surface(std::mt19937& random, std::size_t count,
                                            const Vec3& shift, double noise) {
  struct Face {
    Vec3 from, along, up, outward;
  };
  const std::vector<Face> faces = {{{10, 8, 17}, {20, 0, 0}, {0, 16, 0}, {0, 0, 1}},
                                   {{30, 8, 12}, {20, 0, 0}, {0, 28, 0}, {0, 0, 1}},
                                   {{0, 36, 6}, {60, 0, 0}, {0, 8, 0}, {0, 0, 1}},
                                   {{10, 8, 12}, {20, 0, 0}, {0, 0, 5}, {0, -1, 0}},
                                   {{30, 8, 12}, {0, 16, 0}, {0, 0, 5}, {1, 0, 0}},
                                   {{10, 8, 6}, {0, 28, 0}, {0, 0, 6}, {-1, 0, 0}},
                                   {{10, 36, 6}, {40, 0, 0}, {0, 0, 6}, {0, 1, 0}},
                                   {{50, 8, 6}, {0, 28, 0}, {0, 0, 6}, {1, 0, 0}}};
  std::vector<double> area;
  for (const Face& f : faces) area.push_back(f.along.norm() * f.up.norm());
  std::discrete_distribution<std::size_t> which(area.begin(), area.end());
  std::uniform_real_distribution<double> share(0, 1), off(-noise, noise);
  std::vector<measure::SurfaceSample> out;
  for (std::size_t i = 0; i < count; ++i) {
    const Face& f = faces[which(random)];
    const Vec3 at =
        f.from + share(random) * f.along + share(random) * f.up + off(random) * f.outward;
    out.push_back({(at + shift).cast<float>(), f.outward.cast<float>(), 1});
  }
  return out;
}

TEST(ShiftFit, GivesTheShiftBack) {
  const auto part = block();
  std::mt19937 random(7);
  std::uniform_real_distribution<double> size(-6, 6);
  for (int round = 0; round < 30; ++round) {
    const Vec3 shift(size(random), size(random), 0.5 * size(random));
    if (shift.norm() < 0.3) continue;
    const ShiftFit fit = fit_shift(surface(random, 2000, shift, 0.02), part, {}, 0.08, 12);
    SCOPED_TRACE(fmt::format(
        "seed 7, round {}: {}, {}, {}; found {}, {}, {} on {} -> {}, inside {} -> {}", round,
        shift.x(), shift.y(), shift.z(), fit.shift.x(), fit.shift.y(), fit.shift.z(), fit.on_before,
        fit.on_after, fit.inside_before, fit.inside_after));
    EXPECT_TRUE(fit.found);
    EXPECT_LT((fit.shift - shift).norm(), 0.02);
  }
}

// To the last bit, however many try the starts.
TEST(ShiftFit, IsTheSameForAnyNumberOfThreads) {
  const auto part = block();
  std::mt19937 random(29);
  const auto samples = surface(random, 2500, {1.7, -0.6, -1.1}, 0.05);
  std::optional<ShiftFit> first;
  for (const int threads : {1, 2, 5}) {
    const ShiftFit fit =
        tbb::task_arena(threads).execute([&] { return fit_shift(samples, part, {}, 0.08, 12); });
    if (!first) first = fit;
    EXPECT_TRUE(fit.found);
    EXPECT_EQ(fit.shift, first->shift) << threads;
    EXPECT_EQ(fit.on_after, first->on_after) << threads;
  }
}

// Cut from a larger blank with a moat round it, the origin left out: moved back, the moat's far
// walls would leave the blank, which denies the zero; the part as it lies in the blank then does
// not. Turned round, where the part would leave the blank, it is no part that lies elsewhere.
TEST(ShiftFit, AMoatRoundAPartThatLiesElsewhereDeniesNoOrigin) {
  const auto part = block();
  std::mt19937 random(31);
  std::uniform_real_distribution<double> room(4, 11), share(0, 1), height(2, 17);
  for (int round = 0; round < 10; ++round) {
    const Vec3 shift(room(random), room(random), round % 2);
    const double moat = 0.5 + 0.4 * room(random);
    auto samples = surface(random, 1200, shift, 0.02);
    for (int i = 0; i < 1300; ++i) {
      const double x = shift.x() - moat + share(random) * (60 + 2 * moat);
      const double y = shift.y() - moat + share(random) * (44 + 2 * moat), z = height(random);
      const bool left = i % 2 == 0;
      const Vec3 at = left ? Vec3(shift.x() - moat, y, z) : Vec3(x, shift.y() - moat, z);
      samples.push_back(
          {at.cast<float>(), (left ? Vec3::UnitX() : Vec3::UnitY()).cast<float>(), 1});
    }
    const Box3 blank(Vec3::Zero(), Vec3(60, 44, 20) + 2 * shift);
    SCOPED_TRACE(fmt::format("seed 31, round {}: {}, {}, {}, moat {}", round, shift.x(), shift.y(),
                             shift.z(), moat));
    EXPECT_FALSE(fit_shift(samples, part, {}, 0.08, 12, &blank).found);
    const ShiftFit fit = fit_part_shift(samples, part, {}, 0.08, 12, blank);
    EXPECT_TRUE(fit.found && fit.part_moves);
    EXPECT_LT((fit.shift - shift).norm(), 0.02);
    const Box3 tight(Vec3::Zero(), Vec3(61, 45, 20));
    EXPECT_FALSE(fit_part_shift(samples, part, {}, 0.08, 12, tight).found);
  }
}

// A third of the surface waste that lies on no part, as walls of a frame do.
TEST(ShiftFit, IsNotLedAstrayByWaste) {
  const auto part = block();
  std::mt19937 random(11);
  std::uniform_real_distribution<double> x(-20, 80), z(0, 20);
  const Vec3 shift(2, -1, 0.5);
  auto samples = surface(random, 2000, shift, 0.02);
  for (int i = 0; i < 1000; ++i)
    samples.push_back({Eigen::Vector3f(float(x(random)), -9, float(z(random))), {0, 1, 0}, 1});
  const ShiftFit fit = fit_shift(samples, part, {}, 0.08, 12);
  EXPECT_TRUE(fit.found);
  EXPECT_LT((fit.shift - shift).norm(), 0.02);
}

TEST(ShiftFit, IsSilentWhereNoShiftExplainsIt) {
  const auto part = block();
  std::mt19937 random(13);
  EXPECT_FALSE(fit_shift(surface(random, 2000, Vec3::Zero(), 0.02), part, {}, 0.08, 12).found);
  // One face in eight cut 1 mm too deep: a slip in the program, no shift.
  auto samples = surface(random, 2000, Vec3::Zero(), 0.02);
  for (auto& s : samples) {
    if (s.outward.y() > 0.5f) s.at.y() -= 1;
  }
  EXPECT_FALSE(fit_shift(samples, part, {}, 0.08, 12).found);
  EXPECT_FALSE(fit_shift({}, part, {}, 0.08, 12).found);
}

// An allowance on walls and floors alike (or as much too deep) is no shift, whatever shift fits one
// wall of two.
TEST(ShiftFit, AnAllowanceAllRoundIsNoShift) {
  const auto part = block();
  std::mt19937 random(17);
  for (const double allowance : {0.25, 0.5, 1.0, -0.3}) {
    auto samples = surface(random, 2000, Vec3::Zero(), 0.02);
    for (measure::SurfaceSample& s : samples) s.at += static_cast<float>(allowance) * s.outward;
    const ShiftFit fit = fit_shift(samples, part, {}, 0.08, 12);
    EXPECT_FALSE(fit.found) << allowance << ": " << fit.shift.transpose() << ", on "
                            << fit.on_after;
  }
}

// Walls alone (floors right), and floors alone with walls right in one direction only: the shift
// along z is one, that between two walls is none.
TEST(ShiftFit, WhatWallsOnBothSidesTellIsNoShift) {
  const auto part = block();
  std::mt19937 random(19);
  auto samples = surface(random, 2000, Vec3::Zero(), 0.02);
  auto floors = samples;
  for (measure::SurfaceSample& s : samples) {
    if (std::abs(s.outward.z()) < 0.5) s.at += 0.5f * s.outward;
  }
  EXPECT_FALSE(fit_shift(samples, part, {}, 0.08, 12).found);
  for (measure::SurfaceSample& s : floors) {
    if (s.outward.z() > 0.5) s.at += 0.7f * s.outward;
  }
  // A floor that stands higher has walls that begin higher.
  std::erase_if(floors, [&](const measure::SurfaceSample& s) {
    return part.at(s.at.cast<double>() - Vec3(0, 0, 0.7)) < -0.08;
  });
  const ShiftFit down = fit_shift(floors, part, {}, 0.08, 12);
  EXPECT_TRUE(down.found);
  EXPECT_LT((down.shift - Vec3(0, 0, 0.7)).norm(), 0.03) << down.shift.transpose();
}

// Floors tell nothing of a shift along them: a small step among them does, along two axes too where
// all of it is right then; not where something else stays wrong.
TEST(ShiftFit, ASmallStepAmongFloorsTellsBothAxes) {
  const auto part = block();
  std::mt19937 random(31);
  std::uniform_real_distribution<double> share(0, 1), off(-0.02, 0.02);
  const Vec3 shift(1.3, -2.1, 0);
  std::vector<measure::SurfaceSample> samples;
  const auto face = [&](int count, Vec3 from, Vec3 along, Vec3 up, Vec3 outward) {
    for (int i = 0; i < count; ++i) {
      const Vec3 at = from + share(random) * along + share(random) * up + off(random) * outward;
      samples.push_back({(at + shift).cast<float>(), outward.cast<float>(), 1});
    }
  };
  // Of the level at 12 what lies on the part moved or not; of the step above it 7 % are walls.
  face(2000, {34, 12, 12}, {12, 0, 0}, {0, 20, 0}, Vec3::UnitZ());
  face(700, {14, 12, 17}, {12, 0, 0}, {0, 9, 0}, Vec3::UnitZ());
  face(120, {30, 8, 12}, {0, 16, 0}, {0, 0, 5}, Vec3::UnitX());
  face(80, {10, 8, 12}, {20, 0, 0}, {0, 0, 5}, -Vec3::UnitY());
  const ShiftFit fit = fit_shift(samples, part, {}, 0.08, 12);
  EXPECT_TRUE(fit.found);
  EXPECT_TRUE(fit.by_little);
  EXPECT_LT((fit.shift - shift).norm(), 0.03) << fit.shift.transpose();
  for (int i = 0; i < 200; ++i) samples[static_cast<std::size_t>(i)].at.z() += 0.7f;
  EXPECT_FALSE(fit_shift(samples, part, {}, 0.08, 12).found);
}

}  // namespace
}  // namespace proveout::causes
