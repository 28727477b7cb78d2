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
              {"part", {{"compared", true}, {"worst_gouge", gouge}, {"worst_excess", 0.0}}},
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
            "better: deepest gouge 0.500 -> 0.100 mm");
}

// A region may grow at the same depth, and cusps are no findings.
TEST(SinceLast, VolumesAndCuspsMove) {
  Json was = result({}), is = was;
  was["part"]["gouge_beyond_mm3"] = 33.1;
  is["part"]["gouge_beyond_mm3"] = 60.5;
  was["finish"] = {{"looked_at", true}, {"highest", 0.02}};
  is["finish"] = {{"looked_at", true}, {"highest", 0.061}};
  EXPECT_EQ(since_last(was, is),
            "worse: gouged 33.1 -> 60.5 mm3, highest cusp or step 0.020 -> 0.061 mm");
  is["finish"] = {{"looked_at", false}, {"highest", 0.0}};
  EXPECT_EQ(since_last(was, is), "worse: gouged 33.1 -> 60.5 mm3");
}

// Without the part there is no gouge of 0.
TEST(SinceLast, WithoutAPartNoDepthGetsBetter) {
  const Json was = result({}, 600, {}, 0.5);
  Json is = result({});
  is["part"]["compared"] = false;
  EXPECT_EQ(since_last(was, is), "not held against a part any more");
  EXPECT_EQ(since_last(is, was), "held against a part, before not");
}

// What is told is cut off at some number: a collision must not be behind it.
TEST(SinceLast, FindingsComeBeforeChecks) {
  const Json was = result({});
  const Json is = result({finding("rapid-contact", "error")}, 600,
                         {"cross-check", "excess", "gouge", "part-lost", "plunge"});
  EXPECT_TRUE(since_last(was, is).starts_with("worse: new rapid-contact (A, T1), "))
      << since_last(was, is);
}

TEST(SinceLast, AnotherLevelIsNotGone) {
  const Json was = result({finding("over-depth", "warning")});
  const Json is = result({finding("over-depth", "error")});
  EXPECT_EQ(since_last(was, is), "worse: over-depth (A, T1) now an error");
  EXPECT_EQ(since_last(is, was), "better: over-depth (A, T1) now a warning");
}

// Beside a warning of the same kind an error still comes and goes.
TEST(SinceLast, AnErrorBesideItsWarning) {
  const Json was = result({finding("over-depth", "error"), finding("over-depth", "warning")});
  const Json is = result({finding("over-depth", "warning")});
  EXPECT_EQ(since_last(was, is), "better: over-depth (A, T1) gone");
  EXPECT_EQ(since_last(is, was), "worse: new over-depth (A, T1)");
}

TEST(SinceLast, AnotherJobIsSaid) {
  Json was = result({}), is = was;
  was["inputs"] = {{{"name", "job.toml"}, {"digest", "a"}}, {{"name", "a.nc"}, {"digest", "b"}}};
  is["inputs"] = {{{"name", "job.toml"}, {"digest", "c"}}, {{"name", "a.nc"}, {"digest", "b"}}};
  was["setups"] = is["setups"] = {{{"program", "a.nc"}}};
  EXPECT_EQ(since_last(was, is), "what the job asks may be another");
  is["inputs"] = {{{"name", "job.toml"}, {"digest", "a"}}, {{"name", "a.nc"}, {"digest", "d"}}};
  EXPECT_EQ(since_last(was, is), "neither better nor worse");
  is["setups"].push_back({{"program", "b.nc"}});
  EXPECT_EQ(since_last(was, is), "2 setups, before 1");
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
