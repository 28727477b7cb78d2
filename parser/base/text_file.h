// Reading a whole file, with the reasons why it could not be read.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "parser/base/diagnostic.h"

namespace proveout {

// The bytes of a regular file. Errors (codes): file-missing, file-is-directory, file-unreadable,
// file-too-large (over at_most_bytes). what_it_is names it in the message, e.g. "NC program".
std::optional<std::string> read_text_file(const std::filesystem::path& path,
                                          const std::string& what_it_is, Diagnostics& diagnostics,
                                          std::uintmax_t at_most_bytes = std::uintmax_t{1} << 34);

}  // namespace proveout
