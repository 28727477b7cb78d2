#include "report/page/data/columns.h"

#include <zlib.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <vector>

namespace proveout::page {

void ColumnWriter::put(std::int64_t difference) {
  std::uint64_t zigzag =
      (static_cast<std::uint64_t>(difference) << 1) ^ static_cast<std::uint64_t>(difference >> 63);
  while (zigzag >= 0x80) {
    bytes_.push_back(static_cast<char>(zigzag | 0x80));
    zigzag >>= 7;
  }
  bytes_.push_back(static_cast<char>(zigzag));
}

template <typename T>
nlohmann::ordered_json ColumnWriter::add(std::span<const T> values, int parts, double quantum) {
  const std::size_t at = bytes_.size();
  // The page reads into doubles, whole up to 2^53.
  constexpr double most = 9007199254740992.0;
  for (int part = 0; part < parts; ++part) {
    std::int64_t before = 0;
    for (std::size_t i = part; i < values.size(); i += parts) {
      const double scaled = static_cast<double>(values[i]) / quantum;
      const std::int64_t now =
          std::isfinite(scaled) && std::abs(scaled) < most ? std::llround(scaled) : 0;
      put(now - before);
      before = now;
    }
  }
  return {{"at", at},
          {"bytes", bytes_.size() - at},
          {"count", values.size() / parts},
          {"parts", parts},
          {"quantum", quantum}};
}

template nlohmann::ordered_json ColumnWriter::add(std::span<const double>, int, double);
template nlohmann::ordered_json ColumnWriter::add(std::span<const float>, int, double);
template nlohmann::ordered_json ColumnWriter::add(std::span<const std::uint32_t>, int, double);
template nlohmann::ordered_json ColumnWriter::add(std::span<const std::uint8_t>, int, double);

nlohmann::ordered_json ColumnWriter::add_text(std::string_view bytes) {
  const std::size_t at = bytes_.size();
  bytes_.append(bytes);
  return {{"at", at}, {"bytes", bytes.size()}};
}

std::string deflated(std::string_view bytes) {
  uLongf size = compressBound(bytes.size());
  std::string out(size, '\0');
  if (compress2(reinterpret_cast<Bytef*>(out.data()), &size,
                reinterpret_cast<const Bytef*>(bytes.data()), bytes.size(), 7) != Z_OK)
    throw std::runtime_error("the page's data could not be compressed");
  out.resize(size);
  return out;
}

std::string base64(std::string_view bytes) {
  static constexpr char letters[] =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t left = std::min<std::size_t>(3, bytes.size() - i);
    std::uint32_t word = 0;
    for (std::size_t k = 0; k < 3; ++k)
      word = word << 8 | (k < left ? static_cast<unsigned char>(bytes[i + k]) : 0u);
    for (std::size_t k = 0; k < 4; ++k)
      out.push_back(k <= left ? letters[word >> (18 - 6 * k) & 63] : '=');
  }
  return out;
}

namespace {

// Length of the well-formed UTF-8 sequence at the front (Unicode Standard, table 3-7); 0: none.
std::size_t well_formed(std::string_view text) {
  const auto byte = [&](std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : 0u;
  };
  const auto tail = [&](std::size_t i, unsigned low = 0x80, unsigned high = 0xBF) {
    return byte(i) >= low && byte(i) <= high;
  };
  const unsigned first = byte(0);
  if (first < 0x80) return 1;
  if (first >= 0xC2 && first <= 0xDF) return tail(1) ? 2 : 0;
  if (first >= 0xE0 && first <= 0xEF) {
    const unsigned low = first == 0xE0 ? 0xA0 : 0x80, high = first == 0xED ? 0x9F : 0xBF;
    return tail(1, low, high) && tail(2) ? 3 : 0;
  }
  if (first >= 0xF0 && first <= 0xF4) {
    const unsigned low = first == 0xF0 ? 0x90 : 0x80, high = first == 0xF4 ? 0x8F : 0xBF;
    return tail(1, low, high) && tail(2) && tail(3) ? 4 : 0;
  }
  return 0;
}

}  // namespace

std::string valid_utf8(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const std::size_t length = well_formed(text);
    if (length > 0)
      out.append(text.substr(0, length));
    else
      out.append("\xEF\xBF\xBD");
    text.remove_prefix(length > 0 ? length : 1);
  }
  return out;
}

}  // namespace proveout::page
