// A wrong zero planted in a small two-sided job is named; a right job is not searched.
//
// Block 40 x 30 x 20. The part is a prism along y: the block from z 3 to 16, with a step down to
// z 10 at x < 12 (side A) and a notch up to z 6 at x < 8 from below (side B, turned about y, where
// stock x = 0 lies at machine x = 40).
#include <fmt/format.h>

#include "sim/checks/zero_search.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

std::string part() {
  return pipeline::prism_stl(
      {{8, 3}, {40, 3}, {40, 16}, {12, 16}, {12, 10}, {0, 10}, {0, 6}, {8, 6}},
      {{0, 2, 1}, {0, 4, 2}, {2, 4, 3}, {0, 7, 4}, {4, 7, 5}, {5, 7, 6}}, 0, 30);
}

// Strokes along y at the x given and one height, from a zero whose y = 0 lies y0 above the front.
std::string strokes(const std::vector<double>& at, double z, double from, double to) {
  std::string out;
  for (double x : at)
    out += fmt::format("G0 X{} Y{} \nG0 Z{}\nG1 Y{} F900\nG0 Z30\n", x, from, z, to);
  return out;
}

const std::string head = "G21 G90\nT1 M6\nS18000 M3\nG0 Z30\n";

// Posted for the middle of the top.
std::string side_a() {
  std::vector<double> all;
  for (double x = -20; x <= 20; x += 5) all.push_back(x);
  return head + strokes(all, -2, -20, 20) + strokes(all, -4, -20, 20) +
         strokes({-20, -15, -11}, -7, -20, 20) + strokes({-20, -15, -11}, -10, -20, 20) + "M30\n";
}

// Posted for the left front corner of the top.
std::string side_b() {
  std::vector<double> all;
  for (double x = 0; x <= 40; x += 5) all.push_back(x);
  return head + strokes(all, -3, -5, 35) + strokes({35, 40}, -6, -5, 35) + "M30\n";
}

std::string job(const std::string& zero_a, const std::string& zero_b, bool with_part = true) {
  return std::string("[simulation]\nvoxel = 0.4\n[stock]\nsize = [40, 30, 20]\n") +
         (with_part ? "[part]\nmesh = \"part.stl\"\n" : "") +
         "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 30\nstickout = "
         "40\nlimits = { axial_depth = 4 }\n"
         "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { " +
         zero_a +
         " }\n[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [{ about = \"y\", degrees = "
         "180 }]\nzero = { " +
         zero_b + " }\n";
}

const std::string right_a = "x = \"centre\", y = \"centre\", z = \"top\"";
const std::string right_b = "on = \"milled\", x = \"min\", y = \"min\", z = \"top\"";

run::JobResult run_of(const std::string& text, int threads = -1) {
  const pipeline::WorkFolder work;
  work.file("part.stl", part());
  work.file("a.nc", side_a());
  work.file("b.nc", side_b());
  return work.run(text, threads);
}

const Finding* found(const run::JobResult& r) {
  for (const Finding& f : r.findings) {
    if (f.kind == FindingKind::wrong_zero) return &f;
  }
  return nullptr;
}

TEST(WrongZero, SilentOnARightJob) {
  const run::JobResult r = run_of(job(right_a, right_b));
  EXPECT_LT(r.part.gouge_mm3, 1e-6);
  EXPECT_TRUE(r.zero_search.empty());
  EXPECT_EQ(found(r), nullptr);
}

TEST(WrongZero, SpeaksOfTheOtherEdge) {
  // Zeroed on the right edge, the step runs from x = 17 to 32: 15 x 30 x 6 mm3 too much. Told in
  // cells of 1.5 mm whose middles lie deep enough in the part: a fifth or so is left out at its
  // faces.
  const run::JobResult r = run_of(job("x = \"max\", y = \"centre\", z = \"top\"", right_b));
  ASSERT_EQ(r.zero_search.size(), 1u);
  const run::ZeroSearch& s = r.zero_search[0];
  EXPECT_EQ(s.setup, "A");
  EXPECT_EQ(s.tried, 18u);  // no milled piece differs from the blank before the first setup
  EXPECT_LT(s.declared.gouged_mm3, 15 * 30 * 6);
  EXPECT_GT(s.declared.gouged_mm3, 0.6 * 15 * 30 * 6);
  ASSERT_FALSE(s.fits.empty());
  EXPECT_EQ(s.fits[0].words, "on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\"");
  EXPECT_LT((s.fits[0].stock_from_setup.translation() - Vec3(20, 15, 20)).norm(), 1e-9);
  const Finding* f = found(r);
  ASSERT_NE(f, nullptr);
  EXPECT_EQ(f->setup, "A");
  EXPECT_NEAR(f->value, 20, 1e-9);
  EXPECT_NE(f->text.find("x = \"centre\""), std::string::npos) << f->text;
}

TEST(WrongZero, TheOtherFaceIsNamedOnTheSecondSide) {
  const run::JobResult r =
      run_of(job(right_a, "on = \"milled\", x = \"min\", y = \"min\", z = \"bottom\""));
  ASSERT_EQ(r.zero_search.size(), 1u);
  const run::ZeroSearch& s = r.zero_search[0];
  EXPECT_EQ(s.setup, "B");
  ASSERT_FALSE(s.fits.empty());
  EXPECT_EQ(s.fits[0].words, "on = \"milled\", x = \"min\", y = \"min\", z = \"top\"");
  // Turned about y, the left edge is stock x = 40 and the top is stock z = 0.
  EXPECT_LT((s.fits[0].stock_from_setup.translation() - Vec3(40, 0, 0)).norm(), 0.1);
}

TEST(WrongZero, NothingButAirWithoutAPart) {
  // Posted for the bed (heights 0 to 20 above it), declared on top: all of it is air.
  const pipeline::WorkFolder work;
  work.file("a.nc", head + strokes({0, 5, 10, 15, 20}, 16, -20, 20) + "M30\n");
  const run::JobResult r = work.run(
      "[simulation]\nvoxel = 0.4\n[stock]\nsize = [40, 30, 20]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 6\nflute_length = 30\nstickout = 40\n[[setups]]\nname = "
      "\"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"centre\", z = \"top\" }\n");
  ASSERT_EQ(r.zero_search.size(), 1u);
  ASSERT_FALSE(r.zero_search[0].fits.empty());
  EXPECT_NE(r.zero_search[0].fits[0].words.find("z = \"bottom\""), std::string::npos);
}

// One stroke along x past a block 40 x 30 x 20, or over it.
run::JobResult one_stroke(const std::string& from, const std::string& spindle,
                          const std::string& zero = "x = \"min\", y = \"min\", z = \"top\"") {
  const pipeline::WorkFolder work;
  work.file("a.nc",
            "G21 G90\nT1 M6\n" + spindle + "\nG0 Z400\nG0 " + from + "\nG1 X560 F900\nM30\n");
  return work.run(
      "[simulation]\nvoxel = 1\n[stock]\nsize = [40, 30, 20]\n[[tools]]\nnumber = 1\nshape = "
      "\"flat\"\ndiameter = 6\nflute_length = 30\nstickout = 40\n[[setups]]\nname = "
      "\"A\"\nprogram = \"a.nc\"\nzero = { " +
      zero + " }\n");
}

// A program beside the blank, one far above it, and a zero a kilometre away: none comes back clean.
TEST(WrongZero, ASetupThatRemovesNothingIsWarnedOf) {
  const std::string far = "offset = [1e6, 0, 0], x = \"min\", y = \"min\", z = \"top\"";
  for (const run::JobResult& r :
       {one_stroke("X500 Y500 Z-2", "S12000 M3"), one_stroke("X-20 Y10", "S12000 M3"),
        one_stroke("X-20 Y10 Z-2", "S12000 M3", far)}) {
    EXPECT_LT(r.removed_mm3, 1e-6);
    const Finding* f = found(r);
    ASSERT_NE(f, nullptr);
    EXPECT_EQ(f->level, Severity::warning);
    EXPECT_EQ(f->detail, "nothing-removed");
    EXPECT_EQ(f->line, 6u);  // the first feed move
    EXPECT_EQ(f->text.find("this setup removes nothing"), 0u) << f->text;
  }
}

// Nor is a program blamed that cuts, or never was to: a warm-up with the spindle at rest.
TEST(WrongZero, WhatCutsOrWasNeverToCutIsNoWarning) {
  EXPECT_EQ(found(one_stroke("X-20 Y10 Z-2", "S12000 M3")), nullptr);
  EXPECT_EQ(found(one_stroke("X500 Y500 Z-2", "M5")), nullptr);
}

// A band above what is left of the piece gives no edge to zero on.
TEST(WrongZero, ABandBesideThePieceIsAnError) {
  const pipeline::WorkFolder work;
  work.file("a.nc", head + strokes({5}, -2, -20, 40) + "M30\n");
  for (const auto& [band, holds] : {std::pair{"[500, 700]", false},
                                    {"[20.5, 30]", false},
                                    {"[-9, -1]", false},
                                    {"[1, 6]", true},
                                    {"[15, 700]", true}}) {
    Diagnostics d;
    const auto text =
        "[simulation]\nvoxel = 1\n[stock]\nsize = [40, 30, 20]\n[[tools]]\nnumber = 1\nshape = "
        "\"flat\"\ndiameter = 6\nflute_length = 30\nstickout = 40\n[[setups]]\nname = "
        "\"A\"\nprogram = \"a.nc\"\n[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nzero = { on = "
        "\"milled\", band = " +
        std::string(band) + " }\n";
    const auto job = job::read_job(work.file("job.toml", text), d);
    ASSERT_TRUE(job);
    EXPECT_EQ(pipeline::dry_run(*job, {}, d).has_value(), holds) << band;
    if (holds) continue;
    ASSERT_EQ(d.errors(), 1u) << band;
    const auto& said = d.all().back();
    EXPECT_EQ(said.code, "band-empty");
    EXPECT_EQ(said.place.line, 14u);
    EXPECT_NE(said.place.file.find("job.toml"), std::string::npos);
    EXPECT_NE(said.what.find("setup B"), std::string::npos) << said.what;
  }
}

// The same where the band would not count, on the blank: it was meant for something.
TEST(WrongZero, ABandBesideTheBlankIsAnError) {
  const pipeline::WorkFolder work;
  work.file("a.nc", head + strokes({5}, -2, -20, 40) + "M30\n");
  std::string text = job("band = [500, 700]", "", false);
  text.resize(text.rfind("[[setups]]"));
  Diagnostics d;
  const auto job = job::read_job(work.file("job.toml", text), d);
  ASSERT_TRUE(job);
  EXPECT_FALSE(pipeline::dry_run(*job, {}, d));
  ASSERT_EQ(d.errors(), 1u);
  EXPECT_EQ(d.all().back().code, "band-empty");
}

TEST(WrongZero, AWrongProgramIsNotBlamedOnTheZero) {
  // A pass 3 mm into the part all over: no corner or face of the block mends that.
  const pipeline::WorkFolder work;
  work.file("part.stl", part());
  std::string a = side_a();
  a.insert(a.rfind("M30"), strokes({-5, 0, 5, 10, 15}, -7, -20, 20));
  work.file("a.nc", a);
  work.file("b.nc", side_b());
  const run::JobResult r = work.run(job(right_a, right_b));
  ASSERT_EQ(r.zero_search.size(), 1u);
  EXPECT_TRUE(r.zero_search[0].fits.empty()) << r.zero_search[0].text;
  EXPECT_EQ(found(r), nullptr);
}

TEST(WrongZero, AProgramThatWouldRunBesideTheWorkFitsNoZero) {
  // Waste to x = 20, cleared in strokes, and two strokes into the part behind it. Zeroed at the
  // left edge the two would cut waste alone, and the eight others run beside the block.
  const pipeline::WorkFolder work;
  work.file("part.stl", pipeline::prism_stl({{20, 0}, {40, 0}, {40, 20}, {20, 20}},
                                            {{0, 2, 1}, {0, 3, 2}}, 0, 30));
  work.file("a.nc", head + strokes({-20, -15, -10, -5}, -4, -20, 20) +
                        strokes({-20, -15, -10, -5}, -8, -20, 20) + strokes({5, 10}, -4, -20, 20) +
                        "M30\n");
  const std::string all = job(right_a, right_b);
  const run::JobResult r = work.run(all.substr(0, all.rfind("[[setups]]")));
  ASSERT_EQ(r.zero_search.size(), 1u);
  EXPECT_TRUE(r.zero_search[0].fits.empty()) << r.zero_search[0].text;
  for (const run::Cause& c : r.causes) EXPECT_NE(c.kind, run::CauseKind::zero) << c.text;
}

TEST(WrongZero, NoZeroIsNamedThatSendsTheTipFarBelowTheBlank) {
  // One slot down the middle, 10 deep, into a part that leaves 3 mm beside its left end as waste.
  // Zeroed on the bottom of that end the same program cuts nothing but waste, 10 mm into the bed.
  const pipeline::WorkFolder work;
  work.file("part.stl", pipeline::prism_stl({{6, 0}, {40, 0}, {40, 20}, {6, 20}},
                                            {{0, 2, 1}, {0, 3, 2}}, 0, 30));
  work.file("a.nc", head + strokes({0}, -5, -20, 20) + strokes({0}, -10, -20, 20) + "M30\n");
  const std::string all = job("x = \"centre\", y = \"centre\", z = \"top\"", right_b);
  const run::JobResult r = work.run(all.substr(0, all.rfind("[[setups]]")));
  ASSERT_EQ(r.zero_search.size(), 1u);
  ASSERT_FALSE(r.zero_search[0].fits.empty());
  for (const run::ZeroTrial& t : r.zero_search[0].fits) EXPECT_LE(t.below, 3) << t.words;
}

TEST(WrongZero, SameForAnyNumberOfThreads) {
  const std::string text = job("x = \"max\", y = \"centre\", z = \"top\"", right_b);
  const run::JobResult one = run_of(text, 1), three = run_of(text, 3);
  ASSERT_EQ(one.zero_search.size(), three.zero_search.size());
  EXPECT_EQ(one.zero_search[0].text, three.zero_search[0].text);
  EXPECT_EQ(one.zero_search[0].declared.rapid_mm3, three.zero_search[0].declared.rapid_mm3);
}

}  // namespace
}  // namespace proveout::checks
