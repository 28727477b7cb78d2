#include "parser/base/text_file.h"

#include <algorithm>
#include <boost/interprocess/file_mapping.hpp>
#include <boost/interprocess/mapped_region.hpp>
#include <fstream>
#include <system_error>

namespace proveout {
namespace {

// The size of a regular file that is there and not too large.
std::optional<std::uintmax_t> size_of(const std::filesystem::path& path,
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
    diagnostics.error("file-is-directory", place, "this is a folder, not the " + what_it_is);
    return std::nullopt;
  }
  if (failure || status.type() != std::filesystem::file_type::regular) {
    diagnostics.error("file-unreadable", place, "this " + what_it_is + " is not a readable file");
    return std::nullopt;
  }
  const std::uintmax_t size = std::filesystem::file_size(path, failure);
  if (failure) {
    diagnostics.error("file-unreadable", place, "this " + what_it_is + " cannot be read");
    return std::nullopt;
  }
  if (size > at_most_bytes) {
    diagnostics.error("file-too-large", place,
                      "this " + what_it_is + " has " + std::to_string(size) + " bytes, more than " +
                          std::to_string(at_most_bytes));
    return std::nullopt;
  }
  return size;
}

}  // namespace

std::optional<std::string> read_text_file(const std::filesystem::path& path,
                                          const std::string& what_it_is, Diagnostics& diagnostics,
                                          std::uintmax_t at_most_bytes) {
  const auto size = size_of(path, what_it_is, diagnostics, at_most_bytes);
  if (!size) return std::nullopt;
  std::ifstream stream(path, std::ios::binary);
  std::string bytes(static_cast<std::size_t>(*size), '\0');
  if (!stream || !stream.read(bytes.data(), static_cast<std::streamsize>(*size))) {
    diagnostics.error("file-unreadable", {path.string(), 0, 0, 0},
                      "this " + what_it_is + " cannot be read", "check its permissions");
    return std::nullopt;
  }
  return bytes;
}

std::optional<TextFile> open_text_file(const std::filesystem::path& path,
                                       const std::string& what_it_is, Diagnostics& diagnostics,
                                       std::uintmax_t at_most_bytes) {
  namespace ipc = boost::interprocess;
  const auto size = size_of(path, what_it_is, diagnostics, at_most_bytes);
  if (!size) return std::nullopt;
  TextFile file;
  if (*size <= TextFile::mapped_from) {
    auto bytes = read_text_file(path, what_it_is, diagnostics, at_most_bytes);
    if (!bytes) return std::nullopt;
    file.held_ = std::move(*bytes);
    return file;
  }
  try {
    const ipc::file_mapping mapping(path.c_str(), ipc::read_only);
    const auto region = std::make_shared<ipc::mapped_region>(mapping, ipc::read_only);
    region->advise(ipc::mapped_region::advice_sequential);
    file.mapped_ = {static_cast<const char*>(region->get_address()), region->get_size()};
    file.mapping_ = region;
  } catch (const ipc::interprocess_exception&) {
    diagnostics.error("file-unreadable", {path.string(), 0, 0, 0},
                      "this " + what_it_is + " cannot be read", "check its permissions");
    return std::nullopt;
  }
  return file;
}

Place place_in(const std::filesystem::path& path, std::string_view text, std::size_t offset) {
  const std::string_view before = text.substr(0, offset);
  const std::size_t start = before.rfind('\n') + 1;  // 0 where there is no line before
  return {path.string(),
          static_cast<std::uint32_t>(std::count(before.begin(), before.end(), '\n') + 1),
          static_cast<std::uint32_t>(offset - start + 1), 1};
}

}  // namespace proveout
