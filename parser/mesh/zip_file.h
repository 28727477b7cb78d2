// The files within a ZIP archive (PKWARE's APPNOTE 6.3; raw DEFLATE, RFC 1951), as 3MF files are.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace proveout::mesh {

// bytes must outlive it. Stored and deflated files up to 4 GB are known; encrypted ones and
// archives over several disks are not.
class ZipFile {
 public:
  // nullopt: no list of files that can be read.
  static std::optional<ZipFile> open(std::string_view bytes);

  // The file's bytes; nullopt where it is missing, damaged (CRC-32), of another method, or longer
  // than most.
  std::optional<std::string> read(const std::string& name, std::size_t most) const;

 private:
  struct Entry {
    std::uint16_t flags = 0, method = 0;
    std::uint32_t crc = 0, packed = 0, length = 0, header_at = 0;
  };
  std::string_view bytes_;
  std::map<std::string, Entry> entries_;
};

}  // namespace proveout::mesh
