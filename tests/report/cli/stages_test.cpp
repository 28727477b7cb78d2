// Stages kept by --stages: a later run gives the same bytes, cuts only from the first change on,
// and takes nothing from a stage that no longer holds. The rival is the run without stages.
#include <sys/stat.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "sim/pipeline/dry_run.h"
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

// Two setups, side A with two tools, one of them used twice: four tool runs.
const std::string tools =
    "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 30\nstickout = 40\n"
    "holder = [[25, 20]]\n"
    "[[tools]]\nnumber = 2\nshape = \"ball\"\ndiameter = 4\nflute_length = 12\nstickout = 30\n";
const std::string side_a =
    "G21 G90\nT1 M6\nS18000 M3\nG0 X-8 Y-25 Z5\nG0 Z-8\nG1 Y25 F500\nG0 Z5\n"
    "T2 M6\nS18000 M3\nG0 X-8 Y-25 Z5\nG0 Z-9\nG1 Y25 F500\nG2 X8 Y25 I8 J0\nG0 Z5\n"
    "T1 M6\nS18000 M3\nG0 X8 Y-25 Z5\nG0 Z-4\nG1 Y25 F500\nG0 Z5\nM30\n";
const std::string side_b =
    "G21 G90\nT1 M6\nS18000 M3\nG0 X-10 Y10 Z5\nG0 Z-10\nG1 X50 F500\nG0 Z5\nM30\n";
const std::string job =
    "[simulation]\nvoxel = 0.4\n[stock]\nsize = [40, 30, 20]\nmaterial = \"6061-T6\"\n" + tools +
    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
    "zero = { x = \"centre\", y = \"centre\", z = \"top\" }\n"
    "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [{ about = \"y\", degrees = 180 }]\n"
    "zero = { on = \"milled\", x = \"min\", y = \"min\", z = \"top\" }\n";

class Stages : public ::testing::Test {
 protected:
  Stages() {
    folder_.file("a.nc", side_a);
    folder_.file("b.nc", side_b);
    folder_.file("job.toml", job);
  }
  // The result but for its run section, which is left in run_.
  std::string run(bool with_stages) {
    std::vector<std::string> words = {"run",       (folder_.path() / "job.toml").string(),
                                      "-o",        (folder_.path() / "out").string(),
                                      "--quiet",   "--no-html",
                                      "--fail-on", "none"};
    if (with_stages) {
      words.push_back("--stages");
      words.push_back(kept().string());
    }
    EXPECT_EQ(command(words).status, 0);
    Json result = Json::parse(read(folder_.path() / "out" / "result.json"));
    run_ = result["run"];
    result.erase("run");
    return result.dump() + read(folder_.path() / "out" / "moves.csv");
  }
  fs::path kept() const { return folder_.path() / "kept"; }
  int cut() const { return run_["stretches_cut"]; }
  int reused() const { return run_["stretches_reused"]; }
  static std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
  }

  const Folder folder_;
  Json run_;
};

TEST_F(Stages, ASecondRunCutsNothingAndGivesTheSameBytes) {
  const std::string plain = run(false);
  EXPECT_EQ(cut(), 4);
  EXPECT_EQ(run(true), plain);
  EXPECT_EQ(cut(), 4);
  EXPECT_EQ(run(true), plain);
  EXPECT_EQ(cut(), 0);
  EXPECT_EQ(reused(), 4);
}

TEST_F(Stages, AChangedSideIsCutAndTheOtherTaken) {
  run(true);
  folder_.file("b.nc", replaced(side_b, "Z-10", "Z-11"));
  const std::string changed = run(true);
  EXPECT_EQ(cut(), 1);
  EXPECT_EQ(reused(), 3);
  EXPECT_EQ(changed, run(false));
}

TEST_F(Stages, AllAfterTheFirstChangeIsCutAnew) {
  run(true);
  folder_.file("a.nc", replaced(side_a, "Z-9", "Z-10"));
  const std::string changed = run(true);
  EXPECT_EQ(reused(), 1);
  EXPECT_EQ(cut(), 3);
  EXPECT_EQ(changed, run(false));
}

TEST_F(Stages, FeedsAndCommentsLeaveTheStockAsItIs) {
  run(true);
  folder_.file("a.nc", "(posted again)\n" + replaced(side_a, "F500", "F900"));
  const std::string faster = run(true);
  EXPECT_EQ(reused(), 4);
  EXPECT_EQ(faster, run(false));
}

TEST_F(Stages, AnotherToolVoxelOrBlankIsAnotherStock) {
  for (const auto& [from, to] : std::vector<std::pair<std::string, std::string>>{
           {"holder = [[25, 20]]", "holder = [[30, 20]]"},
           {"voxel = 0.4", "voxel = 0.5"},
           {"size = [40", "size = [41"}}) {
    folder_.file("job.toml", job);
    run(true);
    folder_.file("job.toml", replaced(job, from, to));
    const std::string other = run(true);
    EXPECT_EQ(reused(), 0) << to;
    EXPECT_EQ(other, run(false)) << to;
  }
}

TEST_F(Stages, ADamagedStageIsCutAgain) {
  const std::string plain = run(true);
  for (const char* stage : {"setup-1-stage-2-T2.vdb", "setup-2-stage-1-T1.vdb"}) {
    const std::string bytes = read(kept() / stage);
    ASSERT_GT(bytes.size(), 1000u) << stage;
    std::ofstream(kept() / stage, std::ios::binary) << bytes.substr(0, bytes.size() / 2);
  }
  EXPECT_EQ(run(true), plain);
  EXPECT_EQ(cut(), 2);
  EXPECT_EQ(reused(), 2);
}

// A pipe would be read for ever, or written to.
// Before anything is cut.
TEST_F(Stages, APipeUnderAStagesNameIsSaid) {
  fs::create_directories(kept());
  const fs::path stage = kept() / "setup-1-stage-2-T2.vdb";
  ASSERT_EQ(::mkfifo(stage.c_str(), 0600), 0);
  const CommandRun r =
      command({"run", (folder_.path() / "job.toml").string(), "--quiet", "--no-html", "--stages",
               kept().string(), "-o", (folder_.path() / "out").string()});
  EXPECT_EQ(r.status, 2);
  EXPECT_NE(r.err.find("setup-1-stage-2-T2.vdb"), std::string::npos) << r.err;
}

// Phases follow each other, so their times add up to no more than the whole; what took less than a
// thousandth of a second is not listed.
TEST_F(Stages, PhasesAddUp) {
  const std::vector<std::string> run{"run",     (folder_.path() / "job.toml").string(),
                                     "--quiet", "--no-html",
                                     "-o",      (folder_.path() / "out").string()};
  EXPECT_EQ(command(run).err.find("processor"), std::string::npos);
  std::vector<std::string> asked = run;
  asked.insert(asked.begin() + 2, "--phases");
  const CommandRun r = command(asked);
  std::istringstream lines(r.err.substr(std::min(r.err.size(), r.err.find("phase "))));
  double wall = 0, processor = 0, whole_wall = -1, whole_processor = -1;
  int count = 0;
  std::set<std::string> names;
  for (std::string line; std::getline(lines, line);) {
    if (line.size() != 52 || line.starts_with("phase ")) continue;
    const double here = std::stod(line.substr(28, 10)), worked = std::stod(line.substr(38));
    EXPECT_GE(here, 0);
    EXPECT_GE(worked, 0);
    if (line.starts_with("all of these")) {
      whole_wall = here;
      whole_processor = worked;
      continue;
    }
    names.insert(line.substr(0, line.find("  ")));
    wall += here;
    processor += worked;
    ++count;
  }
  EXPECT_TRUE(names.contains("cutting")) << r.err;
  EXPECT_TRUE(names.contains("writing the results")) << r.err;
  EXPECT_NEAR(wall, whole_wall, 0.001 * 16 + 0.0005 * count) << r.err;
  EXPECT_NEAR(processor, whole_processor, 0.001 * 16 + 0.0005 * count) << r.err;
}

TEST_F(Stages, ForecastRunsNothing) {
  const CommandRun r = command({"run", (folder_.path() / "job.toml").string(), "--forecast", "-o",
                                (folder_.path() / "out").string()});
  EXPECT_EQ(r.status, 0) << r.err;
  EXPECT_NE(r.out.find("voxel 0.4 mm, walls and floors told to about 0.02 mm"), std::string::npos)
      << r.out;
  EXPECT_NE(r.out.find("MB of memory"), std::string::npos) << r.out;
  EXPECT_FALSE(fs::exists(folder_.path() / "out"));
}

TEST_F(Stages, WhatWouldNotFitIsRefusedWithAVoxelThatDoes) {
  Diagnostics diagnostics;
  const auto read_job = job::read_job(folder_.path() / "job.toml", diagnostics);
  ASSERT_TRUE(read_job);
  pipeline::RunOptions options;
  options.voxel = 0.01;
  options.memory_mb = 200;
  EXPECT_FALSE(pipeline::dry_run(*read_job, options, diagnostics));
  ASSERT_TRUE(diagnostics.has_errors());
  const auto refused =
      std::find_if(diagnostics.all().begin(), diagnostics.all().end(),
                   [](const Diagnostic& d) { return d.severity == Severity::error; });
  ASSERT_NE(refused, diagnostics.all().end());
  const Diagnostic& d = *refused;
  EXPECT_EQ(d.code, "voxel-too-fine");
  const std::string before = "--voxel ";
  const auto at = d.remedy.find(before);
  ASSERT_NE(at, std::string::npos) << d.remedy;
  options.voxel = std::stod(d.remedy.substr(at + before.size()));
  EXPECT_GT(options.voxel, 0.01);
  EXPECT_LT(options.voxel, 0.2);
  Diagnostics again;
  EXPECT_TRUE(pipeline::dry_run(*read_job, options, again)) << options.voxel;
}

// A long thin blank has too many voxels along it whatever the memory: where one that fits is too
// coarse for its thickness, no voxel is promised.
TEST_F(Stages, ABlankTooLongForItsVoxelIsToldSo) {
  Diagnostics ignored;
  auto read_job = job::read_job(folder_.path() / "job.toml", ignored);
  ASSERT_TRUE(read_job);
  pipeline::RunOptions options;
  options.voxel = 0.4;
  options.memory_mb = 8000;
  const auto refused = [&](const Vec3& size) {
    read_job->stock.size = size;
    Diagnostics diagnostics;
    EXPECT_FALSE(pipeline::dry_run(*read_job, options, diagnostics));
    for (const Diagnostic& d : diagnostics.all()) {
      if (d.code == "voxel-too-fine") return d;
    }
    return Diagnostic();
  };
  const Diagnostic thin = refused(Vec3(100'000, 1, 1));
  EXPECT_NE(thin.what.find("lie 250000 voxels of 0.4 mm"), std::string::npos) << thin.what;
  EXPECT_NE(thin.remedy.find("no larger voxel helps: 1.7 mm"), std::string::npos) << thin.remedy;
  const Diagnostic thick = refused(Vec3(100'000, 10, 10));
  EXPECT_NE(thick.remedy.find("--voxel 1.7 should fit"), std::string::npos) << thick.remedy;
}

}  // namespace
}  // namespace proveout::cli
