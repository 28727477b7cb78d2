// Words of comments. Wordings: common practice of posts and of people who type by hand, no source.
#include <gtest/gtest.h>

#include "sim/propose/blank.h"
#include "sim/propose/comment_words.h"
#include "sim/propose/tools.h"
#include "sim/run/material_names.h"

namespace proveout::propose {
namespace {

using enum job::ToolShape;

struct Case {
  const char* comment;
  double diameter;  // mm; 0: must stay open
  std::optional<job::ToolShape> shape;
  double corner = 0, angle = 0;
  int flutes = 0;
};

TEST(ToolWords, SizesAndShapesInAnyOrder) {
  for (const Case& c :
       {Case{"T1 D6 FLAT", 6, flat}, Case{"T1 D6. CR=0. - ZMIN=-23.5 - FLAT END MILL", 6, flat},
        Case{"T2 D=6. CR=3. - ZMIN=-18.2 - BALL END MILL", 6, ball, 3},
        Case{"T3 D=10. CR=1. - ZMIN=-5. - BULLNOSE END MILL", 10, bull, 1},
        Case{"T4 D=4.2 CR=0. TAPER=118DEG - ZMIN=-18. - DRILL", 4.2, drill, 0, 118},
        Case{"6 MM BALL, 50 MM LONG, 2 FLUTES", 6, ball, 0, 0, 2},
        Case{"3-FLUTE 6MM FLAT", 6, flat, 0, 0, 3},
        Case{"TWO FLUTE 1/4 END MILL", 6.35, flat, 0, 0, 2},
        Case{"T7 3/8 IN BALLNOSE", 9.525, ball}, Case{"T1 1/4 FLAT", 6.35, flat},
        Case{"TOOL 12 - 1-1/2 INCH FACE MILL", 38.1, flat},
        Case{"BULL NOSE DIA 12 R1.5 4FL", 12, bull, 1.5, 0, 4}, Case{"R3 BALL", 6, ball, 3},
        Case{"90 DEG V BIT 12.7MM", 12.7, vee, 0, 90},
        Case{"CHAMFER MILL 90DEG D10", 10, vee, 0, 90}, Case{"SCREW HOLE 4.2 MM DRILL", 4.2, drill},
        Case{"SLOT DRILL 8MM", 8, flat}, Case{"T1 6MM X 22 MM FLAT MILL", 6, flat},
        Case{"D6 R0.5 CARBIDE ENDMILL Z3", 6, bull, 0.5, 0, 3},
        Case{"\xC3\x98"
             "6 FLAT",
             6, flat},
        Case{"5 MM DIA DRILL", 5, drill},
        // Nobody can tell: open.
        Case{"T1 D6,35 FLAT", 0, flat}, Case{"T1 D6 D8 FLAT", 0, flat},
        Case{"FLAT 6MM 8MM", 6, flat},  // the one beside its word
        Case{"T1 BALL TAPER D6", 6, std::nullopt}, Case{"T1", 0, std::nullopt},
        Case{"USE D1", 0, std::nullopt}, Case{"POCKET 8 MM DEEP", 0, std::nullopt},
        Case{"FEED 800 MM/MIN FLAT", 0, flat}, Case{"T5 M6X1 TAP", 0, std::nullopt}}) {
    const ToolWords w = tool_words(c.comment, false);
    if (c.diameter > 0) {
      ASSERT_TRUE(w.diameter) << c.comment;
      EXPECT_NEAR(*w.diameter, c.diameter, 1e-9) << c.comment;
    } else {
      EXPECT_FALSE(w.diameter) << c.comment << ": " << *w.diameter;
    }
    EXPECT_EQ(w.shape.has_value(), c.shape.has_value()) << c.comment;
    if (w.shape && c.shape) {
      EXPECT_EQ(static_cast<int>(*w.shape), static_cast<int>(*c.shape)) << c.comment;
    }
    if (c.corner > 0) {
      EXPECT_NEAR(w.corner_radius.value_or(0), c.corner, 1e-9) << c.comment;
    }
    if (c.angle > 0) {
      EXPECT_NEAR(w.angle.value_or(0), c.angle, 1e-9) << c.comment;
    }
    if (c.flutes > 0) {
      EXPECT_EQ(w.flutes.value_or(0), c.flutes) << c.comment;
    }
  }
}

TEST(ToolWords, NumbersWithoutAUnitAreTheProgrammes) {
  EXPECT_NEAR(*tool_words("T1 D0.25 FLAT", true).diameter, 6.35, 1e-9);
  EXPECT_NEAR(*tool_words("T1 D.25 FLAT", true).diameter, 6.35, 1e-9);
  EXPECT_NEAR(*tool_words("T1 6MM FLAT", true).diameter, 6, 1e-9);
  EXPECT_NEAR(*tool_words("T1 .5\" FLAT", false).diameter, 12.7, 1e-9);
}

TEST(BlankWords, ThreeSizesBesideItsWord) {
  const Vec3 right(160, 60, 32);
  for (const char* text : {"STOCK 160 X 60 X 32", "BLANK: 160X60X32 MM", "STOCK X160 Y60 Z32",
                           "MATERIAL 6061 160 X 60 X 32 MM", "BILLET 160 BY 60 BY 32"}) {
    const auto size = blank_words(text, false);
    ASSERT_TRUE(size) << text;
    EXPECT_TRUE(size->isApprox(right, 1e-9)) << text << size->transpose();
  }
  const auto inch = blank_words("STOCK 6.3 X 2.4 X 1.25 IN", false);
  ASSERT_TRUE(inch);
  EXPECT_TRUE(inch->isApprox(25.4 * Vec3(6.3, 2.4, 1.25), 1e-9));
  for (const char* text : {"BLOCK 154 X 56, CLIMB", "FINISHED PART STOCK 154 X 56 X 29",
                           "160 X 60 X 32", "STOCK TO LEAVE 0.2", ""})
    EXPECT_FALSE(blank_words(text, false)) << text;
}

TEST(ZeroWords, CornersMiddlesFaces) {
  const ZeroWords a = zero_words("ZERO: MIDDLE OF THE BLANK, TOP FACE");
  EXPECT_EQ(a.x, job::ZeroEdge::centre);
  EXPECT_EQ(a.y, job::ZeroEdge::centre);
  EXPECT_EQ(a.z, job::ZeroEdge::max);
  EXPECT_EQ(a.on, job::ZeroOn::blank);
  const ZeroWords b =
      zero_words("TURNED ABOUT Y. ZERO: FRONT LEFT CORNER OF THE MILLED BLOCK, TOP FACE");
  EXPECT_EQ(b.x, job::ZeroEdge::min);
  EXPECT_EQ(b.y, job::ZeroEdge::min);
  EXPECT_EQ(b.on, job::ZeroOn::milled);
  EXPECT_FALSE(zero_words("LEFT SIDE CONTOUR TOP").any());
}

TEST(TurnWords, AboutWhichAxis) {
  EXPECT_EQ(static_cast<int>(turn_words("TURNED ABOUT Y. ZERO: LEFT")->about), 1);
  EXPECT_EQ(static_cast<int>(turn_words("FLIP AROUND THE X AXIS")->about), 0);
  EXPECT_EQ(turn_words("ROTATE 90 ABOUT X")->degrees, 90);
  for (const char* text : {"FLIP PART", "FLIP IN X", "TURN OFF COOLANT", "X0 Y0"})
    EXPECT_FALSE(turn_words(text)) << text;
}

TEST(SideWords, WhichSide) {
  EXPECT_EQ(side_words("DOOR PULL SIDE B 6061"), 2);
  EXPECT_EQ(side_words("OP1"), 1);
  EXPECT_EQ(side_words("OP 20 BACK"), 20);
  EXPECT_EQ(side_words("SECOND SIDE"), 2);
  EXPECT_FALSE(side_words("INSIDE CONTOUR"));
}

TEST(MaterialNames, OwnEverydayAndMisspelt) {
  EXPECT_EQ(run::material_meant("6061-t6")->name, "6061-T6");
  EXPECT_TRUE(run::material_meant("MDF")->exact);
  EXPECT_EQ(run::material_meant("aluminium")->name, "6061-T6");
  EXPECT_EQ(run::material_meant("Plywod")->name, "plywood");
  EXPECT_EQ(run::material_meant("brass")->name, "brass");
  EXPECT_FALSE(run::material_meant("kryptonite"));
  EXPECT_FALSE(run::material_meant(""));
}

// What two comments say differently of one tool is open, with both in its words.
TEST(Tools, ContradictionsStayOpen) {
  const ProgramText a{"a.nc", "(T1 D6 FLAT)\nT1 M6\n", false};
  const ProgramText b{"b.nc", "(T1 D8 FLAT)\nT1 M6\n", false};
  const std::vector<ProgramText> both = {a, b};
  const auto tools = tools_of(both, {}, "");
  ASSERT_EQ(tools.size(), 1u);
  ASSERT_TRUE(tools[0].diameter);
  EXPECT_TRUE(tools[0].diameter->open());
  EXPECT_NE(tools[0].diameter->from.find("b.nc"), std::string::npos);
  const auto one = tools_of(std::span(both).first(1), {}, "");
  EXPECT_EQ(one[0].diameter->basis, Basis::said);
}

TEST(Tools, ACommentIsHeldForTheToolItStandsBeside) {
  const ProgramText p{"a.nc",
                      "(ROUGHING 6 MM FLAT)\nT1 M6\nG0 X0\n(FINISHING)\nT2 M6 (3MM BALL)\n"
                      "T3 M6\n(5 MM DRILL)\nG0 X0\nG0 X1\nG0 X2\nT4 M6\n",
                      false};
  const auto tools = tools_of(std::span(&p, 1), {}, "");
  ASSERT_EQ(tools.size(), 4u);
  EXPECT_EQ(tools[0].diameter->value, 6);
  EXPECT_EQ(tools[1].diameter->value, 3);
  EXPECT_EQ(tools[2].diameter->value, 5);
  EXPECT_FALSE(tools[3].diameter);
  EXPECT_FALSE(job_tool(tools[3]));
}

// A size without a unit is the program's, but where that is unlikely: then it is open, with every
// size of its comment that has none either, and both readings are in its words.
TEST(Tools, ASizeWithoutAUnitThatTheProgramsUnitMakesUnlikelyIsOpen) {
  struct Sized {
    const char* comment;
    bool in_inches;
    double stands_in;  // mm
    bool open;
  };
  for (const Sized& c :
       {Sized{"(T1 D=6. CR=1. BULL NOSE END MILL)", true, 6, true},
        Sized{"(T1 D=12. FLAT)", true, 12, true}, Sized{"(T1 D=1. FLAT)", true, 25.4, true},
        Sized{"(T1 D=.5 FLAT)", true, 12.7, false}, Sized{"(T1 1/4 FLAT)", true, 6.35, false},
        Sized{"(T1 6MM FLAT)", true, 6, false}, Sized{"(T1 D=.25 FLAT)", false, 6.35, true},
        Sized{"(T1 D=.8 FLAT)", false, 0.8, true}, Sized{"(T1 D=1.5 FLAT)", false, 1.5, false},
        Sized{"(T1 .25 IN FLAT)", false, 6.35, false},
        Sized{"(T1 0.5 MM FLAT)", false, 0.5, false}}) {
    const std::string text = std::string(c.comment) + "\nT1 M6\n";
    const ProgramText p{"a.nc", text, c.in_inches};
    const auto tools = tools_of(std::span(&p, 1), {}, "");
    ASSERT_EQ(tools.size(), 1u) << c.comment;
    ASSERT_TRUE(tools[0].diameter) << c.comment;
    EXPECT_NEAR(tools[0].diameter->value, c.stands_in, 1e-9) << c.comment;
    EXPECT_EQ(tools[0].diameter->open(), c.open) << c.comment;
    const bool says = tools[0].diameter->from.find("no unit is said") != std::string::npos;
    EXPECT_EQ(says, c.open) << c.comment;
    if (!tools[0].corner_radius) continue;
    EXPECT_TRUE(tools[0].corner_radius->open()) << c.comment;
    EXPECT_NEAR(tools[0].corner_radius->value, 1, 1e-9) << c.comment;
  }
}

}  // namespace
}  // namespace proveout::propose
