// Scaled, mirrored and shifted coordinates against the same path written out by hand in plain ones:
// a map of the plane applied to plain motions here a second time. Common practice, no source.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "reading.h"

namespace proveout::nc {
namespace {

const std::string head = "G21 G90 G17 F100 S500 M3 T1 M6\nG0 X1 Y2 Z10\n";

// A path of lines and arcs both ways.
const std::string path =
    "G1 X4 Y1\nX9 Y6\nG2 X13 Y2 R4\nG3 X17 Y6 I4 J0\nG1 X20 Z8\nG91 X2 Y-1\nG90\n";

// Held place by place, for the split of a move into motions is the reader's own affair.
void expect_mapped(const Reading& mapped, const Reading& plain,
                   const std::function<Vec3(const Vec3&)>& map, const std::string& what) {
  ASSERT_TRUE(mapped.ok) << what << mapped.said();
  const auto a = mapped.moves(), b = plain.moves();
  ASSERT_EQ(a.size(), b.size()) << what;
  for (std::size_t k = 2; k < a.size(); ++k) {
    for (const double f : {0.0, 0.3, 0.7, 1.0})
      EXPECT_LT((point_at(a[k], f) - map(point_at(b[k], f))).norm(), 1e-9)
          << what << " motion " << k;
  }
}

TEST(Frames, MirroredPathsAreMirrorImages) {
  const Reading plain = read(head + "G1 X2 Y3\n" + path + "M30\n", reading({}));
  struct Row {
    const char* words;
    double x, y;
  };
  // The plain way to the first point is left out: from there both paths are compared.
  for (const Row& row : {Row{"X5", 5, NAN}, Row{"Y-2", NAN, -2}, Row{"X1 Y4", 1, 4}}) {
    const Reading r =
        read(head + "G51.1 " + row.words + "\nG1 X2 Y3\n" + path + "M30\n", reading({}));
    const auto map = [&](const Vec3& p) {
      return Vec3(std::isnan(row.x) ? p.x() : 2 * row.x - p.x(),
                  std::isnan(row.y) ? p.y() : 2 * row.y - p.y(), p.z());
    };
    expect_mapped(r, plain, map, row.words);
  }
  const Reading back = read(head + "G51.1 X5\nG50.1 X0\nG1 X2 Y3\n" + path + "M30\n", reading({}));
  expect_mapped(
      back, plain, [](const Vec3& p) { return p; }, "mirrored and back");
}

// Turned about any point, in any unit, with arcs both ways; and radius and angle for X and Y.
TEST(Frames, TurnedPathsAndPolarWords) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> any(-9, 9), turn(-200, 200);
  const Reading plain = read(head + "G1 X2 Y3\n" + path + "M30\n", reading({}));
  for (int k = 0; k < 20; ++k) {
    const double x = std::round(any(random) * 1000) / 1000,
                 y = std::round(any(random) * 1000) / 1000,
                 degrees = std::round(turn(random) * 1000) / 1000;
    const Reading r =
        read(head + fmt::format("G68 X{} Y{} R{}\nG1 X2 Y3\n", x, y, degrees) + path + "G69\nM30\n",
             reading({}));
    const double c = std::cos(degrees / deg_per_rad), s = std::sin(degrees / deg_per_rad);
    const auto map = [&](const Vec3& p) {
      return Vec3(x + c * (p.x() - x) - s * (p.y() - y), y + s * (p.x() - x) + c * (p.y() - y),
                  p.z());
    };
    expect_mapped(r, plain, map, fmt::format("by {} about {} {}", degrees, x, y));
    const double radius = std::abs(x) + 1;
    const Reading polar =
        read(head + fmt::format("G16\nG1 X{} Y{}\nG15\nM30\n", radius, degrees), reading({}));
    ASSERT_TRUE(polar.ok) << polar.said();
    EXPECT_LT((polar.moves().back().end - Vec3(radius * c, radius * s, 10)).norm(), 1e-9);
  }
}

TEST(Frames, ScaledPaths) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> any(-9, 9), size(0.2, 4);
  const Reading plain = read(head + "G1 X2 Y3 Z5\n" + path + "M30\n", reading({}));
  for (int k = 0; k < 20; ++k) {
    const double x = std::round(any(random) * 1000) / 1000,
                 y = std::round(any(random) * 1000) / 1000;
    const double f = std::round(size(random) * 1000) / 1000;
    const Reading r = read(
        head + fmt::format("G51 X{} Y{} Z0 P{:.4f}\nG1 X2 Y3 Z5\n", x, y, f) + path + "G50\nM30\n",
        reading({}));
    const auto map = [&](const Vec3& p) {
      return Vec3(x + f * (p.x() - x), y + f * (p.y() - y), f * p.z());
    };
    // The way there starts at the same place in both.
    ASSERT_TRUE(r.ok) << r.said();
    const auto a = r.moves(), b = plain.moves();
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t m = 2; m < a.size(); ++m)
      EXPECT_LT((point_at(a[m], 0.6) - map(point_at(b[m], 0.6))).norm(), 1e-8) << "motion " << m;
  }
  EXPECT_FALSE(read(head + "G51 X0 Y0 I1. J2. K1.\nG2 X9 Y2 R5\nM30\n", reading({})).ok);
  EXPECT_TRUE(read(head + "G51 X0 Y0 I1. J2. K1.\nG1 X9 Y2\nM30\n", reading({})).ok);
}

// Mirrored, the tool goes round the other way and on the other side: the path is the mirror image.
TEST(Frames, CompensationAndCyclesUnderAMirror) {
  const std::string contour =
      "G1 X-20 Y-10\nG41 D1 G1 X0 Y0\nX30\nG3 X40 Y10 R10\nG1 Y30\nX60\nG40\n";
  const Reading plain = read(head + contour + "M30\n", reading({}));
  const Reading r = read(head + "G51.1 X0\n" + contour + "M30\n", reading({}));
  ASSERT_TRUE(plain.ok && r.ok) << r.said();
  const auto a = r.moves(), b = plain.moves();
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t k = 2; k < a.size(); ++k) {
    const Vec3 p = point_at(b[k], 0.4);
    EXPECT_LT((point_at(a[k], 0.4) - Vec3(-p.x(), p.y(), p.z())).norm(), 1e-9) << k;
  }
  const Reading holes = read(head + "G51.1 Y1\nG81 X5 Y6 Z-1 R2\nX8\nG80\nM30\n", reading({}));
  ASSERT_TRUE(holes.ok) << holes.said();
  std::vector<Vec3> at;
  for (const Motion& m : holes.moves()) {
    if (m.kind == PathKind::line) at.push_back(m.end);
  }
  EXPECT_EQ(at, (std::vector<Vec3>{{5, -4, -1}, {8, -4, -1}}));
  EXPECT_FALSE(read(head + "G51.1 Z1\nG81 X5 Y6 Z-1 R2\nM30\n", reading({})).ok);
}

TEST(Frames, WhatControlsCombineInTwoOrdersIsRefused) {
  for (const char* text :
       {"G68 X0 Y0 R30\nG51.1 X1\n", "G51.1 X1\nG68 X0 Y0 R30\n", "G51 P2.\nG51.1 X1\n",
        "G51.1 X1\nG52 X5\n", "G51.1 X1\nG92 X5\n", "G51.1 X1\nG28 X1\n", "G51 X0 P2.\nG55\n",
        "G51 X0\n", "G51 P0.\n", "G51.1\n", "G68 X0 Y0 R30\nG52 X5\n", "G68 X0 Y0 R30\nG92 X5\n",
        "G68 X0 Y0 R30\nG10 L20 P1 X5\n", "G51 P2. I1.\n"}) {
    EXPECT_FALSE(read(head + text + "G1 X5\nM30\n", reading({})).ok) << text;
  }
}

// What controls add under G91, or read as under G90, is refused there and taken under G90.
TEST(Frames, WhatIncrementsCouldAddToIsRefused) {
  for (const char* block : {"G68 X0 Y0 R30", "G51 X1 P2.", "G51.1 X1", "G52 X5", "G10 L2 P1 X5",
                            "G10 L20 P1 X5", "G10 L11 P1 R0.1", "G16 X5 Y30"}) {
    for (const char* mode : {"G91 ", "G91\n"}) {
      EXPECT_FALSE(read(head + mode + block + "\nM30\n", reading({})).ok) << mode << block;
    }
    for (const char* mode : {"G91\nG90 ", "G90\n"}) {
      const Reading r = read(head + mode + block + "\nM30\n", reading({}));
      EXPECT_TRUE(r.ok) << mode << block << r.said();
    }
  }
  for (const char* block : {"G69", "G50", "G50.1", "G51.1 X0", "G52 X0 Y0", "G51 P2.", "G16 Z5"})
    EXPECT_TRUE(read(head + "G91 " + block + "\nM30\n", reading({})).ok) << block;
  EXPECT_FALSE(read(head + "G90.1 G2 X1 Y2 I5\nM30\n", reading({})).ok);
  EXPECT_TRUE(read(head + "G90.1 G2 X1 Y2 I5 J2\nM30\n", reading({})).ok);
}

// A number of F stays behind another unit (NISTIR 6556 4.3.3.3): said where a move uses it.
TEST(Frames, AFeedOfTheOtherUnitIsSaid) {
  for (const char* text : {"G20\nG1 X1\n", "G20 G1 X1\n", "G20\nG81 X1 Z-1 R1\n"}) {
    const Reading r = read(head + text + "M30\n", reading({}));
    ASSERT_NE(r.of("feed-units"), nullptr) << text << r.said();
  }
  for (const char* text : {"G20 F4\nG1 X1\n", "G20\nG1 X1 F4\nX2\n", "G20\nG0 X1\n",
                           "G20\nF4\nG1 X1\n", "G20\nG21\nG1 X5\n"})
    EXPECT_EQ(read(head + text + "M30\n", reading({})).of("feed-units"), nullptr) << text;
}

TEST(Frames, LocalShiftsAndFurtherOffsets) {
  ReadOptions options = reading({});
  options.work_offsets = {{2, Vec3(100, 0, 0)}, {103, Vec3(0, 50, 0)}};
  const auto last = [&](const std::string& text) {
    const Reading r = read(head + text + "M30\n", options);
    EXPECT_TRUE(r.ok) << text << r.said();
    return r.moves().back().end;
  };
  EXPECT_EQ(last("G52 X7\nG1 X1 Y1\n"), Vec3(8, 1, 10));
  EXPECT_EQ(last("G52 X7\nG52 Y2\nG55 G1 X1 Y1\n"), Vec3(108, 3, 10));
  EXPECT_EQ(last("G52 X7 Y7\nG52 X0 Y0\nG1 X1 Y1\n"), Vec3(1, 1, 10));
  for (const char* code : {"G54.1 P3", "G154 P3", "G54 P3"}) {
    EXPECT_EQ(last(std::string(code) + "\nG1 X1 Y1\n"), Vec3(1, 51, 10)) << code;
    EXPECT_EQ(last(std::string(code) + "\nG54\nG1 X1 Y1\n"), Vec3(1, 1, 10)) << code;
  }
  EXPECT_FALSE(read(head + "G54.1\nG1 X1\nM30\n", options).ok);
  EXPECT_FALSE(read(head + "G54.1 P301\nG1 X1\nM30\n", options).ok);
  // G68 names its centre; it moves nothing.
  EXPECT_EQ(read(head + "G68 X5 Y5 R90\nM30\n", options).moves().size(), 1u);
}

// Left-hand tapping, fine boring and tapping by steps: depth and way back by their definitions.
TEST(Frames, FurtherCycles) {
  const auto steps = [&](const std::string& text) {
    const Reading r = read(head + text + "M30\n", reading({}));
    EXPECT_TRUE(r.ok) << text << r.said();
    std::string out;
    for (const Motion& m : r.moves())
      out += fmt::format("{}{:g} ", m.kind == PathKind::line ? "feed " : "rapid ", m.end.z());
    return out;
  };
  EXPECT_EQ(steps("G84 X1 Y2 Z-9 R1 Q4\n"),
            "rapid 10 rapid 1 feed -3 feed 1 feed -7 feed 1 feed -9 feed 1 rapid 10 ");
  EXPECT_EQ(steps("M4\nG74 X1 Y2 Z-9 R1\n"), "rapid 10 rapid 1 feed -9 feed 1 rapid 10 ");
  EXPECT_EQ(steps("G76 X1 Y2 Z-9 R1 Q0.3\n"),
            "rapid 10 rapid 1 feed -9 rapid -9 rapid 10 rapid 10 ");
  EXPECT_EQ(steps("M29 S300\nG84 X1 Y2 Z-9 R1\n"), "rapid 10 rapid 1 feed -9 feed 1 rapid 10 ");
  EXPECT_FALSE(read(head + "G74 X1 Y2 Z-9 R1\nM30\n", reading({})).ok);
}

}  // namespace
}  // namespace proveout::nc
