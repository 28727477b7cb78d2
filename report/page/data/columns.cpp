#include "report/page/data/columns.h"

#include <zlib.h>

#include <stdexcept>

namespace proveout::page {

void ColumnWriter::put(std::int64_t difference) {
  std::uint64_t zigzag =
      (static_cast<std::uint64_t>(difference) << 1) ^ static_cast<std::uint64_t>(difference >> 63);
  for (; zigzag >= 0x80; zigzag >>= 7) bytes_.push_back(static_cast<char>(zigzag | 0x80));
  bytes_.push_back(static_cast<char>(zigzag));
}

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

}  // namespace proveout::page
