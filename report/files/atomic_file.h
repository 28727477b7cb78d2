// Files that appear whole or not at all: written beside their name, then renamed.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <ostream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace proveout::files {

// The disk is full, the folder is read-only, and the like; main turns it into exit status 3.
class WriteError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

// Files that belong together. write prepares one file; commit gives all of them their names, one
// right after the other. What is not committed is gone, and what stood under those names before
// still stands.
class FileSet {
 public:
  // look is called before each file and before the names are given; it may throw.
  explicit FileSet(std::function<void()> look = {});
  ~FileSet();
  FileSet(const FileSet&) = delete;
  FileSet& operator=(const FileSet&) = delete;

  // What fill puts into the stream is to stand under path. A device or pipe is written to directly.
  // Throws WriteError; the file is then none of the set.
  void write(const std::filesystem::path& path, const std::function<void(std::ostream&)>& fill);
  void write(const std::filesystem::path& path, std::string_view bytes);
  void commit();  // throws WriteError

 private:
  class File;
  std::function<void()> look_;
  std::vector<std::unique_ptr<File>> files_;
};

// A file for itself: a set of one. Throws WriteError.
void write_whole(const std::filesystem::path& path, std::string_view bytes);

// How many files have got their names since the program began.
int files_written() noexcept;

// For what ends the process early: waits for names that are being given, which takes moments, sees
// to it that no further ones are, and takes away what is not finished. Not for signal handlers, nor
// for a thread that may itself be giving names: that one says wait = false.
void stop_writing(bool wait = true) noexcept;

// Makes the folder and its parents. Throws WriteError.
void make_folder(const std::filesystem::path& path);

}  // namespace proveout::files
