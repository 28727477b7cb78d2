// What each command takes, from the option tables the commands themselves parse with: for shells
// and the manual.
#pragma once

#include <string>
#include <vector>

#include "report/cli/commands.h"

namespace proveout::cli {

struct OptionText {
  std::string name;      // "--out"
  std::string letter;    // "-o", or empty
  std::string argument;  // "DIR"; empty: a switch
  std::string fallback;  // what it is without, in words of the program; empty: nothing to say
  std::string text;
};
struct CommandText {
  std::string name, usage, summary;
  std::vector<OptionText> options;
};

// Of every command, in the order of the help. Not from several threads at once.
std::vector<CommandText> described_commands();

// A completion script for bash, zsh or fish; empty for another word.
std::string completion_script(const std::string& shell);
// The manual page, in the man macros of roff.
std::string manual_page();

Status completion_command(const Arguments& arguments);
Status manual_command(const Arguments& arguments);

}  // namespace proveout::cli
