// Results and summaries that lack something, or are of another job, are refused or said; none is
// read as 0 or as a good one.
#include <functional>
#include <nlohmann/json.hpp>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

using Json = nlohmann::ordered_json;

// The small job and its accepted baseline.
class Damaged : public testing::Test {
 protected:
  Damaged() {
    job_ = folder_.file("job.toml", small_job);
    folder_.file("a.nc", small_program);
    kept_ = (folder_.path() / "kept.json").string();
    EXPECT_EQ(check({"--accept"}).status, 0);
    good_ = Json::parse(read(kept_));
  }
  CommandRun check(std::vector<std::string> more = {}) const {
    std::vector<std::string> words{"check", job_, "--baseline", kept_, "--no-html"};
    words.insert(words.end(), more.begin(), more.end());
    return command(words);
  }
  void change(const std::function<void(Json&)>& how) const {
    Json json = good_;
    how(json);
    folder_.file("kept.json", json.dump());
  }
  static Json& tool(Json& result) { return result["setups"][0]["tools"][0]; }

  Folder folder_;
  std::string job_, kept_;
  Json good_;
};

TEST_F(Damaged, ToolsWithoutTheirFiguresAreRefused) {
  const std::vector<std::function<void(Json&)>> damages = {
      [](Json& t) { t["number"] = "1"; },      [](Json& t) { t["number"] = 1.5; },
      [](Json& t) { t["number"] = 1e300; },    [](Json& t) { t["number"] = -1; },
      [](Json& t) { t["time_s"] = "12"; },     [](Json& t) { t["time_s"] = nullptr; },
      [](Json& t) { t.erase("feed_mm"); },     [](Json& t) { t["rapid_mm"] = Json::array(); },
      [](Json& t) { t.erase("removed_mm3"); }, [](Json& t) { t.erase("peak"); },
      [](Json& t) { t["peak"] = 3; },          [](Json& t) { t["peak"].erase("force_n"); }};
  for (std::size_t i = 0; i < damages.size(); ++i) {
    change([&](Json& r) { damages[i](tool(r)); });
    for (const CommandRun& r : {check(), command({"compare", kept_, kept_})}) {
      EXPECT_EQ(r.status, 2) << i;
      EXPECT_NE(r.err.find("result-unreadable"), std::string::npos) << i << r.err;
    }
  }
}

TEST_F(Damaged, AnotherMaterialOrVoxelIsSaid) {
  change([](Json& r) { r["job"]["material"] = "brass"; });
  const CommandRun material = check({"--quiet"});
  EXPECT_EQ(material.status, 1);
  EXPECT_NE(check().out.find("in brass, now 6061-T6"), std::string::npos) << check().out;
  change([](Json& r) { r["job"]["voxel"] = 0.25; });
  const CommandRun voxel = check();
  EXPECT_EQ(voxel.status, 1);
  EXPECT_NE(voxel.out.find("not comparable"), std::string::npos) << voxel.out;
}

TEST_F(Damaged, TotalsBeyondWholeNumbersAreShown) {
  change([](Json& r) { r["totals"]["time_s"] = 1e300; });
  EXPECT_EQ(command({"compare", kept_, kept_}).status, 0);
}

// A whole summary of one job that ended with 0.
Json summary() {
  return {{"schema", "proveout-summary/1"},
          {"shard", {{"index", 1}, {"count", 1}}},
          {"all_jobs", {"a.toml"}},
          {"jobs", {{{"job", "a.toml"}, {"status", 0}, {"said", Json::array()}}}}};
}

TEST(Gather, RefusesSummariesOfAnotherKind) {
  const Folder folder;
  ASSERT_EQ(command({"gather", folder.file("whole.json", summary().dump())}).status, 0);
  const std::vector<std::function<void(Json&)>> damages = {
      [](Json& s) { s["schema"] = 1; },
      [](Json& s) { s["jobs"][0]["status"] = "0"; },
      [](Json& s) { s["jobs"][0]["status"] = nullptr; },
      [](Json& s) { s["jobs"][0].erase("status"); },
      [](Json& s) { s["jobs"][0]["job"] = 7; },
      [](Json& s) { s["jobs"][0]["said"] = {1}; },
      [](Json& s) { s["jobs"] = 3; },
      [](Json& s) { s["jobs"] = Json::array(); },
      [](Json& s) { s["jobs"] = {1}; },
      [](Json& s) { s["all_jobs"] = {1}; },
      [](Json& s) { s["all_jobs"] = s["jobs"] = Json::array(); },
      [](Json& s) { s["shard"] = 1; },
      [](Json& s) { s["shard"]["index"] = "1"; },
      [](Json& s) { s["shard"]["count"] = 1000000000; }};
  for (std::size_t i = 0; i < damages.size(); ++i) {
    Json json = summary();
    damages[i](json);
    const CommandRun r = command({"gather", folder.file("bad.json", json.dump())});
    EXPECT_EQ(r.status, 2) << i << r.err;
    if (json["all_jobs"].empty()) continue;  // said on standard output
    EXPECT_NE(r.err.find("bad.json: error"), std::string::npos) << i << r.err;
  }
}

TEST(Gather, AStatusThatIsNoneCountsAsFailed) {
  const Folder folder;
  for (const auto& [status, wanted] : std::vector<std::pair<Json, int>>{
           {1, 1}, {2, 2}, {3, 3}, {130, 3}, {-1, 3}, {4, 3}, {4294967296, 3}, {256, 3}}) {
    Json json = summary();
    json["jobs"][0]["status"] = status;
    EXPECT_EQ(command({"gather", folder.file("s.json", json.dump())}).status, wanted) << status;
  }
}

}  // namespace
}  // namespace proveout::cli
