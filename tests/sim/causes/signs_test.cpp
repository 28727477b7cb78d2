// What a cause may claim, and how several alike are headed: on results put together by hand.
#include <gtest/gtest.h>

#include "sim/causes/support_signs.h"
#include "sim/causes/verdict.h"

namespace proveout::causes {
namespace {

run::JobResult hanging() {
  run::JobResult r;
  r.job.part.emplace();
  r.part.compared = true;
  r.part.mesh_volume_mm3 = 1000;
  r.part.volume_mm3 = 1500;
  run::SetupResult s;
  s.name = "B";
  run::BridgeResult bridge;
  bridge.axis = Vec3::UnitX();
  s.bridges = {bridge, bridge};
  r.setups.push_back(std::move(s));
  return r;
}

Finding of(FindingKind kind, Severity level, const std::string& setup) {
  Finding f;
  f.kind = kind;
  f.level = level;
  f.setup = setup;
  return f;
}

// Tabs too wide cut nothing into the part: beside gouges what is left on it has another cause.
TEST(Signs, AFrameIsNamedOnlyWhereNothingIsCutIntoThePart) {
  run::JobResult r = hanging();
  r.findings = {of(FindingKind::excess, Severity::error, "B")};
  ASSERT_TRUE(frame_left_on(r));
  EXPECT_EQ(frame_left_on(r)->kind, run::CauseKind::support);
  r.findings.push_back(of(FindingKind::gouge, Severity::warning, "A"));
  EXPECT_TRUE(frame_left_on(r));
  r.findings.push_back(of(FindingKind::gouge, Severity::error, "A"));
  EXPECT_FALSE(frame_left_on(r));
}

// The same mistake in several setups: all of them are named, and what is left is counted behind
// the last; of one alone, or of another kind, no word is added.
TEST(Signs, TheVerdictNamesEverySetupWithTheSameMistake) {
  run::JobResult r;
  for (const char* setup : {"A", "B", "C", "C"})
    r.findings.push_back(of(FindingKind::gouge, Severity::error, setup));
  const auto cause = [](run::CauseKind kind, const std::string& setup, std::size_t finding,
                        std::size_t remains) {
    run::Cause c;
    c.kind = kind;
    c.setup = setup;
    c.text = "setup " + setup + "'s zero lies off by 2.00 mm in x: more";
    c.findings = {finding};
    c.explains = 1;
    c.remains = remains;
    return c;
  };
  using enum run::CauseKind;
  r.causes = {cause(zero, "A", 0, 3), cause(zero, "B", 1, 2), cause(zero, "C", 2, 1)};
  EXPECT_EQ(verdict(r),
            "Do not cut: setup A's zero lies off by 2.00 mm in x; so with B and C; 1 finding more "
            "to look at");
  r.causes[2].kind = tool;
  EXPECT_EQ(verdict(r),
            "Do not cut: setup A's zero lies off by 2.00 mm in x; so with B; 2 findings more to "
            "look at");
  r.causes.resize(1);
  EXPECT_EQ(verdict(r),
            "Do not cut: setup A's zero lies off by 2.00 mm in x; 3 findings more to look at");
}

// Of the same kind is not the same mistake: a zero off another way, or another tool's size, is not
// said to be "so" too.
TEST(Signs, WhatIsOffOtherwiseIsNotSaidToBeSo) {
  run::JobResult r;
  for (const char* setup : {"A", "B", "C"})
    r.findings.push_back(of(FindingKind::gouge, Severity::error, setup));
  const auto verdict_of = [&](const std::vector<std::pair<std::string, std::optional<Vec3>>>& said,
                              run::CauseKind kind) {
    r.causes.clear();
    for (std::size_t i = 0; i < said.size(); ++i) {
      run::Cause c;
      c.kind = kind;
      c.setup = std::string(1, static_cast<char>('A' + i));
      c.text = "setup " + c.setup + said[i].first;
      c.shift = said[i].second;
      c.findings = {i};
      c.explains = 1;
      c.remains = said.size() - 1 - i;
      r.causes.push_back(std::move(c));
    }
    return verdict(r);
  };
  using enum run::CauseKind;
  EXPECT_EQ(verdict_of({{"'s zero lies off by 2.00 mm in x", Vec3(2, 0, 0)},
                        {"'s zero lies off by 2.01 mm in x", Vec3(-2.01, 0, 0)},
                        {"'s zero lies off by 2.00 mm in y", Vec3(0, 2, 0)}},
                       zero),
            "Do not cut: setup A's zero lies off by 2.00 mm in x; so with B; 1 finding more to "
            "look at");
  EXPECT_EQ(verdict_of({{" leaves 0.20 mm on every wall alike", {}},
                        {" leaves 0.50 mm on every wall alike", {}},
                        {" leaves 0.20 mm on every wall alike", {}}},
                       tool),
            "Do not cut: setup A leaves 0.20 mm on every wall alike; so with C; 1 finding more to "
            "look at");
}

}  // namespace
}  // namespace proveout::causes
