// No false alarm: forty programs as a practised person writes them, in five materials, drawn at
// random. Speeds, chips, depths and ways in are common practice (no source), not the material
// table's: the table is what is tried.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

struct Practice {
  const char* material;
  double rpm_low, rpm_high;    // 1/min
  double chip_low, chip_high;  // mm a tooth, of the diameter
  double slot_low, slot_high;  // depth of a full slot, of the diameter
  double side_high;            // width of a side cut, of the diameter
  double down_low, down_high;  // plunge feed, of the feed
  int flutes_high;
};
// On a light machine with a router of 1.5 kW at full speed.
constexpr Practice practices[] = {
    {"6061-T6", 10000, 24000, 0.004, 0.009, 0.10, 0.25, 0.20, 0.10, 0.25, 3},
    {"brass", 8000, 18000, 0.004, 0.009, 0.08, 0.20, 0.15, 0.10, 0.25, 3},
    {"acetal", 10000, 20000, 0.008, 0.025, 0.20, 0.60, 0.40, 0.20, 0.45, 2},
    {"hardwood", 14000, 22000, 0.008, 0.025, 0.30, 0.80, 0.40, 0.15, 0.35, 2},
    {"mdf", 16000, 24000, 0.012, 0.035, 0.40, 1.20, 0.50, 0.15, 0.35, 2},
};

class Writer {
 public:
  Writer(std::mt19937& random, const Practice& p) : random_(random), p_(p) {
    constexpr double diameters[] = {3, 4, 6, 8};
    diameter_ = diameters[random_() % 4];
    flutes_ = 1 + static_cast<int>(random_() % static_cast<unsigned>(p.flutes_high));
    shape_ = static_cast<int>(random_() % 3);
    inch_ = random_() % 3 == 0;
    rpm_ = std::round(between(p.rpm_low, p.rpm_high) / 100) * 100;
    // Machines of this size run no faster.
    feed_ = std::min(5000.0, between(p.chip_low, p.chip_high) * diameter_ * flutes_ * rpm_);
    down_ = between(p.down_low, p.down_high) * feed_;
  }

  Small small() {
    Small s;
    s.material = p_.material;
    s.voxel = fmt::format("voxel = {}\n", between(0.2, 0.4));
    const double flute = 2.5 * diameter_ + 2;
    s.shape = shape_ == 0 ? "flat" : shape_ == 1 ? "ball" : "bull";
    s.flutes = flutes_;
    s.tool = fmt::format("diameter = {}\nflute_length = {}\nstickout = {}\n", diameter_, flute,
                         flute + 4);
    if (shape_ == 2) s.tool += fmt::format("corner_radius = {}\n", 0.15 * diameter_);
    s.machine =
        "max_feed = [6000, 6000, 3000]\naccel = [700, 700, 400]\nspindle = { min_rpm = 6000, "
        "max_rpm = 24000, power_w = 1500, efficiency = 0.8, spin_up_s = 4 }\n";
    s.program = program();
    return s;
  }

 private:
  double between(double a, double b) {
    return a + (b - a) * static_cast<double>(random_() % 10001) / 10000;
  }
  std::string at(double v) const { return fmt::format("{:.5f}", inch_ ? v / 25.4 : v); }
  void line(const std::string& words) { text_ += words + "\n"; }
  void feed(double x, double y, double z, double f) {
    line("G1 X" + at(x) + " Y" + at(y) + " Z" + at(z) + " F" + at(f));
  }
  void above(double x, double y) {
    line("G0 Z" + at(5));
    line("G0 X" + at(x) + " Y" + at(y));
    line("G0 Z" + at(1));
  }
  // To depth z at x, y, the cut then leading on to x1, y1: straight down, or down a slope of two
  // degrees there and back.
  void enter(double x, double y, double z, double x1, double y1) {
    if (random_() % 2 == 0) return feed(x, y, z, down_);
    const double far = std::hypot(x1 - x, y1 - y), most = far * std::tan(2 / deg_per_rad);
    double now = top_;
    feed(x, y, now, down_);
    while (now > z) {
      now = std::max(z, now - most);
      feed(x1, y1, now, 0.5 * feed_);
      feed(x, y, now, 0.5 * feed_);
    }
  }

  void slot() {
    const double x = between(-14, -4), y = between(-10, 10), x1 = between(4, 14),
                 y1 = between(-10, 10), each = between(p_.slot_low, p_.slot_high) * diameter_;
    const int passes = 1 + static_cast<int>(random_() % 2);
    above(x, y);
    top_ = 0.1;
    for (int k = 1; k <= passes; ++k) {
      const bool back = k == 2;
      enter(back ? x1 : x, back ? y1 : y, -k * each, back ? x : x1, back ? y : y1);
      feed(back ? x : x1, back ? y : y1, -k * each, feed_);
      top_ = -k * each;
    }
  }
  void pocket() {
    const double each = between(p_.slot_low, p_.slot_high) * diameter_,
                 over = between(0.3, 0.6) * diameter_, x = between(-12, -6), x1 = between(6, 12);
    const double y0 = between(-9, -4), y1 = between(2, 9);
    above(x, y0);
    top_ = 0.1;
    enter(x, y0, -each, x1, y0);
    double from = x, to = x1;
    for (double y = y0; y <= y1; y += over) {
      feed(from, y, -each, feed_);
      feed(to, y, -each, feed_);
      std::swap(from, to);
    }
  }
  void side() {
    const double wide = between(0.05, p_.side_high) * diameter_,
                 deep = between(0.5, 1.2) * diameter_, off = 15 + diameter_ / 2;
    const double from = random_() % 2 == 0 ? -26 : 26;
    above(from, off + 1);
    feed(from, off - wide, -deep, feed_);
    feed(-from, off - wide, -deep, feed_);
  }
  void arc() {
    const double r = between(4, 9), each = between(p_.slot_low, p_.slot_high) * diameter_;
    above(r, 0);
    feed(r, 0, 0.1, feed_);
    line("F" + at(0.5 * feed_));
    line("G3 X" + at(r) + " Y0 Z" + at(0.1 - 0.5 * (each + 0.1)) + " I" + at(-r) + " J0");
    line("G3 X" + at(r) + " Y0 Z" + at(-each) + " I" + at(-r) + " J0");
    line("F" + at(feed_));
    line("G3 X" + at(r) + " Y0 I" + at(-r) + " J0");
  }
  std::string program() {
    text_ = inch_ ? "G20 G90 G17\n" : "G21 G90 G17\n";
    line(fmt::format("T1 M6\nS{:.0f} M3", rpm_));
    for (int k = 0; k < 3; ++k) {
      switch (random_() % 4) {
        case 0:
          slot();
          break;
        case 1:
          pocket();
          break;
        case 2:
          side();
          break;
        default:
          arc();
      }
    }
    line("G0 Z" + at(5) + "\nM30");
    return text_;
  }

  std::mt19937& random_;
  const Practice& p_;
  double diameter_ = 6, rpm_ = 0, feed_ = 0, down_ = 0, top_ = 0;
  int flutes_ = 2, shape_ = 0;
  bool inch_ = false;
  std::string text_;
};

TEST(OrdinaryFiles, RaiseNoFalseAlarm) {
  std::mt19937 random(2026);
  for (int n = 0; n < 40; ++n) {
    Writer writer(random, practices[n % 5]);
    const Small s = writer.small();
    const Ran ran = run_small(s);
    const std::string about = fmt::format("seed 2026, file {}: {}\n", n, s.material);
    ASSERT_TRUE(ran.result) << about << s.program;
    EXPECT_GT(ran.result->setups[0].tools[0].removed_mm3, 10) << about << s.program;
    EXPECT_GT(ran.result->setups[0].tools[0].peak.worst.power_w, 0) << about;
    for (const Finding& f : ran.result->findings) {
      const bool alarm = f.level != Severity::note || f.kind == FindingKind::chatter ||
                         f.detail == "other-material";
      EXPECT_FALSE(alarm) << about << s.text() << s.program << name(f.kind) << " line " << f.line
                          << ": " << f.text;
    }
  }
}

}  // namespace
}  // namespace proveout::checks
