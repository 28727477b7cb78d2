// The printed examples of NISTIR 6556 (Kramer, Proctor, Messina, "The NIST RS274NGC Interpreter -
// Version 3", 2000). Sections are named at each check.
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Heard : Sink {
  std::vector<Motion> motions;
  std::vector<Event> events;
  std::vector<std::string> messages;
  void motion(const Motion& m, const ModalState&) override { motions.push_back(m); }
  void event(const Event& e, const ModalState&) override { events.push_back(e); }
};

struct Reading {
  Heard heard;
  Diagnostics diagnostics;
  bool ok = false;
};

Reading read(const std::string& text, Profile profile = Profile::strict,
             Vec3 start = Vec3::Zero()) {
  Reading r;
  ReadOptions options;
  options.profile = profile;
  options.start = start;
  options.tool_diameters = {{1, 0.25 * mm_per_inch}, {2, 4}, {3, 6}, {50, 0}};
  r.ok = interpret(text, "test.ngc", options, r.heard, r.diagnostics);
  return r;
}

std::string complaints(const Reading& r) {
  std::string out;
  for (const auto& d : r.diagnostics.all()) out += to_text(d);
  return out;
}

void expect_path(const std::string& text, const std::vector<Vec3>& ends,
                 Vec3 start = Vec3::Zero()) {
  const Reading r = read(text, Profile::strict, start);
  ASSERT_TRUE(r.ok) << complaints(r);
  std::vector<Motion> moves;
  for (const auto& m : r.heard.motions) {
    if (length(m) > 0) moves.push_back(m);
  }
  ASSERT_EQ(moves.size(), ends.size());
  for (std::size_t i = 0; i < ends.size(); ++i) {
    EXPECT_LT((moves[i].end - ends[i]).norm(), 1e-9)
        << "move " << i << " ends at " << moves[i].end.transpose();
  }
}

TEST(Report3_5_16, ExampleOneOfG81) {
  expect_path("G21 F100\nG90 G81 G98 X4 Y5 Z1.5 R2.8\nM2\n",
              {{4, 5, 3}, {4, 5, 2.8}, {4, 5, 1.5}, {4, 5, 3}}, {1, 2, 3});
}

TEST(Report3_5_16, ExampleTwoOfG81) {
  expect_path("G21 F100\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3\nM2\n",
              {{1, 2, 4.8},
               {5, 7, 4.8},
               {5, 7, 4.2},
               {5, 7, 4.8},
               {9, 12, 4.8},
               {9, 12, 4.2},
               {9, 12, 4.8},
               {13, 17, 4.8},
               {13, 17, 4.2},
               {13, 17, 4.8}},
              {1, 2, 3});
}

TEST(Report3_5_3, CentreFormat) {
  const Reading r = read("G21 F100\nG17 G2 x10 y16 i3 j4 z9\nM2\n", Profile::strict, {7, 7, 0});
  ASSERT_TRUE(r.ok) << complaints(r);
  ASSERT_EQ(r.heard.motions.size(), 1u);
  const Motion& m = r.heard.motions[0];
  EXPECT_NEAR(m.centre.x(), 10, 1e-12);
  EXPECT_NEAR(m.centre.y(), 11, 1e-12);
  EXPECT_NEAR(arc_radius(m), 5, 1e-12);
  EXPECT_LT(m.sweep, 0);
}

TEST(Report3_5_3, RadiusFormat) {
  const Reading r = read("G21 F100\nG17 G2 x10 y15 r20 z5\nM2\n");
  ASSERT_TRUE(r.ok) << complaints(r);
  const Motion& m = r.heard.motions[0];
  EXPECT_NEAR(arc_radius(m), 20, 1e-9);
  EXPECT_NEAR((m.end - m.centre).head<2>().norm(), 20, 1e-9);
  EXPECT_LE(std::abs(m.sweep), pi);
  EXPECT_LT(m.sweep, 0);
}

TEST(Report3_3, SpacesAnywhere) {
  // g0x +0. 12 34y 7 is g0 x+0.1234 y7.
  expect_path("G21\ng0x +0. 12 34y 7\nM2\n", {{0.1234, 7, 0}});
}

TEST(Report3_3_2, ParallelAssignment) {
  // A parameter set on a line keeps its old value on it.
  expect_path("G21 F100\n#3=15\n#3=6 G1 X#3\nG1 X#3\nM2\n", {{15, 0, 0}, {6, 0, 0}});
}

TEST(Report3_5_18, OffsetsAddUp) {
  // X = 4, offset 0: G92 x7 makes the offset -3; then x9 makes it -5.
  expect_path("G21\nG0 X4\nG92 x7\nG0 X7 Y1\nG92 x9\nG0 X9 Y2\nG92.1\nG0 X4 Y3\nM2\n",
              {{4, 0, 0}, {4, 1, 0}, {4, 2, 0}, {4, 3, 0}});
}

TEST(Table10, TheSessionsCoordinates) {
  // The table re-expresses z by the tool's length (1.0) after G43; here the controlled point is the
  // tip, so z stays 1.0 higher from there on.
  const Reading r = read(
      "g1 x3 y1 f20.0\ng2 x[6-[4*3/2]] r 7.01 z0.5\nt2\nm6 g43 h2\ng1 x asin[0.5]\n"
      "g91 g81 x3 y2 z-0.8 r1.5 l2\nm2\n");
  ASSERT_TRUE(r.ok) << complaints(r);
  ASSERT_GE(r.heard.motions.size(), 10u);
  const Motion& turn = r.heard.motions[1];
  EXPECT_LT((turn.end - Vec3(0, 1, 0.5)).norm(), 1e-9);
  EXPECT_NEAR(turn.centre.x(), 1.5, 5e-5);
  EXPECT_NEAR(turn.centre.y(), 7.8476, 5e-5);
  EXPECT_LT(turn.sweep, 0);
  const std::vector<Vec3> after = {{30, 1, 0.5}, {30, 1, 2.0}, {33, 3, 2.0}, {33, 3, 1.2},
                                   {33, 3, 2.0}, {36, 5, 2.0}, {36, 5, 1.2}, {36, 5, 2.0}};
  std::vector<Vec3> ends;
  for (std::size_t i = 2; i < r.heard.motions.size(); ++i) {
    if (length(r.heard.motions[i]) > 0) ends.push_back(r.heard.motions[i].end);
  }
  ASSERT_EQ(ends.size(), after.size());
  for (std::size_t i = 0; i < after.size(); ++i) EXPECT_LT((ends[i] - after[i]).norm(), 1e-9) << i;
}

std::string reference(const std::string& name) {
  const std::string folder = PROVEOUT_REFERENCE_DATA;
  if (folder.empty()) return {};
  std::ifstream file(folder + "/" + name);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

TEST(AppendixC1, FeedLength) {
  const std::string text = reference("c1_hello_world.ngc");
  if (text.empty()) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
  const Reading r = read(text);
  ASSERT_TRUE(r.ok) << complaints(r);
  double feed = 0;
  for (const auto& m : r.heard.motions) feed += m.kind == PathKind::rapid ? 0 : length(m);
  EXPECT_NEAR(feed, 183.4305, 5e-5);
}

TEST(AppendixC2, FortySevenExpressions) {
  // Each line of the program moves x to the value its comment gives.
  const std::string text = reference("c2_expressions.ngc");
  if (text.empty()) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
  const Reading r = read(text);
  ASSERT_TRUE(r.ok) << complaints(r);
  std::istringstream lines(text);
  std::vector<double> expected(1, 0);  // by line, NaN where its comment gives none
  for (std::string line; std::getline(lines, line);) {
    const auto at = line.find("x should be ");
    expected.push_back(at == std::string::npos ? std::nan("") : std::stod(line.substr(at + 12)));
  }
  int checked = 0;
  for (const Motion& m : r.heard.motions) {
    // The comments print four or fewer decimals of inputs that are rounded themselves.
    if (std::isnan(expected[m.line]) || m.line == 44 || m.line == 45) continue;
    EXPECT_NEAR(m.end.x(), expected[m.line], 1e-3) << "line " << m.line;
    ++checked;
  }
  EXPECT_GE(checked, 40);
}

TEST(AppendixC3, CyclesRun) {
  const std::string text = reference("c3_canned_cycles.ngc");
  if (text.empty()) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
  const Reading r = read(text);
  EXPECT_TRUE(r.ok) << complaints(r);
}

TEST(Tables12And13, CutterCompensation) {
  for (const char* name : {"table12_comp_material_edge.ngc", "table13_comp_nominal_path.ngc"}) {
    const std::string text = reference(name);
    if (text.empty()) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
    // The tables print fragments: they have neither feed nor end.
    const Reading r = read("F20\n" + text + "\nM2\n");
    EXPECT_TRUE(r.ok) << name << "\n" << complaints(r);
    for (std::size_t i = 1; i < r.heard.motions.size(); ++i) {
      EXPECT_LT((r.heard.motions[i].start - r.heard.motions[i - 1].end).norm(), 1e-6)
          << name << " " << i;
    }
  }
}

}  // namespace
}  // namespace proveout::nc
