#include "parser/base/text_file.h"

#include <fstream>
#include <system_error>

namespace proveout {

std::optional<std::string> read_text_file(const std::filesystem::path& path,
                                          const std::string& what_it_is, Diagnostics& diagnostics,
                                          std::uintmax_t at_most_bytes) {
  const Place place{path.string(), 0, 0, 0};
  if (path.native().find('\0') != std::string::npos) {
    // The system would read the name only as far as that and open another file.
    diagnostics.error("file-missing", place, "this name of a " + what_it_is + " holds a zero byte");
    return std::nullopt;
  }
  std::error_code failure;
  const auto status = std::filesystem::status(path, failure);
  if (status.type() == std::filesystem::file_type::not_found) {
    diagnostics.error("file-missing", place, "there is no such " + what_it_is,
                      "check the path; paths in a job file are relative to the job file");
    return std::nullopt;
  }
  if (status.type() == std::filesystem::file_type::directory) {
    diagnostics.error("file-is-directory", place, "this is a folder, not a " + what_it_is);
    return std::nullopt;
  }
  if (failure || status.type() != std::filesystem::file_type::regular) {
    diagnostics.error("file-unreadable", place, "this " + what_it_is + " is not a readable file");
    return std::nullopt;
  }
  const std::uintmax_t size = std::filesystem::file_size(path, failure);
  if (!failure && size > at_most_bytes) {
    diagnostics.error("file-too-large", place,
                      "this " + what_it_is + " has " + std::to_string(size) + " bytes, more than " +
                          std::to_string(at_most_bytes));
    return std::nullopt;
  }
  std::ifstream stream(path, std::ios::binary);
  std::string bytes;
  if (!failure) bytes.resize(static_cast<std::size_t>(size));
  if (failure || !stream || !stream.read(bytes.data(), static_cast<std::streamsize>(size))) {
    diagnostics.error("file-unreadable", place, "this " + what_it_is + " cannot be read",
                      "check its permissions");
    return std::nullopt;
  }
  return bytes;
}

}  // namespace proveout
