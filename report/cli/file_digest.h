// SHA-256 of a file's bytes, as result.json gives it for its inputs.
#pragma once

#include <filesystem>
#include <string>

namespace proveout::cli {

// 64 hexadecimal digits; empty where there is no such file, or it cannot be read.
std::string digest_of(const std::filesystem::path& path);

}  // namespace proveout::cli
