#include "report/cli/interrupt.h"

#include <sys/time.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <exception>
#include <new>
#include <string_view>

#include "report/cli/status.h"
#include "report/files/atomic_file.h"

namespace proveout::cli {
namespace {

volatile std::sig_atomic_t stop_asked = 0;

// Only calls a signal handler may make.
[[noreturn]] void end_now() {
  files::remove_half_written();
  constexpr std::string_view words = "\nproveout: stopped before the end\n";
  [[maybe_unused]] const auto written = ::write(STDERR_FILENO, words.data(), words.size());
  ::_exit(130);
}

// The second signal ends the process at once.
void on_signal(int) {
  if (stop_asked != 0) end_now();
  stop_asked = 1;
  // Some steps (reading a large mesh, writing the page) do not look up. They get 0.7 s.
  const itimerval patience{{0, 0}, {0, 700'000}};
  ::setitimer(ITIMER_REAL, &patience, nullptr);
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

void catch_interrupts() {
  struct sigaction action = {};
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

}  // namespace proveout::cli
