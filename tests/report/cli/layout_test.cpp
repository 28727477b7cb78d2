// run --forecast --layout: where things lie before anything is cut, held to positions worked out by
// hand from the job file's own words (docs/job-file.md): turns about the machine's axes, the zero
// on the blank's faces.
#include <cmath>
#include <nlohmann/json.hpp>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

using Json = nlohmann::json;

Json layout_of(const Folder& folder, const std::string& job) {
  folder.file("a.nc", small_program);
  const CommandRun run =
      command({"run", folder.file("job.toml", job), "--forecast", "--layout", "-"});
  EXPECT_EQ(run.status, 0) << run.err;
  return Json::parse(run.out);
}

// A point of the stock in the setup's frame.
std::vector<double> placed(const Json& setup, const std::vector<double>& p) {
  std::vector<double> out;
  for (const Json& row : setup["setup_from_stock"])
    out.push_back(row[0].get<double>() * p[0] + row[1].get<double>() * p[1] +
                  row[2].get<double>() * p[2] + row[3].get<double>());
  return out;
}

void expect_near(const std::vector<double>& a, const std::vector<double>& b) {
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i < a.size(); ++i) EXPECT_NEAR(a[i], b[i], 1e-9) << i;
}

std::string small_with(const std::string& zero, const std::string& more = "") {
  std::string job = small_job;
  const auto at = job.find("zero = {");
  return job.substr(0, at) + more + zero + "\n";
}

TEST(Layout, ZeroOnTheBlanksFacesAndThePathFromTheProgram) {
  const Folder folder;
  const Json out = layout_of(folder, small_job);
  EXPECT_EQ(out["blank"], Json::parse("[[0,0,0],[30,20,10]]"));
  const Json& setup = out["setups"][0];
  EXPECT_TRUE(setup["zero_known"].get<bool>());
  expect_near(placed(setup, {0, 0, 10}), {0, 0, 0});
  // Down and across at the feed are one way, the rapids before and after it two.
  const Json& ways = setup["ways"];
  ASSERT_EQ(ways.size(), 3U);
  EXPECT_TRUE(ways[0]["rapid"].get<bool>());
  EXPECT_EQ(ways[1],
            Json::parse(R"({"rapid":false,"tool":1,"points":[-5,10,5,-5,10,-1,35,10,-1]})"));
  EXPECT_EQ(ways[2]["points"], Json::parse("[35,10,-1,35,10,5]"));
}

TEST(Layout, TurnedByAnyAngleTheZeroLiesOnTheTurnedBlank) {
  const Folder folder;
  // Half round about y: the stock's x and z run the other way; its corner 30, 0, 0 is left, front,
  // top.
  const Json half =
      layout_of(folder, small_with("zero = { x = \"min\", y = \"min\", z = \"top\" }",
                                   "turn = [{ about = \"y\", degrees = 180 }]\n"))["setups"][0];
  expect_near(placed(half, {30, 0, 0}), {0, 0, 0});
  expect_near(placed(half, {0, 20, 10}), {30, 20, -10});
  // 30 degrees about z: the leftmost corner is 0, 20 (at x = -10), the frontmost 0, 0.
  const Json aslant = layout_of(
      folder, small_with("zero = { x = \"min\", y = \"min\", z = \"bottom\", offset = [1, 2, 3] }",
                         "turn = [{ about = \"z\", degrees = 30 }]\n"))["setups"][0];
  expect_near(placed(aslant, {0, 20, 0}), {-1, 20 * std::sqrt(0.75) - 2, -3});
  expect_near(placed(aslant, {0, 0, 0}), {10 - 1, -2, -3});
}

TEST(Layout, AZeroOnMilledFacesIsSaidToBeUnknown) {
  const Folder folder;
  std::string job = small_job;
  job +=
      "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nzero = { on = \"milled\", x = \"min\", y = "
      "\"min\", "
      "z = \"top\" }\n";
  const Json out = layout_of(folder, job);
  EXPECT_TRUE(out["setups"][0]["zero_known"].get<bool>());
  EXPECT_FALSE(out["setups"][1]["zero_known"].get<bool>());
  EXPECT_EQ(out["setups"][1]["zero_text"], "");
}

TEST(Layout, AnArcIsDrawnWithinItsChords) {
  const Folder folder;
  std::string job = small_job;
  job.replace(job.find("a.nc"), 4, "b.nc");
  folder.file(
      "b.nc",
      "%\nG21 G90\nT1 M6\nS12000 M3\nG0 X20 Y10 Z5\nG1 Z-1 F300\nG2 I-5 J0 F600\nG0 Z5\nM30\n%\n");
  const Json points = layout_of(folder, job)["setups"][0]["ways"][1]["points"];
  // A full circle about 15, 10: all its places lie on it, to the thousandth that is written.
  ASSERT_EQ(points.size(), 3U * (2 + 24));
  for (std::size_t i = 3; i < points.size(); i += 3)
    EXPECT_NEAR(std::hypot(points[i].get<double>() - 15, points[i + 1].get<double>() - 10), 5,
                1e-3);
}

TEST(Layout, GoesWithAForecastAndOverwritesNoInput) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job),
                    program = folder.file("a.nc", small_program);
  EXPECT_EQ(command({"run", job, "--layout", "-"}).status, 2);
  EXPECT_EQ(command({"run", job, "--forecast", "--layout", program}).status, 2);
  EXPECT_EQ(read(program), small_program);
}

}  // namespace
}  // namespace proveout::cli
