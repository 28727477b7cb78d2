#include "report/cli/standard_output.h"

#include <poll.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <iostream>

namespace proveout::cli {
namespace {

// POSIX poll: POLLERR is set on a pipe's end for writing when no one has its other end open.
bool reader_left() {
  pollfd out{STDOUT_FILENO, POLLOUT, 0};
  return ::poll(&out, 1, 0) == 1 && (out.revents & POLLERR) != 0;
}

}  // namespace

std::string output_failure() {
  errno = 0;
  const bool good = std::cout.flush().good();
  const bool flushed = std::fflush(stdout) == 0;
  const int why = errno;
  if (good && flushed && std::ferror(stdout) == 0) return {};
  std::clearerr(stdout);
  std::cout.clear();
  if (reader_left()) return {};
  return std::string("cannot write to standard output: ") +
         (why != 0 ? std::strerror(why) : "it takes no more");
}

}  // namespace proveout::cli
