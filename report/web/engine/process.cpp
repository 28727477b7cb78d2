// In place of report/cli/process.cpp and interrupt.cpp where the process is a page's worker or one
// of Node: there are no signals and no threads, standard descriptors are always open, and memory
// ends where WebAssembly's does.
#include "report/cli/process.h"

#include <emscripten.h>
#include <emscripten/heap.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <deque>
#include <exception>
#include <new>
#include <string>
#include <utility>

#include "report/cli/interrupt.h"
#include "report/cli/status.h"

namespace proveout::cli {
namespace {

[[noreturn]] void end_with(const std::string& words) {
  [[maybe_unused]] const auto written = ::write(STDERR_FILENO, words.data(), words.size());
  ::_exit(machine_failed);
}

// What no exception can carry; memory in short supply, mostly.
[[noreturn]] void on_terminate() {
  std::string words = "unexpected failure";
  if (const std::exception_ptr thrown = std::current_exception()) {
    try {
      std::rethrow_exception(thrown);
    } catch (const std::bad_alloc&) {
      words = "out of memory; a larger --voxel needs less";
    } catch (const std::exception& e) {
      words += std::string(": ") + e.what();
    } catch (...) {
    }
  }
  end_with("proveout: " + words + "\n");
}

}  // namespace

void prepare_process() { std::set_terminate(on_terminate); }
void use_no_more_threads_than(int) {}  // there is one

// A page ends its worker, and Node its process: neither comes back to ask.
const char* Interrupted::what() const noexcept { return "stopped before the end"; }
void catch_interrupts() {}
void end_well_when_interrupted() {}
bool interrupted() { return false; }
void stop_if_interrupted() {}

}  // namespace proveout::cli

// ---- what the system is asked for, answered for WebAssembly

// clang-format off
EM_JS(int, run_another, (const char* const* words, const char* log), {
  const list = [];
  for (let at = words >>> 2; HEAPU32[at]; ++at) list.push(UTF8ToString(HEAPU32[at]));
  return Module['runAnother'] ? Module['runAnother'](list.slice(1), UTF8ToString(log)) : -1;
});
EM_JS(int, reader_has_left, (), { return Module['readerHasLeft'] ? 1 : 0; });
EM_JS(int, number_of_process, (), { return typeof process === 'object' ? process.pid : 1; });
// clang-format on

namespace {

// Jobs of a folder run one after the other here, each to its end when it is started.
std::string log_of_next;
std::deque<std::pair<pid_t, int>> ended;
pid_t last_started = 0;

}  // namespace

extern "C" {

// The heap never shrinks: its size is the peak.
int getrusage(int, struct rusage* usage) {
  *usage = {};
  usage->ru_maxrss = static_cast<long>(emscripten_get_heap_size() / 1024);
  return 0;
}

// A run is begun where its forecast is up to 1.2 times what is free (sim/pipeline/dry_run.cpp):
// here the end is hard.
int getrlimit(int resource, struct rlimit* limit) {
  const rlim_t most =
      resource == RLIMIT_AS
          ? static_cast<rlim_t>(static_cast<double>(emscripten_get_heap_max()) / 1.2)
      : resource == RLIMIT_NOFILE ? 1024
                                  : RLIM_INFINITY;
  *limit = {most, most};
  return 0;
}

// Part of the names of files that are being written: two runs into one folder must not meet.
pid_t getpid() { return number_of_process(); }

// Asked of standard output alone: whether its reader has left.
int poll(struct pollfd* of, nfds_t count, int) {
  for (nfds_t i = 0; i < count; ++i)
    of[i].revents = static_cast<short>(reader_has_left() != 0 ? POLLERR : POLLOUT);
  return static_cast<int>(count);
}

int posix_spawn_file_actions_init(posix_spawn_file_actions_t*) { return 0; }
int posix_spawn_file_actions_destroy(posix_spawn_file_actions_t*) { return 0; }
int posix_spawn_file_actions_adddup2(posix_spawn_file_actions_t*, int, int) { return 0; }
int posix_spawn_file_actions_addopen(posix_spawn_file_actions_t*, int descriptor, const char* path,
                                     int, mode_t) {
  if (descriptor == STDOUT_FILENO) log_of_next = path;
  return 0;
}
int posix_spawn(pid_t* child, const char*, const posix_spawn_file_actions_t*,
                const posix_spawnattr_t*, char* const words[], char* const[]) {
  const int status = run_another(words, log_of_next.c_str());
  if (status < 0) return ENOSYS;
  *child = ++last_started;
  ended.emplace_back(*child, status << 8);  // as WEXITSTATUS reads it
  return 0;
}
pid_t waitpid(pid_t, int* state, int) {
  if (ended.empty()) {
    errno = ECHILD;
    return -1;
  }
  const auto [child, status] = ended.front();
  ended.pop_front();
  if (state != nullptr) *state = status;
  return child;
}
int kill(pid_t, int) { return 0; }
}
