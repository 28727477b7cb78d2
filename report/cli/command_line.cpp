#include "report/cli/command_line.h"

#include <cstdio>

namespace proveout::cli {

int run(int, char**) {
  std::fputs("proveout: no command yet\n", stderr);
  return 2;
}

}  // namespace proveout::cli
