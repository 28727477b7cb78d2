// Runs the built proveout as a child process, with limits, and tells how it ended.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <functional>
#include <set>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

namespace proveout::child {

#ifdef PROVEOUT_SANITIZED
constexpr bool sanitized = true;
#else
constexpr bool sanitized = false;
#endif

// Seconds of processor time a child may take; instrumented builds are about ten times slower.
constexpr double time_cap = sanitized ? 120 : 10;
// What waits and takes no processor time hangs: killed after so many times the cap. Other work on
// the machine does not count.
constexpr double hanging = 6;
// Bytes of resident memory a small job with bad input may take; shadow memory is not counted.
constexpr long memory_cap_kib = 1 << 20;

struct Limits {
  rlim_t file_bytes = RLIM_INFINITY;
  rlim_t memory_bytes = RLIM_INFINITY;  // address space; not used in instrumented builds
  std::filesystem::path folder;         // where the child runs; empty: here
  std::filesystem::path executable = PROVEOUT_EXECUTABLE;
  std::filesystem::path standard_output;  // a device to write to; empty: caught
  bool as_nobody = false;                 // give up root's rights, where the test has them
  rlim_t processes = RLIM_INFINITY;       // with threads; root's number is not limited
  std::vector<int> closed;                // of the standard descriptors
  bool reader_leaves = false;             // standard output is a pipe that nobody reads
  bool ignores_interrupts = false;        // as a shell starts what it puts into the background
};

struct Ended {
  int status = -1;  // exit status; -1: did not exit by itself
  int signal = 0;
  bool timed_out = false;
  double seconds = 0;
  long peak_kib = 0;
  std::string out, err;
};

inline std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

// A folder of its own, gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "proveout-child-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no folder for the test";
    path_ = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::permissions(path_, std::filesystem::perms::owner_all, ignored);
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::filesystem::path file(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
    return path_ / name;
  }
  // Every file and folder below, by its path from here.
  std::set<std::string> all_names() const {
    std::set<std::string> out;
    for (const auto& e : std::filesystem::recursive_directory_iterator(path_)) {
      out.insert(std::filesystem::relative(e.path(), path_).string());
    }
    return out;
  }

 private:
  std::filesystem::path path_;
};

// Runs `proveout words...`. while_running is called every millisecond with the child's id and the
// seconds since its start. The child may take cap seconds of processor time, and six times that in
// all: then it is killed.
inline Ended run(const std::vector<std::string>& words, const Limits& limits = {},
                 const std::function<void(pid_t, double)>& while_running = {},
                 double cap = time_cap) {
  const Folder streams;
  const std::string out = streams.path() / "out", err = streams.path() / "err";
  std::vector<std::string> all{limits.executable.string()};
  all.insert(all.end(), words.begin(), words.end());
  std::vector<char*> arguments;
  for (auto& w : all) arguments.push_back(w.data());
  arguments.push_back(nullptr);
  // A finding of a sanitizer must not look like one of the documented exit statuses.
  ::setenv("ASAN_OPTIONS", "exitcode=99:allocator_may_return_null=0", 0);
  ::setenv("LSAN_OPTIONS",
           "print_suppressions=0:suppressions=" PROVEOUT_FIXTURES "/../tests/sanitizers/leaks.supp",
           0);
  ::setenv("UBSAN_OPTIONS", "halt_on_error=1:exitcode=99:print_stacktrace=1", 0);
  const auto start = std::chrono::steady_clock::now();
  // Before the fork: a signal may come before the child has said anything.
  const auto before = limits.ignores_interrupts ? ::signal(SIGINT, SIG_IGN) : SIG_DFL;
  const pid_t id = ::fork();
  if (id == 0) {
    const int to_out = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int to_err = ::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int from = ::open("/dev/null", O_RDONLY);
    ::dup2(from, 0);
    ::dup2(
        limits.standard_output.empty() ? to_out : ::open(limits.standard_output.c_str(), O_WRONLY),
        1);
    ::dup2(to_err, 2);
    if (int ends[2]; limits.reader_leaves && ::pipe(ends) == 0) {
      ::dup2(ends[1], 1);
      ::close(ends[0]);
      ::close(ends[1]);
    }
    if (!limits.folder.empty() && ::chdir(limits.folder.c_str()) != 0) ::_exit(98);
    // The child shall have no descriptors but the standard ones.
    for (const int spare : {to_out, to_err, from}) {
      if (spare > 2) ::close(spare);
    }
    const auto limit = [](__rlimit_resource what, rlim_t most) {
      const rlimit both{most, most};
      if (most != RLIM_INFINITY) ::setrlimit(what, &both);
    };
    limit(RLIMIT_FSIZE, limits.file_bytes);
    if (!sanitized) limit(RLIMIT_AS, limits.memory_bytes);
    limit(RLIMIT_CORE, 0);
    constexpr uid_t nobody = 65534;
    if (limits.as_nobody && ::geteuid() == 0 && (::setgid(nobody) != 0 || ::setuid(nobody) != 0)) {
      ::_exit(96);
    }
    limit(RLIMIT_NPROC, limits.processes);
    for (const int descriptor : limits.closed) ::close(descriptor);
    ::execv(arguments[0], arguments.data());
    ::_exit(97);
  }
  if (limits.ignores_interrupts) ::signal(SIGINT, before);
  Ended ended;
  int how = 0;
  rusage usage{};
  while (::wait4(id, &how, WNOHANG, &usage) == 0) {
    ended.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    if (ended.seconds > hanging * cap) {
      ended.timed_out = true;
      ::kill(id, SIGKILL);
    } else if (while_running) {
      while_running(id, ended.seconds);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  ended.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  ended.peak_kib = usage.ru_maxrss;
  const auto in_seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  if (in_seconds(usage.ru_utime) + in_seconds(usage.ru_stime) > cap) ended.timed_out = true;
  if (WIFEXITED(how)) ended.status = WEXITSTATUS(how);
  if (WIFSIGNALED(how)) ended.signal = WTERMSIG(how);
  ended.out = text_of(out);
  ended.err = text_of(err);
  return ended;
}

// A small job that runs; its program is a.nc beside it.
inline const char* small_job =
    "name = \"small\"\n[simulation]\nvoxel = 1.0\n[stock]\nsize = [30, 20, 10]\n[[tools]]\n"
    "number = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 10\nstickout = 20\n"
    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
    "zero = { x = \"min\", y = \"min\", z = \"top\" }\n";
inline const char* small_program =
    "%\nG21 G90\nT1 M6\nS12000 M3\nG0 X-5 Y10 Z5\nG1 Z-1 F300\nX35 F600\nG0 Z5\nM30\n%\n";

}  // namespace proveout::child
