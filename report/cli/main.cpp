#include "report/cli/command_line.h"
#include "report/cli/process.h"

// The grid library's logging library starts threads before main(), and ends the process where the
// system gives it none. Nothing here logs by it: this definition takes the place of its start.
namespace log4cplus {
void initializeLog4cplus();
void initializeLog4cplus() {}
}  // namespace log4cplus

int main(int argument_count, char** arguments) {
  proveout::cli::prepare_process();
  return proveout::cli::run(argument_count, arguments);
}
