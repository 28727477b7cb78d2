#include "parser/mesh/mesh.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>
#include <string_view>
#include <unordered_map>
#include <variant>

#include "parser/base/text_file.h"
#include "parser/mesh/mesh_bytes.h"
#include "parser/mesh/obj_file.h"
#include "parser/mesh/ply_file.h"
#include "parser/mesh/polygon.h"
#include "parser/mesh/stl_file.h"
#include "parser/mesh/three_mf_file.h"

namespace proveout::mesh {
namespace {

constexpr double largest = 1e5;  // mm
// Share of area times longest edge that counts as a volume: far below any part, far above rounding.
constexpr double least_volume = 1e-9;

double area_of(const Mesh& mesh) {
  double twice = 0;
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    twice += (b - a).cross(c - a).norm();
  }
  return twice / 2;
}

struct VertexKey {
  std::array<float, 3> at;
  bool operator==(const VertexKey&) const = default;
};
struct VertexHash {
  std::size_t operator()(const VertexKey& k) const {
    std::size_t hash = 1469598103934665603ull;
    for (float f : k.at) {
      std::uint32_t bits;
      const float v = f == 0 ? 0.f : f;
      static_assert(sizeof bits == sizeof v);
      __builtin_memcpy(&bits, &v, sizeof bits);
      hash = (hash ^ bits) * 1099511628211ull;
    }
    return hash;
  }
};

// Joins vertices at the same place as they come, triangle by triangle.
class Joiner {
 public:
  Joiner(double scale, const Vec3& origin) : scale_(scale), origin_(origin) {}

  std::uint32_t corner(const Vec3& p) {
    const auto [place, is_new] =
        index_.try_emplace(VertexKey{{static_cast<float>(p.x()), static_cast<float>(p.y()),
                                      static_cast<float>(p.z())}},
                           static_cast<std::uint32_t>(mesh.vertices.size()));
    if (is_new) mesh.vertices.push_back(scale_ * p + origin_);
    return place->second;
  }
  void triangle(std::uint32_t a, std::uint32_t b, std::uint32_t c) {
    if (a == b || b == c || c == a)
      ++degenerate;
    else
      mesh.triangles.push_back({a, b, c});
  }

  Mesh mesh;
  std::size_t degenerate = 0;

 private:
  double scale_;
  Vec3 origin_;
  std::unordered_map<VertexKey, std::uint32_t, VertexHash> index_;
};

void join(const Polygons& polygons, Joiner& out) {
  std::vector<std::uint32_t> to;
  to.reserve(polygons.places.size());
  for (const Vec3& p : polygons.places) to.push_back(out.corner(p));
  std::span<const std::uint32_t> rest = polygons.corners;
  for (const std::uint32_t count : polygons.counts) {
    const auto corners = rest.first(count);
    rest = rest.subspan(count);
    if (count < 3) continue;
    if (count == 3) {
      out.triangle(to[corners[0]], to[corners[1]], to[corners[2]]);
      continue;
    }
    for (const auto& [a, b, c] : triangles_of(corners, polygons.places))
      out.triangle(to[a], to[b], to[c]);
  }
}

// Told by how the file begins, then by its name.
std::variant<Polygons, MeshFileError> read_polygons(std::string_view bytes, std::string form) {
  for (char& c : form) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  if (begins_as_ply(bytes)) return read_ply(bytes);
  if (begins_as_zip(bytes)) return read_three_mf(bytes);
  if (form == ".obj") return read_obj(bytes);
  if (form == ".stl" || (form.empty() && looks_like_stl(bytes))) return read_stl(bytes);
  return MeshFileError{"mesh-unreadable", "is none that can be read: STL, PLY, OBJ and 3MF are"};
}

// What is wrong with how triangles meet at their edges.
struct EdgeFaults {
  std::size_t open = 0;    // edges with an odd number of triangles
  std::size_t turned = 0;  // edges along which triangles run the same way: some face inwards
  bool crowded = false;    // an edge has more than two triangles
  Vec3 open_at = Vec3::Zero(), turned_at = Vec3::Zero();  // mm
};

// A triangle's edge, the lower corner first, and in the last bit which way it runs.
std::uint64_t edge_of(const std::array<std::uint32_t, 3>& t, int k) {
  const std::uint64_t a = t[k], b = t[(k + 1) % 3];
  return a < b ? a << 33 | b << 1 : b << 33 | a << 1 | 1;
}

// The middle of the triangle that runs against most of its neighbours: of one turned triangle all
// three edges are in turned (sorted, without the last bit), of its neighbours one each.
Vec3 most_turned(const Mesh& mesh, const std::vector<std::uint64_t>& turned) {
  std::ptrdiff_t most = -1;
  Vec3 at = Vec3::Zero();
  for (const auto& t : mesh.triangles) {
    std::ptrdiff_t count = 0;
    for (int k = 0; k < 3; ++k)
      count += std::binary_search(turned.begin(), turned.end(), edge_of(t, k) >> 1) ? 1 : 0;
    if (count <= most) continue;
    most = count;
    at = (mesh.vertices[t[0]] + mesh.vertices[t[1]] + mesh.vertices[t[2]]) / 3;
  }
  return at;
}

// Sorted rather than hashed: a mesh of ten million triangles has thirty million edges.
EdgeFaults edge_faults(const Mesh& mesh) {
  std::vector<std::uint64_t> edges, turned;
  edges.reserve(mesh.triangles.size() * 3);
  for (const auto& t : mesh.triangles)
    for (int k = 0; k < 3; ++k) edges.push_back(edge_of(t, k));
  std::sort(edges.begin(), edges.end());
  EdgeFaults out;
  for (std::size_t i = 0; i < edges.size();) {
    const std::uint64_t edge = edges[i] >> 1;
    const std::size_t first = i;
    std::int64_t sum = 0;
    for (; i < edges.size() && edges[i] >> 1 == edge; ++i) sum += (edges[i] & 1) != 0 ? -1 : 1;
    out.crowded = out.crowded || i - first > 2;
    if (sum == 0) continue;
    if ((i - first) % 2 == 0) {
      turned.push_back(edge);
      continue;
    }
    if (out.open++ == 0)
      out.open_at = 0.5 * (mesh.vertices[edge >> 32] + mesh.vertices[edge & 0xFFFFFFFFu]);
  }
  out.turned = turned.size();
  if (out.turned != 0) out.turned_at = most_turned(mesh, turned);
  return out;
}

// Of triangles that stand there more than once, turned the same way, the first is left. How many
// went.
std::size_t drop_doubled(Mesh& mesh) {
  std::vector<std::pair<std::array<std::uint32_t, 3>, std::uint32_t>> order;
  order.reserve(mesh.triangles.size());
  for (std::uint32_t i = 0; i < mesh.triangles.size(); ++i) {
    auto t = mesh.triangles[i];
    std::rotate(t.begin(), std::min_element(t.begin(), t.end()), t.end());
    order.emplace_back(t, i);
  }
  std::sort(order.begin(), order.end());
  std::vector<bool> doubled(mesh.triangles.size());
  for (std::size_t k = 1; k < order.size(); ++k)
    if (order[k].first == order[k - 1].first) doubled[order[k].second] = true;
  std::size_t i = 0;
  return std::erase_if(mesh.triangles, [&](const auto&) { return doubled[i++]; });
}

std::string counted(std::size_t triangles) {
  return fmt::format("{} triangle{}", triangles, triangles == 1 ? "" : "s");
}

// False where the mesh bounds no body, after saying why.
bool closed(Mesh& mesh, const Place& place, const std::string& what, Diagnostics& diagnostics) {
  EdgeFaults faults = edge_faults(mesh);
  // A body given twice has every edge in order and twice its volume.
  if (const std::size_t doubled = faults.crowded ? drop_doubled(mesh) : 0; doubled != 0) {
    diagnostics.warning("mesh-doubled", place,
                        fmt::format("{} of this {} stood there more than once: one of each is left",
                                    counted(doubled), what),
                        "export the body once");
    faults = edge_faults(mesh);
  }
  const auto near = [](const Vec3& at) {
    return fmt::format("near {:.2f}, {:.2f}, {:.2f} mm", at.x(), at.y(), at.z());
  };
  if (faults.open != 0) {
    diagnostics.error("mesh-open", place,
                      fmt::format("this {} is not closed: {} edges are open, one {}", what,
                                  faults.open, near(faults.open_at)),
                      "repair the mesh so that every edge has two triangles");
  } else if (faults.turned != 0) {
    diagnostics.error("mesh-turned", place,
                      fmt::format("this {} has triangles turned against their neighbours, one {}: "
                                  "{} edges run the same way in both of theirs",
                                  what, near(faults.turned_at), faults.turned),
                      "make all triangles face outwards and export the mesh again");
  }
  return faults.open == 0 && faults.turned == 0;
}

bool check(Mesh& mesh, std::size_t degenerate, const Place& place, const std::string& what,
           Diagnostics& diagnostics) {
  if (mesh.triangles.empty()) {
    diagnostics.error("mesh-empty", place, fmt::format("this {} has no triangles", what));
    return false;
  }
  for (const Vec3& v : mesh.vertices) {
    if (!v.allFinite()) {
      diagnostics.error("mesh-not-finite", place,
                        fmt::format("this {} has a corner that is no number", what));
      return false;
    }
    if (v.cwiseAbs().maxCoeff() > largest) {
      diagnostics.error("mesh-too-large", place,
                        fmt::format("this {} reaches beyond {:g} mm", what, largest),
                        "check mesh_units and origin");
      return false;
    }
  }
  if (!closed(mesh, place, what, diagnostics)) return false;
  if (degenerate != 0) {
    diagnostics.note("mesh-degenerate", place,
                     fmt::format("{} without area left out", counted(degenerate)));
  }
  const double volume = mass_of(mesh).volume;
  if (std::abs(volume) < least_volume * area_of(mesh) * bounds(mesh).sizes().maxCoeff()) {
    diagnostics.error("mesh-no-volume", place, fmt::format("this {} encloses no volume", what),
                      "export the body, not a surface");
    return false;
  }
  if (volume < 0) {
    diagnostics.warning("mesh-inside-out", place,
                        fmt::format("this {} is inside out and was turned", what),
                        "check how it was exported");
    for (auto& t : mesh.triangles) std::swap(t[1], t[2]);
  }
  return true;
}

}  // namespace

std::optional<Mesh> read_mesh(const std::filesystem::path& path, double scale, const Vec3& origin,
                              const std::string& what_it_is, Diagnostics& diagnostics) {
  const auto bytes = read_text_file(path, what_it_is, diagnostics, most_mesh_bytes);
  return bytes ? mesh_of(*bytes, path, scale, origin, what_it_is, diagnostics) : std::nullopt;
}

std::optional<Mesh> mesh_of(std::string_view bytes, const std::filesystem::path& path, double scale,
                            const Vec3& origin, const std::string& what_it_is,
                            Diagnostics& diagnostics) {
  const Place place{path.string(), 0, 0, 0};
  Joiner out(scale, origin);
  auto polygons = read_polygons(bytes, path.extension().string());
  if (const auto* faces = std::get_if<Polygons>(&polygons)) {
    const auto most = std::ranges::max_element(faces->counts);
    // Cutting a face into triangles takes the square of its corners.
    if (most != faces->counts.end() && *most > most_face_corners)
      polygons = MeshFileError{
          "mesh-too-fine",
          fmt::format("has a face of {} corners, more than {}", *most, most_face_corners)};
  }
  if (const auto* wrong = std::get_if<MeshFileError>(&polygons)) {
    diagnostics.error(wrong->code, place, fmt::format("this {} {}", what_it_is, wrong->words),
                      "export the mesh again");
    return std::nullopt;
  }
  join(std::get<Polygons>(polygons), out);
  if (out.mesh.triangles.size() > most_triangles) {
    diagnostics.error("mesh-too-fine", place,
                      fmt::format("this {} has {} triangles, more than {} million", what_it_is,
                                  out.mesh.triangles.size(), most_triangles / 1'000'000),
                      "export it coarser: a hundredth of a millimetre is finer than any router");
    return std::nullopt;
  }
  if (!check(out.mesh, out.degenerate, place, what_it_is, diagnostics)) return std::nullopt;
  return std::move(out.mesh);
}

MeshMass mass_of(const Mesh& mesh) {
  // Moments of the signed tetrahedra (origin, a, b, c): Tonon, "Explicit exact formulas for the 3-D
  // tetrahedron inertia tensor", J. Math. Stat. 1 (2004) 8-11, in the second-moment form.
  MeshMass out;
  Eigen::Matrix3d second = Eigen::Matrix3d::Zero();
  Vec3 first = Vec3::Zero();
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const double v = a.dot(b.cross(c)) / 6;
    const Vec3 sum = a + b + c;
    out.volume += v;
    first += v * sum / 4;
    second += v / 20 *
              (a * a.transpose() + b * b.transpose() + c * c.transpose() + sum * sum.transpose());
  }
  if (out.volume == 0) return out;
  out.centre = first / out.volume;
  const Eigen::Matrix3d about = second - out.volume * out.centre * out.centre.transpose();
  out.inertia = about.trace() * Eigen::Matrix3d::Identity() - about;
  return out;
}

Box3 bounds(const Mesh& mesh) {
  Box3 box;
  for (const Vec3& v : mesh.vertices) box.extend(v);
  return box;
}

}  // namespace proveout::mesh
