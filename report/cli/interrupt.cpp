#include "report/cli/interrupt.h"

#include <unistd.h>

#include <csignal>

namespace proveout::cli {
namespace {

volatile std::sig_atomic_t stop_asked = 0;

// The second signal ends the process at once.
void on_signal(int) {
  if (stop_asked != 0) ::_exit(130);
  stop_asked = 1;
}

}  // namespace

void catch_interrupts() {
  struct sigaction action = {};
  action.sa_handler = on_signal;
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
  ::signal(SIGXFSZ, SIG_IGN);  // a file size limit then is a write error, reported as one
  ::signal(SIGPIPE, SIG_IGN);
}

bool interrupted() { return stop_asked != 0; }

}  // namespace proveout::cli
