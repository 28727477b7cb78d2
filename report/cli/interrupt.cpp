#include "report/cli/interrupt.h"

#include <unistd.h>

#include <atomic>
#include <csignal>
#include <ctime>
#include <string>
#include <system_error>
#include <thread>

#include "report/files/atomic_file.h"

namespace proveout::cli {
namespace {

std::atomic<bool> stop_asked{false};
std::atomic<bool> ends_well{false};

const char* words_of_stop() noexcept {
  return files::files_written() == 0
             ? "stopped before the end; nothing was written"
             : "stopped before the end; the files written until then are whole";
}

// While results get their names it waits: they are never half of one run and half of another.
[[noreturn]] void end_now() {
  files::stop_writing();
  if (ends_well) ::_exit(0);
  const std::string words = std::string("\nproveout: ") + words_of_stop() + "\n";
  [[maybe_unused]] const auto written = ::write(STDERR_FILENO, words.data(), words.size());
  ::_exit(130);
}

void wait_for(sigset_t signals) {
  int signal = 0;
  ::sigwait(&signals, &signal);
  stop_asked = true;
  // Some steps (reading a large mesh, writing the page) do not look up. They get 0.7 s; a second
  // signal ends the process at once.
  const timespec patience{0, 700'000'000};
  ::sigtimedwait(&signals, nullptr, &patience);
  end_now();
}

bool ignored(int signal) {
  struct sigaction now = {};
  return ::sigaction(signal, nullptr, &now) == 0 && now.sa_handler == SIG_IGN;
}

}  // namespace

const char* Interrupted::what() const noexcept { return words_of_stop(); }

void catch_interrupts() {
  sigset_t signals;
  ::sigemptyset(&signals);
  for (const int signal : {SIGINT, SIGTERM})
    if (!ignored(signal)) ::sigaddset(&signals, signal);
  if (::sigismember(&signals, SIGINT) + ::sigismember(&signals, SIGTERM) == 0) return;
  ::pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  try {
    std::thread(wait_for, signals).detach();
  } catch (const std::system_error&) {
    // No thread is to be had: the signals end the process as they do any other. What is not
    // finished has no name, where the file system can do that.
    ::pthread_sigmask(SIG_UNBLOCK, &signals, nullptr);
  }
}

bool interrupted() { return stop_asked; }

void end_well_when_interrupted() { ends_well = true; }

void stop_if_interrupted() {
  if (interrupted()) throw Interrupted();
}

}  // namespace proveout::cli
