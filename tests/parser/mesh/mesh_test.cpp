// Meshes from files: what the file says must come out, scaled and placed, against the closed form
// of a box; and each way a file can be no use is told by its own code, with the file's name.
#include "parser/mesh/mesh.h"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace proveout::mesh {
namespace {

namespace fs = std::filesystem;

using Triangle = std::array<Vec3, 3>;

// A box's twelve triangles, counter-clockwise seen from outside.
std::vector<Triangle> box(const Vec3& low, const Vec3& high) {
  std::vector<Triangle> out;
  const auto corner = [&](int c) {
    return Vec3(c & 1 ? high.x() : low.x(), c & 2 ? high.y() : low.y(), c & 4 ? high.z() : low.z());
  };
  for (const auto& f : std::array<std::array<int, 4>, 6>{
           {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}}) {
    out.push_back({corner(f[0]), corner(f[1]), corner(f[2])});
    out.push_back({corner(f[0]), corner(f[2]), corner(f[3])});
  }
  return out;
}

std::string text_stl(const std::vector<Triangle>& triangles) {
  std::string out = "solid thing\n";
  for (const Triangle& t : triangles) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const Vec3& p : t) out += fmt::format("vertex {} {} {}\n", p.x(), p.y(), p.z());
    out += "endloop\nendfacet\n";
  }
  return out + "endsolid thing\n";
}

// 80 bytes of header, the count, then per triangle a normal, three corners and two bytes (common
// practice of the format).
std::string binary_stl(const std::vector<Triangle>& triangles) {
  std::string out(80, ' ');
  const auto put = [&](auto value) {
    char bytes[sizeof value];
    std::memcpy(bytes, &value, sizeof value);
    out.append(bytes, sizeof value);
  };
  put(static_cast<std::uint32_t>(triangles.size()));
  for (const Triangle& t : triangles) {
    for (int k = 0; k < 3; ++k) put(0.0f);
    for (const Vec3& p : t) {
      for (int k = 0; k < 3; ++k) put(static_cast<float>(p[k]));
    }
    put(std::uint16_t{0});
  }
  return out;
}

std::string obj(const std::vector<Triangle>& triangles) {
  std::string out;
  for (const Triangle& t : triangles) {
    for (const Vec3& p : t) out += fmt::format("v {} {} {}\n", p.x(), p.y(), p.z());
  }
  for (std::size_t k = 0; k < triangles.size(); ++k)
    out += fmt::format("f {} {} {}\n", 3 * k + 1, 3 * k + 2, 3 * k + 3);
  return out;
}

struct Read {
  std::optional<Mesh> mesh;
  Diagnostics diagnostics;
  std::string path;
  const Diagnostic* of(std::string_view code) const {
    for (const Diagnostic& d : diagnostics.all()) {
      if (d.code == code) return &d;
    }
    return nullptr;
  }
};

Read read(const std::string& name, const std::string& bytes, double scale = 1,
          const Vec3& origin = Vec3::Zero()) {
  std::string folder = (fs::temp_directory_path() / "proveout-test-XXXXXX").string();
  EXPECT_NE(::mkdtemp(folder.data()), nullptr);
  const fs::path path = fs::path(folder) / name;
  std::ofstream(path, std::ios::binary) << bytes;
  Read out;
  out.path = path.string();
  out.mesh = read_mesh(path, scale, origin, "part", out.diagnostics);
  fs::remove_all(folder);
  return out;
}

const Vec3 low(1, 2, 3), high(5, 8, 11);
const std::vector<Triangle> whole = box(low, high);

TEST(Mesh, EveryFormIsTheSameBoxScaledAndPlaced) {
  const double scale = 25.4;
  const Vec3 origin(-10, 0.5, 7);
  for (const auto& [name, bytes] : {std::pair<std::string, std::string>{"box.stl", text_stl(whole)},
                                    {"binary.stl", binary_stl(whole)},
                                    {"box.obj", obj(whole)}}) {
    const Read r = read(name, bytes, scale, origin);
    ASSERT_TRUE(r.mesh) << name << to_text(r.diagnostics.all().at(0));
    EXPECT_TRUE(r.diagnostics.all().empty()) << name;
    EXPECT_EQ(r.mesh->vertices.size(), 8u) << name << ": corners at one place are joined";
    EXPECT_EQ(r.mesh->triangles.size(), 12u) << name;
    const Box3 b = bounds(*r.mesh);
    EXPECT_LT((b.min() - (scale * low + origin)).norm(), 1e-5) << name;
    EXPECT_LT((b.max() - (scale * high + origin)).norm(), 1e-5) << name;
    // Volume, middle and moments of a box: m (b2 + c2) / 12.
    const Vec3 size = scale * (high - low);
    const MeshMass m = mass_of(*r.mesh);
    const double volume = size.prod();
    EXPECT_NEAR(m.volume, volume, 1e-5 * volume) << name;
    EXPECT_LT((m.centre - (scale * 0.5 * (low + high) + origin)).norm(), 1e-4) << name;
    const Vec3 squares = size.cwiseProduct(size);
    for (int k = 0; k < 3; ++k) {
      const double moment = volume * (squares.sum() - squares[k]) / 12;
      EXPECT_NEAR(m.inertia(k, k), moment, 1e-4 * moment) << name;
      EXPECT_NEAR(m.inertia(k, (k + 1) % 3), 0, 1e-4 * moment) << name;
    }
  }
}

// A triangle that is missing leaves edges without a partner; where one of them lies is said.
TEST(Mesh, AnOpenMeshIsRefusedWithAPlace) {
  std::vector<Triangle> less = whole;
  less.pop_back();  // of the face at x = 5
  const Read r = read("open.stl", text_stl(less));
  EXPECT_FALSE(r.mesh);
  const Diagnostic* d = r.of("mesh-open");
  ASSERT_NE(d, nullptr);
  EXPECT_EQ(d->severity, Severity::error);
  EXPECT_EQ(d->place.file, r.path);
  EXPECT_NE(d->what.find("3 edges are open"), std::string::npos) << d->what;
  EXPECT_NE(d->what.find("near 5.00, "), std::string::npos) << d->what;
}

// Whichever triangle of the box is turned, it is the one that is named, and not called open.
TEST(Mesh, ATurnedTriangleIsNamedByItsPlace) {
  for (std::size_t i = 0; i < whole.size(); ++i) {
    std::vector<Triangle> turned = whole;
    std::swap(turned[i][0], turned[i][1]);
    const Read r = read("turned.stl", text_stl(turned));
    EXPECT_FALSE(r.mesh);
    EXPECT_EQ(r.of("mesh-open"), nullptr);
    const Diagnostic* d = r.of("mesh-turned");
    ASSERT_NE(d, nullptr);
    EXPECT_EQ(d->severity, Severity::error);
    const Vec3 middle = (turned[i][0] + turned[i][1] + turned[i][2]) / 3;
    EXPECT_NE(d->what.find(fmt::format("near {:.2f}, {:.2f}, {:.2f} mm", middle.x(), middle.y(),
                                       middle.z())),
              std::string::npos)
        << d->what;
    EXPECT_NE(d->what.find("3 edges"), std::string::npos) << d->what;
  }
}

// Every triangle twice, one twice, one three times: the box itself, and its volume.
TEST(Mesh, DoubledTrianglesCountOnceAndAreSaid) {
  std::vector<Triangle> all = whole, one = whole, thrice = whole;
  all.insert(all.end(), whole.begin(), whole.end());
  one.push_back({whole[3][1], whole[3][2], whole[3][0]});  // another corner first
  thrice.insert(thrice.end(), {whole[0], whole[0]});
  for (const auto& [triangles, doubled] :
       {std::pair(all, 12), std::pair(one, 1), std::pair(thrice, 2)}) {
    const Read r = read("doubled.stl", text_stl(triangles));
    ASSERT_TRUE(r.mesh) << to_text(r.diagnostics.all().at(0));
    EXPECT_EQ(r.mesh->triangles.size(), 12u);
    EXPECT_NEAR(mass_of(*r.mesh).volume, (high - low).prod(), 1e-4);
    const Diagnostic* d = r.of("mesh-doubled");
    ASSERT_NE(d, nullptr);
    EXPECT_EQ(d->severity, Severity::warning);
    EXPECT_EQ(d->what.substr(0, d->what.find(' ')), std::to_string(doubled));
  }
}

// Two boxes with an edge in common have edges of four triangles, and none of them is doubled.
TEST(Mesh, BodiesThatShareAnEdgeAreNotDoubled) {
  std::vector<Triangle> two = whole;
  const std::vector<Triangle> other = box(high - Vec3(0, 0, 8), high + Vec3(4, 6, 0));
  two.insert(two.end(), other.begin(), other.end());
  const Read r = read("two.stl", text_stl(two));
  ASSERT_TRUE(r.mesh) << to_text(r.diagnostics.all().at(0));
  EXPECT_TRUE(r.diagnostics.all().empty());
  EXPECT_EQ(r.mesh->triangles.size(), 24u);
}

TEST(Mesh, InsideOutIsTurnedAndSaid) {
  std::vector<Triangle> inside_out = whole;
  for (Triangle& t : inside_out) std::swap(t[1], t[2]);
  const Read r = read("inside-out.stl", text_stl(inside_out));
  ASSERT_TRUE(r.mesh);
  ASSERT_NE(r.of("mesh-inside-out"), nullptr);
  EXPECT_EQ(r.of("mesh-inside-out")->severity, Severity::warning);
  EXPECT_NEAR(mass_of(*r.mesh).volume, (high - low).prod(), 1e-4);
}

TEST(Mesh, TrianglesWithoutAreaAreDroppedAndSaid) {
  std::vector<Triangle> more = whole;
  more.push_back({low, low, high});
  more.push_back({high, high, high});
  const Read r = read("slivers.stl", text_stl(more));
  ASSERT_TRUE(r.mesh);
  EXPECT_EQ(r.mesh->triangles.size(), 12u);
  ASSERT_NE(r.of("mesh-degenerate"), nullptr);
  EXPECT_EQ(r.of("mesh-degenerate")->severity, Severity::note);
  EXPECT_EQ(r.of("mesh-degenerate")->what.substr(0, 2), "2 ");
}

TEST(Mesh, FilesOfNoUseAreRefusedByName) {
  std::vector<Triangle> far = box(low, Vec3(5, 8, 2e5));
  std::string no_number = binary_stl(whole);
  const float nan = std::numeric_limits<float>::quiet_NaN();
  std::memcpy(no_number.data() + 84 + 12, &nan, sizeof nan);
  std::string outside = obj(whole);
  outside += "f 1 2 37\n";  // 36 corners are there
  struct Bad {
    std::string name, bytes, code;
  };
  for (const Bad& bad : {
           Bad{"far.stl", text_stl(far), "mesh-too-large"},
           Bad{"no-number.stl", no_number, "mesh-not-finite"},
           Bad{"text.stl", "G21 G90\nM30\n", "mesh-unreadable"},
           Bad{"box.step", text_stl(whole), "mesh-unreadable"},
           Bad{"no-name", "solid", "mesh-cut-short"},
           Bad{"points.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nl 1 2\nl 2 3\n", "mesh-empty"},
       }) {
    const Read r = read(bad.name, bad.bytes);
    EXPECT_FALSE(r.mesh) << bad.name;
    const Diagnostic* d = r.of(bad.code);
    ASSERT_NE(d, nullptr) << bad.name << ": "
                          << (r.diagnostics.all().empty() ? "" : to_text(r.diagnostics.all()[0]));
    EXPECT_EQ(d->severity, Severity::error) << bad.name;
    EXPECT_EQ(d->place.file, r.path);
    EXPECT_NE(d->what.find("part"), std::string::npos) << d->what;
    EXPECT_EQ(r.diagnostics.errors(), 1u) << bad.name;
  }
  // A corner that is not there: refused, whichever of the two readers notices.
  const Read r = read("outside.obj", outside);
  EXPECT_FALSE(r.mesh);
  EXPECT_EQ(r.diagnostics.errors(), 1u);
  // Too large by its units.
  EXPECT_FALSE(read("box.stl", text_stl(whole), 25'400).mesh);
  EXPECT_FALSE(read("box.stl", text_stl(whole), 1, Vec3(0, -2e5, 0)).mesh);
}

// Lines and points beside the faces are no part of the surface.
TEST(Mesh, LinesBesideTheFacesAreLeftOut) {
  const Read r = read("with-lines.obj", obj(whole) + "l 1 2\nl 5 9\n");
  ASSERT_TRUE(r.mesh) << to_text(r.diagnostics.all().at(0));
  EXPECT_EQ(r.mesh->triangles.size(), 12u);
  EXPECT_NEAR(mass_of(*r.mesh).volume, (high - low).prod(), 1e-4);
}

}  // namespace
}  // namespace proveout::mesh
