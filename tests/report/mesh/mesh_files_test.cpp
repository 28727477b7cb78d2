// Exports of a two-sided block whose volume is known: each mesh file is closed and holds that
// volume when assimp reads it; the toolpath has the program's motions with their lengths.
#include "report/mesh/mesh_files.h"

#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <gtest/gtest.h>

#include <array>
#include <assimp/Importer.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <pugixml.hpp>
#include <sstream>

#include "report/files/atomic_file.h"
#include "report/files/zip.h"
#include "report/mesh/path_file.h"
#include "sim/pipeline/dry_run.h"

namespace proveout::mesh_files {
namespace {

namespace fs = std::filesystem;

class Exported : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    std::string name = (fs::temp_directory_path() / "proveout-mesh-XXXXXX").string();
    folder = ::mkdtemp(name.data());
    std::ofstream(folder / "a.nc")
        << "G21 G90\nT1 M6\nS9000 M3\nG0 X-5 Y10 Z5\nG0 Z-4\nG1 X35 F500\nG0 Z5\nG0 X15 Y15\n"
           "G1 Z-3\nG2 X15 Y15 I-5 J0\nG0 Z5\nM30\n";
    std::ofstream(folder / "job.toml")
        << "[simulation]\nvoxel = 0.25\n[stock]\nsize = [30, 20, 10]\n[[tools]]\nnumber = 1\nshape "
           "= \"flat\"\ndiameter = 4\n"
           "flute_length = 12\nstickout = 20\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = "
           "{ x = \"min\", y = \"min\", z "
           "= \"top\" }\n";
    Diagnostics diagnostics;
    const auto job = job::read_job(folder / "job.toml", diagnostics);
    ASSERT_TRUE(job);
    pipeline::RunOptions options;
    options.keep_stock_after_setups = true;
    auto made = pipeline::dry_run(*job, options, diagnostics);
    ASSERT_TRUE(made);
    result = new run::JobResult(std::move(*made));
    files::FileSet set;
    written = write_meshes(*result, folder, set);
    write_paths(*result, folder, set);
    set.commit();
  }
  static void TearDownTestSuite() {
    delete result;
    fs::remove_all(folder);
  }
  static inline fs::path folder;
  static inline run::JobResult* result = nullptr;
  static inline std::vector<WrittenMesh> written;
};

TEST_F(Exported, MeshesAreClosedAndHoldTheVolume) {
  for (const char* name : {"setup-1.stl", "setup-1.ply", "setup-1.3mf"}) {
    Assimp::Importer importer;
    const aiScene* scene =
        importer.ReadFile((folder / name).string(), aiProcess_JoinIdenticalVertices);
    ASSERT_NE(scene, nullptr) << name << " " << importer.GetErrorString();
    ASSERT_EQ(scene->mNumMeshes, 1u) << name;
    const aiMesh& mesh = *scene->mMeshes[0];
    ASSERT_GT(mesh.mNumFaces, 100u) << name;  // a block without a cut has twelve
    // Corners at the same place are one: files without shared corners (STL) join here.
    std::map<std::array<float, 3>, int> corner;
    const auto number = [&](unsigned i) {
      const aiVector3D& v = mesh.mVertices[i];
      return corner.try_emplace({v.x, v.y, v.z}, static_cast<int>(corner.size())).first->second;
    };
    std::map<std::pair<int, int>, int> edges;
    double volume = 0;
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
      const aiFace& face = mesh.mFaces[f];
      ASSERT_EQ(face.mNumIndices, 3u);
      const aiVector3D &a = mesh.mVertices[face.mIndices[0]], &b = mesh.mVertices[face.mIndices[1]],
                       &c = mesh.mVertices[face.mIndices[2]];
      volume += static_cast<double>(a * (b ^ c)) / 6;
      for (int k = 0; k < 3; ++k) {
        const int p = number(face.mIndices[k]), q = number(face.mIndices[(k + 1) % 3]);
        ++edges[{p, q}];
      }
    }
    for (const auto& [edge, count] : edges) {
      const auto back = edges.find({edge.second, edge.first});
      ASSERT_TRUE(back != edges.end() && back->second == count) << name << ": an edge is open";
    }
    // The block less what the dry run says was taken.
    EXPECT_NEAR(volume, 30 * 20 * 10 - result->removed_mm3, 0.002 * 6000) << name;
  }
}

// What the file says of its own distance is what was measured, rounded up, and the flat faces
// (known from the program) bear it out: every corner of the mesh on them lies within it.
TEST_F(Exported, FilesSayHowFarTheyLieOff) {
  ASSERT_EQ(written.size(), 1u);
  const double furthest = written[0].error.furthest;
  EXPECT_GT(furthest, 0);
  EXPECT_LT(furthest, 0.25 * std::sqrt(3.0));  // sharp edges are rounded, by less than a cell
  EXPECT_GT(written[0].error.points, 10000u);
  std::ifstream file(folder / "setup-1.stl", std::ios::binary);
  std::string header(80, ' ');
  file.read(header.data(), 80);
  double said = 0;
  ASSERT_EQ(std::sscanf(header.c_str(), "mm, stock coordinates, within %lf mm", &said), 1)
      << header;
  EXPECT_GE(said, furthest);
  EXPECT_LT(said, furthest + 0.00101);
  std::uint32_t count = 0;
  file.read(reinterpret_cast<char*>(&count), 4);
  EXPECT_EQ(count, written[0].triangles);
  // Upright lines through the slot's floor (y = 8 to 12 at z = 10 - 4, away from walls and ends)
  // meet the mesh there and nowhere else between the floor and the block's top.
  std::map<std::pair<int, int>, int> met;
  for (std::uint32_t t = 0; t < count; ++t) {
    float number[12];
    file.read(reinterpret_cast<char*>(number), sizeof number);
    file.ignore(2);
    const float *a = number + 3, *b = number + 6, *c = number + 9;
    const float twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if (!(twice > 0)) continue;  // looks upwards
    for (int i = 2; i <= 28; ++i) {
      for (int j = 9; j <= 11; ++j) {
        // Off the lattice, so that no line goes through a corner or an edge.
        const float x = static_cast<float>(i) + 0.0137f, y = static_cast<float>(j) + 0.0071f;
        const float u = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / twice;
        const float v = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / twice;
        if (u < 0 || v < 0 || u + v > 1) continue;
        EXPECT_NEAR(a[2] + u * (b[2] - a[2]) + v * (c[2] - a[2]), 6, furthest) << x << ' ' << y;
        ++met[{i, j}];
      }
    }
  }
  EXPECT_EQ(met.size(), 27u * 3);
  for (const auto& [place, times] : met) EXPECT_EQ(times, 1) << place.first << ' ' << place.second;
}

TEST_F(Exported, SameBytesEveryTime) {
  const auto bytes = [](const fs::path& p) {
    std::ifstream file(p, std::ios::binary);
    std::stringstream s;
    s << file.rdbuf();
    return s.str();
  };
  const std::string first = bytes(folder / "setup-1.3mf");
  files::FileSet set;
  write_meshes(*result, folder, set);
  set.commit();
  EXPECT_EQ(bytes(folder / "setup-1.3mf"), first);
  EXPECT_EQ(files::zip({{"a", "bb"}}), files::zip({{"a", "bb"}}));
}

std::vector<double> numbers(const pugi::xml_node& array) {
  std::istringstream text(array.text().get());
  std::vector<double> out;
  for (double v; text >> v;) out.push_back(v);
  return out;
}

TEST_F(Exported, PathHasTheMotions) {
  pugi::xml_document document;
  ASSERT_TRUE(document.load_file((folder / "setup-1-path.vtp").c_str()));
  const pugi::xml_node piece = document.child("VTKFile").child("PolyData").child("Piece");
  const auto points = numbers(piece.child("Points").child("DataArray"));
  const auto offsets = numbers(piece.child("Lines").find_child_by_attribute("Name", "offsets"));
  const auto& motions = result->setups[0].source->motions;
  ASSERT_EQ(offsets.size(), motions.size());
  ASSERT_EQ(points.size(), 3 * piece.attribute("NumberOfPoints").as_ullong());
  ASSERT_EQ(offsets.back(), piece.attribute("NumberOfPoints").as_double());
  std::size_t from = 0;
  for (std::size_t i = 0; i < motions.size(); ++i) {
    double length = 0;
    for (std::size_t p = from + 1; p < static_cast<std::size_t>(offsets[i]); ++p) {
      length += std::hypot(points[3 * p] - points[3 * p - 3], points[3 * p + 1] - points[3 * p - 2],
                           points[3 * p + 2] - points[3 * p - 1]);
    }
    EXPECT_NEAR(length, nc::length(motions[i]), 2e-3 * nc::length(motions[i]) + 1e-3) << i;
    from = static_cast<std::size_t>(offsets[i]);
  }
  const auto lines = numbers(piece.child("CellData").find_child_by_attribute("Name", "line"));
  const auto taken =
      numbers(piece.child("CellData").find_child_by_attribute("Name", "removed_mm3"));
  ASSERT_EQ(lines.size(), motions.size());
  double removed = 0;
  for (double v : taken) removed += v;
  EXPECT_NEAR(removed, result->removed_mm3, 1e-3 * removed);
  for (std::size_t i = 0; i < motions.size(); ++i) EXPECT_EQ(lines[i], motions[i].line);
}

}  // namespace
}  // namespace proveout::mesh_files
