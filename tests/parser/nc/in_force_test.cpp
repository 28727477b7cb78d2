// What a word leaves in force and another block depends on: lengths behind a change of tool, tools
// named and not changed, levels of cycles in a row, the first move of turned coordinates, settings
// and words on one line. Each is told where it must be, and not where it makes no difference.
// Common practice, no source.
#include <gtest/gtest.h>

#include "reading.h"

namespace proveout::nc {
namespace {

struct Row {
  const char *blocks, *code;  // no code: nothing of the kind is said
  std::uint32_t line = 0;
};

// Every block in mm and in inches: what is said does not depend on the unit.
void expect_told(const std::string& head, std::initializer_list<Row> rows,
                 std::initializer_list<const char*> kinds) {
  for (const Row& row : rows) {
    for (const char* unit : {"G21", "G20"}) {
      const Reading r = read(unit + head + row.blocks + "\nM30\n", reading({}));
      ASSERT_TRUE(r.ok) << row.blocks << r.said();
      for (const char* kind : kinds) {
        const Diagnostic* const d = r.of(kind);
        const bool wanted = std::string_view(row.code) == kind;
        ASSERT_EQ(d != nullptr, wanted) << unit << ' ' << row.blocks << '\n' << r.said();
        if (!wanted) continue;
        EXPECT_EQ(d->place.line, row.line) << row.blocks;
        EXPECT_EQ(d->severity, Severity::warning);
      }
    }
  }
}

TEST(InForce, ALengthThatIsNotTheToolsIsToldAtTheNextMoveInZ) {
  expect_told(
      " G90 G54 G49 G40\nT1 M6\nS900 M3\nG43 H1 G0 X1 Y1 Z9\nG1 Z-1 F9\nG0 Z9\n",  // 6 lines
      {
          {"T2 M6\nG0 X5\nZ2\nZ1", "length-offset-other-tool", 9},
          {"T2 M6\nG43 H2 Z2", ""},
          {"T2 M6\nG53 Z0\nG91 G28 Z0\nG90 G43 H2 Z2", ""},
          {"T2 M6\nG81 X5 Z-1 R1 F9\nG80", "length-offset-other-tool", 8},
          {"T1 M6\nZ2", ""},
          {"G49\nG53 G0 Z0", ""},
          {"G49\nG28 X1\nX5", ""},
          {"G49 Z9", "length-offset-ended", 7},
          {"G49\nX5\nG91 Z-2\nZ-3", "length-offset-ended", 9},
          {"G43 H0 Z9", "length-offset-ended", 7},
          {"G43 H0\nG43 H1\nZ9", ""},
          {"G49\nT2 M6\nG43 H2 Z9", ""},
          {"G49\nT2 M6\nZ9", "length-offset-ended", 9},
          {"T0 M6\nZ9", ""},
      },
      {"length-offset-other-tool", "length-offset-ended"});
  // A program that works without lengths, or whose H21 is T2's by the table.
  EXPECT_EQ(
      read("G21 G49\nT1 M6\nG0 Z5\nT2 M6\nG0 Z4\nM30\n", reading({})).of("length-offset-ended"),
      nullptr);
  ReadOptions table = reading({});
  table.offsets_h[21] = {2, std::nullopt, 0};
  const std::string both = "G21\nT1 M6\nG43 H21\nG0 Z5\nT2 M6\nG0 Z4\nM30\n";
  const Reading owned = read(both, table);
  EXPECT_EQ(owned.of("length-offset-other-tool")->place.line, 3u) << owned.said();
  ReadOptions every = table;
  every.every_place = true;
  const Reading all = read(both, every);
  for (const Diagnostic& d : all.diagnostics.all()) EXPECT_NE(d.place.line, 6u);
}

// Lines of plain moves take the quick way: it must not run past what is to be told.
TEST(InForce, TheQuickWayTellsOfLengthsToo) {
  ReadOptions full = reading({});
  full.quick = false;
  const std::string text =
      "G21 G90\nT1 M6\nG43 H1\nG0 Z5\nX1\nX2\nT2 M6\nX3\nX4\nZ3\nX5\nZ2\nM30\n";
  const Reading a = read(text, reading({})), b = read(text, full);
  ASSERT_NE(a.of("length-offset-other-tool"), nullptr) << a.said();
  EXPECT_EQ(a.of("length-offset-other-tool")->place.line, 10u);
  EXPECT_EQ(a.said(), b.said());
}

TEST(InForce, AToolThatIsNamedAndNotChangedIsTold) {
  expect_told(" G90\nT1 M6\nS900 M3\nG0 X1\n",
              {
                  {"T2\nX2", "tool-not-changed", 5},
                  {"T2\nX2\nT1", "tool-not-changed", 5},
                  {"T2\nX2\nT2 M6\nX3\nT1\nX4", ""},  // the first, made ready for the next piece
                  {"T2\nX2\nT3\nX3\nT3 M6", "tool-not-changed", 5},
                  {"T2\nM6\nX3", ""},
                  {"T1\nX3", ""},
              },
              {"tool-not-changed"});
  EXPECT_NE(read("G21\nT4\nG0 X3\nM30\n", reading({})).of("tool-not-changed"), nullptr);
}

TEST(InForce, AChangeOfToolUnderCutterCompensationIsTold) {
  const std::string cut = "G21 G90 F90\nT1 M6\nG1 X-20 Y10\nG41 D1 X0 Y0\nX20\n";
  EXPECT_NE(read(cut + "T2 M6\nX30\nM30\n", reading({})).of("diameter-offset-other-tool"), nullptr);
  EXPECT_EQ(read(cut + "T1 M6\nX30\nM30\n", reading({})).of("diameter-offset-other-tool"), nullptr);
  EXPECT_EQ(read(cut + "G40 X30\nT2 M6\nX40\nM30\n", reading({})).of("diameter-offset-other-tool"),
            nullptr);
}

// G98 behind G99, with a code again: back to where the first of the cycles began, or to where this
// one did; R under G91 is counted from there.
TEST(InForce, CyclesInARowGoBackToWhereTheFirstBegan) {
  const std::string row =
      "G21 G90 F90 S900 M3\nG0 X0 Y0 Z50\nG99 G81 X5 Z-5 R2\nG98 G83 X10 Z-5 R2 "
      "Q9\nX11\nG80\nM30\n";
  const auto highest_at = [](const Reading& r, double x) {
    double z = -1e9;
    for (const Motion& m : r.moves()) {
      if (m.start.x() == x && m.end.x() == x) z = std::max(z, m.end.z());
    }
    return z;
  };
  const Reading kept = read(row, reading({}));
  ASSERT_TRUE(kept.ok) << kept.said();
  EXPECT_EQ(highest_at(kept, 10), 50);
  EXPECT_EQ(highest_at(kept, 11), 50);
  ASSERT_EQ(kept.assumed.size(), 1u) << kept.said();
  EXPECT_EQ(kept.assumed[0].which, Read::cycle_levels);
  EXPECT_EQ(kept.assumed[0].line, 4u);
  const Reading each = read(row, reading({{Read::cycle_levels, "each-block"}}));
  EXPECT_EQ(highest_at(each, 10), 2);
  EXPECT_TRUE(each.assumed.empty());
  // G80, G0 or a way home between them begins anew; G99 throughout, or one level, says nothing.
  for (const char* blocks : {"G80\nG98 G81 X10 Z-5 R2", "G0 X8\nG98 G81 X10 Z-5 R2",
                             "G28 X0\nG98 G81 X10 Z-5 R2", "G81 X10 Z-5 R2", "X9\nX10"}) {
    const Reading r =
        read("G21 G90 F90\nG0 X0 Y0 Z50\nG99 G81 X5 Z-5 R2\n" + std::string(blocks) + "\nM30\n",
             reading({}));
    ASSERT_TRUE(r.ok) << r.said();
    EXPECT_LE(highest_at(r, 10), 2) << blocks;
    EXPECT_TRUE(r.assumed.empty()) << blocks;
  }
  // From the R level the same R by increments is the same level, not one further down.
  const std::string down = "G20 G91 F90\nG99 G81 X1 Z-.5 R-.2\nG81 X1 Z-.5 R-.2\nM30\n";
  ReadOptions options = reading({});
  options.start = Vec3(0, 0, 25.4);
  const Reading same = read(down, options);
  ASSERT_TRUE(same.ok) << same.said();
  EXPECT_NEAR(same.moves().back().end.z(), 0.8 * 25.4, 1e-9);
  EXPECT_NE(same.of("dialect-choice"), nullptr);
  options.reads.declare(Read::cycle_levels, "each-block");
  EXPECT_NEAR(read(down, options).moves().back().end.z(), 0.6 * 25.4, 1e-9);
}

TEST(InForce, TheFirstMoveOfTurnedOrPolarCoordinatesGivesBoth) {
  expect_told(" G90 F9\nG0 X5 Y3 Z9\n",  // 2 lines
              {
                  {"G68 X0 Y0 R90\nG1 X7\nX8", "rotation-half-given", 4},
                  {"G68 X0 Y0 R90\nG1 Z1\nY7", "rotation-half-given", 5},
                  {"G68 X0 Y0 R90\nG1 X7 Y2\nX8", ""},
                  {"G68 X0 Y0 R90\nG91 G1 X7", ""},
                  {"G68 X5 Y3 R90\nG1 X7", ""},  // the centre is where the tool stands
                  {"G68 X0 Y0 R0\nG1 X7", ""},
                  {"G68 X0 Y0 R30\nG69\nG1 X7", ""},
                  {"G16 X7\nX8 Y9", "rotation-half-given", 3},
                  {"G16 Y30", "rotation-half-given", 3},
                  {"G16 X7 Y30\nY60", ""},
                  {"G0 Y0\nG16 X7", ""},  // at angle 0 already
                  {"G68 X0 Y0 R45\nG81 X7 Z-1 R1\nG80", "rotation-half-given", 4},
              },
              {"rotation-half-given"});
}

TEST(InForce, MachineCoordinatesUnderG91AreTold) {
  expect_told(" G90 F9\nG0 X5 Y3 Z9\n",
              {
                  {"G91 G53 G0 Z0\nG90", "machine-move-by-increments", 3},
                  {"G91\nG53 G0 Z0\nG90", "machine-move-by-increments", 4},
                  {"G53 G0 Z0", ""},
                  {"G91 G28 Z0\nG90 G53 G0 X0", ""},
              },
              {"machine-move-by-increments"});
}

TEST(InForce, FeedPerTurnOfASpindleThatStandsIsTold) {
  expect_told(" G90 S900\n",
              {
                  {"G95 G1 X5 F.1", "spindle-off-for-feed", 2},
                  {"M3\nG95 G1 X5 F.1\nM5\nG0 X6\nG1 X5", "spindle-off-for-feed", 6},
                  {"M3\nG95 G1 X5 F.1\nM5\nG0 X6", ""},
                  {"M4\nG95 G1 X5 F.1", ""},
                  {"G94 G1 X5 F9", ""},
              },
              {"spindle-off-for-feed"});
}

TEST(InForce, SettingsAndReadingsOnOneLineAreTold) {
  expect_told(" G90 F9\n#1=3\n",
              {
                  {"#1=5 G1 X#1", "expression-dialect", 3},
                  {"#1=5 #2=#1\nG1 X#2", "expression-dialect", 3},
                  {"#1=3 G1 X#1", ""},
                  {"#1=#1+1\nG1 X#1", ""},
                  {"G1 X#1 #1=5", ""},  // read before it is set, in either order
                  {"#1=4\nIF [#1 EQ 4] THEN G1 X#1", ""},
                  {"G1 X[ROUND[#1]]", "expression-dialect", 3},
                  {"G1 Xround[2.4]", "expression-dialect", 3},
                  {"#2=ROUND[2.4]\nG1 X#2", ""},
                  {"#2=[1 AND 0 + 1]\nG1 X#2", "expression-dialect", 3},
                  {"#2=[1 AND [0 + 1]]\nG1 X#2", ""},
              },
              {"expression-dialect"});
  expect_told(" G90 F9\n",
              {
                  {"#1=3 #1=4\nG1 X#1", "word-idle", 2},
                  {"#1=3 #2=4\nG1 X#1", ""},
                  {"#2001=0.1\nG1 X1", "control-value-set", 2},
                  {"#3006=1\nG1 X1", "control-value-set", 2},
                  {"#999=1\nG1 X1", ""},
                  {"#5161=0 #5182=0\nG1 X1", ""},
              },
              {"word-idle", "control-value-set"});
  for (const Profile profile : {Profile::shop, Profile::strict}) {
    ReadOptions options = reading({});
    options.profile = profile;
    for (const char* setting : {"#5221=3", "#5201=1", "#5390=2", "#5211=1", "#[5220+2]=1"}) {
      const Reading r = read("G21 G90 F9\n" + std::string(setting) + "\nG1 X1\nM2\n", options);
      EXPECT_FALSE(r.ok) << setting;
      EXPECT_NE(r.of("control-value"), nullptr) << setting;
    }
  }
}

// What gives coordinates another meaning may not stand between the two moves of a corner.
TEST(InForce, NothingStandsBetweenTheMovesOfACorner) {
  for (const char* between : {"G52 X1", "G92 X0", "G92.1", "G68 X0 Y0 R30", "G51 X0 Y0 P2.",
                              "G51.1 X0", "G10 L2 P2 X1", "G16", "G55", "G43 H1", "G28 X1"}) {
    const Reading r = read(
        "G21 G90 F90\nT1 M6\nG1 X10 ,R2\n" + std::string(between) + "\nG1 Y10\nM30\n", reading({}));
    EXPECT_FALSE(r.ok) << between;
    ASSERT_NE(r.of("corner"), nullptr) << between << r.said();
    EXPECT_EQ(r.of("corner")->place.line, 3u) << between;
  }
  for (const char* between : {"F50", "(a remark)", "#1=2", "G90"}) {
    EXPECT_TRUE(read("G21 G90 F90\nT1 M6\nG1 X10 ,R2\n" + std::string(between) + "\nG1 Y10\nM30\n",
                     reading({}))
                    .ok)
        << between;
  }
}

// A turn in xy lies in no other plane, and what shifts the zero may come before it or behind it.
TEST(InForce, NothingChangesThePlaneOrTheZeroWhileTurned) {
  const std::string head = "G21 G90 F90\nG1 X0 Y0 Z0\n";
  struct Turned {
    const char *turn, *block;
    bool ok;
  };
  for (const Turned& row : {
           Turned{"G68 X0 Y0 R30", "G18 G2 X10 Z0 I5 K0", false},
           Turned{"G68 X0 Y0 R30", "G19", false},
           Turned{"G69", "G68 X0 Y0 I0 J1 K0 R30", false},
           Turned{"G16", "G18", false},
           Turned{"G68 X0 Y0 R30", "G17 G2 X10 Y0 I5 J0", true},
           Turned{"G68 X0 Y0 R30\nG69", "G18 G2 X10 Z0 I5 K0", true},
           Turned{"G68 X0 Y0 R30", "G28 X5 Y5", false},
           Turned{"G68 X0 Y0 R30", "G91 G28 Z0", true},
           Turned{"G68 X0 Y0 R30", "G55 X1 Y1", false},
           Turned{"G68 X0 Y0 R30", "G54 X1 Y1", true},
           Turned{"G68 X0 Y0 R30", "G92.1", true},
           Turned{"G92 X5\nG68 X0 Y0 R30", "G92.1", false},
           Turned{"G92 X5\nG92.2\nG68 X0 Y0 R30", "G92.3", false},
       }) {
    const Reading r = read(head + row.turn + '\n' + row.block + "\nM30\n", reading({}));
    EXPECT_EQ(r.ok, row.ok) << row.turn << ' ' << row.block << '\n' << r.said();
    EXPECT_EQ(r.of("rotation") != nullptr, !row.ok) << row.turn << ' ' << row.block << r.said();
  }
}

// P beside G54 is another offset's only where nothing else on the line has a P.
TEST(InForce, POfG54IsNotTakenFromWhatItBelongsTo) {
  ReadOptions options = reading({});
  options.work_offsets = {{101, Vec3(100, 0, 0)}};
  const std::string head = "G21 G90 F90 S90 M3\nG1 X0 Y0 Z9\n";
  const auto further = [&](const char* block) {
    const Reading r = read(head + block + "\nM30\n", options);
    EXPECT_TRUE(r.ok) << block << r.said();
    EXPECT_LT(r.moves().back().end.x(), r.of("further-offset") == nullptr ? 50 : 999) << block;
    return r.of("further-offset") != nullptr;
  };
  EXPECT_TRUE(further("G54 P1 X5"));
  EXPECT_TRUE(further("G54 P1\nX5"));
  EXPECT_FALSE(further("G54 G64 P1 X5"));
  EXPECT_FALSE(further("G54 G83 X5 Z-1 R1 Q1 P1"));
  EXPECT_FALSE(further("G82 X5 Z-1 R1 P1\nG54 X6 P2"));
  EXPECT_FALSE(further("G54 G2 X5 Y0 I2.5 P1"));
  EXPECT_FALSE(further("G54 G51 X0 Y0 P1.\nX5"));
}

TEST(InForce, AnotherDUnderCutterCompensationIsRefused) {
  const std::string cut = "G21 G90 F90\nT1 M6\nG1 X-20 Y10\n";
  const auto ok = [&](const char* blocks) {
    return read(cut + blocks + "\nM30\n", reading({})).ok;
  };
  EXPECT_FALSE(ok("G41 D1 X0 Y0\nX20 D2\nX30\nG40 X40"));
  EXPECT_FALSE(ok("G41 X0 Y0\nD2\nX30\nG40 X40"));
  EXPECT_TRUE(ok("G41 D1 X0 Y0\nX20 D1\nX30\nG40 X40"));
  EXPECT_TRUE(ok("G41 X0 Y0\nX20 D1\nX30\nG40 X40"));
  EXPECT_TRUE(ok("G41 D1 X0 Y0\nX20\nX30\nG40 X40\nD2\nX50"));
}

TEST(InForce, RunningOnIntoAnotherProgramIsTold) {
  expect_told(" G90 F9\nG1 X5\n",
              {
                  {"O2\nX9", "program-runs-on", 3},
                  {"M30\nO2\nX9\nM99", ""},
                  {"M98 P2\nM30\nO2\nX9\nM99", ""},
              },
              {"program-runs-on"});
  EXPECT_EQ(read("%\nO1\nG21 G90 F9\nG1 X5\nM30\n%\n", reading({})).of("program-runs-on"), nullptr);
}

TEST(InForce, P0OfG10HasTwoMeanings) {
  const std::string head = "G21 G90 F90\nG1 X1\n";
  EXPECT_FALSE(read(head + "G10 L2 P0 X5\nX0\nM30\n", reading({})).ok);
  EXPECT_TRUE(read(head + "G10 L2 P1 X5\nX0\nM30\n", reading({})).ok);
  EXPECT_TRUE(read(head + "G10 L20 P0 X5\nX0\nM30\n", reading({})).ok);
}

}  // namespace
}  // namespace proveout::nc
