#include "report/mesh/mesh_files.h"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstring>
#include <iterator>
#include <nlohmann/json.hpp>
#include <optional>

#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/files/zip.h"
#include "report/json/result_json.h"
#include "report/mesh/measured_mesh.h"
#include "report/page/build/stock_surface.h"
#include "sim/run/exact_after.h"
#include "sim/run/inputs.h"

namespace proveout::mesh_files {
namespace {

static_assert(std::endian::native == std::endian::little,
              "mesh files are written as memory holds them");

template <class T>
void put(std::string& bytes, const T& value) {
  char raw[sizeof(T)];
  std::memcpy(raw, &value, sizeof(T));
  bytes.append(raw, sizeof(T));
}

Eigen::Vector3f vertex(const page::Surface& surface, std::size_t i) {
  return {surface.vertices[3 * i], surface.vertices[3 * i + 1], surface.vertices[3 * i + 2]};
}

}  // namespace

std::string stl(const page::Surface& surface, const std::string& note) {
  const std::size_t count = surface.triangles.size() / 3;
  std::string bytes = note;
  bytes.resize(80, ' ');
  bytes.reserve(84 + 50 * count);
  put(bytes, static_cast<std::uint32_t>(count));
  for (std::size_t t = 0; t < count; ++t) {
    Eigen::Vector3f corner[3];
    for (int k = 0; k < 3; ++k) corner[k] = vertex(surface, surface.triangles[3 * t + k]);
    Eigen::Vector3f normal = (corner[1] - corner[0]).cross(corner[2] - corner[0]);
    const float length = normal.norm();
    if (length > 0) normal /= length;
    for (int a = 0; a < 3; ++a) put(bytes, normal[a]);
    for (const Eigen::Vector3f& p : corner)
      for (int a = 0; a < 3; ++a) put(bytes, p[a]);
    put(bytes, std::uint16_t{0});
  }
  return bytes;
}

std::string ply(const page::Surface& surface, const std::string& note) {
  const std::size_t vertices = surface.vertices.size() / 3,
                    triangles = surface.triangles.size() / 3;
  const bool made_by = surface.made_by.size() == vertices;
  const bool deviation = surface.deviation.size() == vertices;
  std::string bytes = fmt::format(
      "ply\nformat binary_little_endian 1.0\ncomment {}\nelement vertex {}\n"
      "property float x\nproperty float y\nproperty float z\n{}{}element face {}\n"
      "property list uchar uint vertex_indices\nend_header\n",
      note, vertices, made_by ? "property uint made_by\n" : "",
      deviation ? "property float deviation\n" : "", triangles);
  for (std::size_t v = 0; v < vertices; ++v) {
    for (int a = 0; a < 3; ++a) put(bytes, surface.vertices[3 * v + a]);
    if (made_by) put(bytes, static_cast<std::uint32_t>(surface.made_by[v]));
    if (deviation) put(bytes, static_cast<float>(surface.deviation[v]));
  }
  for (std::size_t t = 0; t < triangles; ++t) {
    put(bytes, std::uint8_t{3});
    for (int k = 0; k < 3; ++k)
      put(bytes, static_cast<std::uint32_t>(surface.triangles[3 * t + k]));
  }
  return bytes;
}

std::string three_mf(const page::Surface& surface, const std::string& note) {
  std::string model =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en\" "
      "xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n<metadata "
      "name=\"Description\">" +
      note +
      "</metadata>\n<resources>\n<object "
      "id=\"1\" "
      "type=\"model\">\n<mesh>\n<vertices>\n";
  auto to = std::back_inserter(model);
  for (std::size_t v = 0; v < surface.vertices.size() / 3; ++v) {
    const Eigen::Vector3f p = vertex(surface, v);
    fmt::format_to(to, "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>\n", p.x(), p.y(), p.z());
  }
  model += "</vertices>\n<triangles>\n";
  for (std::size_t t = 0; t < surface.triangles.size() / 3; ++t) {
    fmt::format_to(to, "<triangle v1=\"{}\" v2=\"{}\" v3=\"{}\"/>\n", surface.triangles[3 * t],
                   surface.triangles[3 * t + 1], surface.triangles[3 * t + 2]);
  }
  model +=
      "</triangles>\n</mesh>\n</object>\n</resources>\n<build>\n<item "
      "objectid=\"1\"/>\n</build>\n</model>\n";
  return files::zip(
      {{"[Content_Types].xml",
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Types "
        "xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"><Default "
        "Extension=\"rels\" "
        "ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default "
        "Extension=\"model\" "
        "ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>\n"},
       {"_rels/.rels",
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Relationships "
        "xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"><Relationship "
        "Id=\"rel0\" "
        "Target=\"/3D/3dmodel.model\" "
        "Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></"
        "Relationships>\n"},
       {"3D/3dmodel.model", model}});
}

std::vector<WrittenMesh> write_meshes(const run::JobResult& result,
                                      const std::filesystem::path& folder, files::FileSet& set,
                                      std::size_t most_vertices) {
  const solid::PartDistance* const part = run::part_of(result);
  const run::Inputs& inputs = *result.inputs;
  std::optional<solid::FaceTree> blank_mesh;
  if (inputs.blank_mesh) blank_mesh.emplace(*inputs.blank_mesh);
  const stock::BlankShape blank{inputs.blank, blank_mesh ? &*blank_mesh : nullptr};
  std::vector<WrittenMesh> written;
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    const bool last = s + 1 == result.setups.size();
    const stock::Stock* stock =
        s < result.stock_after.size() ? result.stock_after[s].get() : nullptr;
    if (stock == nullptr && last) stock = result.stock.get();
    if (stock == nullptr) continue;
    // Only the last setup leaves what should be the part.
    const auto exact = run::exact_after(result, s + 1, blank, inputs.bodies, blank.box);
    const auto [surface, error] = measured_mesh(
        *stock, page::stock_surface(*stock, last ? part : nullptr, most_vertices, exact.get()),
        exact.get());
    // Rounded up: what the file promises must hold.
    const std::string note =
        fmt::format("mm, stock coordinates, within {:.3f} mm of the dry run's stock",
                    std::ceil(error.furthest * 1000) / 1000);
    set.write(folder / files::setup_file(s, files::stl_ending), stl(surface, note));
    set.write(folder / files::setup_file(s, files::ply_ending), ply(surface, note));
    set.write(folder / files::setup_file(s, files::three_mf_ending), three_mf(surface, note));
    written.push_back({result.setups[s].name, surface.triangles.size() / 3, error});
  }
  return written;
}

nlohmann::ordered_json meshes_json(const std::vector<WrittenMesh>& meshes) {
  auto out = nlohmann::ordered_json::array();
  for (const WrittenMesh& m : meshes) {
    const Vec3& at = m.error.furthest_at;
    out.push_back(
        {{"setup", m.setup},
         {"triangles", m.triangles},
         {"furthest", json::rounded(m.error.furthest)},
         {"furthest_at", {json::rounded(at.x()), json::rounded(at.y()), json::rounded(at.z())}},
         {"mean", json::rounded(m.error.mean)}});
  }
  return out;
}

}  // namespace proveout::mesh_files
