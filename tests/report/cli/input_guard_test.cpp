// What a job is read from is never written over, and no rewritten program is lost to another of its
// name. Twins: the bytes of the inputs before and after.
#include <algorithm>
#include <map>

#include "report/files/output_names.h"
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

// The small job with a second setup, whose program has the first one's name in another folder.
std::string two_setups(const Folder& folder) {
  std::filesystem::create_directories(folder.path() / "second");
  folder.file("a.nc", small_program);
  folder.file("second/a.nc",
              "%\nG21 G90\nT1 M6\nS12000 M3\nG0 X-5 Y6 Z5\nG1 Z-2 F300\nX35 F600\nG0 Z5\nM30\n%\n");
  return folder.file("job.toml", std::string(small_job) +
                                     "[[setups]]\nname = \"B\"\nprogram = \"second/a.nc\"\n"
                                     "zero = { x = \"min\", y = \"min\", z = \"top\" }\n");
}

TEST(InputGuard, ResultsDoNotReplaceProgramOrJob) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  const std::string program = folder.file("a.nc", small_program);
  std::filesystem::create_symlink(program, folder.path() / "other.json");
  for (const std::string& target : {program, job, (folder.path() / "." / "a.nc").string(),
                                    (folder.path() / "other.json").string()}) {
    const CommandRun r = command({"run", job, "--json", target});
    EXPECT_EQ(r.status, 2) << target;
    EXPECT_NE(r.err.find("--json would write over"), std::string::npos) << r.err;
    EXPECT_EQ(read(program), small_program) << target;
    EXPECT_EQ(read(job), small_job) << target;
  }
  EXPECT_EQ(folder.names().size(), 3u);  // nothing was written
  EXPECT_EQ(command({"run", job, "--json", (folder.path() / "mine.json").string()}).status, 0);
}

TEST(InputGuard, OutputFolderDoesNotReplaceAProgram) {
  const Folder folder;
  std::string text = small_job;
  text.replace(text.find("a.nc"), 4, "moves.csv");
  const std::string job = folder.file("job.toml", text);
  folder.file("moves.csv", small_program);
  EXPECT_EQ(command({"run", job, "--out", folder.path().string()}).status, 2);
  EXPECT_EQ(read(folder.path() / "moves.csv"), small_program);
}

// Everything a run leaves is kept off its inputs: but for names with a number of their own.
TEST(InputGuard, GuardsEveryNameARunWrites) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const CommandRun r = command({"run", job, "--meshes", "--paths", "--pictures", "--stock-files",
                                "--quiet", "-o", (folder.path() / "out").string()});
  ASSERT_LE(r.status, 1) << r.err;
  const std::vector<std::string> guarded = files::output_names(1);
  std::size_t written = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder.path() / "out")) {
    const std::string name = entry.path().filename().string();
    ++written;
    if (name.starts_with("finding-")) continue;
    EXPECT_NE(std::find(guarded.begin(), guarded.end(), name), guarded.end()) << name;
  }
  EXPECT_GE(written, 12u);
}

TEST(InputGuard, RewrittenProgramsOfOneNameAreBothKept) {
  const Folder folder;
  const std::string job = two_setups(folder);
  const auto to = folder.path() / "brass";
  const CommandRun r =
      command({"retime", job, "--material", "brass", "--write-programs", to.string()});
  ASSERT_EQ(r.status, 0) << r.err;
  EXPECT_NE(read(to / "a-setup-1.nc").find("Y10"), std::string::npos);
  EXPECT_NE(read(to / "a-setup-2.nc").find("Y6"), std::string::npos);
}

TEST(InputGuard, RewrittenProgramsDoNotReplaceThePostedOnes) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  const std::string program = folder.file("a.nc", small_program);
  EXPECT_EQ(
      command({"retime", job, "--material", "brass", "--write-programs", folder.path().string()})
          .status,
      2);
  EXPECT_EQ(read(program), small_program);
}

// Runs the words and holds that they were refused and that every file is as before.
void expect_refused(const Folder& folder, const std::vector<std::string>& words) {
  std::map<std::string, std::string> before, after;
  for (const std::string& name : folder.names()) before[name] = read(folder.path() / name);
  const CommandRun r = command(words);
  for (const std::string& name : folder.names()) after[name] = read(folder.path() / name);
  EXPECT_EQ(r.status, 2) << words.front() << " " << words.back() << "\n" << r.err;
  EXPECT_NE(r.err.find("would write over"), std::string::npos) << r.err;
  EXPECT_EQ(before, after) << words.front() << " " << words.back();
}

TEST(InputGuard, MachineAndToolFilesOfAJobAreInputs) {
  const Folder folder;
  std::string text = small_job;
  const auto tools = text.find("[[tools]]"), setups = text.find("[[setups]]");
  const std::string tt = folder.file("tt.toml", text.substr(tools, setups - tools));
  text.erase(tools, setups - tools);
  const std::string mm = folder.file("mm.toml", "tool_change_s = 5\n");
  const std::string job =
      folder.file("job.toml", "machine = \"mm.toml\"\ntools = \"tt.toml\"\n" + text);
  const std::string program = folder.file("a.nc", small_program);
  const std::string here = folder.path().string();
  for (const std::string& input : {job, mm, tt, program}) {
    expect_refused(folder, {"run", job, "--json", input});
    expect_refused(folder, {"time", program, "--job", job, "--json", input});
  }
  expect_refused(folder, {"time", program, "--json", program});
  expect_refused(folder, {"time", program, "--machine", mm, "--json", mm});
  EXPECT_EQ(command({"time", program, "--job", job, "--json", here + "/new.json"}).status, 0);
}

TEST(InputGuard, ABaselineReplacesOnlyAResult) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  const std::string program = folder.file("a.nc", small_program);
  const std::string notes = folder.file("notes.txt", "G54 is the left corner\n");
  for (const std::string& target : {job, program, notes})
    expect_refused(folder, {"check", job, "--baseline", target, "--accept"});
  const std::string kept = folder.file("kept.json", "{\"schema\": \"proveout-result/0\"}");
  const std::string out = (folder.path() / "out").string();
  const auto accept = [&] {
    return command({"check", job, "--baseline", kept, "--accept", "--no-html", "-o", out}).status;
  };
  EXPECT_EQ(accept(), 0);  // over an earlier one
  EXPECT_EQ(accept(), 0);
  std::filesystem::remove(kept);
  EXPECT_EQ(accept(), 0);
  std::filesystem::remove_all(out);
  expect_refused(folder, {"check", job, "--baseline", kept, "-o", out, "--json", kept});
}

TEST(InputGuard, ReachWritesOverNothingItReads) {
  const Folder folder;
  folder.file("part.stl",
              "solid x\nfacet normal 0 0 -1\nouter loop\nvertex 0 0 0\nvertex 0 9 0\n"
              "vertex 9 0 0\nendloop\nendfacet\nfacet normal 0 -1 0\nouter loop\nvertex 0 0 0\n"
              "vertex 9 0 0\nvertex 0 0 9\nendloop\nendfacet\nfacet normal -1 0 0\nouter loop\n"
              "vertex 0 0 0\nvertex 0 0 9\nvertex 0 9 0\nendloop\nendfacet\n"
              "facet normal 1 1 1\nouter loop\nvertex 9 0 0\nvertex 0 9 0\nvertex 0 0 9\nendloop\n"
              "endfacet\nendsolid x\n");
  const std::string job =
      folder.file("job.toml", std::string(small_job) + "[part]\nmesh = \"part.stl\"\n");
  folder.file("a.nc", small_program);
  for (const char* input : {"job.toml", "a.nc", "part.stl"})
    expect_refused(folder, {"reach", job, "--json", (folder.path() / input).string()});
}

TEST(InputGuard, CalibrateWritesOverNothingItReads) {
  const Folder folder;
  const std::string machine = folder.file("m.toml", "tool_change_s = 5\n");
  const std::string program = folder.file("a.nc", small_program);
  const std::string log = folder.file("log.csv", "seconds,line\n0,5\n2,6\n5,7\n9,8\n");
  const std::string runs =
      folder.file("runs.csv", "program,measured_s,log\na.nc,20,\na.nc,,log.csv\n");
  for (const std::string& input : {machine, program, log, runs}) {
    for (const char* option : {"--out", "--json"})
      expect_refused(folder, {"calibrate", runs, "--machine", machine, option, input});
  }
}

TEST(InputGuard, CompareWritesOverNoResult) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const std::string kept = (folder.path() / "kept.json").string();
  ASSERT_EQ(command({"run", job, "--no-html", "--quiet", "--json", kept, "-o",
                     (folder.path() / "out").string()})
                .status,
            0);
  std::filesystem::remove_all(folder.path() / "out");
  for (const char* option : {"--html", "--json"})
    expect_refused(folder, {"compare", kept, kept, option, kept});
}

TEST(InputGuard, GatherKeepsTheShardsItReads) {
  const Folder folder;
  const std::string shard = folder.file(
      "summary.json",
      R"({"schema": "proveout-summary/1", "shard": {"index": 1, "count": 1}, "all_jobs": ["a.toml"],
          "jobs": [{"job": "a.toml", "status": 0}]})");
  expect_refused(folder, {"gather", shard, "-o", folder.path().string()});
  EXPECT_EQ(command({"gather", shard, "-o", (folder.path() / "whole").string()}).status, 0);
}

TEST(InputGuard, VoxelsBelowAMicrometreAreRefused) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  for (const char* voxel : {"1e-200", "0.0009", "0"}) {
    const CommandRun r = command({"run", job, "--forecast", "--voxel", voxel});
    EXPECT_EQ(r.status, 2) << voxel;
    EXPECT_EQ(r.out, "") << voxel;
  }
  std::string text = small_job;
  text.replace(text.find("voxel = 0.5"), 11, "voxel = 1e-9");
  const CommandRun r = command({"run", folder.file("tiny.toml", text)});
  EXPECT_EQ(r.status, 2);
  EXPECT_NE(r.err.find("tiny.toml:3"), std::string::npos) << r.err;
}

}  // namespace
}  // namespace proveout::cli
