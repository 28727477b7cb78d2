#include "sim/after/test_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "parser/nc/word_places.h"
#include "sim/timing/plan.h"

namespace proveout::after {
namespace {

constexpr int most_rounds = 400;  // of a program's loop, written out: no control need know loops

// One program: what is done once before, each round, once after.
struct Recipe {
  const char* name;
  const char* tells;
  std::vector<Figure> figures;
  std::string before, each, after;
  double most_round_s = 0;  // 0: as many rounds as fill the time
};

// Every length and feed with its point, so that a control that counts steps without one reads them
// alike.
class Recipes {
 public:
  Recipes(const job::Machine& machine, const Vec3& box)
      : machine_(machine), x_(std::floor(box.x())), y_(std::floor(box.y())) {}

  std::vector<Recipe> all() const {
    std::vector<Recipe> out;
    out.push_back({"pauses.nc",
                   "what a program takes besides its blocks",
                   {Figure::overhead},
                   "",
                   pause(5),
                   ""});
    out.push_back({"rapids.nc",
                   "the rapid rate",
                   {Figure::rapid},
                   "",
                   fmt::format("G0 X{:.0f}.\nG0 X0\n", x_),
                   ""});
    // So short that the rapid rate counts little, so fast that the acceleration is reached also
    // where jerk keeps feed moves from it.
    out.push_back({"short-rapids.nc",
                   "the acceleration, at speed",
                   {Figure::acceleration},
                   "",
                   fmt::format("G0 X{:.0f}.\nG0 X0\n", std::max(2.0, std::floor(x_ / 5))),
                   ""});
    // Stops all along: long steps tell the acceleration, short ones the jerk besides.
    out.push_back({"steps.nc",
                   "the acceleration",
                   {Figure::acceleration},
                   "G61\n",
                   steps(std::min(8.0, x_ / 4)),
                   "G64\n"});
    out.push_back({"small-steps.nc",
                   "the jerk (or the acceleration once more)",
                   {Figure::jerk, Figure::acceleration},
                   "G61\n",
                   steps(0.5),
                   "G64\n"});
    out.push_back(
        {"corners.nc", "how corners are rounded", {Figure::path_tolerance}, "", stairs(2), ""});
    out.push_back(
        {"rings.nc",
         "the acceleration across an arc",
         {Figure::arc_acceleration},
         fmt::format("G1 X2. Y1. F{:.0f}.\n", feed()),
         "G2 X2. Y1. I-1. J0\nG2 X2. Y1. I-1. J0\nG2 X2. Y1. I-1. J0\nG2 X2. Y1. I-1. J0\n",
         ""});
    out.push_back({"blocks.nc", "how fast blocks are read", {Figure::block_rate}, "", dots(), ""});
    if (machine_.spindle.max_rpm > 0) spindle(out);
    out.push_back({"changes.nc",
                   "a tool change (give T1 and T2 any two tools that stand clear)",
                   {Figure::tool_change},
                   "",
                   "T1 M6\nT2 M6\n",
                   ""});
    out.push_back({"coolant.nc", "the wait for coolant", {Figure::coolant}, "", "M8\nM9\n", ""});
    return out;
  }

 private:
  // As this machine's control reads P.
  std::string pause(double seconds) const {
    const bool milliseconds = machine_.reads.is(nc::Read::wait_p, "milliseconds");
    return fmt::format("G4 P{:.0f}{}\n", milliseconds ? 1000 * seconds : seconds,
                       milliseconds ? "" : ".");
  }

  double feed() const { return std::floor(std::min(machine_.max_feed.x(), machine_.max_feed.y())); }

  // Out and back in steps of that size, mm.
  std::string steps(double size) const {
    std::string out;
    const int count = std::max(1, std::min(10, static_cast<int>(x_ / size)));
    for (int k = 1; k <= count; ++k) out += fmt::format("G1 X{:.3f} F{:.0f}.\n", k * size, feed());
    for (int k = count - 1; k >= 0; --k) out += fmt::format("G1 X{:.3f}\n", k * size);
    return out;
  }

  // Right angles all along: up a stair and down again.
  std::string stairs(double size) const {
    std::string out;
    const int count = std::max(1, std::min(10, static_cast<int>(std::min(x_, y_) / size) - 1));
    for (int k = 1; k <= count; ++k) {
      out += fmt::format("G1 X{:.3f} F{:.0f}.\n", k * size, feed());
      out += fmt::format("G1 Y{:.3f}\n", k * size);
    }
    for (int k = count - 1; k >= 0; --k) {
      out += fmt::format("G1 X{:.3f}\n", k * size);
      out += fmt::format("G1 Y{:.3f}\n", k * size);
    }
    return out;
  }

  // Straight on in steps far shorter than a block takes to be read: the shorter, the less the
  // look-ahead's own limit counts, by which speed grows with the cube root of a step where jerk is
  // limited, but by the step itself where blocks are. 0.001 mm is what programs are written to.
  std::string dots() const {
    std::string out;
    constexpr int count = 2000;
    for (int k = 1; k <= count; ++k)
      out +=
          fmt::format("G1 X{:.3f}{}\n", 0.001 * k, k == 1 ? fmt::format(" F{:.0f}.", feed()) : "");
    for (int k = count - 1; k >= 0; --k) out += fmt::format("G1 X{:.3f}\n", 0.001 * k);
    return out;
  }

  // From rest to two speeds: the difference is the ramp's, what both share the start's.
  void spindle(std::vector<Recipe>& out) const {
    const double high = machine_.spindle.max_rpm,
                 low = std::max(machine_.spindle.min_rpm, 0.25 * high);
    const std::vector<Figure> both = {Figure::spindle_start, Figure::spindle_rate, Figure::spin_up};
    out.push_back({"spindle-high.nc", "the spindle's start and ramp", both, "",
                   fmt::format("S{:.0f} M3\nM5\n", high), ""});
    if (low < 0.8 * high)
      out.push_back({"spindle-low.nc", "the spindle's start apart from its ramp", both, "",
                     fmt::format("S{:.0f} M3\nM5\n", low), ""});
  }

  const job::Machine& machine_;
  double x_, y_;
};

std::string text_of(const Recipe& r, int rounds, const Vec3& box) {
  std::string text = fmt::format(
      "(TO BE TIMED: {})\n(IN AIR: +X {:.0f} +Y {:.0f} FROM THE WORK ZERO, Z IS LEFT ALONE)\n"
      "G21 G90 G17 G94\nG0 X0 Y0\n",
      r.name, box.x(), box.y());
  text += r.before;
  for (int k = 0; k < rounds; ++k) text += r.each;
  text += r.after;
  // A move, so that a program of pauses alone is one.
  return text + "G0 X1. Y0\nG0 X0 Y0\nM30\n";
}

// How long the program takes on that machine; negative: it cannot be read, with its errors told.
double planned_s(const std::string& text, const job::Machine& machine, Diagnostics& diagnostics) {
  nc::ReadOptions options;
  options.start = Vec3(0, 0, machine.start.z());
  options.reads = machine.reads;
  Diagnostics of_reading;  // notes on a text of our own are nobody's matter
  const auto read = nc::read_traced(text, "plan", options, of_reading);
  for (const Diagnostic& d : of_reading.all())
    if (!read && d.severity == Severity::error) diagnostics.add(d);
  return read ? timing::plan(read->program, machine).time_s : -1;
}

}  // namespace

std::vector<TestProgram> test_programs(const job::Machine& machine,
                                       const std::vector<Figure>& figures, const Vec3& box,
                                       double seconds, Diagnostics& diagnostics) {
  std::vector<TestProgram> out;
  if (!(box.x() >= 10) || !(box.y() >= 10)) {
    diagnostics.error("plan-box", {}, "the box is smaller than 10 mm in x or y",
                      "give the room that is free in air, in mm");
    return out;
  }
  const auto wanted = [&](const Recipe& r) {
    return std::any_of(r.figures.begin(), r.figures.end(), [&](Figure f) {
      return std::find(figures.begin(), figures.end(), f) != figures.end();
    });
  };
  for (const Recipe& r : Recipes(machine, box).all()) {
    if (!wanted(r)) continue;
    // The machine file may be far off: rounds by it fill the time within a factor of it.
    const double none = planned_s(text_of(r, 0, box), machine, diagnostics),
                 ten = planned_s(text_of(r, 10, box), machine, diagnostics);
    if (none < 0 || ten < 0) return {};
    const double round = std::max(1e-3, (ten - none) / 10);
    const int rounds =
        std::clamp(static_cast<int>(std::lround((seconds - none) / round)), 1, most_rounds);
    TestProgram p;
    p.name = r.name;
    p.tells = r.tells;
    p.text = text_of(r, rounds, box);
    p.expected_s = planned_s(p.text, machine, diagnostics);
    out.push_back(std::move(p));
  }
  return out;
}

}  // namespace proveout::after
