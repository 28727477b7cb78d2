// What a job is read from is never written over, and no rewritten program is lost to another of its
// name. Twins: the bytes of the inputs before and after.
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
