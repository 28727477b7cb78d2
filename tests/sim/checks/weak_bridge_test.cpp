// What holds the part, hand-worked: a plate outlined with a 6 mm cutter that rises over two tabs.
//
// Part: x 20..40, y 12..28 of a block 60 x 40 x 12. The cutter runs at y = 9 and y = 31 and leaves
// tabs 1.5 high: it stays up from x = 25 to x = 35, so that between its round ends 35 - 25 - 6 = 4
// mm are left where they come nearest, and the smallest section is 4 x 1.5 = 6 mm2.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/checks/holding.h"
#include "sim/cutting/material.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {
namespace {

// tab: Z of their tops as the program has it.
std::string program(const std::string& tab) {
  return "G21 G90\nT1 M6\nS18000 M3\nG0 X17 Y9 Z5\nG1 Z-6 F200\nG1 X43 F600\nY31\nX17\nY9\n"
         "G1 Z-12.4 F200\nG1 X25 F600\nZ" +
         tab + " F600\nX35\nZ-12.4\nX43\nY31\nX35\nZ" + tab +
         "\nX25\nZ-12.4\nX17\nY9\nG0 Z5\nM30\n";
}

// margin: mm from the part to the blank's edges; 0: the block of the heading.
run::JobResult run_of(const std::string& material, int threads = -1,
                      const std::string& supports = "", const std::string& tab = "-10.5",
                      double margin = 0) {
  const pipeline::WorkFolder work;
  work.file("part.stl", pipeline::prism_stl({{20, 0}, {40, 0}, {40, 12}, {20, 12}},
                                            {{0, 2, 1}, {0, 3, 2}}, 12, 28));
  work.file("a.nc", program(tab));
  const double left = margin > 0 ? 20 - margin : 0, front = margin > 0 ? 12 - margin : 0;
  const double wide = margin > 0 ? 20 + 2 * margin : 60, deep = margin > 0 ? 16 + 2 * margin : 40;
  return work.run(fmt::format("[simulation]\nvoxel = 0.2\n[stock]\nsize = [{}, {}, 12]\nmaterial = "
                              "\"{}\"\n[part]\nmesh = \"part.stl\"\norigin = [{}, {}, 0]\n",
                              wide, deep, material, -left, -front) +
                      supports +
                      "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = "
                      "6\nflute_length = 30\nstickout = 40\n[[setups]]\nname = \"A\"\nprogram = "
                      "\"a.nc\"\nzero = { at = " +
                      fmt::format("[{}, {}, 12]", -left, -front) + " }\n",
                  threads);
}

TEST(WeakBridge, TwoTabsHandWorked) {
  const run::JobResult r = run_of("6061-T6");
  const run::SetupResult& s = r.setups[0];
  ASSERT_EQ(s.bridges.size(), 2u);
  for (const run::BridgeResult& b : s.bridges) {
    EXPECT_NEAR(b.area_mm2, 6, 0.03 * 6);
    EXPECT_NEAR(b.thickness, 1.5, 0.05);
    EXPECT_NEAR(b.at.x(), 30, 0.2);
    EXPECT_NEAR(b.at.z(), 0.75, 0.1);
    EXPECT_NEAR(b.strength_n, 200 * b.area_mm2, 1e-6);
    EXPECT_NEAR(std::abs(b.axis.y()), 1, 0.01);
  }
  EXPECT_NEAR(s.bridges[0].at.y(), 9, 0.5);
  EXPECT_NEAR(s.bridges[1].at.y(), 31, 0.5);
  EXPECT_NEAR(s.holding.strength_n, 2 * 6 * 200, 0.03 * 2400);
  // Held from the motion on that shaped the later tab: the line "X25" after its "Z-10.5", or the
  // plunge beside it.
  const std::size_t last = s.peaks.size();
  double most = 0;
  std::uint32_t from = 0;
  for (const run::BridgeResult& b : s.bridges) from = std::max(from, b.line);
  EXPECT_GE(from, 19u);
  for (std::size_t k = 0; k < last; ++k) {
    if (s.source->motions[k].line >= from)
      most = std::max(most, static_cast<double>(s.peaks[k].force_n));
  }
  EXPECT_NEAR(s.holding.peak_force_n, most, 1e-9);
  EXPECT_NEAR(s.holding.times_peak, s.holding.strength_n / most, 1e-9);
}

TEST(WeakBridge, SpeaksOfTabsOfMetalSizeInBoard) {
  // 2 N/mm2 in board (common practice): 24 N in all.
  const run::JobResult r = run_of("mdf");
  const run::SetupResult& s = r.setups[0];
  EXPECT_NEAR(s.holding.strength_n, 24, 0.03 * 24);
  ASSERT_GT(s.holding.peak_force_n, 24 / 5.0) << "the case no longer tests anything";
  const auto f = std::find_if(r.findings.begin(), r.findings.end(),
                              [](const Finding& x) { return x.kind == FindingKind::weak_bridge; });
  ASSERT_NE(f, r.findings.end());
  EXPECT_NEAR(f->value, s.holding.times_peak, 1e-12);
  EXPECT_EQ(f->level, s.holding.times_peak < 1 ? Severity::error : Severity::warning);
}

// 4 mm high they are 4 x 4 mm2 each: 6400 N together.
TEST(WeakBridge, SilentOnTabsThatBearEnough) {
  const run::JobResult r = run_of("6061-T6", -1, "", "-8");
  EXPECT_GE(r.setups[0].holding.times_peak, holding_wanted);
  for (const Finding& f : r.findings) EXPECT_NE(f.kind, FindingKind::weak_bridge) << f.text;
}

// The blank's edge 3 to 5.5 mm from the part, the cutter 6 mm wide: the tabs lead to nothing. With
// a frame 1 mm wide and more left behind them they do.
TEST(WeakBridge, TabsWithoutAFrameHoldNothing) {
  for (const double margin : {3.0, 4.0, 5.5}) {
    const run::JobResult r = run_of("6061-T6", -1, "", "-8", margin);
    SCOPED_TRACE(margin);
    const run::SetupResult& s = r.setups[0];
    ASSERT_EQ(s.bridges.size(), 2u);
    for (const run::BridgeResult& b : s.bridges) {
      EXPECT_GT(b.stub_mm3, 4 * 4 * (margin - 0.5));  // no less than its narrowest all along
      EXPECT_EQ(b.times_peak, 0);
    }
    EXPECT_EQ(s.holding.strength_n, 0);
    const auto f = std::find_if(r.findings.begin(), r.findings.end(), [](const Finding& x) {
      return x.kind == FindingKind::weak_bridge;
    });
    ASSERT_NE(f, r.findings.end());
    EXPECT_EQ(f->level, Severity::warning);
    EXPECT_EQ(f->text.find("both bridges left beside the part, as if to hold it, lead to stubs of"),
              0u)
        << f->text;
  }
  for (const double margin : {7.0, 8.0, 12.0}) {
    const run::JobResult r = run_of("6061-T6", -1, "", "-8", margin);
    SCOPED_TRACE(margin);
    ASSERT_EQ(r.setups[0].bridges.size(), 2u);
    for (const run::BridgeResult& b : r.setups[0].bridges) EXPECT_EQ(b.stub_mm3, 0);
    EXPECT_NEAR(r.setups[0].holding.strength_n, 2 * 16 * 200, 0.03 * 6400);
    for (const Finding& f : r.findings) EXPECT_NE(f.kind, FindingKind::weak_bridge) << f.text;
  }
}

// A support's box may take in frame as well, here 6 wide and 12 high all along it, 72 mm2: what
// counts is the bridge within it, 6 mm2.
TEST(WeakBridge, ASupportIsJudgedByItsBridgeNotByTheFrameBesideIt) {
  const std::string boxes =
      "[[part.supports]]\nbox = [[20, 0, 0], [40, 12, 12]]\n"
      "[[part.supports]]\nbox = [[20, 28, 0], [40, 40, 12]]\n";
  const auto too_large = [](const run::JobResult& r) {
    return std::count_if(r.findings.begin(), r.findings.end(), [](const Finding& f) {
      return f.kind == FindingKind::excess && f.detail == "support";
    });
  };
  const run::JobResult r = run_of("6061-T6", -1, boxes);
  ASSERT_EQ(r.setups[0].bridges.size(), 2u);
  const auto usual = cutting::find_material("6061-T6", {})->usual_support_mm2;
  ASSERT_GT(2 * usual, 6) << "the case no longer tests anything";
  ASSERT_LT(2 * usual, 72) << "the case no longer tests anything";
  EXPECT_EQ(too_large(r), 0);
}

// Tabs 6 high and 4 wide where they are narrowest, 24 mm2: more than twice the usual 7.5 in
// aluminium. Each is told with the last line that shaped it, worked out by hand: past the tabs the
// cutter leaves their boxes by lines 15 (X43) and 21 (X17).
TEST(WeakBridge, ASupportFarLargerThanUsualIsSaid) {
  const std::string boxes =
      "[[part.supports]]\nbox = [[20, 0, 0], [40, 12, 12]]\n"
      "[[part.supports]]\nbox = [[20, 28, 0], [40, 40, 12]]\n";
  const auto of_supports = [](const run::JobResult& r) {
    std::vector<Finding> out;
    for (const Finding& f : r.findings) {
      if (f.kind == FindingKind::excess && f.detail == "support") out.push_back(f);
    }
    std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.line < b.line; });
    return out;
  };
  const std::vector<Finding> told = of_supports(run_of("6061-T6", -1, boxes, "-6"));
  ASSERT_EQ(told.size(), 2u);
  EXPECT_EQ(told[0].line, 15u);
  EXPECT_EQ(told[1].line, 21u);
  for (const Finding& f : told) {
    EXPECT_EQ(f.level, Severity::warning);
    EXPECT_NEAR(f.value, 24, 0.03 * 24);
    EXPECT_EQ(f.limit, 7.5);
    EXPECT_EQ(f.unit, "mm2");
    EXPECT_EQ(f.setup, "A");
    EXPECT_EQ(f.tool, 1);
    EXPECT_TRUE(f.file.ends_with("a.nc")) << f.file;
    // The middle of its box, in the setup's frame: z from the top of the block.
    EXPECT_NEAR(f.at.x(), 30, 1e-9);
    EXPECT_NEAR(f.at.z(), -6, 1e-9);
  }
  EXPECT_NEAR(told[0].at.y(), 6, 1e-9);
  EXPECT_NEAR(told[1].at.y(), 34, 1e-9);
  // In board as much is usual.
  EXPECT_TRUE(of_supports(run_of("mdf", -1, boxes, "-6")).empty());
}

TEST(WeakBridge, SameForAnyNumberOfThreads) {
  const run::JobResult one = run_of("6061-T6", 1), three = run_of("6061-T6", 3);
  ASSERT_EQ(one.setups[0].bridges.size(), three.setups[0].bridges.size());
  for (std::size_t k = 0; k < one.setups[0].bridges.size(); ++k) {
    EXPECT_EQ(one.setups[0].bridges[k].area_mm2, three.setups[0].bridges[k].area_mm2);
    EXPECT_EQ(one.setups[0].bridges[k].thickness, three.setups[0].bridges[k].thickness);
    EXPECT_EQ(one.setups[0].bridges[k].at, three.setups[0].bridges[k].at);
  }
}

}  // namespace
}  // namespace proveout::checks
