// One mesh in every form of file, told by its own corners. Rivals: the mesh itself, and a
// general-purpose mesh library (assimp, Debian's) that reads the same bytes.
#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>
#include <zlib.h>

#include <assimp/Importer.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>

#include "parser/mesh/mesh.h"
#include "tests/parser/mesh/star_mesh.h"

namespace proveout::mesh {
namespace {

namespace fs = std::filesystem;

// To a float's digits, so that every form keeps them.
Mesh star(unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> radius(5, 9), shift(-20, 20);
  const Vec3 centre(shift(random), shift(random), shift(random));
  Mesh mesh = star_mesh(centre, 5, 8, [&] { return radius(random); });
  for (Vec3& v : mesh.vertices) v = v.cast<float>().cast<double>();
  return mesh;
}

std::string stl_text(const Mesh& mesh) {
  std::string out = "solid a star\n";
  for (const auto& t : mesh.triangles) {
    out += " facet normal 0 0 0\n  outer loop\n";
    for (const auto c : t) {
      const Vec3& p = mesh.vertices[c];
      out += fmt::format("   vertex {:.9g} {:.9e} {:.9g}\n", p.x(), p.y(), p.z());
    }
    out += "  endloop\n endfacet\n";
  }
  return out + "endsolid a star\n";
}

std::string stl_binary(const Mesh& mesh, const std::string& head) {
  std::string out = head;
  out.resize(80, ' ');
  const auto put = [&](const void* value, std::size_t bytes) {
    out.append(static_cast<const char*>(value), bytes);
  };
  const auto count = static_cast<std::uint32_t>(mesh.triangles.size());
  put(&count, 4);
  for (const auto& t : mesh.triangles) {
    const float none[3] = {};
    put(none, sizeof none);
    for (const auto c : t) {
      const Eigen::Vector3f p = mesh.vertices[c].cast<float>();
      put(p.data(), 12);
    }
    out.append(2, '\0');
  }
  return out;
}

// from_the_end: corners counted from the last one back.
std::string obj(const Mesh& mesh, bool from_the_end) {
  std::string out = "# a star\nmtllib none.mtl\no star\n";
  for (const Vec3& p : mesh.vertices)
    out += fmt::format("v {:.9g} {:.9g} {:.9g}\n", p.x(), p.y(), p.z());
  out += "vt 0 0\nvn 0 0 1\ng first\nusemtl none\n";
  const auto size = static_cast<int>(mesh.vertices.size());
  for (const auto& t : mesh.triangles) {
    const auto name = [&](std::uint32_t c) {
      return from_the_end ? static_cast<int>(c) - size : static_cast<int>(c) + 1;
    };
    out += from_the_end
               ? fmt::format("f {}//1 {}//1 \\\r\n {}//1\r\n", name(t[0]), name(t[1]), name(t[2]))
               : fmt::format("f {} {}/1 {}/1/1\n", name(t[0]), name(t[1]), name(t[2]));
  }
  return out;
}

// A ZIP archive (APPNOTE 6.3) of stored files, written here.
std::string zip(const std::vector<std::pair<std::string, std::string>>& files) {
  std::string out, list;
  const auto number = [](std::string& to, std::uint32_t value, int bytes) {
    for (int k = 0; k < bytes; ++k) to += static_cast<char>(value >> 8 * k & 255);
  };
  for (const auto& [name, text] : files) {
    const auto at = static_cast<std::uint32_t>(out.size());
    std::string fields;
    const auto size = static_cast<std::uint32_t>(text.size());
    for (const auto& [value, bytes] : std::vector<std::pair<std::uint32_t, int>>{
             {20, 2},
             {0, 2},
             {0, 2},
             {0, 4},
             {static_cast<std::uint32_t>(
                  crc32(0, reinterpret_cast<const Bytef*>(text.data()), size)),
              4},
             {size, 4},
             {size, 4},
             {static_cast<std::uint32_t>(name.size()), 2},
             {0, 2}})
      number(fields, value, bytes);
    out += "PK\x03\x04" + fields + name + text;
    list += "PK\x01\x02";
    number(list, 20, 2);
    list += fields;
    for (const auto& [value, bytes] :
         std::vector<std::pair<std::uint32_t, int>>{{0, 2}, {0, 2}, {0, 2}, {0, 4}, {at, 4}})
      number(list, value, bytes);
    list += name;
  }
  const auto begin = static_cast<std::uint32_t>(out.size());
  out += list + "PK\x05\x06" + std::string(4, '\0');
  number(out, static_cast<std::uint32_t>(files.size()), 2);
  number(out, static_cast<std::uint32_t>(files.size()), 2);
  number(out, static_cast<std::uint32_t>(list.size()), 4);
  number(out, begin, 4);
  number(out, 0, 2);
  return out;
}

std::string object(int id, const Mesh& mesh) {
  std::string out = fmt::format("<object id=\"{}\" type=\"model\"><mesh><vertices>", id);
  for (const Vec3& p : mesh.vertices)
    out += fmt::format("<vertex x=\"{:.9g}\" y=\"{:.9g}\" z=\"{:.9g}\"/>", p.x(), p.y(), p.z());
  out += "</vertices><triangles>";
  for (const auto& t : mesh.triangles)
    out += fmt::format("<triangle v1=\"{}\" v2=\"{}\" v3=\"{}\"/>", t[0], t[1], t[2]);
  return out + "</triangles></mesh></object>";
}

std::string three_mf(const std::string& unit, const std::string& resources,
                     const std::string& build) {
  return zip({{"_rels/.rels",
               "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/"
               "relationships\"><Relationship Target=\"/3D/odd.model\" Id=\"a\" "
               "Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/>"
               "</Relationships>"},
              {"3D/odd.model",
               fmt::format("<?xml version=\"1.0\"?><model {} "
                           "xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">"
                           "<resources>{}</resources><build>{}</build></model>",
                           unit.empty() ? "" : "unit=\"" + unit + "\"", resources, build)}});
}

std::optional<Mesh> read(const std::string& bytes, const std::string& ending) {
  const fs::path path =
      fs::temp_directory_path() / ("proveout-forms-" + std::to_string(::getpid()) + ending);
  std::ofstream(path, std::ios::binary) << bytes;
  Diagnostics diagnostics;
  auto mesh = read_mesh(path, 1, Vec3::Zero(), "mesh", diagnostics);
  for (const Diagnostic& d : diagnostics.all()) ADD_FAILURE() << ending << ": " << to_text(d);
  fs::remove(path);
  return mesh;
}

void expect_same_body(const Mesh& a, const Mesh& b, const std::string& what) {
  EXPECT_EQ(a.vertices.size(), b.vertices.size()) << what;
  EXPECT_EQ(a.triangles.size(), b.triangles.size()) << what;
  const MeshMass ma = mass_of(a), mb = mass_of(b);
  EXPECT_NEAR(ma.volume, mb.volume, 1e-5 * std::abs(mb.volume)) << what;
  EXPECT_LT((ma.centre - mb.centre).norm(), 1e-4) << what;
  EXPECT_LT((bounds(a).min() - bounds(b).min()).norm(), 1e-4) << what;
  EXPECT_LT((bounds(a).max() - bounds(b).max()).norm(), 1e-4) << what;
}

// The same by the library.
double library_volume(const std::string& bytes, const char* form) {
  Assimp::Importer importer;
  const aiScene* scene =
      importer.ReadFileFromMemory(bytes.data(), bytes.size(), aiProcess_Triangulate, form);
  if (scene == nullptr) return 0;
  double six = 0;
  for (unsigned m = 0; m < scene->mNumMeshes; ++m) {
    const aiMesh& mesh = *scene->mMeshes[m];
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
      const auto corner = [&](unsigned k) {
        const aiVector3D& p = mesh.mVertices[mesh.mFaces[f].mIndices[k]];
        return Vec3(p.x, p.y, p.z);
      };
      six += corner(0).dot(corner(1).cross(corner(2)));
    }
  }
  return six / 6;
}

TEST(MeshForms, EveryFormGivesTheSameBody) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    const Mesh mesh = star(seed);
    struct Form {
      const char *name, *ending;
      std::string bytes;
    };
    for (const Form& f :
         {Form{"text STL", ".stl", stl_text(mesh)},
          Form{"binary STL", ".STL", stl_binary(mesh, "x")},
          Form{"binary STL that begins as text", ".stl", stl_binary(mesh, "solid star")},
          Form{"OBJ", ".obj", obj(mesh, false)}, Form{"OBJ from the end", ".OBJ", obj(mesh, true)},
          Form{"3MF", ".3mf", three_mf("", object(1, mesh), "<item objectid=\"1\"/>")}}) {
      const std::string what = fmt::format("{}, seed {}", f.name, seed);
      const auto got = read(f.bytes, f.ending);
      ASSERT_TRUE(got) << what;
      expect_same_body(*got, mesh, what);
      if (f.ending == std::string(".stl") || f.ending == std::string(".obj")) {
        const double rival = library_volume(f.bytes, f.ending + 1);
        EXPECT_NEAR(mass_of(*got).volume, rival, 1e-4 * rival) << what;
      }
    }
  }
}

// Units: 3MF Core Specification 1.3, the model element's table.
TEST(MeshForms, UnitsOf3mfAreFollowed) {
  const Mesh mesh = star(5);
  const double volume = mass_of(mesh).volume;
  for (const auto& [unit, mm] : std::vector<std::pair<std::string, double>>{{"", 1},
                                                                            {"micron", 1e-3},
                                                                            {"millimeter", 1},
                                                                            {"centimeter", 10},
                                                                            {"inch", 25.4},
                                                                            {"foot", 304.8},
                                                                            {"meter", 1000}}) {
    const auto got = read(three_mf(unit, object(1, mesh), "<item objectid=\"1\"/>"), ".3mf");
    ASSERT_TRUE(got) << unit;
    EXPECT_NEAR(mass_of(*got).volume, volume * mm * mm * mm, 1e-5 * volume * mm * mm * mm) << unit;
  }
}

// Row vectors: [x y z 1] times the matrix, outer transforms behind inner ones.
TEST(MeshForms, PlacesOf3mfAreFollowed) {
  const Mesh mesh = star(6);
  const MeshMass mass = mass_of(mesh);
  const std::string cube = object(1, mesh);
  const auto one = [&](const std::string& resources, const std::string& build) {
    const auto got = read(three_mf("millimeter", resources, build), ".3mf");
    EXPECT_TRUE(got);
    return got ? mass_of(*got) : MeshMass{};
  };
  // Moved by (100, 200, 300).
  MeshMass m = one(cube, "<item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 1 100 200 300\"/>");
  EXPECT_LT((m.centre - mass.centre - Vec3(100, 200, 300)).norm(), 1e-3);
  // A quarter turn about z takes x to y: the first row is where x goes.
  m = one(cube, "<item objectid=\"1\" transform=\"0 1 0 -1 0 0 0 0 1 0 0 0\"/>");
  EXPECT_LT((m.centre - Vec3(-mass.centre.y(), mass.centre.x(), mass.centre.z())).norm(), 1e-3);
  EXPECT_NEAR(m.volume, mass.volume, 1e-5 * mass.volume);
  // Twice as large inside, moved outside: 2 p + shift.
  const std::string nested = cube +
                             "<object id=\"2\"><components><component objectid=\"1\" "
                             "transform=\"2 0 0 0 2 0 0 0 2 0 0 0\"/></components></object>";
  m = one(nested, "<item objectid=\"2\" transform=\"1 0 0 0 1 0 0 0 1 10 0 0\"/>");
  EXPECT_NEAR(m.volume, 8 * mass.volume, 1e-4 * mass.volume);
  EXPECT_LT((m.centre - 2 * mass.centre - Vec3(10, 0, 0)).norm(), 1e-3);
  // Mirrored: still the outside outside.
  m = one(cube, "<item objectid=\"1\" transform=\"-1 0 0 0 1 0 0 0 1 0 0 0\"/>");
  EXPECT_NEAR(m.volume, mass.volume, 1e-5 * mass.volume);
  // Two of them, and a support that is no part.
  m = one(cube +
              "<object id=\"3\" type=\"support\"><components><component objectid=\"1\"/>"
              "</components></object>",
          "<item objectid=\"1\"/><item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 1 100 0 0\"/>"
          "<item objectid=\"3\" transform=\"1 0 0 0 1 0 0 0 1 300 0 0\"/>");
  EXPECT_NEAR(m.volume, 2 * mass.volume, 1e-5 * mass.volume);
}

}  // namespace
}  // namespace proveout::mesh
