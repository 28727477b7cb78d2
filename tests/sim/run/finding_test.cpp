// What is kept of many findings: the rules of sim/run/finding.h, on lists made by hand. Held
// to everywhere: no finding is lost, each is counted in one that is kept, and nothing kept is less
// bad than what it stands for.
#include "sim/run/finding.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <string>
#include <vector>

namespace proveout {
namespace {

Finding finding(FindingKind kind, double value, double limit, std::uint32_t line, const Vec3& at,
                Severity level = Severity::error) {
  Finding f;
  f.kind = kind;
  f.level = level;
  f.setup = "A";
  f.tool = 1;
  f.line = line;
  f.at = at;
  f.value = value;
  f.limit = limit;
  return f;
}

std::uint64_t counted(const std::vector<Finding>& all) {
  std::uint64_t sum = 0;
  for (const Finding& f : all) sum += f.count;
  return sum;
}

TEST(FindingCollector, TheWorstOfAPlaceStandsForTheRest) {
  FindingCollector collector;
  collector.add(finding(FindingKind::over_depth, 3, 2, 10, Vec3(0, 0, 0)));
  collector.add(finding(FindingKind::over_depth, 5, 2, 20, Vec3(2, -1, 0)));
  collector.add(finding(FindingKind::over_depth, 4, 2, 30, Vec3(1, 3, 0)));
  const auto kept = collector.take();
  ASSERT_EQ(kept.size(), 1u);
  EXPECT_EQ(kept[0].line, 20u);
  EXPECT_EQ(kept[0].value, 5);
  EXPECT_EQ(kept[0].count, 3u);
  EXPECT_TRUE(collector.take().empty()) << "taken once";
}

// A chip too thin is worse the further it falls below its floor.
TEST(FindingCollector, OfAFloorTheLeastIsTheWorst) {
  FindingCollector collector;
  for (const double chip : {0.004, 0.001, 0.003})
    collector.add(finding(FindingKind::chip_thin, chip, 0.005, 10, Vec3(0, 0, 0)));
  const auto kept = collector.take();
  ASSERT_EQ(kept.size(), 1u);
  EXPECT_EQ(kept[0].value, 0.001);
}

// One line over and over, all along its way, is one finding; what differs in kind, setup, tool or
// detail, or lies elsewhere on other lines, is another.
TEST(FindingCollector, OneLineIsOneFindingAndOthersAreTheirOwn) {
  FindingCollector collector(12);
  for (int k = 0; k < 10; ++k)
    collector.add(finding(FindingKind::rapid_contact, 1 + k, 0, 7, Vec3(20.0 * k, 0, 0)));
  ASSERT_EQ(collector.take().size(), 1u);
  const Finding one = finding(FindingKind::rapid_contact, 1, 0, 7, Vec3(0, 0, 0));
  std::vector<Finding> others(5, one);
  others[0].kind = FindingKind::plunge;
  others[1].setup = "B";
  others[2].tool = 2;
  others[3].detail = "by-axis";
  others[4].line = 8;
  others[4].at = Vec3(0, 40, 0);
  collector.add(one);
  for (const Finding& f : others) collector.add(f);
  const auto kept = collector.take();
  EXPECT_EQ(kept.size(), 6u);
  for (const Finding& f : kept) EXPECT_EQ(f.count, 1u);
}

TEST(FindingCollector, NotesOnceATool) {
  FindingCollector collector;
  for (int k = 0; k < 6; ++k)
    collector.add(finding(FindingKind::chip_thin, 0.004, 0.005, 10 + k, Vec3(50.0 * k, 0, 0),
                          Severity::note));
  const auto kept = collector.take();
  ASSERT_EQ(kept.size(), 1u);
  EXPECT_EQ(kept[0].count, 6u);
}

// An error decides how a run ends: no warning beside it may stand in its place, however far beyond
// its own limit that lies.
TEST(FindingCollector, AWarningDoesNotHideAnError) {
  for (const bool error_first : {true, false}) {
    FindingCollector collector;
    const Finding error = finding(FindingKind::plunge, 1.2, 1, 10, Vec3(0, 0, 0)),
                  warning =
                      finding(FindingKind::plunge, 9, 1, 11, Vec3(1, 0, 0), Severity::warning);
    collector.add(error_first ? error : warning);
    collector.add(error_first ? warning : error);
    const auto kept = collector.take();
    ASSERT_EQ(kept.size(), 1u);
    EXPECT_EQ(kept[0].level, Severity::error);
    EXPECT_EQ(kept[0].line, 10u);
    EXPECT_EQ(kept[0].count, 2u);
  }
}

TEST(FindingCollector, OfManyTheWorstAreKeptAndTheRestCounted) {
  FindingCollector collector(12, 4);
  for (int k = 0; k < 9; ++k)
    collector.add(finding(FindingKind::over_width, 3 + (k * 4) % 9, 2,
                          static_cast<std::uint32_t>(10 + k), Vec3(30.0 * k, 0, 0)));
  const auto kept = collector.take();
  ASSERT_EQ(kept.size(), 4u);
  for (std::size_t k = 0; k < kept.size(); ++k) EXPECT_EQ(kept[k].value, 11.0 - k);
  EXPECT_EQ(counted(kept), 9u);
  EXPECT_EQ(kept.back().count, 6u);
}

TEST(FindingCollector, ErrorsFirstThenTheSetupsAsTheyCame) {
  FindingCollector collector;
  Finding late = finding(FindingKind::gouge, 1, 0.1, 5, Vec3(0, 0, 0));
  late.setup = "B";
  Finding first = late;
  first.setup = "Z";  // came first, though last by name
  Finding warning = finding(FindingKind::gouge, 9, 0.1, 5, Vec3(0, 0, 0), Severity::warning);
  warning.setup = "Z";
  warning.detail = "other";
  collector.add(warning);
  collector.add(late);
  collector.add(first);
  const auto kept = collector.take();
  ASSERT_EQ(kept.size(), 3u);
  EXPECT_EQ(kept[0].setup, "Z");
  EXPECT_EQ(kept[0].level, Severity::error);
  EXPECT_EQ(kept[1].setup, "B");
  EXPECT_EQ(kept[2].level, Severity::warning);
}

TEST(FindingCollector, NothingIsLostOfRandomFindings) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> u(0, 1);
    FindingCollector collector(12, 5);
    const std::size_t many = 400;
    Severity worst = Severity::note;
    for (std::size_t k = 0; k < many; ++k) {
      const auto level = static_cast<Severity>(std::min(2, static_cast<int>(3 * u(random))));
      worst = std::max(worst, level);
      collector.add(finding(static_cast<FindingKind>(static_cast<int>(4 * u(random))),
                            1 + u(random), 1, static_cast<std::uint32_t>(40 * u(random)),
                            100 * Vec3(u(random), u(random), u(random)), level));
    }
    const auto kept = collector.take();
    EXPECT_EQ(counted(kept), many) << "seed " << seed;
    ASSERT_FALSE(kept.empty());
    EXPECT_EQ(kept.front().level, worst) << "seed " << seed;
  }
}

}  // namespace
}  // namespace proveout
