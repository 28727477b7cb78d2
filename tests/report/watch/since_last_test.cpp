// What one line says of two results, made by hand.
#include "report/compare/since_last.h"

#include <gtest/gtest.h>

namespace proveout::compare {
namespace {

using Json = nlohmann::ordered_json;

Json finding(const char* kind, const char* level, const char* setup = "A", int tool = 1) {
  return {{"kind", kind}, {"level", level}, {"setup", setup}, {"tool", tool}};
}

Json result(std::vector<Json> findings, double time_s = 600,
            std::vector<std::string> unchecked = {}, double gouge = 0) {
  Json out = {{"job", {{"material", "6061-T6"}, {"voxel", 0.4}}},
              {"totals", {{"time_s", time_s}}},
              {"part", {{"worst_gouge", gouge}, {"worst_excess", 0.0}}},
              {"findings", findings},
              {"not_checked", Json::array()}};
  for (const std::string& what : unchecked) out["not_checked"].push_back({{"what", what}});
  return out;
}

TEST(SinceLast, TheSameIsNeither) {
  const Json r = result({finding("gouge", "error")});
  EXPECT_EQ(since_last(r, r), "neither better nor worse");
}

TEST(SinceLast, GoneNewAndFewer) {
  const Json was = result({finding("gouge", "error"), finding("excess", "error", "B", 2),
                           finding("excess", "error", "B", 2)});
  const Json is = result({finding("excess", "error", "B", 2), finding("over-depth", "warning")});
  EXPECT_EQ(since_last(was, is),
            "better: excess (B, T2) 2 -> 1, gouge (A, T1) gone; worse: new over-depth (A, T1)");
  EXPECT_EQ(since_last(is, was),
            "better: over-depth (A, T1) gone; worse: excess (B, T2) 1 -> 2, new gouge (A, T1)");
}

TEST(SinceLast, FiguresMove) {
  EXPECT_EQ(since_last(result({}, 600), result({}, 660)), "worse: time 10 min 00 s -> 11 min 00 s");
  EXPECT_EQ(since_last(result({}, 600), result({}, 600.3)), "neither better nor worse");
  EXPECT_EQ(since_last(result({}, 600, {}, 0.5), result({}, 600, {}, 0.1)),
            "better: deepest gouge 0.50 -> 0.10 mm");
}

// A finding that is gone because nobody looks for it any more is no better.
TEST(SinceLast, WhatIsNotLookedForAnyMoreIsNotGone) {
  const Json was = result({finding("holder-contact", "error")});
  const Json is = result({}, 600, {"holder-contact"});
  EXPECT_EQ(since_last(was, is), "worse: holder-contact not wholly checked any more");
  EXPECT_EQ(since_last(is, was),
            "better: holder-contact checked now; worse: new holder-contact (A, T1)");
}

TEST(SinceLast, AnotherVoxelOrMaterialIsSaid) {
  const Json was = result({});
  Json is = was;
  is["job"]["voxel"] = 0.2;
  is["job"]["material"] = "mdf";
  EXPECT_EQ(since_last(was, is), "in mdf, before in 6061-T6, voxel 0.2 mm, before 0.4 mm");
}

TEST(SinceLast, OneLineTellsFourOfAKindAndHowManyMore) {
  std::vector<Json> many;
  for (int tool = 1; tool <= 7; ++tool) many.push_back(finding("gouge", "error", "A", tool));
  const std::string line = since_last(result({}), result(many));
  EXPECT_TRUE(line.ends_with("new gouge (A, T4), 3 more")) << line;
  EXPECT_EQ(counts_in_words(result(many)), "7 errors, 0 warnings, 0 notes");
}

}  // namespace
}  // namespace proveout::compare
