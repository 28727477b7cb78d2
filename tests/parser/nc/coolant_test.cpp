// Mist and flood. NISTIR 6556 section 3.4 (group 8) lets them be in force together, but only one M
// word of the group on a line; controls in shops take M7 and M8 side by side (common practice, no
// source).
#include <gtest/gtest.h>

#include <algorithm>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Last : Sink {
  ModalState at_motion;
  void motion(const Motion&, const ModalState& s) override { at_motion = s; }
  void event(const Event&, const ModalState&) override {}
};

struct Read {
  bool ok = false, repeated = false;
  ModalState state;
};

Read read(const std::string& line, Profile profile) {
  ReadOptions options;
  options.profile = profile;
  Last last;
  Diagnostics diagnostics;
  Read out;
  out.ok = interpret("G21\n" + line + "\nG1 X5 F100\nM2\n", "test.nc", options, last, diagnostics);
  out.repeated = std::any_of(diagnostics.all().begin(), diagnostics.all().end(),
                             [](const Diagnostic& d) { return d.code == "group-repeated"; });
  out.state = last.at_motion;
  return out;
}

TEST(Coolant, BothOnOneLineInTheShop) {
  for (const char* line : {"M7 M8", "M8 M7", "M7\nM8", "M8\nM7"}) {
    const Read both = read(line, Profile::shop);
    EXPECT_TRUE(both.ok) << line;
    EXPECT_FALSE(both.repeated) << line;
    EXPECT_TRUE(both.state.mist && both.state.flood) << line;
  }
  const Read mist = read("M7", Profile::shop);
  EXPECT_TRUE(mist.state.mist && !mist.state.flood);
  const Read off = read("M7 M8\nM9", Profile::shop);
  EXPECT_FALSE(off.state.mist || off.state.flood);
}

TEST(Coolant, OneWordALineWhereTheStandardIsHeld) {
  EXPECT_TRUE(read("M7 M8", Profile::strict).repeated);
  EXPECT_TRUE(read("M8 M9", Profile::strict).repeated);
  const Read apart = read("M7\nM8", Profile::strict);
  EXPECT_FALSE(apart.repeated);
  EXPECT_TRUE(apart.state.mist && apart.state.flood);
}

TEST(Coolant, ThreeWordsAreOneTooMany) { EXPECT_TRUE(read("M7 M8 M9", Profile::shop).repeated); }

}  // namespace
}  // namespace proveout::nc
