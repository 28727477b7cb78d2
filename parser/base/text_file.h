// Reading a whole file, with the reasons why it could not be read.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "parser/base/diagnostic.h"

namespace proveout {

// The bytes of a regular file. Errors (codes): file-missing, file-is-directory, file-unreadable,
// file-too-large (over at_most_bytes). what_it_is names it in the message, e.g. "NC program".
std::optional<std::string> read_text_file(const std::filesystem::path& path,
                                          const std::string& what_it_is, Diagnostics& diagnostics,
                                          std::uintmax_t at_most_bytes = std::uintmax_t{1} << 34);

// The bytes of a file, held or mapped: a file of up to mapped_from bytes is read whole, so that
// nobody can change it meanwhile; a larger one is mapped and takes no memory of its own.
class TextFile {
 public:
  static constexpr std::uintmax_t mapped_from = std::uintmax_t{64} << 20;

  std::string_view bytes() const { return mapping_ ? mapped_ : std::string_view(held_); }

 private:
  friend std::optional<TextFile> open_text_file(const std::filesystem::path&, const std::string&,
                                                Diagnostics&, std::uintmax_t);
  std::string held_;
  std::shared_ptr<const void> mapping_;
  std::string_view mapped_;
};

// As read_text_file, with the same errors.
std::optional<TextFile> open_text_file(const std::filesystem::path& path,
                                       const std::string& what_it_is, Diagnostics& diagnostics,
                                       std::uintmax_t at_most_bytes = std::uintmax_t{1} << 34);

// Where the byte at offset stands.
Place place_in(const std::filesystem::path& path, std::string_view text, std::size_t offset);

}  // namespace proveout
