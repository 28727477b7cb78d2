// What is advised for each finding: never nothing, the cause first where it goes with one, the
// reader's own words where it has some.
#include "sim/checks/what_to_do.h"

#include <gtest/gtest.h>

#include "sim/checks/registry.h"

namespace proveout::checks {
namespace {

run::JobResult one_of_each_kind() {
  run::JobResult r;
  for (std::size_t k = 0; k < finding_kind_count; ++k) {
    for (const char* detail : {"", "confined", "uncut", "a detail nobody knows"}) {
      Finding f;
      f.kind = static_cast<FindingKind>(k);
      f.detail = detail;
      f.text = "something";
      r.findings.push_back(f);
    }
  }
  return r;
}

TEST(WhatToDo, IsSaidOfEveryFinding) {
  const run::JobResult r = one_of_each_kind();
  const auto said = what_to_do(r);
  ASSERT_EQ(said.size(), r.findings.size());
  for (std::size_t i = 0; i < said.size(); ++i) {
    EXPECT_GT(said[i].size(), 10u) << name(r.findings[i].kind);
    EXPECT_TRUE(said[i].ends_with('.')) << said[i];
    EXPECT_EQ(said[i].find(".."), std::string::npos) << said[i];
    if (r.findings[i].detail.empty()) {
      EXPECT_EQ(said[i], check_of(r.findings[i].kind).help);
    }
  }
}

TEST(WhatToDo, TheCauseComesFirst) {
  run::JobResult r = one_of_each_kind();
  r.findings[3].text = "the program's comment names a tool of 8";
  run::Cause zero, tool;
  zero.text = "setup A's zero lies off by 2.00 mm in x";
  zero.remedy = "move the zero by [2.00, 0.00, 0.00]";
  zero.findings = {0, 8};
  tool.text = r.findings[3].text;
  tool.remedy = "declare the tool that will be in the holder";
  tool.findings = {3, 9};
  r.causes = {zero, tool};
  const auto said = what_to_do(r);
  for (const std::size_t i : {0, 8}) {
    EXPECT_EQ(said[i], "Mend cause 1 first, and run again; if it stays: " +
                           what_to_do(one_of_each_kind())[i]);
  }
  EXPECT_EQ(said[3], "Declare the tool that will be in the holder.");
  EXPECT_TRUE(said[9].starts_with("Mend cause 2 first")) << said[9];
  EXPECT_EQ(said[1], what_to_do(one_of_each_kind())[1]);
}

TEST(WhatToDo, TheReadersOwnAdviceIsThatOfItsFinding) {
  run::JobResult r;
  Finding f;
  f.kind = FindingKind::program;
  f.detail = "point-missing";
  f.line = 12;
  f.text = "X100 has no point";
  r.findings = {f, f, f};
  r.findings[1].line = 13;
  r.findings[2].kind = FindingKind::gouge;
  Diagnostic d;
  d.code = f.detail;
  d.what = f.text;
  d.place.line = 12;
  d.remedy = "write X100.";
  r.remarks = {d};
  const auto said = what_to_do(r);
  EXPECT_EQ(said[0], "Write X100.");
  EXPECT_EQ(said[1], check_of(FindingKind::program).help);
  EXPECT_EQ(said[2], check_of(FindingKind::gouge).help);
  r.remarks[0].remedy = "G43 H2 stands there";
  EXPECT_EQ(what_to_do(r)[0], "G43 H2 stands there.");
}

}  // namespace
}  // namespace proveout::checks
