#include "parser/base/assert.h"

#include <cstdio>
#include <cstdlib>

namespace proveout::internal {

void assertion_failed(const char* condition, const char* values_text, const std::string& values,
                      const char* file, int line) {
  std::fprintf(stderr,
               "%s:%d: an invariant of the program does not hold: %s\n  with %s = %s\n"
               "This is a fault of proveout, not of the job: its results would be wrong.\n",
               file, line, condition, values_text, values.c_str());
  std::fflush(stderr);
  std::abort();
}

}  // namespace proveout::internal
