// Long arrays as few bytes: values are rounded to a quantum, each part of a tuple is a column of
// its own, neighbours are subtracted, and the differences are written as zigzag LEB128 integers.
// All columns stand one behind the other in one buffer, which is then deflated (RFC 1950) and
// written in base64 (RFC 4648).
#pragma once

#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <string>
#include <string_view>

namespace proveout::page {

class ColumnWriter {
 public:
  // Each returns what the page needs to find and read the column: {at, bytes, count, parts,
  // quantum}. values.size() must be a multiple of parts. Values that are not finite are written as
  // 0.
  template <typename T>
  nlohmann::ordered_json add(std::span<const T> values, int parts, double quantum);
  nlohmann::ordered_json add_text(std::string_view bytes);  // as they are

  const std::string& bytes() const { return bytes_; }

 private:
  void put(std::int64_t difference);
  std::string bytes_;
};

// RFC 1950. Throws std::runtime_error if zlib fails.
std::string deflated(std::string_view bytes);
std::string base64(std::string_view bytes);

// Bytes that are no UTF-8 become U+FFFD each, so that text of any origin can stand in JSON.
std::string valid_utf8(std::string_view text);

}  // namespace proveout::page
