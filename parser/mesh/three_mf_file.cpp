#include "parser/mesh/three_mf_file.h"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <map>
#include <optional>
#include <pugixml.hpp>
#include <string>
#include <utility>
#include <vector>

#include "parser/mesh/mesh.h"
#include "parser/mesh/text_words.h"
#include "parser/mesh/zip_file.h"

namespace proveout::mesh {
namespace {

constexpr std::size_t most_model_bytes = 150'000'000, most_relation_bytes = 1'000'000;
constexpr int most_depth = 32;
constexpr int most_instances = 100'000;

// Names without what a writer may put before the colon.
bool is(const pugi::xml_node& node, std::string_view name) {
  const std::string_view whole = node.name();
  const std::size_t colon = whole.find(':');
  return whole.substr(colon == std::string_view::npos ? 0 : colon + 1) == name;
}
pugi::xml_node child(const pugi::xml_node& of, std::string_view name) {
  for (const pugi::xml_node& c : of.children()) {
    if (is(c, name)) return c;
  }
  return {};
}

// Specification, table of units of the model element.
std::optional<double> mm_of_unit(std::string_view unit) {
  static constexpr std::pair<std::string_view, double> units[] = {
      {"", 1},        {"micron", 1e-3}, {"millimeter", 1}, {"centimeter", 10},
      {"inch", 25.4}, {"foot", 304.8},  {"meter", 1000}};
  for (const auto& [name, mm] : units) {
    if (unit == name) return mm;
  }
  return std::nullopt;
}

struct Placing {
  Eigen::Matrix3d turn = Eigen::Matrix3d::Identity();
  Vec3 shift = Vec3::Zero();
  Vec3 of(const Vec3& p) const { return turn * p + shift; }
  Placing behind(const Placing& inner) const {
    return {turn * inner.turn, turn * inner.shift + shift};
  }
};

// Twelve numbers, the rows of a matrix that stands behind the place: [x y z 1] M.
std::optional<Placing> placing_of(const pugi::xml_node& node) {
  Placing out;
  std::string_view text = node.attribute("transform").value();
  if (text.empty()) return out;
  double value[12];
  for (double& v : value) {
    if (!read_number(take_word(text), v) || !std::isfinite(v)) return std::nullopt;
  }
  if (!take_word(text).empty()) return std::nullopt;
  for (int row = 0; row < 3; ++row) {
    for (int k = 0; k < 3; ++k) out.turn(k, row) = value[3 * row + k];
  }
  out.shift = Vec3(value[9], value[10], value[11]);
  return out;
}

class Model {
 public:
  std::variant<Polygons, MeshFileError> read(std::string& xml) {
    pugi::xml_document document;
    const auto parsed = document.load_buffer_inplace(xml.data(), xml.size(), pugi::parse_minimal);
    const pugi::xml_node model = child(document, "model");
    if (!parsed || !model) return wrong("its model is no XML that can be read");
    const auto mm = mm_of_unit(model.attribute("unit").value());
    if (!mm)
      return wrong(fmt::format("its unit '{}' is none", shown(model.attribute("unit").value())));
    Placing in_mm;
    in_mm.turn *= *mm;
    for (const pugi::xml_node& object : child(model, "resources").children()) {
      if (is(object, "object")) objects_[object.attribute("id").value()] = object;
    }
    int items = 0;
    for (const pugi::xml_node& item : child(model, "build").children()) {
      if (!is(item, "item")) continue;
      ++items;
      if (!instance(item, in_mm, 0)) return *error_;
    }
    if (items == 0) return wrong("nothing in it is to be built");
    return std::move(out_);
  }

 private:
  static MeshFileError wrong(const std::string& what, const char* code = "mesh-unreadable") {
    return {code, fmt::format("is no 3MF file that can be read: {}", what)};
  }
  bool fail(const std::string& what, const char* code = "mesh-unreadable") {
    error_ = wrong(what, code);
    return false;
  }
  // An item or a component: an object at a place.
  bool instance(const pugi::xml_node& node, const Placing& outer, int depth) {
    if (depth > most_depth) return fail("its components lie in each other without end");
    if (++instances_ > most_instances)
      return fail(fmt::format("it puts more than {} components together", most_instances),
                  "mesh-too-fine");
    for (const pugi::xml_attribute& a : node.attributes()) {
      const std::string_view name = a.name();
      if (name == "path" || name.ends_with(":path"))
        return fail("parts of it lie in further model files, which are not followed");
    }
    const char* id = node.attribute("objectid").value();
    const auto object = objects_.find(id);
    if (object == objects_.end())
      return fail(fmt::format("there is no object '{}'", shown(id)), "mesh-bad-index");
    const auto placing = placing_of(node);
    if (!placing) return fail("a transform is not twelve numbers");
    return place(object->second, outer.behind(*placing), depth);
  }
  bool place(const pugi::xml_node& object, const Placing& placing, int depth) {
    const std::string_view type = object.attribute("type").value();
    // Supports and the like are no part of what should be left.
    if (!type.empty() && type != "model") return true;
    for (const pugi::xml_node& component : child(object, "components").children()) {
      if (is(component, "component") && !instance(component, placing, depth + 1)) return false;
    }
    const pugi::xml_node mesh = child(object, "mesh");
    return !mesh || add(mesh, placing);
  }
  const Mesh* read_mesh(const pugi::xml_node& node) {
    const auto known = meshes_.find(node.internal_object());
    if (known != meshes_.end()) return &known->second;
    Mesh mesh;
    for (const pugi::xml_node& v : child(node, "vertices").children()) {
      Vec3 p;
      if (!read_number(v.attribute("x").value(), p.x()) ||
          !read_number(v.attribute("y").value(), p.y()) ||
          !read_number(v.attribute("z").value(), p.z())) {
        fail(fmt::format("vertex {} is not three numbers", mesh.vertices.size()));
        return nullptr;
      }
      mesh.vertices.push_back(p);
    }
    for (const pugi::xml_node& t : child(node, "triangles").children()) {
      std::array<std::uint32_t, 3> corners{};
      for (std::size_t k = 0; k < 3; ++k) {
        const char* names[] = {"v1", "v2", "v3"};
        const std::string_view word = t.attribute(names[k]).value();
        const auto end = word.data() + word.size();
        if (word.empty() || std::from_chars(word.data(), end, corners[k]).ptr != end ||
            corners[k] >= mesh.vertices.size()) {
          fail(fmt::format("triangle {} names corner '{}' of {}", mesh.triangles.size(),
                           shown(word), mesh.vertices.size()),
               "mesh-bad-index");
          return nullptr;
        }
      }
      mesh.triangles.push_back(corners);
    }
    return &meshes_.emplace(node.internal_object(), std::move(mesh)).first->second;
  }
  bool add(const pugi::xml_node& node, const Placing& placing) {
    const Mesh* mesh = read_mesh(node);
    if (mesh == nullptr) return false;
    if (out_.counts.size() + mesh->triangles.size() > most_triangles)
      return fail(fmt::format("it has more than {} million triangles", most_triangles / 1'000'000),
                  "mesh-too-fine");
    const auto first = static_cast<std::uint32_t>(out_.places.size());
    for (const Vec3& p : mesh->vertices) out_.places.push_back(placing.of(p));
    // A mirrored mesh is turned inside out by its transform.
    const bool mirrored = placing.turn.determinant() < 0;
    for (const auto& t : mesh->triangles) {
      out_.counts.push_back(3);
      for (const std::size_t k : {std::size_t{0}, mirrored ? std::size_t{2} : std::size_t{1},
                                  mirrored ? std::size_t{1} : std::size_t{2}})
        out_.corners.push_back(first + t[k]);
    }
    return true;
  }

  std::map<std::string, pugi::xml_node> objects_;
  std::map<const void*, Mesh> meshes_;
  int instances_ = 0;
  Polygons out_;
  std::optional<MeshFileError> error_;
};

// Open Packaging Conventions: the package's relationships tell where the model lies.
std::string model_name(const ZipFile& zip) {
  const std::string usual = "3D/3dmodel.model";
  const auto text = zip.read("_rels/.rels", most_relation_bytes);
  pugi::xml_document relations;
  if (!text || !relations.load_buffer(text->data(), text->size(), pugi::parse_minimal))
    return usual;
  for (const pugi::xml_node& r : child(relations, "Relationships").children()) {
    if (!std::string_view(r.attribute("Type").value()).ends_with("/3dmodel")) continue;
    const std::string target = r.attribute("Target").value();
    return target.starts_with('/') ? target.substr(1) : target;
  }
  return usual;
}

}  // namespace

bool begins_as_zip(std::string_view bytes) { return bytes.starts_with("PK\x03\x04"); }

std::variant<Polygons, MeshFileError> read_three_mf(std::string_view bytes) {
  const auto zip = ZipFile::open(bytes);
  if (!zip)
    return MeshFileError{"mesh-unreadable",
                         "is no 3MF file that can be read: it holds no list of files"};
  auto xml = zip->read(model_name(*zip), most_model_bytes);
  if (!xml)
    return MeshFileError{"mesh-unreadable",
                         "is no 3MF file that can be read: its model is missing, damaged or "
                         "larger than 150 MB"};
  return Model().read(*xml);
}

}  // namespace proveout::mesh
