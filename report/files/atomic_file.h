// Files that appear whole or not at all: written beside their name, then renamed.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
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

// Files that belong together. While one of these lives, write_whole only prepares its file; commit
// gives all of them their names, one right after the other. What is not committed is gone, and
// what stood under those names before still stands. One at a time.
class FileSet {
 public:
  // look is called before each file and before the names are given; it may throw.
  explicit FileSet(std::function<void()> look = {});
  ~FileSet();
  FileSet(const FileSet&) = delete;
  FileSet& operator=(const FileSet&) = delete;
  void commit();  // throws WriteError

 private:
  friend void write_whole(const std::filesystem::path&, const std::function<void(std::ostream&)>&);
  struct Files;
  std::unique_ptr<Files> files_;
};

// How many files have got their names since the program began. Signal handlers may ask.
int files_written() noexcept;

// For signal handlers that want to end the process: false while names are given, which takes
// moments; try again then. Once true no name is given any more.
bool may_end() noexcept;

// Takes away what write_whole has begun and not finished. For signal handlers: it allocates
// nothing.
void remove_half_written() noexcept;

// Makes the folder and its parents. Throws WriteError.
void make_folder(const std::filesystem::path& path);

}  // namespace proveout::files
