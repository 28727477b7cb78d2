// Seeded random programs against what their words mean by definition: holes counted out by hand,
// shifts and turns as one map, repeats as products, inch as mm times 25.4. Closed forms and
// invariants, no source.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "reading.h"

namespace proveout::nc {
namespace {

class Draw {
 public:
  explicit Draw(unsigned seed) : random_(seed) {}
  double in(double low, double high) {
    return std::round(std::uniform_real_distribution<double>(low, high)(random_) * 1000) / 1000;
  }
  int whole(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  bool maybe() { return whole(0, 1) == 1; }

 private:
  std::mt19937 random_;
};

struct Step {
  bool rapid;
  Vec3 end;  // program coordinates, file units
};

// A cycle's line in words, and what it does by the definitions of NISTIR 6556 3.5.16, with levels
// kept, that before the first of several cycles too, and the way out of boring and tapping at the
// feed to R (the defaults of the shop profile).
struct Holes {
  bool absolute, back_to_old;
  int code;
  double retract, depth, peck, old_level;
  Vec3 at;
  std::vector<Step> steps;

  void go(bool rapid, double z) {
    at.z() = z;
    steps.push_back({rapid, at});
  }
  void hole(double x, double y) {
    at.x() = x;
    at.y() = y;
    steps.push_back({true, at});
    if (at.z() != retract) go(true, retract);
    if (code == 83 || code == 73) {
      double bottom = retract;
      while (bottom - peck > depth + 1e-9) {
        bottom -= peck;
        go(false, bottom);
        if (code == 83) go(true, retract);
        go(true, std::min(retract, bottom + 0.254));
      }
    }
    go(false, depth);
    const double clear = back_to_old ? std::max(old_level, retract) : retract;
    if (code >= 84 && code != 86) {
      go(false, retract);
      if (clear != retract) go(true, clear);
    } else {
      go(true, clear);
    }
  }
  void line(std::optional<double> x, std::optional<double> y, int times) {
    if (at.z() < retract) go(true, retract);
    double px = at.x(), py = at.y();
    for (int k = 0; k < times; ++k) {
      px = !x ? px : absolute ? *x : px + *x;
      py = !y ? py : absolute ? *y : py + *y;
      hole(px, py);
    }
  }
};

TEST(RandomPrograms, HolesByTheirDefinition) {
  for (unsigned seed = 1; seed <= 400; ++seed) {
    Draw draw(seed);
    const double top = draw.in(1, 30);
    Holes h{};
    h.absolute = draw.maybe();
    h.back_to_old = draw.maybe();
    constexpr int cycles[] = {81, 82, 83, 73, 84, 85, 86, 89};
    h.code = cycles[draw.whole(0, 7)];
    h.at = Vec3(draw.in(-20, 20), draw.in(-20, 20), top);
    std::string text =
        fmt::format("G21 G90 G17 G94 F100 S500 M3\nG0 X{} Y{} Z{}\n", h.at.x(), h.at.y(), h.at.z());
    text += h.absolute ? "G90 " : "G91 ";
    text += h.back_to_old ? "G98 " : "G99 ";
    const double r = draw.in(-5, 8), deep = draw.in(0.5, 12);
    h.peck = draw.in(0.4, 5);
    h.retract = h.absolute ? r : top + r;
    h.depth = h.retract - deep;
    h.old_level = top;
    double x = draw.in(-9, 9), y = draw.in(-9, 9);
    int times = draw.whole(1, 4);
    const auto words_of_its_own = [&] {
      if (h.code == 83 || h.code == 73) text += fmt::format(" Q{}", h.peck);
      if (h.code == 82 || h.code == 86 || h.code == 89) text += " P0.5";
      text += fmt::format(" {}{}\n", draw.maybe() ? 'L' : 'K', times);
    };
    text += fmt::format("G{} X{} Y{} R{} Z{:.3f}", h.code, x, y, r, h.absolute ? r - deep : -deep);
    words_of_its_own();
    h.steps.push_back({true, h.at});
    h.line(x, y, times);
    for (int k = draw.whole(0, 3); k > 0; --k) {
      if (draw.whole(0, 3) == 0) {
        h.back_to_old = !h.back_to_old;
        text += h.back_to_old ? "G98 " : "G99 ";
      }
      times = draw.whole(1, 3);
      std::optional<double> px, py;
      if (draw.maybe()) px = draw.in(-9, 9);
      if (!px || draw.maybe()) py = draw.in(-9, 9);
      if (px) text += fmt::format("X{} ", *px);
      if (py) text += fmt::format("Y{} ", *py);
      if (draw.whole(0, 2) == 0) {
        // A code again, of this cycle or another: the old level stays that before the first, and R
        // under G91 counts from it.
        h.code = cycles[draw.whole(0, 7)];
        const double again = draw.in(-5, 8), below = draw.in(0.5, 12);
        h.retract = h.absolute ? again : top + again;
        h.depth = h.retract - below;
        text += fmt::format("G{} R{} Z{:.3f}", h.code, again, h.absolute ? again - below : -below);
        words_of_its_own();
      } else {
        text += fmt::format("L{}\n", times);
      }
      h.line(px, py, times);
    }
    text += "G80\nM30\n";
    const Reading read_so = read(text, reading({}));
    ASSERT_TRUE(read_so.ok) << text << read_so.said();
    const auto& motions = read_so.heard.motions;
    ASSERT_EQ(motions.size(), h.steps.size()) << "seed " << seed << '\n' << text;
    for (std::size_t k = 0; k < motions.size(); ++k) {
      EXPECT_EQ(motions[k].kind == PathKind::rapid, h.steps[k].rapid) << text << k;
      EXPECT_LT((motions[k].end - h.steps[k].end).norm(), 1e-9) << text << k;
    }
  }
}

// G54.1 P, G52, G92 and G68 together: one map of the program's coordinates.
TEST(RandomPrograms, ShiftsAndTurnsAreOneMap) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    Draw draw(seed);
    ReadOptions options = reading({});
    const auto any = [&] { return Vec3(draw.in(-50, 50), draw.in(-50, 50), draw.in(-50, 50)); };
    const Vec3 further = any(), second = any(), local = any();
    options.work_offsets = {{107, further}, {2, second}};
    const bool use_further = draw.maybe(), use_local = draw.maybe(), shifted = draw.maybe(),
               turned = draw.maybe(), inch = draw.maybe();
    const double unit = inch ? 25.4 : 1;
    std::string text = inch ? "G20 G90 F9\n" : "G21 G90 F99\n";
    Vec3 zero = use_further ? further : second;
    text += use_further ? "G54.1 P7\n" : "G55\n";
    if (use_local) {
      text += fmt::format("G52 X{} Y{} Z{}\n", local.x(), local.y(), local.z());
      zero += unit * local;
    }
    Vec3 at = any();
    text += fmt::format("G0 X{} Y{} Z{}\n", at.x(), at.y(), at.z());
    if (shifted) {
      const Vec3 reads = any();
      text += fmt::format("G92 X{} Y{} Z{}\n", reads.x(), reads.y(), reads.z());
      zero += unit * (at - reads);
    }
    Vec3 centre = Vec3::Zero();
    double angle = 0;
    if (turned) {
      centre = any();
      angle = draw.in(-360, 360);
      text += fmt::format("G68 X{} Y{} R{}\n", centre.x(), centre.y(), angle);
    }
    const double c = std::cos(angle / deg_per_rad), s = std::sin(angle / deg_per_rad);
    const auto place = [&](const Vec3& p) {
      const double x = p.x() - centre.x(), y = p.y() - centre.y();
      const Vec3 q(turned ? centre.x() + c * x - s * y : p.x(),
                   turned ? centre.y() + s * x + c * y : p.y(), p.z());
      return Vec3(unit * q + zero);
    };
    std::vector<Vec3> expected;
    Vec3 p = any();
    text += fmt::format("G1 X{} Y{} Z{}\n", p.x(), p.y(), p.z());
    expected.push_back(place(p));
    for (int k = 0; k < 6; ++k) {
      const Vec3 by = any();
      const bool absolute = draw.maybe();
      text += fmt::format("{} X{} Y{} Z{}\n", absolute ? "G90" : "G91", by.x(), by.y(), by.z());
      p = absolute ? by : Vec3(p + by);
      expected.push_back(place(p));
    }
    const Reading r = read(text + "M30\n", options);
    ASSERT_TRUE(r.ok) << text << r.said();
    const auto& motions = r.heard.motions;
    ASSERT_EQ(motions.size(), expected.size() + 1);
    for (std::size_t k = 0; k < expected.size(); ++k)
      EXPECT_LT((motions[k + 1].end - expected[k]).norm(), 1e-8) << text << k;
  }
}

// Subprograms in subprograms, macros and loops: the number of moves is the product of the counts,
// and the way by increments their sum.
TEST(RandomPrograms, RepeatsAreProducts) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    Draw draw(seed);
    const int depth = draw.whole(1, 4);
    std::string text = "G21 G91 F100\nG1 X0.5\n", subs;
    long product = 1;
    double way = 0.5;
    for (int level = 1; level <= depth; ++level) {
      const int times = draw.whole(1, 5);
      product *= times;
      const int kind = draw.whole(0, 3);
      const std::string next =
          kind == 0   ? fmt::format("M98 P{} L{}\n", level, times)
          : kind == 1 ? fmt::format("M98 P{}{:04}\n", times, level)
          : kind == 2
              ? fmt::format("G65 P{} L{}\n", level, times)
              : fmt::format(
                    "#10{0}=1\nWHILE [#10{0} LE {1}] DO1\nM98 P{0}\n#10{0}=#10{0}+1\nEND1\n", level,
                    times);
      (level == 1 ? text : subs) += next;
      if (level > 1) subs += "M99\n";
      subs += fmt::format("O{}\n", level);
      const double by = draw.in(0.1, 3);
      subs += fmt::format("G1 X{}\n", by);
      way += static_cast<double>(product) * by;
    }
    subs += "M99\n";
    const Reading r = read(text + "M30\n" + subs, reading({}));
    ASSERT_TRUE(r.ok) << text << subs << r.said();
    EXPECT_NEAR(r.moves().back().end.x(), way, 1e-9 * way) << text << subs;
  }
}

// A round about each corner of a random convex outline, outside and inside: the way is the
// outline's by hand (Steiner's formula for parallel curves), and an inch program says what the same
// one in mm says.
TEST(RandomPrograms, InchOutlinesBesideTheTool) {
  for (unsigned seed = 1; seed <= 150; ++seed) {
    Draw draw(seed);
    const int corners = draw.whole(3, 9);
    // Eighths of an inch are whole thousandths of a mm.
    std::vector<Eigen::Vector2i> eighths;
    for (int k = 0; k < corners; ++k) {
      const double angle = 2 * pi * (k + draw.in(0.1, 0.6)) / corners;
      eighths.emplace_back(static_cast<int>(std::lround(400 * std::cos(angle))),
                           static_cast<int>(std::lround(400 * std::sin(angle))));
    }
    const auto program = [&](bool inch) {
      const double unit = inch ? 0.125 : 3.175;
      std::string text = inch ? "G20 G90 F9\n" : "G21 G90 F228.6\n";
      const auto place = [&](const Eigen::Vector2i& p) {
        return fmt::format("X{:.4f} Y{:.4f}\n", unit * p.x(), unit * p.y());
      };
      // In along the first edge drawn out backwards, on beyond it at the end: right of the outline
      // that goes round to the left is outside.
      const Eigen::Vector2i edge = eighths[1] - eighths[0];
      text += "G0 " + place(eighths[0] - 2 * edge) + "G42 D1 G1 " + place(eighths[0] - edge);
      for (int k = 0; k <= corners; ++k)
        text += place(eighths[static_cast<std::size_t>(k % corners)]);
      text += place(eighths[0] + edge) + "G40\nM30\n";
      return text;
    };
    ReadOptions options = reading({});
    options.tool_diameters = {{1, draw.in(1, 12)}};
    const Reading mm = read(program(false), options), inch = read(program(true), options);
    ASSERT_TRUE(mm.ok) << program(false) << mm.said();
    ASSERT_TRUE(inch.ok) << inch.said();
    const auto a = mm.moves(), b = inch.moves();
    ASSERT_EQ(a.size(), b.size());
    double way = 0;
    for (std::size_t k = 0; k < a.size(); ++k) {
      EXPECT_LT((a[k].end - b[k].end).norm(), 1e-8) << program(true);
      if (a[k].kind == PathKind::rapid) continue;
      EXPECT_NEAR(a[k].feed, b[k].feed, 1e-9);
      way += length(a[k]);
    }
    double edges = 0;
    for (int k = 0; k < corners; ++k) {
      edges += 3.175 * (eighths[static_cast<std::size_t>((k + 1) % corners)] -
                        eighths[static_cast<std::size_t>(k)])
                           .cast<double>()
                           .norm();
    }
    const double edge = 3.175 * (eighths[1] - eighths[0]).cast<double>().norm();
    const double radius = options.tool_diameters.at(1) / 2;
    // In to the right-angled corner over the way to the first point (NISTIR 6556 appendix B), round
    // that point onto the edge; then once round with one turn of the tool about all corners.
    const double way_in = length(a[1]);
    EXPECT_NEAR(way_in, std::sqrt(edge * edge - radius * radius), 1e-6) << program(false);
    EXPECT_NEAR(way - way_in,
                radius * std::asin(radius / edge) + edges + 2 * pi * radius + 2 * edge, 1e-6)
        << program(false);
  }
}

}  // namespace
}  // namespace proveout::nc
