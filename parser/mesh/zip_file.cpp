#include "parser/mesh/zip_file.h"

#include <zlib.h>

#include <algorithm>

#include "parser/mesh/little_endian.h"

namespace proveout::mesh {
namespace {

// As little_endian: 0 beyond the end, which no signature is.
std::uint16_t short_at(std::string_view bytes, std::size_t at) {
  return static_cast<std::uint16_t>(little_endian(bytes, at, 2));
}

constexpr std::uint32_t local_mark = 0x04034b50, central_mark = 0x02014b50, end_mark = 0x06054b50;
constexpr std::size_t local_length = 30, central_length = 46, end_length = 22,
                      longest_comment = 65535;
constexpr std::uint16_t encrypted = 1, stored = 0, deflated = 8;

// Where the record at the archive's end begins.
std::optional<std::size_t> end_record(std::string_view bytes) {
  if (bytes.size() < end_length) return std::nullopt;
  const std::size_t last = bytes.size() - end_length;
  const std::size_t first = last > longest_comment ? last - longest_comment : 0;
  for (std::size_t at = last + 1; at-- > first;) {
    if (little_endian(bytes, at) == end_mark) return at;
  }
  return std::nullopt;
}

std::optional<std::string> inflated(std::string_view packed, std::size_t length) {
  // DEFLATE gives 1032 bytes for one at best: what claims more is not even made room for.
  if (length / 1032 > packed.size()) return std::nullopt;
  std::string out(length, '\0');
  z_stream stream{};
  if (inflateInit2(&stream, -MAX_WBITS) != Z_OK) return std::nullopt;
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
  stream.avail_in = static_cast<uInt>(packed.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  const int ended = inflate(&stream, Z_FINISH);
  const bool whole = ended == Z_STREAM_END && stream.total_out == length;
  inflateEnd(&stream);
  if (!whole) return std::nullopt;
  return out;
}

}  // namespace

std::optional<ZipFile> ZipFile::open(std::string_view bytes) {
  const auto end = end_record(bytes);
  if (!end) return std::nullopt;
  ZipFile zip;
  zip.bytes_ = bytes;
  const std::size_t count = short_at(bytes, *end + 10);
  std::size_t at = little_endian(bytes, *end + 16);
  for (std::size_t k = 0; k < count; ++k) {
    if (little_endian(bytes, at) != central_mark || bytes.size() - at < central_length)
      return std::nullopt;
    const std::size_t name = short_at(bytes, at + 28), extra = short_at(bytes, at + 30),
                      comment = short_at(bytes, at + 32);
    if (bytes.size() - at - central_length < name) return std::nullopt;
    Entry entry;
    entry.flags = short_at(bytes, at + 8);
    entry.method = short_at(bytes, at + 10);
    entry.crc = little_endian(bytes, at + 16);
    entry.packed = little_endian(bytes, at + 20);
    entry.length = little_endian(bytes, at + 24);
    entry.header_at = little_endian(bytes, at + 42);
    zip.entries_[std::string(bytes.substr(at + central_length, name))] = entry;
    at += central_length + name + extra + comment;
  }
  return zip;
}

std::optional<std::string> ZipFile::read(const std::string& name, std::size_t most) const {
  const auto found = entries_.find(name);
  if (found == entries_.end()) return std::nullopt;
  const Entry& entry = found->second;
  if ((entry.flags & encrypted) != 0 || entry.length > most) return std::nullopt;
  if (little_endian(bytes_, entry.header_at) != local_mark) return std::nullopt;
  const std::size_t begin = std::size_t{entry.header_at} + local_length +
                            short_at(bytes_, std::size_t{entry.header_at} + 26) +
                            short_at(bytes_, std::size_t{entry.header_at} + 28);
  if (begin > bytes_.size() || bytes_.size() - begin < entry.packed) return std::nullopt;
  const std::string_view packed = bytes_.substr(begin, entry.packed);
  std::optional<std::string> out;
  if (entry.method == stored && entry.packed == entry.length)
    out = std::string(packed);
  else if (entry.method == deflated)
    out = inflated(packed, entry.length);
  if (!out) return std::nullopt;
  if (crc32_z(0, reinterpret_cast<const Bytef*>(out->data()), out->size()) != entry.crc)
    return std::nullopt;
  return out;
}

}  // namespace proveout::mesh
