// Round trips: a program, written plainly, must mean the same when read again; and two programs
// that only look different must count as the same, while one changed word is found at its line. The
// second answer is the parser itself, on text it did not see before.
#include "parser/nc/plain.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>

#include "parser/nc/difference.h"
#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

namespace fs = std::filesystem;

struct Keep : Sink {
  Program program;
  Keep() { program.chains.emplace_back(); }
  void motion(const Motion& m, const ModalState& s) override {
    program.motions.push_back(m);
    program.motions.back().state = number(s);
  }
  void event(const Event& e, const ModalState& s) override {
    program.events.push_back(e);
    program.events.back().before_motion = program.motions.size();
    program.events.back().state = number(s);
  }
  std::uint32_t number(const ModalState& s) {
    if (program.states.empty() || !(program.states.back() == s)) program.states.push_back(s);
    return static_cast<std::uint32_t>(program.states.size() - 1);
  }
};

ReadOptions with_tools(const Reads& reads = {}) {
  ReadOptions options;
  options.reads = reads;
  options.tool_diameters = {{1, 6}, {2, 3}};
  options.tool_lengths = {{1, 40}, {2, 30}};
  return options;
}

Program read(const std::string& text, const Reads& reads = {}) {
  Keep keep;
  Diagnostics diagnostics;
  EXPECT_TRUE(interpret(text, "test.nc", with_tools(reads), keep, diagnostics)) << text;
  for (const auto& d : diagnostics.all())
    EXPECT_NE(d.severity, Severity::error) << to_text(d) << text;
  return std::move(keep.program);
}

std::string explain(const std::optional<Difference>& d) {
  return d ? fmt::format("motion {} lines {} and {}: {}", d->motion, d->first_line, d->second_line,
                         d->what)
           : "";
}

void expect_round_trip(const Program& program, const std::string& what) {
  const std::string text = plain_text(program);
  const Program again = read(text);
  const auto difference = first_difference(program, again);
  EXPECT_FALSE(difference) << what << ": " << explain(difference);
  // Plain text of plain text is the same text: nothing is left to resolve.
  EXPECT_EQ(plain_text(again), text) << what;
  // However a control reads numbers without a point and waits, its plain text means the same to it.
  for (const char* wait : {"milliseconds", "by-point"}) {
    Reads reads;
    reads.declare(Read::wait_p, wait);
    reads.declare(Read::lengths_without_point, "least-increment");
    reads.declare(Read::feeds_without_point, "least-increment");
    const auto other = first_difference(program, read(plain_text(program, reads), reads));
    EXPECT_FALSE(other) << what << ", " << wait << ": " << explain(other);
  }
}

TEST(PlainProgram, FixturesMeanTheSameWhenReadAgain) {
  int seen = 0;
  for (const auto& entry : fs::directory_iterator(fs::path(PROVEOUT_FIXTURES) / "door-pull")) {
    if (entry.path().extension() != ".nc") continue;
    Diagnostics diagnostics;
    const auto program = read_program(entry.path(), {}, diagnostics);
    ASSERT_TRUE(program) << entry.path();
    expect_round_trip(*program, entry.path().string());
    ++seen;
  }
  EXPECT_GE(seen, 6);
}

TEST(PlainProgram, FieldProgramsMeanTheSameWhenReadAgain) {
  const fs::path folder(PROVEOUT_FIELD_DATA);
  if (folder.empty() || !fs::exists(folder))
    GTEST_SKIP() << "no field data here (PROVEOUT_FIELD_DATA)";
  for (const char* name : {"cover.nc", "box_op1.nc", "box_op3.nc", "plate_13.nc"}) {
    Diagnostics diagnostics;
    const auto program = read_program(folder / name, {}, diagnostics);
    ASSERT_TRUE(program) << name;
    expect_round_trip(*program, name);
  }
}

// Seeded programs of every kind of motion: lines, arcs in three planes by radius and by centre,
// helices, cycles, incremental moves, offsets, rotation, cutter compensation, dwells, inches.
std::string random_program(unsigned seed) {
  std::mt19937 random(seed);
  const auto u = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(random);
  };
  const auto pick = [&](int n) { return std::uniform_int_distribution<int>(0, n - 1)(random); };
  std::string t = pick(3) == 0 ? "G20\n" : "G21\n";
  t += "G90 G94 G17 T1 M6\nS12000 M3\nG0 X0 Y0 Z5\nG1 Z0 F500\n";
  for (int i = 0; i < 40; ++i) {
    switch (pick(11)) {
      case 0:
        t += fmt::format("G0 X{:.3f} Y{:.3f}\n", u(-20, 20), u(-20, 20));
        break;
      case 1:
        t += fmt::format("G1 X{:.4f} Z{:.4f} F{:.1f}\n", u(-20, 20), u(-3, 3), u(50, 900));
        break;
      case 2:
        t += fmt::format("G91 G{} X{:.3f} Y{:.3f} R{:.3f}\nG90\n", 2 + pick(2), u(-3, 3), u(-3, 3),
                         u(6, 30));
        break;
      case 3:
        t += fmt::format("G{} I{:.3f} J{:.3f} Z{:.3f}\n", 2 + pick(2), u(1, 5), u(-5, 5), u(-3, 3));
        break;
      case 4:
        t += fmt::format("G18 G{} I{:.3f} K{:.3f}\nG17\n", 2 + pick(2), u(-3, -1), u(-2, 2));
        break;
      case 5:
        t += fmt::format("G19 G{} J{:.3f} K{:.3f} X{:.3f}\nG17\n", 2 + pick(2), u(1, 2), u(-2, 2),
                         u(-9, 9));
        break;
      case 6:
        t += fmt::format("G98 G8{} X{:.3f} Y{:.3f} Z-2 R1 {}\nX{:.3f}\nG80\n", 1 + pick(2),
                         u(-9, 9), u(-9, 9), "P0.2", u(-9, 9));
        break;
      case 7:
        t += fmt::format("G4 P{:.2f}\n", u(0.1, 2));
        break;
      case 8:
        t += fmt::format("S{:.0f} M{}\n", u(1000, 20000), 3 + pick(2));
        break;
      case 9:
        t += fmt::format("G91 G1 X{:.3f} Y{:.3f}\nG90\n", u(-4, 4), u(-4, 4));
        break;
      case 10:
        t += fmt::format("G{} I{:.3f} J0 Z{:.3f} P{}\n", 2 + pick(2), u(1, 4), u(-3, 3),
                         2 + pick(3));
        break;
    }
  }
  // An outline with compensation, entered by a straight move.
  t += "G0 X-40 Y-40\nG41 D1 G1 X-30 Y-40 F300\nX-10\nG3 X-4 Y-34 I0 J6\nG1 Y-20\nX-30\nG40 G1 "
       "X-45 Y-45\nM9\nM30\n";
  return t;
}

TEST(PlainProgram, RandomProgramsMeanTheSameWhenReadAgain) {
  for (unsigned seed = 1; seed <= 60; ++seed) {
    const std::string text = random_program(seed);
    const Program program = read(text);
    EXPECT_GT(program.motions.size(), 20u);
    expect_round_trip(program, "seed " + std::to_string(seed) + "\n" + text);
    if (HasFailure()) return;
  }
}

TEST(Difference, LooksDoNotCount) {
  const Program a = read(
      "G21 G90 G17\nT1 M6\nS1000 M3\nG0 X1 Y2 Z3\nG1 X5 F200\nX6\nG81 X7 Y7 Z-1 R1 "
      "F100\nG80\nM30\n");
  const Program b = read(
      "%\n(another look)\nN10 g17 g90 g21\nN20 t1m6\nN25 m3s1000.\nN30 G0 Z3. Y2.0 X1\nN40 G91 G1 "
      "F200. X4\nG90G1X6.000(same)\n"
      "G99 G0 X7 Y7\nZ1\nG1 Z-1 F100\nG0 Z3\nM30\n%\n");
  // A drilling cycle against its plain moves: the same places, so only the moves' split may differ.
  const auto d = first_difference(a, b);
  if (d) {
    EXPECT_GE(d->motion, 4u) << explain(d);
  }
  const Program c = read(
      "N1 G17 G21 G90 (x)\nN2 T1 M6\nM3 S1000\nG00 X1. Y2. Z3.\nG01 X5. F200.\nG01 X6.\nG81 X7 Y7 "
      "Z-1 R1 F100\nG80\nM2\n");
  EXPECT_FALSE(first_difference(a, c)) << explain(first_difference(a, c));
}

TEST(Difference, OneChangedWordIsFoundAtItsLine) {
  const std::string head = "G21 G90 G17\nT1 M6\nS1000 M3\nG0 X0 Y0 Z5\nG1 Z-1 F200\n";
  const std::string tail = "G2 X20 Y0 I5 J0\nG4 P1\nM30\n";
  const Program a = read(head + "X10\n" + tail);
  struct Case {
    std::string text, says;
    std::uint32_t line;
  };
  for (const Case& c : {Case{head + "X10 Y0.001\n" + tail, "ends at", 6},
                        Case{head + "X10 F210\n" + tail, "feed", 6},
                        Case{head + "G0 X10\nG1\n" + tail, "a rapid", 6},
                        Case{head + "S1200\nX10\n" + tail, "speed", 7},
                        Case{head + "M8\nX10\n" + tail, "coolant", 7},
                        Case{head + "X10\nG2 X20 Y0 I5 J0\nG4 P2\nM30\n", "waits 2", 8},
                        Case{head + "X10\nG3 X20 Y0 I5 J0\nG4 P1\nM30\n", "turns by", 7},
                        Case{head + "X10\nM1\n" + tail, "waits", 7}}) {
    const auto d = first_difference(a, read(c.text));
    ASSERT_TRUE(d) << c.text;
    EXPECT_NE(d->what.find(c.says), std::string::npos) << d->what;
    EXPECT_EQ(d->second_line, c.line) << d->what;
  }
  const auto shorter = first_difference(a, read(head + "X10\nM30\n"));
  ASSERT_TRUE(shorter);
  EXPECT_EQ(shorter->second_line, 0u);
  EXPECT_EQ(shorter->first_line, 7u);
}

TEST(Compensation, MotionsJoinThroughWaitsAndTheExit) {
  // NISTIR 6556, Appendix B: the exit move goes straight from where the tool stands to the
  // programmed point; coolant in between does not end compensation.
  const Program p = read(
      "G21 G90 G17 T1 M6\nS1000 M3\nG0 X0 Y0 Z0\nG42 D1 G1 X10 Y0 F100\nX20\nM8\nX30\nY10\nG4 "
      "P1\nY20\nG40 X50 Y50\nG3 X60 "
      "Y60 I10 J0\nM30\n");
  Vec3 at = Vec3::Zero();
  for (const Motion& m : p.motions) {
    EXPECT_LT((m.start - at).norm(), 1e-9) << m.line;
    at = m.end;
    if (m.line == 7 && m.kind == PathKind::line) {  // still beside the line, behind the M8
      EXPECT_NEAR(m.end.y(), -3, 1e-9);
    }
    if (m.line == 8 && m.kind == PathKind::line) {
      EXPECT_NEAR(m.end.x(), 33, 1e-9);
    }
    if (m.line == 11) {
      EXPECT_NEAR(m.start.x(), 33, 1e-9);
    }
  }
  EXPECT_NEAR((at - Vec3(60, 60, 0)).norm(), 0, 1e-9);
}

TEST(StatisticsOfAProgram, CountsByHand) {
  // Rapids 5 + 5; feeds 10 down x, a half circle of radius 5.
  const Program p = read(
      "G21 G90 G17 T1 M6\nS100 M3\nG0 X0 Y5 Z0\nY0\nG1 X10 F200\nG3 X0 Y0 I-5 J0 F100\nG4 "
      "P2\nM0\nM30\n");
  Statistics s;
  replay(p, s);
  EXPECT_EQ(s.rapids, 2u);
  EXPECT_EQ(s.lines, 1u);
  EXPECT_EQ(s.arcs, 1u);
  EXPECT_NEAR(s.rapid_mm, 10, 1e-9);
  EXPECT_NEAR(s.feed_mm, 10 + 5 * pi, 1e-9);
  EXPECT_EQ(s.least_feed, 100);
  EXPECT_EQ(s.largest_feed, 200);
  EXPECT_EQ(s.dwell_s, 2);
  EXPECT_EQ(s.stops, 1u);
  EXPECT_EQ(s.tool_changes, 1u);
  EXPECT_NEAR(s.programmed.high.y(), 5, 1e-9);
}

}  // namespace
}  // namespace proveout::nc
