#include "report/cli/file_digest.h"

#include <fstream>
#include <vector>

#include "parser/base/sha256.h"

namespace proveout::cli {

std::string digest_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) return {};
  Sha256 digest;
  std::vector<char> bytes(1 << 16);
  while (file.read(bytes.data(), static_cast<std::streamsize>(bytes.size())) || file.gcount() > 0)
    digest.add({bytes.data(), static_cast<std::size_t>(file.gcount())});
  return file.bad() ? std::string() : digest.text();
}

}  // namespace proveout::cli
