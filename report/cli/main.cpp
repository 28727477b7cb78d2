#include "report/cli/command_line.h"
#include "report/cli/interrupt.h"

int main(int argument_count, char** arguments) {
  proveout::cli::end_in_words();
  return proveout::cli::run(argument_count, arguments);
}
