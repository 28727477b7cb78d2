// The tables of NISTIR 6556, row by row, in the strict profile: table 2 (parameters), table 3
// (letters), table 4 (modal groups), table 8 (order of execution within a line).
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Heard : Sink {
  struct Step {
    bool is_motion = false;
    Motion motion;
    Event event;
    ModalState state;
  };
  std::vector<Step> steps;
  void motion(const Motion& m, const ModalState& s) override { steps.push_back({true, m, {}, s}); }
  void event(const Event& e, const ModalState& s) override { steps.push_back({false, {}, e, s}); }
};

struct Reading {
  Heard heard;
  Diagnostics diagnostics;
  bool ok = false;
  bool has(std::string_view code) const {
    return std::any_of(
        diagnostics.all().begin(), diagnostics.all().end(),
        [&](const Diagnostic& d) { return d.code == code && d.severity == Severity::error; });
  }
};

Reading read(const std::string& text, bool machine_known = true) {
  Reading r;
  ReadOptions options;
  options.profile = Profile::strict;
  options.tool_diameters = {{1, 6}, {2, 4}};
  options.tool_lengths = {{1, 40}, {2, 30}};
  if (machine_known) options.zero_in_machine = Vec3(10, 20, 30);
  r.ok = interpret(text, "test.nc", options, r.heard, r.diagnostics);
  return r;
}

std::string said(const Reading& r) {
  std::string out;
  for (const auto& d : r.diagnostics.all()) out += to_text(d);
  return out;
}

// A code with what it needs on its line.
struct Word {
  const char* code;
  const char* with;
};
const std::map<std::string, std::vector<Word>>& groups() {
  static const std::map<std::string, std::vector<Word>> table = {
      {"G 1",
       {{"G0", "X1"},
        {"G1", "X1"},
        {"G2", "X1 I.5"},
        {"G3", "X1 I.5"},
        {"G38.2", "X1"},
        {"G80", ""},
        {"G81", "X1 Z-1 R1"},
        {"G82", "X1 Z-1 R1 P1"},
        {"G83", "X1 Z-1 R1 Q1"},
        {"G84", "X1 Z-1 R1"},
        {"G85", "X1 Z-1 R1"},
        {"G86", "X1 Z-1 R1 P1"},
        {"G87", "X1 Z-1 R1 I1 J1 K1"},
        {"G88", "X1 Z-1 R1 P1"},
        {"G89", "X1 Z-1 R1 P1"}}},
      {"G 2", {{"G17", ""}, {"G18", ""}, {"G19", ""}}},
      {"G 3", {{"G90", ""}, {"G91", ""}}},
      {"G 5", {{"G93", ""}, {"G94", ""}}},
      {"G 6", {{"G20", ""}, {"G21", ""}}},
      {"G 7", {{"G40", ""}, {"G41", "D1"}, {"G42", "D1"}}},
      {"G 8", {{"G43", "H1"}, {"G49", ""}}},
      {"G 10", {{"G98", ""}, {"G99", ""}}},
      {"G 12",
       {{"G54", ""},
        {"G55", ""},
        {"G56", ""},
        {"G57", ""},
        {"G58", ""},
        {"G59", ""},
        {"G59.1", ""},
        {"G59.2", ""},
        {"G59.3", ""}}},
      {"G 13", {{"G61", ""}, {"G61.1", ""}, {"G64", ""}}},
      {"G 0",
       {{"G4", "P1"},
        {"G10", "L2 P1 X0"},
        {"G28", "X1"},
        {"G30", "X1"},
        {"G53", "G0 X1"},
        {"G92", "X1"},
        {"G92.1", ""},
        {"G92.2", ""},
        {"G92.3", ""}}},
      {"M 4", {{"M0", ""}, {"M1", ""}, {"M2", ""}, {"M30", ""}, {"M60", ""}}},
      {"M 6", {{"M6", "T1"}}},
      {"M 7", {{"M3", ""}, {"M4", ""}, {"M5", ""}}},
      {"M 8", {{"M7", ""}, {"M8", ""}, {"M9", ""}}},
      {"M 9", {{"M48", ""}, {"M49", ""}}},
  };
  return table;
}
const std::string before = "F10 S100 M3\n";  // G84 to G88 need a turning spindle

TEST(Table4, EveryCodeOfAGroupIsTaken) {
  int codes = 0;
  for (const auto& [group, words] : groups()) {
    for (const Word& w : words) {
      const Reading r = read(before + fmt::format("{} {}\nM2\n", w.code, w.with));
      EXPECT_TRUE(r.ok) << group << " " << w.code << "\n" << said(r);
      ++codes;
    }
  }
  EXPECT_EQ(codes, 66);
}

TEST(Table4, TwoCodesOfOneGroupAreRefused) {
  for (const auto& [group, words] : groups()) {
    for (const Word& a : words) {
      for (const Word& b : words) {
        if (a.code == b.code || (group == "M 9")) continue;
        const Reading r = read(before + fmt::format("{} {} {}\nM2\n", a.code, b.code, b.with));
        EXPECT_TRUE(r.has("group-repeated")) << group << ": " << a.code << " " << b.code << "\n"
                                             << said(r);
      }
    }
  }
}

TEST(Table4, CodesOfDifferentGroupsGoTogether) {
  // One of each group that does not move, all on one line, and a motion.
  const Reading r = read(before + "G1 G17 G90 G94 G21 G40 G49 G98 G54 G64 X5 M7 M48\nM2\n");
  EXPECT_TRUE(r.ok) << said(r);
  // A group 0 code that uses axis words beside a group 1 code is an error (3.4); G53 with G0 or G1
  // is how it is meant.
  for (const char* line : {"G1 G92 X1", "G1 G28 X1", "G0 G30 X1", "G1 G10 L2 P1 X1"}) {
    EXPECT_FALSE(read(before + line + "\nM2\n").ok) << line;
  }
  EXPECT_TRUE(read(before + "G53 G1 X1\nM2\n").ok);
}

// Table 3 with D.8.2 and table 14: which numbers may be negative, which must be whole.
TEST(Table3, SignsAndWholeNumbers) {
  for (const char* line : {"G1 X-1 Y-1 Z-1", "G2 X-2 I-1 J0", "G18 G2 Z-2 K-1", "G2 X1 R-5",
                           "G43 H1", "G41 D1", "G4 P0.5", "T2", "N99999 G1 X1"}) {
    const Reading r = read(before + line + "\nM2\n");
    EXPECT_TRUE(r.ok) << line << "\n" << said(r);
  }
  for (const char* line : {"G1 X1 F-1", "S-1", "G4 P-1", "T-1", "G43 H-1", "G41 D-1",
                           "G83 X1 Z-1 R1 Q-1", "G81 X1 Z-1 R1 L-1"}) {
    EXPECT_FALSE(read(before + line + "\nM2\n").ok) << line;
  }
  for (const char* line : {"T1.5", "G43 H1.5", "G41 D1.5", "G81 X1 Z-1 R1 L1.5"}) {
    EXPECT_FALSE(read(before + line + "\nM2\n").ok) << line;
  }
}

// Table 2: where the work offsets stand among the parameters, 20 apart from 5221 on, and 5220.
TEST(Table2, OffsetsAreParameters) {
  const std::vector<std::string> systems = {"G54", "G55",   "G56",   "G57",  "G58",
                                            "G59", "G59.1", "G59.2", "G59.3"};
  for (std::size_t i = 0; i < systems.size(); ++i) {
    const int first = 5221 + 20 * static_cast<int>(i);
    const Reading r = read(
        before + fmt::format("G21\nG10 L2 P{} X4 Y5 Z6\n{}\nG0 X#{} Y#{} Z#{}\nG0 X#5220\nM2\n",
                             i + 1, systems[i], first, first + 1, first + 2),
        false);
    ASSERT_TRUE(r.ok) << systems[i] << "\n" << said(r);
    std::vector<Motion> moves;
    for (const auto& s : r.heard.steps) {
      if (s.is_motion) moves.push_back(s.motion);
    }
    ASSERT_EQ(moves.size(), 2u);
    // The offset, read back as a coordinate in that same offset, lies twice as far out.
    EXPECT_LT((moves[0].end - Vec3(8, 10, 12)).norm(), 1e-9)
        << systems[i] << " " << moves[0].end.transpose();
    EXPECT_NEAR(moves[1].end.x(), 4 + static_cast<double>(i + 1), 1e-9) << systems[i];
  }
}

// Table 8: what acts before what, written in the line the other way round.
TEST(Table8, OrderWithinALine) {
  const auto index = [](const Reading& r, auto&& which) {
    for (std::size_t i = 0; i < r.heard.steps.size(); ++i) {
      if (which(r.heard.steps[i])) return static_cast<int>(i);
    }
    return -1;
  };
  const auto kind = [](EventKind k) {
    return [k](const Heard::Step& s) { return !s.is_motion && s.event.kind == k; };
  };
  const auto moved = [](const Heard::Step& s) { return s.is_motion; };
  // All of it on one line, last first: M0, the motion, dwell is left to a line of its own (it takes
  // no axis words).
  const Reading r =
      read("G21\nM0 X5 G1 G90 G64 G54 G40 G17 M48 M8 M3 M6 T2 S500 F100 G94 (MSG, first)\nM2\n");
  ASSERT_TRUE(r.ok) << said(r);
  const int message = index(r, kind(EventKind::message)),
            change = index(r, kind(EventKind::tool_change)),
            coolant = index(r, kind(EventKind::coolant)), motion = index(r, moved),
            stop = index(r, kind(EventKind::stop));
  const int turn = index(r, [](const Heard::Step& s) {
    return !s.is_motion && s.event.kind == EventKind::spindle &&
           s.state.turn == SpindleTurn::clockwise;
  });
  EXPECT_LE(0, message);
  EXPECT_LT(message, change);
  EXPECT_LT(change, turn);
  EXPECT_LT(turn, coolant);
  EXPECT_LT(coolant, motion);
  EXPECT_LT(motion, stop);
  const auto& m = r.heard.steps[static_cast<std::size_t>(motion)];
  EXPECT_EQ(m.motion.feed, 100);        // F before motion
  EXPECT_EQ(m.state.spindle_rpm, 500);  // S before M3
  EXPECT_EQ(m.state.tool, 2);           // T before M6
  EXPECT_TRUE(m.state.flood);           // M8 before motion
  // M5 and M9 act before the motion of their line too.
  const Reading off = read("G21 F10 S100 M3 M8\nG1 X5 M5 M9\nM2\n");
  const auto& last = off.heard.steps[static_cast<std::size_t>(index(off, moved))];
  EXPECT_EQ(last.state.turn, SpindleTurn::stopped);
  EXPECT_FALSE(last.state.flood);
  // F (step 3) comes before the units (step 12), which come before motion: 1 inch at what F10 meant
  // in millimetres is left open by the report; the motion itself is in inches.
  const Reading units = read("G21\nG1 X1 F10 G20\nM2\n");
  EXPECT_NEAR(units.heard.steps[static_cast<std::size_t>(index(units, moved))].motion.end.x(), 25.4,
              1e-12);
  // The dwell (step 10) comes before the offset and the distance mode, and those before motion.
  const Reading plane = read("G21 F10\nG2 X2 Z0 I1 K0 G18\nM2\n");
  const auto& arc = plane.heard.steps[static_cast<std::size_t>(index(plane, moved))].motion;
  EXPECT_EQ(arc.plane, Plane::zx);  // the plane (step 11) before the arc
  const Reading distance = read("G21 F10\nG1 X1\nX1 G91\nM2\n");
  EXPECT_NEAR(distance.heard.steps[distance.heard.steps.size() - 2].motion.end.x(), 2, 1e-12);
  const Reading offset = read("G21 F10\nG10 L2 P2 X7\nG1 X1 G55\nM2\n", false);
  EXPECT_NEAR(offset.heard.steps[static_cast<std::size_t>(index(offset, moved))].motion.end.x(), 8,
              1e-12);
}

}  // namespace
}  // namespace proveout::nc
