// A small post for tests: pockets, contours and faces by concentric passes, drilled holes. The same
// calls give the same text.
#pragma once

#include "tests/report/causes/contour_part.h"

namespace proveout::planted {

struct Feeds {
  double cut = 1100, plunge = 300;  // mm/min
  int rpm = 18000;
};

class Posted {
 public:
  // top: of the blank in the program's coordinates, mm; moves between cuts run above it.
  Posted(const std::string& title, double top, Feeds feeds)
      : clear_(top + 5), feeds_(feeds), text_("%\n(" + title + ")\n") {
    text_ += "G17 G21 G40 G49 G54 G80 G90 G94\n";
  }

  void tool(int number, const std::string& comment, double diameter) {
    radius_ = diameter / 2;
    text_ += fmt::format("({})\nT{} M6\nS{} M3\nG43 H{}\nG0 Z{:.3f}\n", comment, number, feeds_.rpm,
                         number, clear_);
    state_ = {};
  }

  // Lines along x over a rectangle, back and forth, at each level down to `floor`.
  void face(double x0, double y0, double x1, double y1, double top, double floor, double deep,
            double over) {
    for (const double z : levels(top, floor, deep)) {
      bool back = false;
      go(x0 - radius_ - 2, y0);
      text_ += fmt::format("G0 Z{:.3f}\n", z);
      const int rows = static_cast<int>(std::ceil((y1 - y0) / over));
      for (int k = 0; k <= rows; ++k, back = !back) {
        const double y = y0 + (y1 - y0) * k / rows;
        cut_to(back ? x1 + radius_ + 2 : x0 - radius_ - 2, y);
        cut_to(back ? x0 - radius_ - 2 : x1 + radius_ + 2, y);
      }
      lift();
    }
  }

  // All inside an outline, from its middle outwards, each level entered on a ramp.
  void pocket(const Outline& wall, double top, double floor, double deep, double over) {
    std::vector<Outline> rings;
    for (double in = radius_; in < std::min(wall.half_x, wall.half_y) - 0.4; in += over)
      rings.insert(rings.begin(), wall.offset(-in));
    double above = top;
    for (const double z : levels(top, floor, deep)) {
      enter(rings.front(), above, z);
      for (const Outline& ring : rings) lap(ring, z);
      lift();
      above = z;
    }
  }

  // All round an outline, `wide` outwards, from outside inwards; each level is entered from beside
  // the work, or, in the middle of a sheet, on a ramp.
  void outside(const Outline& wall, double top, double floor, double deep, double over, double wide,
               bool in_a_sheet = false) {
    double above = top;
    for (const double z : levels(top, floor, deep)) {
      double out = radius_ + wide;
      bool first = true;
      while (out > radius_ - 1e-9) {
        const Outline ring = wall.offset(out);
        const auto [x, y] = ring.point(0);
        if (first && in_a_sheet) {
          enter(ring, above, z);
        } else if (first) {
          go(x, y);
          text_ += fmt::format("G0 Z{:.3f}\n", z);
        }
        first = false;
        lap(ring, z);
        out = out > radius_ + over ? out - over : out > radius_ + 1e-9 ? radius_ : 0;
      }
      lift();
      above = z;
    }
  }

  // One lap round an outline at each level, ramped in; `tab_half` about each axis direction the
  // tool rises to tab_top where the level lies below it (0: no tabs).
  void profile(const Outline& wall, double top, double floor, double deep, double tab_half = 0,
               double tab_top = 0) {
    const Outline ring = wall.offset(radius_);
    double above = top;
    for (const double z : levels(top, floor, deep)) {
      enter(ring, above, std::max(z, tab_half > 0 ? tab_top : z));
      if (tab_half > 0 && z < tab_top)
        lap_with_tabs(ring, z, tab_half, tab_top);
      else
        lap(ring, z);
      above = z;
    }
    lift();
  }

  void drill(double x, double y, double retract, double bottom, double feed) {
    go(x, y);
    text_ += fmt::format("G98 G83 X{:.3f} Y{:.3f} Z{:.3f} R{:.3f} Q2. F{:.0f}\nG80\n", x, y, bottom,
                         retract, feed);
    state_ = {};
  }

  void raw(const std::string& lines) { text_ += lines; }

  // What is cut from here on is left out: to plant.
  std::string done() const {
    return text_ + fmt::format("G0 Z{:.3f}\nM5\nM9\nM30\n%\n", clear_ + 20);
  }

 private:
  static std::vector<double> levels(double top, double floor, double deep) {
    const int n = std::max(1, static_cast<int>(std::ceil((top - floor) / deep - 1e-9)));
    std::vector<double> out;
    for (int k = 1; k <= n; ++k) out.push_back(top + (floor - top) * k / n);
    return out;
  }
  void go(double x, double y) {
    text_ += fmt::format("G0 X{:.3f} Y{:.3f}\n", x, y);
    state_ = {};
  }
  void feed_word(double feed) {
    if (feed != state_.feed) text_ += fmt::format(" F{:.0f}", feed);
    state_.feed = feed;
  }
  void cut_to(double x, double y) {
    text_ += fmt::format("G1 X{:.3f} Y{:.3f}", x, y);
    feed_word(feeds_.cut);
    text_ += '\n';
  }
  void lift() {
    text_ += fmt::format("G0 Z{:.3f}\n", clear_);
    state_ = {};
  }
  // Half a millimetre above what the level before left, then down along the ring's first laps at
  // three degrees or less.
  void enter(const Outline& ring, double above, double z) {
    const auto [x, y] = ring.point(0);
    if (!state_.down) {
      go(x, y);
      text_ += fmt::format("G0 Z{:.3f}\n", above + 0.5);
    }
    state_.down = true;
    const double start = above + 0.5, drop = start - z;
    double round = 0;
    std::vector<double> at{0};
    for (int k = 1; k <= Outline::points; ++k) {
      const auto [x0, y0] = ring.point(k - 1);
      const auto [x1, y1] = ring.point(k % Outline::points);
      at.push_back(round += std::hypot(x1 - x0, y1 - y0));
    }
    const int laps = std::max(1, static_cast<int>(std::ceil(drop / (0.05 * round))));
    for (int k = 1; k <= laps * Outline::points; ++k) {
      const int in_lap = (k - 1) % Outline::points + 1, lap = (k - 1) / Outline::points;
      const auto [px, py] = ring.point(in_lap % Outline::points);
      const double gone = (lap * round + at[static_cast<std::size_t>(in_lap)]) / (laps * round);
      text_ += fmt::format("G1 X{:.3f} Y{:.3f} Z{:.3f}", px, py, start - drop * gone);
      feed_word(feeds_.cut);
      text_ += '\n';
    }
  }
  void lap(const Outline& ring, double z) {
    const auto [x0, y0] = ring.point(0);
    text_ += fmt::format("G1 X{:.3f} Y{:.3f} Z{:.3f}", x0, y0, z);
    feed_word(feeds_.cut);
    text_ += '\n';
    for (int k = 1; k <= Outline::points; ++k) {
      const auto [x, y] = ring.point(k % Outline::points);
      cut_to(x, y);
    }
  }
  // From the outline's point at +x, over a tab, round a circle.
  void lap_with_tabs(const Outline& ring, double z, double half, double tab_top) {
    constexpr int pieces = 240;
    const auto height = [&](double at) {
      text_ += fmt::format("G1 Z{:.3f}", at);
      feed_word(feeds_.plunge);
      text_ += '\n';
    };
    bool up = true;
    for (int k = 1; k <= pieces; ++k) {
      const double turn = 2 * M_PI * k / pieces;
      const double dx = ring.half_x * std::cos(turn), dy = ring.half_y * std::sin(turn);
      const bool over = std::min(std::abs(dx), std::abs(dy)) < half + radius_;
      if (over && !up) height(tab_top);
      cut_to(ring.x + dx, ring.y + dy);
      if (!over && up) height(z);
      up = over;
    }
  }

  struct State {
    double feed = 0;
    bool down = false;
  };
  double clear_, radius_ = 3;
  Feeds feeds_;
  std::string text_;
  State state_;
};

}  // namespace proveout::planted
