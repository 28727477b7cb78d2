// Whole numbers of binary files, least byte first.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>

namespace proveout::mesh {

// width: bytes, 4 at most. 0 where the number does not lie within bytes.
inline std::uint32_t little_endian(std::string_view bytes, std::size_t at, std::size_t width = 4) {
  if (at > bytes.size() || bytes.size() - at < width) return 0;
  std::uint32_t value = 0;
  for (std::size_t k = 0; k < width; ++k)
    value |= std::uint32_t{static_cast<unsigned char>(bytes[at + k])} << 8 * k;
  return value;
}

}  // namespace proveout::mesh
