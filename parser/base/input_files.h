// The files a job is made of, each read once however often it is named, with a digest of what was
// read: what a result stands for can be told, and cannot change while the job runs.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"

namespace proveout {

struct InputFile {
  std::filesystem::path path;  // as it was opened
  std::string digest;          // SHA-256 of its bytes, 64 hexadecimal digits
  std::uintmax_t size = 0;     // bytes
};

class InputFiles {
 public:
  // The file's bytes: read from disk the first time, held from then on. nullptr with an error in
  // diagnostics as of read_text_file, whose parameters these are.
  std::shared_ptr<const std::string> read(const std::filesystem::path& path,
                                          const std::string& what_it_is, Diagnostics& diagnostics,
                                          std::uintmax_t at_most_bytes);

  // What was read so far, in order of first reading.
  const std::vector<InputFile>& all() const { return all_; }

 private:
  std::vector<InputFile> all_;
  std::vector<std::shared_ptr<const std::string>> bytes_;  // of each
};

}  // namespace proveout
