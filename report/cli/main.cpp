#include "report/cli/command_line.h"

int main(int argument_count, char** arguments) {
  return proveout::cli::run(argument_count, arguments);
}
