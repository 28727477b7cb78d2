#include "report/cli/command_line.h"
#include "report/cli/process.h"

int main(int argument_count, char** arguments) {
  proveout::cli::prepare_process();
  return proveout::cli::run(argument_count, arguments);
}
