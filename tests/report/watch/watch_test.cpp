// The program itself, watching a small job, while the test does what posts and editors do.
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <thread>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

namespace fs = std::filesystem;
using std::chrono::milliseconds;

class Watching : public ::testing::Test {
 protected:
  Watching() {
    folder_.file("a.nc", small_program);
    job_ = folder_.file("job.toml", small_job);
  }
  ~Watching() override {
    if (child_ > 0) {
      ::kill(child_, SIGKILL);
      ::waitpid(child_, nullptr, 0);
    }
  }
  void start() {
    const std::string out = path("said.txt");
    child_ = ::fork();
    if (child_ == 0) {
      const int to = ::open(out.c_str(), O_CREAT | O_WRONLY | O_APPEND, 0600);
      ::dup2(to, STDOUT_FILENO);
      ::dup2(to, STDERR_FILENO);
      ::execl(PROVEOUT_EXECUTABLE, PROVEOUT_EXECUTABLE, "watch", job_.c_str(), "--voxel", "1",
              nullptr);
      ::_exit(127);
    }
  }
  std::string path(const std::string& name) const { return (folder_.path() / name).string(); }
  std::string said() const { return read(path("said.txt")); }
  // Waits until the words are said; false: they were not, in half a minute.
  bool says(const std::string& words) const {
    for (int i = 0; i < 600; ++i) {
      if (said().find(words) != std::string::npos) return true;
      std::this_thread::sleep_for(milliseconds(50));
    }
    return false;
  }
  static std::string deeper() {
    std::string text = small_program;
    return text.replace(text.find("Z-1"), 3, "Z-3");
  }
  // As a post does that never leaves half a file.
  void renamed_over(const std::string& name, const std::string& text) const {
    fs::rename(folder_.file("posted.tmp", text), path(name));
  }
  int stopped_by(int signal) {
    ::kill(child_, signal);
    int status = 0;
    ::waitpid(child_, &status, 0);
    child_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }

  const Folder folder_;
  std::string job_;
  pid_t child_ = -1;
};

TEST_F(Watching, RunsAgainForWhatChangesAndEndsWell) {
  start();
  ASSERT_TRUE(says("watching 2 files; Ctrl-C ends")) << said();
  EXPECT_TRUE(fs::exists(path("job-out/result.json")));
  renamed_over("a.nc", deeper());
  ASSERT_TRUE(says("run 2, a.nc changed")) << said();
  ASSERT_TRUE(says("1 of 1 stretches cut")) << said();
  // Feeds and comments leave the stock as it is: nothing is cut.
  std::string slow = deeper();
  folder_.file("a.nc", slow.replace(slow.find("F600"), 4, "F300"));
  ASSERT_TRUE(says("run 3, a.nc changed")) << said();
  ASSERT_TRUE(says("0 of 1 stretches cut: worse: new chip-thin (A, T1), time")) << said();
  // The job file counts as well.
  std::string job = small_job;
  folder_.file("job.toml", job.replace(job.find("diameter = 6"), 12, "diameter = 5"));
  ASSERT_TRUE(says("run 4, job.toml changed")) << said();
  EXPECT_EQ(stopped_by(SIGINT), 0) << said();
  EXPECT_FALSE(fs::exists(path("job-out/page-version.js")));
  EXPECT_EQ(said().find("run 5"), std::string::npos);
}

TEST_F(Watching, LivesThroughABrokenProgram) {
  start();
  ASSERT_TRUE(says("watching 2 files")) << said();
  const std::string kept = read(path("job-out/result.json"));
  renamed_over("a.nc", "%\nG21 G90\nT1 M6\nG1 X1 Y1 F1 (no end\nG99.9 Q\n%\n");
  ASSERT_TRUE(says("run 2, a.nc changed: no result")) << said();
  EXPECT_NE(said().find("a.nc:"), std::string::npos) << said();
  EXPECT_EQ(read(path("job-out/result.json")), kept);
  // Away, and there again.
  fs::remove(path("a.nc"));
  std::this_thread::sleep_for(milliseconds(300));
  renamed_over("a.nc", small_program);
  ASSERT_TRUE(says("run 3, a.nc changed")) << said();
  ASSERT_TRUE(says("neither better nor worse")) << said();
  EXPECT_EQ(stopped_by(SIGTERM), 0);
}

// As a tool does that copies times back: in place, of the same size, with the time of before.
TEST_F(Watching, BytesWrittenInPlaceWithTheOldTimePutBackAreAChange) {
  start();
  ASSERT_TRUE(says("watching 2 files")) << said();
  struct stat before = {}, after = {};
  ASSERT_EQ(::stat(path("a.nc").c_str(), &before), 0);
  folder_.file("a.nc", deeper());
  const timespec times[] = {before.st_atim, before.st_mtim};
  ASSERT_EQ(::utimensat(AT_FDCWD, path("a.nc").c_str(), times, 0), 0);
  ASSERT_EQ(::stat(path("a.nc").c_str(), &after), 0);
  ASSERT_EQ(after.st_size, before.st_size);
  ASSERT_EQ(after.st_mtim.tv_nsec, before.st_mtim.tv_nsec);
  ASSERT_EQ(after.st_ino, before.st_ino);
  ASSERT_TRUE(says("run 2, a.nc changed")) << said();
  EXPECT_EQ(stopped_by(SIGINT), 0);
}

TEST_F(Watching, ANewTimeWithoutNewBytesIsNoChange) {
  start();
  ASSERT_TRUE(says("watching 2 files")) << said();
  folder_.file("a.nc", small_program);
  folder_.file("beside.nc", small_program);
  std::this_thread::sleep_for(milliseconds(1500));
  EXPECT_EQ(said().find("run 2"), std::string::npos) << said();
  EXPECT_EQ(stopped_by(SIGINT), 0);
}

TEST(Watch, RefusesWhatItCannotWatch) {
  const Folder folder;
  const CommandRun none = command({"watch", (folder.path() / "none.toml").string()});
  EXPECT_EQ(none.status, 2);
  EXPECT_NE(none.err.find("none.toml"), std::string::npos) << none.err;
  const std::string job = folder.file("job.toml", small_job);
  EXPECT_EQ(command({"watch", job, "--json", "-"}).status, 2);
}

}  // namespace
}  // namespace proveout::cli
