#include "report/cli/process.h"

#include <fcntl.h>
#include <tbb/global_control.h>
#include <tbb/task_arena.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstdlib>
#include <exception>
#include <latch>
#include <new>
#include <string>
#include <system_error>
#include <thread>
#include <vector>

#include "report/cli/interrupt.h"
#include "report/cli/status.h"
#include "report/files/atomic_file.h"

namespace proveout::cli {
namespace {

// Otherwise the first file opened takes the number, and gets what is meant for standard output.
// Opened for reading only, so that writing fails as it does on what is closed.
void hold_standard_descriptors() {
  for (const int descriptor : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (::fcntl(descriptor, F_GETFD) != -1) continue;
    // The lowest free number is this one: those below are held.
    if (::open("/dev/null", O_RDONLY) != descriptor) ::_exit(machine_failed);
  }
}

// An exception that leaves a destructor or a function that promised not to throw; with memory or
// threads short that happens inside the grid and thread libraries. Nothing can be unwound, but the
// end can be told.
[[noreturn]] void on_terminate() {
  files::stop_writing(false);
  std::string words;
  if (const std::exception_ptr thrown = std::current_exception()) {
    try {
      std::rethrow_exception(thrown);
    } catch (const std::bad_alloc&) {
      static constexpr std::string_view short_of_memory =
          "proveout: out of memory; a larger --voxel needs less\n";
      [[maybe_unused]] const auto written =
          ::write(STDERR_FILENO, short_of_memory.data(), short_of_memory.size());
      ::_exit(machine_failed);
    } catch (const std::exception& e) {
      words = e.what();
    } catch (...) {
    }
  }
  if (words.empty()) std::abort();
  words = words.find("pthread_create") != std::string::npos
              ? "no more threads can be started; --threads 1 needs none"
              : "unexpected failure: " + words;
  words = "proveout: " + words + "\n";
  [[maybe_unused]] const auto written = ::write(STDERR_FILENO, words.data(), words.size());
  ::_exit(machine_failed);
}

// Threads that can run at once, of as many as wanted: the system may let this process start fewer.
std::size_t threads_to_be_had(std::size_t wanted) {
  std::vector<std::thread> started;
  std::latch all_tried(1);
  try {
    while (started.size() + 1 < wanted) started.emplace_back([&] { all_tried.wait(); });
  } catch (const std::exception&) {  // no further thread, or no memory for one
  }
  all_tried.count_down();
  for (std::thread& t : started) t.join();
  return started.size() + 1;
}

// The thread library ends the process where it cannot start as many as it means to.
void use_threads_there_are() {
  const std::size_t cores = std::max(1u, std::thread::hardware_concurrency());
  const std::size_t most = threads_to_be_had(cores);
  if (most == cores) return;
  // Kept to the very end: taking the limit back would start the threads that cannot be had.
  static const auto* const limit =
      new tbb::global_control(tbb::global_control::max_allowed_parallelism, most);
  static_cast<void>(limit);
}

}  // namespace

void use_no_more_threads_than(int threads) {
  // The last one is kept to the very end: taking it back as the process exits would start threads.
  static const tbb::global_control* limit = nullptr;
  delete limit;
  limit = nullptr;
  if (threads < 1 || threads >= tbb::this_task_arena::max_concurrency()) return;
  limit = new tbb::global_control(tbb::global_control::max_allowed_parallelism,
                                  static_cast<std::size_t>(threads));
}

void prepare_process() {
  hold_standard_descriptors();
  ::signal(SIGXFSZ, SIG_IGN);  // a file size limit then is a write error, reported as one
  ::signal(SIGPIPE, SIG_IGN);
  catch_interrupts();
  std::set_terminate(on_terminate);
  use_threads_there_are();
}

}  // namespace proveout::cli
