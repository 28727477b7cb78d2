#include "report/files/zip.h"

#include <zlib.h>

#include <cstdint>
#include <new>
#include <stdexcept>

namespace proveout::files {
namespace {

void put16(std::string& out, std::uint32_t v) {
  out += static_cast<char>(v & 0xFF);
  out += static_cast<char>(v >> 8 & 0xFF);
}
void put32(std::string& out, std::uint32_t v) {
  put16(out, v & 0xFFFF);
  put16(out, v >> 16);
}

// Raw deflate, without zlib's own head and tail.
std::string deflated(const std::string& bytes) {
  z_stream stream{};
  if (deflateInit2(&stream, 6, Z_DEFLATED, -15, 8, Z_DEFAULT_STRATEGY) != Z_OK)
    throw std::bad_alloc();
  std::string out(deflateBound(&stream, static_cast<uLong>(bytes.size())), '\0');
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
  stream.avail_in = static_cast<uInt>(bytes.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  const int state = deflate(&stream, Z_FINISH);
  out.resize(stream.total_out);
  deflateEnd(&stream);
  if (state != Z_STREAM_END) throw std::runtime_error("a part of an archive cannot be compressed");
  return out;
}

constexpr std::uint32_t first_day = 1 << 5 | 1;  // 1 January 1980, the format's earliest

}  // namespace

std::string zip(const std::vector<std::pair<std::string, std::string>>& members) {
  std::string out, directory;
  for (const auto& [name, bytes] : members) {
    if (bytes.size() > 0xFFFFFFF0u || out.size() > 0xFFFFFFF0u)
      throw std::runtime_error("an archive of more than 4 GB is not written");
    const std::string packed = deflated(bytes);
    const auto sum = static_cast<std::uint32_t>(
        crc32(0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
    const auto at = static_cast<std::uint32_t>(out.size());
    std::string common;  // what the local head and the directory share
    put16(common, 20);   // version needed: 2.0
    put16(common, 0);
    put16(common, 8);  // deflated
    put16(common, 0);
    put16(common, first_day);
    put32(common, sum);
    put32(common, static_cast<std::uint32_t>(packed.size()));
    put32(common, static_cast<std::uint32_t>(bytes.size()));
    put16(common, static_cast<std::uint32_t>(name.size()));
    put16(common, 0);
    put32(out, 0x04034b50);
    out += common + name + packed;
    put32(directory, 0x02014b50);
    put16(directory, 20);
    directory += common;
    put16(directory, 0);
    put16(directory, 0);
    put16(directory, 0);
    put32(directory, 0);
    put32(directory, at);
    directory += name;
  }
  const auto at = static_cast<std::uint32_t>(out.size());
  out += directory;
  put32(out, 0x06054b50);
  put32(out, 0);
  put16(out, static_cast<std::uint32_t>(members.size()));
  put16(out, static_cast<std::uint32_t>(members.size()));
  put32(out, static_cast<std::uint32_t>(directory.size()));
  put32(out, at);
  put16(out, 0);
  return out;
}

}  // namespace proveout::files
