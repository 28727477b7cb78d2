#include "report/cli/interrupt.h"

#include <sys/time.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <new>
#include <string_view>

#include "report/cli/status.h"
#include "report/files/atomic_file.h"

namespace proveout::cli {
namespace {

volatile std::sig_atomic_t stop_asked = 0;

constexpr const char* nothing_written = "stopped before the end; nothing was written";
constexpr const char* some_written =
    "stopped before the end; the files written until then are whole";

const char* words_of_stop() noexcept {
  return files::files_written() == 0 ? nothing_written : some_written;
}

void wait_before_end(suseconds_t microseconds) {
  const itimerval patience{{0, 0}, {0, microseconds}};
  ::setitimer(ITIMER_REAL, &patience, nullptr);
}

// Only calls what a signal handler may. While results get their names it comes back in a moment:
// they are never half of one run and half of another.
void end_now() {
  if (!files::may_end()) return wait_before_end(50'000);
  files::remove_half_written();
  const char* const words = words_of_stop();
  [[maybe_unused]] auto written = ::write(STDERR_FILENO, "\nproveout: ", 11);
  written = ::write(STDERR_FILENO, words, std::strlen(words));
  written = ::write(STDERR_FILENO, "\n", 1);
  ::_exit(130);
}

// The second signal ends the process at once.
void on_signal(int) {
  if (stop_asked != 0) return end_now();
  stop_asked = 1;
  // Some steps (reading a large mesh, writing the page) do not look up. They get 0.7 s.
  wait_before_end(700'000);
}

void on_patience_over(int) { end_now(); }

// An exception that leaves a destructor or a function that promised not to throw; with memory short
// that happens inside the grid library. Nothing can be unwound, but the end can be told.
[[noreturn]] void on_terminate() {
  files::remove_half_written();
  std::string_view words;
  if (const std::exception_ptr thrown = std::current_exception()) {
    try {
      std::rethrow_exception(thrown);
    } catch (const std::bad_alloc&) {
      words = "proveout: out of memory; a larger --voxel needs less\n";
    } catch (...) {
    }
  }
  if (words.empty()) std::abort();
  [[maybe_unused]] const auto written = ::write(STDERR_FILENO, words.data(), words.size());
  ::_exit(machine_failed);
}

}  // namespace

const char* Interrupted::what() const noexcept { return words_of_stop(); }

void catch_interrupts() {
  struct sigaction action = {};
  // A call that waits (a pipe nobody reads) goes on waiting until the patience is over: were it to
  // fail, an interrupt would look like a full disk.
  action.sa_flags = SA_RESTART;
  action.sa_handler = on_signal;
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
  action.sa_handler = on_patience_over;
  ::sigaction(SIGALRM, &action, nullptr);
  ::signal(SIGXFSZ, SIG_IGN);  // a file size limit then is a write error, reported as one
  ::signal(SIGPIPE, SIG_IGN);
}

void end_in_words() { std::set_terminate(on_terminate); }

bool interrupted() { return stop_asked != 0; }

void stop_if_interrupted() {
  if (interrupted()) throw Interrupted();
}

}  // namespace proveout::cli
