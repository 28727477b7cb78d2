// Files that appear whole or not at all: written beside their name, then renamed.
#pragma once

#include <filesystem>
#include <functional>
#include <ostream>
#include <stdexcept>
#include <string>
#include <string_view>

namespace proveout::files {

// The disk is full, the folder is read-only, and the like; main turns it into exit status 3.
class WriteError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

// Writes what fill puts into the stream. Nothing is left behind when it fails. A device or pipe is
// written to directly. Throws WriteError.
void write_whole(const std::filesystem::path& path, const std::function<void(std::ostream&)>& fill);
void write_whole(const std::filesystem::path& path, std::string_view bytes);

// Takes away what write_whole has begun and not finished. For signal handlers: it allocates
// nothing.
void remove_half_written() noexcept;

// Makes the folder and its parents. Throws WriteError.
void make_folder(const std::filesystem::path& path);

}  // namespace proveout::files
