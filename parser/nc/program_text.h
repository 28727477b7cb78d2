// Programs of text that was read already.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "parser/nc/program.h"

namespace proveout::nc {

// As read_program; name stands for the text in messages and in Program::files.
std::optional<Program> program_of(std::string_view text, const std::string& name,
                                  const ReadOptions& options, Diagnostics& diagnostics);

}  // namespace proveout::nc
