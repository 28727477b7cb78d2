#include "parser/base/input_files.h"

#include "parser/base/sha256.h"
#include "parser/base/text_file.h"

namespace proveout {

std::shared_ptr<const std::string> InputFiles::read(const std::filesystem::path& path,
                                                    const std::string& what_it_is,
                                                    Diagnostics& diagnostics,
                                                    std::uintmax_t at_most_bytes) {
  // Told apart by name alone: two names of one file are read, and listed, as two.
  const std::filesystem::path name = path.lexically_normal();
  for (std::size_t i = 0; i < all_.size(); ++i)
    if (all_[i].path.lexically_normal() == name && all_[i].size <= at_most_bytes) return bytes_[i];
  auto bytes = read_text_file(path, what_it_is, diagnostics, at_most_bytes);
  if (!bytes) return nullptr;
  all_.push_back({path, sha256(*bytes), bytes->size()});
  bytes_.push_back(std::make_shared<const std::string>(std::move(*bytes)));
  return bytes_.back();
}

}  // namespace proveout
