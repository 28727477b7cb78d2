// Any bytes as a mesh file, of the form their beginning speaks for. No crash; what is accepted has
// finite corners that its triangles name, and is closed.
#include <unistd.h>

#include <array>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>

#include "parser/mesh/mesh.h"

namespace {

using namespace proveout;

void must(bool held) {
  if (!held) std::abort();
}

void judge(const mesh::Mesh& mesh) {
  must(!mesh.triangles.empty());
  for (const Vec3& v : mesh.vertices) must(v.allFinite());
  std::map<std::array<std::uint32_t, 2>, int> edges;
  for (const auto& t : mesh.triangles) {
    for (std::size_t k = 0; k < 3; ++k) {
      must(t[k] < mesh.vertices.size());
      const std::uint32_t a = t[k], b = t[(k + 1) % 3];
      edges[{std::min(a, b), std::max(a, b)}] += a < b ? 1 : -1;
    }
  }
  for (const auto& [edge, balance] : edges) must(balance == 0);
  must(!mesh::bounds(mesh).isEmpty());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  const char* form = bytes.starts_with("ply")  ? ".ply"
                     : bytes.starts_with("PK") ? ".3mf"
                     : bytes.starts_with("v ") || bytes.starts_with("#") || bytes.starts_with("o ")
                         ? ".obj"
                         : ".stl";
  const std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("proveout-fuzz-" + std::to_string(getpid()) + form);
  std::ofstream(path, std::ios::binary) << bytes;
  Diagnostics diagnostics;
  if (const auto mesh = mesh::read_mesh(path, 1, Vec3::Zero(), "part mesh", diagnostics)) {
    must(!diagnostics.has_errors());
    judge(*mesh);
  } else {
    must(diagnostics.has_errors());
  }
  for (const auto& d : diagnostics.all()) {
    must(!d.code.empty() && !d.what.empty());
    to_text(d);
  }
  std::filesystem::remove(path);
  return 0;
}
