// The machine lets us down: disk full, folder read-only, memory short, process killed or
// interrupted. No half-written file under a result's name, a documented exit status, a message.
#include <fcntl.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <random>

#include "tests/report/bad_input/child_process.h"

namespace proveout::child {
namespace {

namespace fs = std::filesystem;

// A small job in a folder of its own, and what an undisturbed run of it writes.
class Faults : public testing::Test {
 protected:
  Faults() {
    here_.folder = folder_.path();
    folder_.file("a.nc", small_program);
    folder_.file("job.toml", small_job);
  }

  Ended run_job(const Limits& limits, const std::function<void(pid_t, double)>& meanwhile = {}) {
    return run({"run", "job.toml", "--quiet", "-o", "out"}, limits, meanwhile);
  }

  // A child without root's rights, in the folder with these; it must be able to reach itself.
  Limits without_rights(fs::perms of_folder) {
    Limits limits = here_;
    limits.as_nobody = true;
    limits.executable = folder_.path() / "proveout";
    fs::copy_file(PROVEOUT_EXECUTABLE, limits.executable);
    fs::permissions(folder_.path(), of_folder);
    return limits;
  }

  // What is in the output folder, without what differs between two runs by nature.
  std::map<std::string, std::string> written() const {
    std::map<std::string, std::string> files;
    if (!fs::exists(folder_.path() / "out")) return files;
    for (const auto& e : fs::directory_iterator(folder_.path() / "out")) {
      const std::string name = e.path().filename();
      std::string text = text_of(e.path());
      if (name.starts_with("result.json")) {
        auto json = nlohmann::ordered_json::parse(text, nullptr, false);
        if (json.is_object()) {
          json.erase("run");
          text = json.dump();
        }
        EXPECT_TRUE(json.is_object() || name != "result.json") << "result.json is cut short";
      }
      if (name.starts_with("report.html")) text = std::to_string(text.ends_with("</html>\n"));
      files[name] = text;
    }
    return files;
  }

  Folder folder_;
  Limits here_;
};

TEST_F(Faults, FullDiskIsStatus3AndKeepsTheEarlierResult) {
  ASSERT_EQ(run_job(here_).status, 0);
  const auto whole = written();
  ASSERT_GE(whole.size(), 4u);
  for (const rlim_t bytes : {0, 64, 256, 512, 1024, 2048, 4096}) {
    Limits limits = here_;
    limits.file_bytes = bytes;
    const Ended r = run_job(limits);
    EXPECT_EQ(r.status, 3) << bytes << " bytes a file\n" << r.err;
    EXPECT_EQ(written(), whole) << bytes << " bytes a file";
    if (bytes >= 256) {
      EXPECT_NE(r.err.find("cannot write"), std::string::npos) << r.err;
    }
  }
}

TEST_F(Faults, FullDeviceIsStatus3AndStaysADevice) {
  const Ended r =
      run({"run", "job.toml", "--quiet", "--no-html", "-o", "out", "--json", "/dev/full"}, here_);
  EXPECT_EQ(r.status, 3) << r.err;
  EXPECT_TRUE(fs::is_character_file("/dev/full"));
  EXPECT_NE(r.err.find("/dev/full"), std::string::npos) << r.err;
}

TEST_F(Faults, FullStandardOutputIsStatus3) {
  Limits limits = here_;
  limits.standard_output = "/dev/full";
  for (const std::vector<std::string>& words :
       std::vector<std::vector<std::string>>{{"list", "a.nc"},
                                             {"list", "a.nc", "--plain"},
                                             {"time", "a.nc", "--json", "-"},
                                             {"run", "job.toml", "--no-html", "--json", "-"},
                                             {"run", "job.toml", "--no-html"},
                                             {"manual"},
                                             {"completion", "bash"},
                                             {"run", "--help"},
                                             {"--version"},
                                             {"--help"}}) {
    const Ended r = run(words, limits);
    EXPECT_EQ(r.status, 3) << words.front() << "\n" << r.err;
    const auto at = r.err.find("proveout: cannot write to standard output");
    EXPECT_NE(at, std::string::npos) << words.front() << "\n" << r.err;
    EXPECT_EQ(r.err.find("proveout: ", at + 1), std::string::npos) << "said twice\n" << r.err;
  }
  EXPECT_EQ(run({"list", "missing.nc"}, limits).status, 2);
}

TEST_F(Faults, ReadOnlyFolderIsStatus3) {
  // Root may write anywhere.
  Limits limits = without_rights(fs::perms(0555));
  const Ended r = run_job(limits);
  EXPECT_EQ(r.status, 3) << r.err;
  EXPECT_NE(r.err.find("cannot write"), std::string::npos) << r.err;
  fs::permissions(folder_.path(), fs::perms(0755));
  EXPECT_TRUE(written().empty());
}

TEST_F(Faults, UnreadableProgramIsStatus2) {
  Limits limits = without_rights(fs::perms(0777));
  fs::permissions(folder_.path() / "a.nc", fs::perms(0));
  const Ended r = run_job(limits);
  EXPECT_EQ(r.status, 2) << r.err;
  EXPECT_NE(r.err.find("permissions"), std::string::npos) << r.err;
}

bool takes_nameless_files(const fs::path& folder) {
  const int file = ::open(folder.c_str(), O_TMPFILE | O_WRONLY, 0600);
  if (file >= 0) ::close(file);
  return file >= 0;
}

// Half of the rounds have an earlier result in the folder: each file is the new one or that one.
TEST_F(Faults, KilledAtAnyMomentLeavesWholeFilesOnly) {
  const Ended undisturbed = run_job(here_);
  ASSERT_EQ(undisturbed.status, 0);
  const auto whole = written();
  const unsigned seed = 9;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> moment(0, 1.1 * undisturbed.seconds);
  const bool nameless = takes_nameless_files(folder_.path());
  // As written() gives it back.
  const auto earlier = [](const std::string& name) -> std::string {
    return name == "result.json" ? R"({"earlier":true})" : "of an earlier run</html>\n";
  };
  int killed = 0, caught = 0;
  for (int i = 0; i < 40; ++i) {
    const bool over_earlier = i % 2 == 1;
    fs::remove_all(folder_.path() / "out");
    if (over_earlier) {
      fs::create_directory(folder_.path() / "out");
      for (const auto& [name, text] : whole)
        std::ofstream(folder_.path() / "out" / name) << earlier(name);
    }
    const double at = moment(random);
    const Ended r = run_job(here_, [&](pid_t id, double seconds) {
      if (seconds >= at) ::kill(id, SIGKILL);
    });
    killed += r.signal == SIGKILL ? 1 : 0;
    const auto left = written();
    if (over_earlier) {
      for (const auto& [name, text] : whole) EXPECT_TRUE(left.contains(name)) << name;
    }
    for (const auto& [name, text] : left) {
      const std::size_t part = name.find(".part-");
      if (part != std::string::npos) {
        if (!nameless) continue;
        // Caught between name and renaming: it is whole by then.
        ++caught;
      }
      const std::string meant = name.substr(0, part);
      ASSERT_TRUE(whole.contains(meant)) << name;
      if (over_earlier && text == earlier(name) && part == std::string::npos) continue;
      EXPECT_EQ(text, whole.at(meant)) << name << " killed at " << at << " s, seed " << seed;
    }
  }
  EXPECT_GT(killed, 10);
  EXPECT_LE(caught, 4);
}

TEST_F(Faults, ShortOfMemoryIsStatus3) {
  // From what the libraries need to load up to plenty; a grid that needs some hundred megabytes.
  std::string fine = small_job;
  fine.replace(fine.find("voxel = 1.0"), 11, "voxel = 0.06");
  folder_.file("job.toml", fine);
  if (sanitized) return;  // shadow memory does not fit under any such limit
  int short_of_memory = 0;
  for (const rlim_t megabytes : {260, 330, 400, 500, 700}) {
    fs::remove_all(folder_.path() / "out");
    Limits limits = here_;
    limits.memory_bytes = megabytes << 20;
    const Ended r =
        run({"run", "job.toml", "--quiet", "-o", "out", "--threads", "2"}, limits, {}, 60);
    EXPECT_FALSE(r.timed_out) << megabytes << " MB";
    EXPECT_EQ(r.signal, 0) << megabytes << " MB\n" << r.err;
    EXPECT_TRUE(r.status == 0 || r.status == 3) << megabytes << " MB: " << r.status << "\n"
                                                << r.err;
    if (r.status != 3) continue;
    ++short_of_memory;
    EXPECT_NE(r.err.find("memory"), std::string::npos) << r.err;
    for (const auto& [name, text] : written()) {
      EXPECT_EQ(name.find(".part-"), std::string::npos) << megabytes << " MB";
    }
  }
  EXPECT_GT(short_of_memory, 0);
}

// Whether the process has come far enough to wait for its signals: before, they end it at once.
bool awaits_signals(pid_t id) {
  std::ifstream status("/proc/" + std::to_string(id) + "/status");
  for (std::string line; std::getline(status, line);) {
    if (line.starts_with("SigBlk:"))
      return line.find_first_not_of("SigBlk:\t0") != std::string::npos;
  }
  return false;
}

TEST_F(Faults, InterruptedEndsWithinASecondAndSaysSo) {
  std::string fine = small_job;
  fine.replace(fine.find("voxel = 1.0"), 11, "voxel = 0.02");
  folder_.file("job.toml", fine);
  std::string text = "G21 G90\nT1 M6\nS12000 M3\nG0 X-5 Y0 Z5\nG1 Z-1 F300\n";
  for (int i = 0; i < 4000; ++i) {
    text += "X" + std::to_string(35 - i % 2 * 40) + " Y" + std::to_string(i % 20) + " Z-" +
            std::to_string(1 + i % 9) + "\n";
  }
  folder_.file("a.nc", text + "M30\n");
  for (const int signal : {SIGINT, SIGTERM}) {
    for (const double moment : {0.3, 0.7, 1.5}) {
      const double at = sanitized ? 6 * moment : moment;  // it takes longer to begin
      double sent = 0;
      const Ended r = run_job(here_, [&](pid_t id, double seconds) {
        if (seconds < at || sent > 0 || !awaits_signals(id)) return;
        sent = seconds;
        ::kill(id, signal);
      });
      ASSERT_GT(sent, 0) << "the job ended before it could be interrupted";
      EXPECT_EQ(r.status, 130) << r.err;
      EXPECT_NE(r.err.find("stopped before the end"), std::string::npos) << r.err;
      EXPECT_LT(r.seconds - sent, sanitized ? 10 : 1.0) << "interrupted at " << at << " s";
      EXPECT_TRUE(written().empty());
    }
  }
}

// Whether the process has a file of that folder open, with a name or without.
bool writes_into(pid_t id, const fs::path& folder) {
  std::error_code failure;
  for (fs::directory_iterator e("/proc/" + std::to_string(id) + "/fd", failure), end;
       !failure && e != end; e.increment(failure)) {
    std::error_code gone;
    if (fs::read_symlink(e->path(), gone).string().starts_with(folder.string() + "/")) return true;
  }
  return false;
}

// Common practice, no source: a set of results is of one run, whenever somebody presses Ctrl-C.
TEST_F(Faults, InterruptedWhileWritingLeavesTheResultsOfOneRun) {
  const std::vector<std::string> words{"run",       "job.toml", "--quiet", "--meshes", "--paths",
                                       "--section", "-0.5",     "-o",      "out"};
  std::string fine = small_job;
  fine.replace(fine.find("voxel = 1.0"), 11, "voxel = 0.5");
  std::string other_program = small_program;
  other_program.replace(other_program.find("X35"), 3, "X25");
  const auto job = [&](const std::string& name) {
    std::string text = fine;
    folder_.file("job.toml", text.replace(text.find("small"), 5, name));
  };
  folder_.file("a.nc", other_program);
  job("second");
  const Ended undisturbed = run(words, here_);
  ASSERT_EQ(undisturbed.status, 0) << undisturbed.err;
  const auto second = written();
  fs::remove_all(folder_.path() / "out");
  folder_.file("a.nc", small_program);
  job("first");
  ASSERT_EQ(run(words, here_).status, 0);
  const auto first = written();
  const fs::path kept = folder_.path() / "kept";
  fs::copy(folder_.path() / "out", kept, fs::copy_options::recursive);
  ASSERT_NE(first.at("result.json"), second.at("result.json"));
  folder_.file("a.nc", other_program);
  job("second");
  std::mt19937 random(10);
  std::uniform_real_distribution<double> after(0, undisturbed.seconds);
  int stopped = 0;
  for (int i = 0; i < 30; ++i) {
    fs::remove_all(folder_.path() / "out");
    fs::copy(kept, folder_.path() / "out", fs::copy_options::recursive);
    double began = -1, sent = -1;
    const double wait = i % 3 == 0 ? 0 : after(random);
    const Ended r = run(words, here_, [&](pid_t id, double seconds) {
      if (began < 0 && writes_into(id, folder_.path() / "out")) began = seconds;
      if (began < 0 || sent >= 0 || seconds < began + wait) return;
      sent = seconds;
      ::kill(id, i % 2 == 0 ? SIGINT : SIGTERM);
    });
    if (r.status == 130) {
      ++stopped;
      const bool none = r.err.find("nothing was written") != std::string::npos;
      EXPECT_EQ(written(), none ? first : second) << r.err;
      EXPECT_LT(r.seconds - sent, sanitized ? 10 : 1.0);
    } else {
      EXPECT_EQ(r.status, 0) << r.err;
      EXPECT_EQ(written(), second);
    }
  }
  EXPECT_GE(stopped, 3);
}

// The program's file is not there: the place is looked at before anything is read.
TEST_F(Faults, PlacesThatCannotBeWrittenAreFoundBeforeTheCut) {
  fs::remove(folder_.path() / "a.nc");
  const std::string long_name(300, 'x'), nearly_long(250, 'x');
  for (const std::vector<std::string>& place : std::vector<std::vector<std::string>>{
           {"-o", long_name},
           {"-o", "new/" + long_name + "/deeper"},
           {"--json", long_name},
           {"--json", nearly_long}}) {  // beside it, its part would have too long a name
    std::vector<std::string> words{"run", "job.toml"};
    words.insert(words.end(), place.begin(), place.end());
    const Ended r = run(words, here_);
    EXPECT_EQ(r.status, 2) << place[1] << "\n" << r.err;
    EXPECT_NE(r.err.find(place[0]), std::string::npos) << r.err;
    EXPECT_NE(r.err.find("too long"), std::string::npos) << r.err;
  }
  Limits limits = here_;
  limits.as_nobody = true;
  limits.executable = folder_.path() / "proveout";
  fs::copy_file(PROVEOUT_EXECUTABLE, limits.executable);
  fs::create_directory(folder_.path() / "there");
  fs::permissions(folder_.path() / "there", fs::perms(0555));
  fs::create_directory(folder_.path() / "open");
  fs::permissions(folder_.path() / "open", fs::perms(0777));
  fs::permissions(folder_.path(), fs::perms(0755));
  for (const std::vector<std::string>& place : std::vector<std::vector<std::string>>{
           {"-o", "there"}, {"-o", "there/new"}, {"-o", "open", "--json", "there/r.json"}}) {
    std::vector<std::string> words{"run", "job.toml"};
    words.insert(words.end(), place.begin(), place.end());
    const Ended r = run(words, limits);
    EXPECT_EQ(r.status, 3) << r.err;
    EXPECT_NE(r.err.find("cannot write"), std::string::npos) << r.err;
    EXPECT_NE(r.err.find("there"), std::string::npos) << r.err;
    EXPECT_EQ(r.err.find("a.nc"), std::string::npos) << r.err;
  }
  // Rights alone would allow this one: root may write to the kernel's own folder, which takes no
  // files.
  const Ended kernels = run({"run", "job.toml", "-o", "/proc/proveout-out"}, here_);
  EXPECT_EQ(kernels.status, 3) << kernels.err;
  EXPECT_NE(kernels.err.find("cannot write to /proc"), std::string::npos) << kernels.err;
  // A place that can be had gets as far as the missing program.
  const Ended r = run({"run", "job.toml", "-o", "open/new"}, limits);
  EXPECT_EQ(r.status, 2) << r.err;
  EXPECT_NE(r.err.find("a.nc"), std::string::npos) << r.err;
}

// As daemons do (common practice, no source): a closed standard descriptor is opened first, so that
// no file of the results takes its number.
TEST_F(Faults, ClosedDescriptorsGetNoResultsIntoThem) {
  ASSERT_EQ(run_job(here_).status, 0);
  const auto whole = written();
  for (const std::vector<int>& closed :
       std::vector<std::vector<int>>{{0}, {1}, {2}, {0, 1}, {1, 2}, {0, 1, 2}}) {
    fs::remove_all(folder_.path() / "out");
    Limits limits = here_;
    limits.closed = closed;
    const Ended quiet = run_job(limits);
    EXPECT_EQ(quiet.status, 0) << quiet.err;
    EXPECT_EQ(written(), whole) << closed.front() << " of " << closed.size();
    const bool no_output = std::count(closed.begin(), closed.end(), 1) != 0;
    const Ended json = run({"run", "job.toml", "--quiet", "-o", "out", "--json", "-"}, limits);
    EXPECT_EQ(json.status, no_output ? 3 : 0) << json.err;
    EXPECT_EQ(written(), whole) << closed.front() << " of " << closed.size();
    if (closed == std::vector<int>{1}) {
      EXPECT_NE(json.err.find("cannot write to standard output"), std::string::npos) << json.err;
    }
  }
}

// `proveout ... | head`: the reader may leave. The status is what the command found.
TEST_F(Faults, AReaderWhoLeavesIsNoFailure) {
  folder_.file("b.nc", std::string(small_program).replace(0, 2, "%\n(another)\n"));
  ASSERT_EQ(
      run({"check", "job.toml", "--baseline", "kept.json", "--accept", "--quiet"}, here_).status,
      0);
  std::string deeper = small_program;
  deeper.replace(deeper.find("X35"), 3, "X25");
  folder_.file("deeper.nc", deeper);
  std::string other = small_job;
  folder_.file("other.toml", other.replace(other.find("a.nc"), 4, "deeper.nc"));
  Limits limits = here_;
  for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
           {"run", "job.toml", "--no-html"},
           {"run", "job.toml", "--no-html", "--json", "-"},
           {"run", "job.toml", "--no-html", "--fail-on", "note"},
           {"check", "job.toml", "--baseline", "kept.json"},
           {"check", "other.toml", "--baseline", "kept.json"},  // its path is shorter
           {"list", "a.nc"},
           {"list", "a.nc", "--plain"},
           {"list", "a.nc", "--totals"},
           {"differ", "a.nc", "b.nc"},
           {"differ", "a.nc", "deeper.nc"},
           {"time", "a.nc", "--json", "-"},
           {"manual"},
           {"run", "--help"}}) {
    limits.reader_leaves = false;
    const Ended read = run(words, limits);
    EXPECT_LT(read.status, 2) << words.front() << "\n" << read.err;
    limits.reader_leaves = true;
    const Ended left = run(words, limits);
    EXPECT_EQ(left.status, read.status) << words.front() << "\n" << left.err;
    EXPECT_EQ(left.err.find("standard output"), std::string::npos) << left.err;
  }
  EXPECT_EQ(run({"check", "other.toml", "--baseline", "kept.json"}, limits).status, 1);
}

// POSIX, sh: a background command of a script ignores SIGINT, and goes on.
TEST_F(Faults, AnInterruptTheParentIgnoresStaysIgnored) {
  for (const bool ignored : {true, false}) {
    Limits limits = here_;
    limits.ignores_interrupts = ignored;
    fs::remove_all(folder_.path() / "out");
    int sent = 0;
    const Ended r = run_job(limits, [&](pid_t id, double) {
      if (::kill(id, SIGINT) == 0) ++sent;
    });
    ASSERT_GT(sent, ignored ? 3 : 0);
    if (ignored) {
      EXPECT_EQ(r.status, 0) << r.err;
      EXPECT_TRUE(written().contains("result.json"));
    } else {
      EXPECT_NE(r.status, 0) << r.err;
      EXPECT_FALSE(written().contains("result.json"));
    }
  }
}

// Containers and `ulimit -u` leave a process no further threads: it goes on with those it has.
TEST_F(Faults, WithoutFurtherThreadsTheResultIsTheSame) {
  ASSERT_EQ(run_job(here_).status, 0);
  const auto whole = written();
  if (sanitized) return;  // the sanitizers start threads of their own
  Limits limits = without_rights(fs::perms(0777));
  for (const rlim_t processes : {1, 2, 3}) {
    for (const char* threads : {"0", "1", "4"}) {
      fs::remove_all(folder_.path() / "out");
      limits.processes = processes;
      const Ended r =
          run({"run", "job.toml", "--quiet", "-o", "out", "--threads", threads}, limits);
      EXPECT_EQ(r.status, 0) << processes << " processes, " << threads << " threads\n" << r.err;
      EXPECT_EQ(written(), whole);
    }
  }
}

// One thread asked for is one from reading to the page, beside the one that waits for signals.
TEST_F(Faults, OneThreadIsOneToTheEnd) {
  std::string fine = small_job;
  fine.replace(fine.find("voxel = 1.0"), 11, "voxel = 0.2");
  folder_.file("job.toml", fine);
  int last = 0, looked = 0;
  const auto look = [&](pid_t id, double) {
    if (!awaits_signals(id)) return;
    std::istringstream status(text_of("/proc/" + std::to_string(id) + "/status"));
    for (std::string word; status >> word;) {
      if (word != "Threads:" || !(status >> word)) continue;
      ++looked;
      last = std::stoi(word);
    }
  };
  const Ended r = run({"run", "job.toml", "--quiet", "-o", "out", "--threads", "1"}, here_, look);
  EXPECT_EQ(r.status, 0) << r.err;
  EXPECT_GT(looked, 3);
  if (sanitized) return;
  EXPECT_LE(last, 2);  // what was once started stays to the end
}

// A folder's jobs are processes: as many at a time as there may be, and where there may be none
// that is said.
TEST_F(Faults, AFoldersJobsWaitForProcesses) {
  Limits limits = without_rights(fs::perms(0777));
  if (sanitized) return;  // the sanitizers start threads of their own
  for (const char* copy : {"two.toml", "three.toml", "four.toml"})
    fs::copy_file(folder_.path() / "job.toml", folder_.path() / copy);
  for (const rlim_t processes : {1, 3, 4, 7}) {
    fs::remove_all(folder_.path() / "out");
    limits.processes = processes;
    const Ended r = run(
        {"check", ".", "--accept", "--no-html", "--fail-on", "none", "--at-once", "4", "-o", "out"},
        limits);
    if (processes < 3) {  // the check itself has two threads
      EXPECT_EQ(r.status, 3) << r.err;
      EXPECT_NE(r.err.find("no process for a job can be started"), std::string::npos) << r.err;
      EXPECT_FALSE(fs::exists(folder_.path() / "out/summary.json"));
      continue;
    }
    EXPECT_EQ(r.status, 0) << processes << " processes\n" << r.out << r.err;
    EXPECT_NE(r.out.find("4 of 4 jobs: as before"), std::string::npos) << r.out << r.err;
  }
}

// A pipe under a result's name waits for a reader who never comes, a folder under it stays in the
// way, and a link that leads nowhere is no folder: each is said before anything is cut.
TEST_F(Faults, OutputThatIsNoFileIsRefusedBeforeCutting) {
  const fs::path out = folder_.path() / "out";
  fs::create_directory(out);
  ASSERT_EQ(::mkfifo((out / "result.json").c_str(), 0600), 0);
  const Ended pipe = run({"run", "job.toml", "-o", "out"}, here_);
  EXPECT_EQ(pipe.status, 2) << pipe.err;
  EXPECT_NE(pipe.err.find("out/result.json"), std::string::npos) << pipe.err;
  EXPECT_LT(pipe.seconds, sanitized ? 10 : 1.0);
  fs::remove(out / "result.json");
  fs::create_directory(out / "photos");
  for (const char* name : {"report.html", "setup-2.stl"}) {
    fs::create_directory(out / name);
    const Ended folder = run({"run", "job.toml", "-o", "out"}, here_);
    EXPECT_EQ(folder.status, 2) << folder.err;
    EXPECT_NE(folder.err.find(std::string("out/") + name + " is a folder"), std::string::npos)
        << folder.err;
    EXPECT_LT(folder.seconds, sanitized ? 10 : 1.0);
    fs::remove(out / name);
  }
  EXPECT_LT(run({"run", "job.toml", "-o", "out"}, here_).status, 2);
  fs::create_symlink("nowhere", folder_.path() / "link");
  const Ended link = run({"run", "job.toml", "-o", "link"}, here_);
  EXPECT_EQ(link.status, 2) << link.err;
  EXPECT_NE(link.err.find("leads nowhere"), std::string::npos) << link.err;
  EXPECT_LT(link.seconds, sanitized ? 10 : 1.0);
}

}  // namespace
}  // namespace proveout::child
