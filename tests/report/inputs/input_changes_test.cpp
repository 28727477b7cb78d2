// Which inputs changed since a kept result: in the comparison's own words, in `check` and
// `compare`.
#include "report/compare/input_changes.h"

#include <gtest/gtest.h>

#include "report/compare/compare.h"
#include "tests/report/cli/command_run.h"

namespace proveout {
namespace {

using Json = nlohmann::ordered_json;

Json with_inputs(const std::vector<std::pair<std::string, std::string>>& files) {
  Json out = {{"inputs", Json::array()}};
  for (const auto& [name, digest] : files)
    out["inputs"].push_back({{"name", name}, {"digest", digest}, {"bytes", 1}});
  return out;
}

TEST(InputChanges, ChangedNewAndGoneByName) {
  const Json kept = with_inputs({{"job.toml", "1"}, {"a.nc", "2"}, {"old.stl", "3"}});
  const Json now = with_inputs({{"job.toml", "1"}, {"a.nc", "9"}, {"new.stl", "3"}});
  const compare::InputChanges c = compare::input_changes(kept, now);
  EXPECT_TRUE(c.known);
  EXPECT_EQ(c.same, 1u);
  EXPECT_EQ(c.changed, std::vector<std::string>{"a.nc"});
  EXPECT_EQ(c.added, std::vector<std::string>{"new.stl"});
  EXPECT_EQ(c.gone, std::vector<std::string>{"old.stl"});
  EXPECT_EQ(compare::in_words(c), "Inputs: changed a.nc; new new.stl; gone old.stl.");
  EXPECT_EQ(compare::in_words(compare::input_changes(kept, kept)),
            "All 3 inputs are the same, byte for byte.");
}

TEST(InputChanges, AResultWithoutInputsIsSaidToBeWithout) {
  const Json without = Json::object(), with = with_inputs({{"a.nc", "2"}});
  for (const auto& [kept, now] : {std::pair(without, with), std::pair(with, without)}) {
    EXPECT_FALSE(compare::input_changes(kept, now).known);
    EXPECT_NE(compare::in_words(compare::input_changes(kept, now)).find("not known"),
              std::string::npos);
  }
}

TEST(InputChanges, OfAnotherVersionOnlyWhereBothDiffer) {
  Json kept = with_inputs({{"a.nc", "2"}}), now = kept;
  now["run"]["version"] = "0.2.0";
  EXPECT_EQ(compare::in_words(compare::input_changes(kept, now)).find("version"),
            std::string::npos);
  kept["run"]["version"] = "0.2.0";
  EXPECT_EQ(compare::in_words(compare::input_changes(kept, now)).find("version"),
            std::string::npos);
  kept["run"]["version"] = "0.0.9";
  const std::string words = compare::in_words(compare::input_changes(kept, now));
  EXPECT_NE(words.find("version 0.0.9"), std::string::npos) << words;
  EXPECT_NE(words.find("0.2.0"), std::string::npos) << words;
}

class InputsOfCommands : public testing::Test {
 protected:
  void SetUp() override {
    job_ = folder_.file("job.toml", cli::small_job);
    folder_.file("a.nc", cli::small_program);
  }
  std::string in(const std::string& name) const { return (folder_.path() / name).string(); }
  cli::CommandRun check(const std::vector<std::string>& more = {}) const {
    std::vector<std::string> words{"check",   job_,         "--no-html",     "-o",
                                   in("out"), "--baseline", in("kept.json"), "--fail-on",
                                   "none"};
    words.insert(words.end(), more.begin(), more.end());
    return cli::command(words);
  }
  void rewrite_baseline(const std::function<void(Json&)>& change) const {
    Json json = Json::parse(cli::read(in("kept.json")));
    change(json);
    folder_.file("kept.json", json.dump());
  }

  cli::Folder folder_;
  std::string job_;
};

TEST_F(InputsOfCommands, CheckSaysWhatChangedSinceTheBaseline) {
  const cli::CommandRun none = check();
  EXPECT_EQ(none.status, 2);
  EXPECT_NE(none.err.find("--accept"), std::string::npos) << none.err;
  EXPECT_NE(none.err.find("kept.json"), std::string::npos) << none.err;

  ASSERT_EQ(check({"--accept"}).status, 0);
  cli::CommandRun r = check();
  EXPECT_EQ(r.status, 0) << r.err;
  EXPECT_NE(r.out.find("All 2 inputs are the same, byte for byte."), std::string::npos) << r.out;

  folder_.file("a.nc", std::string(cli::small_program) + "(a comment)\n");
  r = check();
  EXPECT_EQ(r.status, 0) << "what changed in an input moves no figure\n" << r.out;
  EXPECT_NE(r.out.find("Inputs: changed a.nc."), std::string::npos) << r.out;
  EXPECT_NE(r.out.find("Nothing that is held moved"), std::string::npos) << r.out;
  EXPECT_TRUE(check({"--quiet"}).out.empty());

  std::string deeper = cli::small_program;
  folder_.file("b.nc", deeper.replace(deeper.find("X35"), 3, "X36"));
  std::string job = cli::small_job;
  folder_.file("job.toml", job.replace(job.find("a.nc"), 4, "b.nc"));
  r = check();
  EXPECT_EQ(r.status, 1) << r.out;
  EXPECT_NE(r.out.find("Inputs: changed job.toml; new b.nc; gone a.nc."), std::string::npos)
      << r.out;
}

TEST_F(InputsOfCommands, AnOlderBaselineIsNoError) {
  ASSERT_EQ(check({"--accept"}).status, 0);
  rewrite_baseline([](Json& j) {
    j.erase("inputs");
    j["run"]["version"] = "0.0.1";
  });
  const cli::CommandRun r = check();
  EXPECT_EQ(r.status, 0) << r.err;
  EXPECT_NE(r.out.find("not known"), std::string::npos) << r.out;
  EXPECT_NE(r.out.find("version 0.0.1"), std::string::npos) << r.out;
}

TEST_F(InputsOfCommands, AListOfInputsThatIsNoneIsRefused) {
  ASSERT_EQ(check({"--accept"}).status, 0);
  for (const Json& inputs : {Json("all"), Json::array({1}), Json::array({{{"name", "a.nc"}}}),
                             Json::array({{{"name", 3}, {"digest", "x"}}})}) {
    rewrite_baseline([&](Json& j) { j["inputs"] = inputs; });
    const cli::CommandRun r = check();
    EXPECT_EQ(r.status, 2) << inputs;
    EXPECT_NE(r.err.find("input"), std::string::npos) << r.err;
  }
}

TEST_F(InputsOfCommands, CompareSaysItInALine) {
  ASSERT_EQ(check({"--accept"}).status, 0);
  folder_.file("a.nc", std::string(cli::small_program) + "(a comment)\n");
  ASSERT_EQ(check().status, 0);
  const cli::CommandRun r =
      cli::command({"compare", in("kept.json"), in("out/result.json"), "--json", in("c.json")});
  EXPECT_EQ(r.status, 0) << r.err;
  EXPECT_NE(r.out.find("out against kept: Inputs: changed a.nc."), std::string::npos) << r.out;
  const Json json = Json::parse(cli::read(in("c.json")));
  EXPECT_EQ(json["changes"][0]["inputs"]["changed"], Json::array({"a.nc"}));
  EXPECT_EQ(json["changes"][0]["inputs"]["known"], true);
}

}  // namespace
}  // namespace proveout
