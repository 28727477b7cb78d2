// Long arrays as few bytes: values are rounded to a quantum, each part of a tuple is a column of
// its own, neighbours are subtracted, and the differences are written as zigzag LEB128 integers.
// All columns stand one behind the other in one buffer, which is then deflated (RFC 1950) and
// written in base64 (RFC 4648).
#pragma once

#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace proveout::page {

class ColumnWriter {
 public:
  // value(i, part): of entry i, a number; one that is not finite is written as 0. Returns what the
  // page needs to find and read the column: {at, bytes, count, parts, quantum}. quantum: above 0.
  template <class Value>
  requires std::is_invocable_v<Value, std::size_t, int> nlohmann::ordered_json add(
      std::size_t count, int parts, double quantum, Value value) {
    const std::size_t at = bytes_.size();
    for (int part = 0; part < parts; ++part) {
      std::int64_t before = 0;
      for (std::size_t i = 0; i < count; ++i) {
        const std::int64_t now = whole(static_cast<double>(value(i, part)) / quantum);
        put(now - before);
        before = now;
      }
    }
    return {{"at", at},
            {"bytes", bytes_.size() - at},
            {"count", count},
            {"parts", parts},
            {"quantum", quantum}};
  }
  // values.size(): a multiple of parts.
  template <class T>
  nlohmann::ordered_json add(const std::vector<T>& values, int parts, double quantum) {
    return add(values.size() / parts, parts, quantum,
               [&](std::size_t i, int part) { return values[i * parts + part]; });
  }
  nlohmann::ordered_json add_text(std::string_view bytes);  // as they are

  const std::string& bytes() const { return bytes_; }

 private:
  // The page reads into doubles, whole up to 2^53.
  static std::int64_t whole(double scaled) {
    return std::abs(scaled) < 9007199254740992.0 ? std::llround(scaled) : 0;
  }
  void put(std::int64_t difference);
  std::string bytes_;
};

// RFC 1950. Throws std::runtime_error if zlib fails.
std::string deflated(std::string_view bytes);
std::string base64(std::string_view bytes);

}  // namespace proveout::page
