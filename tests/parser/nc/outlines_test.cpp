// Cutter compensation along outlines as posts print them, every number rounded to its last place:
// 60 that are tangent at every joint but for that rounding are followed, and the tool's centre
// stays at its radius from the outline; 60 with rounds too small for the tool are refused, with the
// largest tool that fits, known here in closed form.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "reading.h"

namespace proveout::nc {
namespace {

struct Outline {
  std::string blocks;
  double place;  // mm, the last place printed
  double least;  // mm, radius of the smallest inner round
};

// A rectangle with rounds, turned by any angle, from the middle of its first side;
// counter-clockwise, so that G41 has the tool inside.
Outline rounded(unsigned seed, double smallest, double largest) {
  std::mt19937 random(seed);
  const auto any = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  const bool inch = seed % 3 == 2;
  const int digits = inch ? 4 : seed % 2 == 0 ? 3 : 4;
  const double unit = inch ? 25.4 : 1, turn = any(0, 2 * pi);
  const double w = any(60, 150), h = any(60, 150);
  const bool by_radius = seed % 5 == 0;
  Outline out;
  out.place = unit * std::pow(10, -digits);
  out.least = 1e9;
  const auto word = [&](char letter, double mm) {
    std::string s = fmt::format("{}{:.{}f}", letter, mm / unit, digits);
    while (seed % 4 == 1 && s.back() == '0') s.pop_back();  // trailing zeros left out
    return s;
  };
  const auto at = [&](double x, double y) {
    return Vec3(std::cos(turn) * x - std::sin(turn) * y, std::sin(turn) * x + std::cos(turn) * y,
                0);
  };
  const auto place = [&](const Vec3& p) { return word('X', p.x()) + word('Y', p.y()); };
  const double corners[4][2] = {{w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}, {-w / 2, -h / 2}};
  const double before[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
  out.blocks = fmt::format("{} G90 G17 G94 F{}\nT1 M6\nG0 X0. Y0.\nG41 D1 G1 {}\n",
                           inch ? "G20" : "G21", inch ? 20 : 500, place(at(0, -h / 2)));
  for (int k = 0; k < 4; ++k) {
    const double r = any(smallest, largest);
    out.least = std::min(out.least, r);
    const auto& c = corners[k];
    const auto& u = before[k];
    const auto& v = before[(k + 1) % 4];
    const Vec3 from = at(c[0] - r * u[0], c[1] - r * u[1]),
               to = at(c[0] + r * v[0], c[1] + r * v[1]);
    const Vec3 centre = at(c[0] - r * u[0] + r * v[0], c[1] - r * u[1] + r * v[1]);
    out.blocks += "G1 " + place(from) + "\n";
    out.blocks +=
        "G3 " + place(to) +
        (by_radius ? word('R', r)
                   : word('I', centre.x() - from.x()) + word('J', centre.y() - from.y())) +
        "\n";
  }
  out.blocks += "G1 " + place(at(0, -h / 2)) + "\nG40 G1 X0. Y0.\nM30\n";
  return out;
}

ReadOptions with_tool(double diameter) {
  ReadOptions options;
  options.tool_diameters = {{1, diameter}};
  return options;
}

std::vector<Vec3> places(const std::vector<Motion>& motions, std::size_t first, std::size_t last,
                         double apart) {
  std::vector<Vec3> out;
  for (std::size_t k = first; k < last; ++k) {
    const int n = static_cast<int>(length(motions[k]) / apart) + 1;
    for (int i = 0; i <= n; ++i) out.push_back(point_at(motions[k], static_cast<double>(i) / n));
  }
  return out;
}

// The path of the tool inside the outline, its centre at the radius from it everywhere.
void expect_followed(const Outline& o, double radius, unsigned seed) {
  const Reading r = read(o.blocks, with_tool(2 * radius));
  ASSERT_TRUE(r.ok) << "seed " << seed << "\n" << o.blocks << r.said();
  std::string plain = o.blocks;
  plain.replace(plain.find("G41 D1 "), 7, "");
  plain.replace(plain.find("G40 "), 4, "");
  const auto contour = read(plain, with_tool(2 * radius)).moves();
  const auto path = r.moves();
  const auto on = places(contour, 1, contour.size() - 1, 0.2);
  for (const Vec3& p : places(path, 1, path.size() - 1, 2.5)) {
    double least = 1e9;
    for (const Vec3& q : on) least = std::min(least, (p - q).head<2>().norm());
    // Samples of the contour every 0.2 mm: at most 0.1^2 / 2 / radius too far.
    EXPECT_GT(least, radius - 3 * o.place) << "seed " << seed << " at " << p.transpose();
    EXPECT_LT(least, radius + 3 * o.place + 0.006 / radius) << "seed " << seed;
  }
}

TEST(Outlines, SixtyTangentButForRoundingAreFollowed) {
  for (unsigned seed = 1; seed <= 60 && !HasFailure(); ++seed) {
    const double radius = 1 + 0.05 * seed;
    expect_followed(rounded(seed, 1.2 * radius + 0.5, 25), radius, seed);
  }
}

// The offset of a round by a tool nearly as large is a short arc, of which what rounding shifts the
// joint by is a large part.
TEST(Outlines, RoundsLittleLargerThanTheToolAreFollowed) {
  for (unsigned seed = 201; seed <= 260 && !HasFailure(); ++seed) {
    const double radius = 1 + 0.05 * (seed - 200);
    expect_followed(rounded(seed, radius + 0.05, 1.3 * radius + 0.1), radius, seed);
  }
}

// A way in that begins beside the contour's first side, the tool's radius from its line: the tool
// goes on along that one line, at any angle, radius and side, inch and mm, rounded as posts do.
TEST(Outlines, AWayInOnTheLineItLeadsToGoesStraightOn) {
  std::mt19937 random(7);
  const auto any = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  for (int k = 0; k < 200; ++k) {
    const int side = k % 2 == 0 ? 1 : -1, digits = k % 3 == 0 ? 4 : 3;
    const double radius = 0.5 * (1 + k % 12), before = any(1.2 * radius, 30);
    const double turn = k % 4 == 0 ? pi / 2 * (k / 4 % 4) : any(0, 2 * pi);
    const double unit = k % 5 == 0 ? 25.4 : 1;
    const Vec3 u(std::cos(turn), std::sin(turn), 0), left(-u.y(), u.x(), 0);
    const auto at = [&](const Vec3& p) {
      return fmt::format("X{:.{}f} Y{:.{}f}", p.x() / unit, digits, p.y() / unit, digits);
    };
    const Vec3 from = side * radius * left - before * u;
    const std::string text = fmt::format(
        "{} G90 F20\nT1 M6\nG0 {}\n{} D1 G1 X0. Y0.\n{}\nG40 {}\nM30\n", unit == 1 ? "G21" : "G20",
        at(from), side > 0 ? "G41" : "G42", at(40 * u), at(50 * u + 9 * side * left));
    const Reading r = read(text, with_tool(2 * radius));
    ASSERT_TRUE(r.ok) << text << r.said();
    const auto path = r.moves();
    const double place = unit * std::pow(10, -digits);
    for (const Vec3& p : places(path, 1, path.size() - 1, 0.5)) {
      EXPECT_NEAR(p.dot(left), side * radius, 2 * place) << text;
      EXPECT_GT(p.dot(u), -before - 2 * place) << text;
      EXPECT_LT(p.dot(u), 40 + 2 * place) << text;
    }
    double way = 0;
    for (std::size_t i = 1; i + 1 < path.size(); ++i) way += length(path[i]);
    EXPECT_NEAR(way, before + 40, 5 * place) << text;  // there and not back and forth
  }
}

// The smallest round is smaller than the tool; the largest that fits has its radius.
TEST(Outlines, SixtyWithRoundsTooSmallAreRefusedWithTheLargestToolThatFits) {
  for (unsigned seed = 101; seed <= 160; ++seed) {
    const Outline o = rounded(seed, 1.5, 4);
    const double diameter = 2 * o.least * (1.02 + 0.01 * (seed % 40));
    const Reading r = read(o.blocks, with_tool(diameter));
    ASSERT_FALSE(r.ok) << "seed " << seed << "\n" << o.blocks;
    const Diagnostic* d = r.of("compensation");
    ASSERT_NE(d, nullptr) << r.said();
    const std::size_t number = d->remedy.find_first_of("0123456789");
    ASSERT_NE(number, std::string::npos) << d->remedy;
    const double named = std::stod(d->remedy.substr(number));
    // What fits as far as the first round that refuses: at least the smallest of all, and less than
    // the tool; it passes there itself.
    // The remedy is rounded down to the thousandth.
    EXPECT_GE(named, 2 * o.least - 6 * o.place - 1e-3) << "seed " << seed;
    EXPECT_LT(named, diameter) << "seed " << seed;
    const Reading again = read(o.blocks, with_tool(named));
    const Diagnostic* later = again.of("compensation");
    EXPECT_TRUE(again.ok || later->place.line > d->place.line) << "seed " << seed << again.said();
  }
}

// Sharp inner corners with sides too short for the tool: a step of depth s between two right angles
// takes 2 r of it, so the largest tool has the diameter s.
TEST(Outlines, AStepTooShortForTheToolNamesItsDepth) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const double s = 2 + 0.25 * seed;
    const std::string text = fmt::format(
        "G21 G90 F100\nT1 M6\nG0 X0 Y20\nG41 D1 G1 X0 Y0\nX40.\nY{:.3f}\nX0.\nG40\nM30\n", s);
    const Reading r = read(text, with_tool(s + 0.5));
    ASSERT_FALSE(r.ok) << text;
    const std::string& remedy = r.of("compensation")->remedy;
    const std::size_t number = remedy.find_first_of("0123456789");
    ASSERT_NE(number, std::string::npos) << remedy;
    EXPECT_NEAR(std::stod(remedy.substr(number)), s, 2e-3) << text;
    EXPECT_TRUE(read(text, with_tool(s - 0.01)).ok);
  }
}

// An arc that both of its neighbours cut short to nothing is refused, not read as a whole turn.
TEST(Outlines, AnArcWithNothingLeftIsNoWholeTurn) {
  const std::string text =
      "G21 G90 F100\nT1 M6\nG0 X-20 Y10\nG41 D1 G1 X-10 Y0\nX0\nG2 X4 Y0 R10\nG1 Y30\nG40\nM30\n";
  for (const double diameter : {1.0, 3.0, 5.0, 6.0, 7.0, 8.0, 12.0}) {
    const Reading r = read(text, with_tool(diameter));
    for (const Motion& m : r.moves()) EXPECT_LT(std::abs(m.sweep), pi) << diameter;
  }
}

}  // namespace
}  // namespace proveout::nc
