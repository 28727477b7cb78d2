// PLY files whole and broken. Layout by Turk, "The PLY polygon file format" (1994): header lines,
// then the elements in order, a list as its length and its values.
#include "parser/mesh/ply_file.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <numbers>
#include <optional>
#include <random>

#include "parser/mesh/mesh.h"
#include "parser/mesh/polygon.h"

namespace proveout::mesh {
namespace {

std::string header(const std::string& format, const std::string& vertices, const std::string& faces,
                   const std::string& length = "uchar") {
  return "ply\nformat " + format + " 1.0\ncomment made by hand\nelement vertex " + vertices +
         "\nproperty float x\nproperty float y\nproperty float z\nelement face " + faces +
         "\nproperty list " + length + " int vertex_indices\nend_header\n";
}
const std::string corners = "0 0 0\n1 0 0\n0 1 0\n0 0 1\n";
const std::string faces = "3 0 2 1\n3 0 1 3\n3 1 2 3\n3 2 0 3";

// What is said of a broken file; none: it was read.
std::optional<std::string> refused(const std::string& bytes) {
  const auto read = read_ply(bytes);
  if (const auto* wrong = std::get_if<MeshFileError>(&read)) return wrong->words;
  return std::nullopt;
}

// Bytes of a binary tetrahedron, its lists with lengths of `size` bytes.
std::string binary_body(bool big, std::size_t size) {
  std::string body(48, '\0');  // four vertices of three coordinates of four bytes
  const auto put = [&](std::uint32_t v, std::size_t bytes) {
    for (std::size_t i = 0; i < bytes; ++i) {
      body += static_cast<char>(v >> 8 * (big ? bytes - 1 - i : i));
    }
  };
  for (const char f : faces) {  // "3" ends a line's worth: length, then its three corners
    if (f >= '0' && f <= '3') put(f - '0', 4);
  }
  std::string with_lengths(body.substr(0, 48));
  for (int t = 0; t < 4; ++t) {
    std::string length = body.substr(48 + 16 * t, 4);
    length = big ? length.substr(4 - size) : length.substr(0, size);
    with_lengths += length + body.substr(48 + 16 * t + 4, 12);
  }
  return with_lengths;
}

TEST(PlyFile, WholeFilesClaimWhatTheyHold) {
  EXPECT_FALSE(refused(header("ascii", "4", "4") + corners + faces));
  EXPECT_FALSE(refused(header("ascii", "4", "4") + corners + faces + "\r\n"));
  const std::pair<const char*, std::size_t> lengths[] = {{"uchar", 1}, {"ushort", 2}, {"int", 4}};
  for (const auto& [type, size] : lengths) {
    EXPECT_FALSE(refused(header("binary_little_endian", "4", "4", type) + binary_body(false, size)))
        << type;
    EXPECT_FALSE(refused(header("binary_big_endian", "4", "4", type) + binary_body(true, size)))
        << type;
  }
}

// As in STL and OBJ: nearer to nought than a double holds is nought, and what is too large is no
// place.
TEST(PlyFile, NumbersADoubleDoesNotHold) {
  const auto with = [](const std::string& word) {
    return read_ply(header("ascii", "4", "4") + word + " 0 0\n1 0 0\n0 1 0\n0 0 1\n" + faces);
  };
  const auto small = with("+1e-400");
  ASSERT_TRUE(std::holds_alternative<Polygons>(small));
  EXPECT_EQ(std::get<Polygons>(small).places.at(0).x(), 0);
  const auto large = with("1e400");
  ASSERT_TRUE(std::holds_alternative<Polygons>(large));
  EXPECT_TRUE(std::isinf(std::get<Polygons>(large).places.at(0).x()));
  EXPECT_TRUE(std::holds_alternative<MeshFileError>(with("1e")));
  EXPECT_TRUE(std::holds_alternative<MeshFileError>(with("++1")));
}

TEST(PlyFile, CountsBeyondTheFileAreFalse) {
  for (const char* count : {"4000000000", "1000", "99999999999999999999999999"}) {
    const auto vertices = refused(header("ascii", count, "4") + corners + faces);
    ASSERT_TRUE(vertices) << count;
    EXPECT_NE(vertices->find("of element vertex"), std::string::npos) << *vertices;
    EXPECT_TRUE(refused(header("ascii", "4", count) + corners + faces)) << count;
    EXPECT_TRUE(refused(header("binary_little_endian", count, "4") + binary_body(false, 1)))
        << count;
    EXPECT_TRUE(refused(header("binary_big_endian", "4", count) + binary_body(true, 1))) << count;
  }
}

// Lines that PLY does not have, each alone in an otherwise whole file: a reader that guesses on
// waited for minutes (found by mesh_fuzz).
TEST(PlyFile, HeadersThatCannotBeFollowedAreNamed) {
  const std::string whole = header("ascii", "4", "4");
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = whole;
    const std::size_t at = changed.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    changed.replace(at, from.size(), to);
    return refused(changed + corners + faces);
  };
  EXPECT_FALSE(with("element vertex", "comment made by hand\nelement vertex"));
  for (const char* const wrong :
       {"vertices 4\nelement vertex", "element vertex four\nelement vertex",
        "property real w\nelement vertex", "element vertex 4\nproperty real w\nelement vertex"}) {
    const auto said = with("element vertex", wrong);
    ASSERT_TRUE(said) << wrong;
    EXPECT_NE(said->find("does not have, line "), std::string::npos) << *said;
  }
  EXPECT_TRUE(with("element vertex", "element nothing 8\nelement vertex"));
  EXPECT_TRUE(with("end_header", "end_header\v"));
  EXPECT_TRUE(with("end_header", "end_header or not"));
  const auto endless = with("end_header", "end_heade");
  ASSERT_TRUE(endless);
  const auto formless = with("format ascii 1.0\n", "");
  ASSERT_TRUE(formless);
  EXPECT_NE(formless->find("no format"), std::string::npos) << *formless;
  for (const std::string& text : {std::string("ply"), std::string("ply\n"), header("odd", "4", "4"),
                                  std::string("ply\nformat ascii 1.0\nelement vertex 9\nend"),
                                  "ply" + whole, "Ply " + whole}) {
    EXPECT_TRUE(refused(text)) << text;
  }
}

TEST(PlyFile, ListsBeyondTheFileAreFalse) {
  const auto text = refused(header("ascii", "4", "4") + corners + "3 0 2 1\n4000000000 0 1 3\n");
  ASSERT_TRUE(text);
  EXPECT_NE(text->find("4000000000 values in a list"), std::string::npos) << *text;
  for (const bool big : {false, true}) {
    std::string body = binary_body(big, 4);
    body[48 + 16 + (big ? 0 : 3)] = 0x70;  // the second face's length: about 1.9 billion
    EXPECT_TRUE(refused(
        header(big ? "binary_big_endian" : "binary_little_endian", "4", "4", "uint") + body));
  }
}

// One more than fits, by the byte.
TEST(PlyFile, TheLastByteCounts) {
  const std::string start =
      "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty short x\nproperty double "
      "y\n"
      "property char z\nend_header\n";
  EXPECT_FALSE(refused(start + std::string(33, '\0')));
  EXPECT_TRUE(refused(start + std::string(32, '\0')));
}

TEST(PlyFile, WhatIsNoPlyIsLeftToOtherReaders) {
  for (const std::string& text :
       {std::string(), std::string("solid a\n"), std::string("pl"), std::string(1000, '\0')}) {
    EXPECT_FALSE(begins_as_ply(text)) << text;
  }
}

Polygons polygons_of(const std::string& bytes) {
  auto read = read_ply(bytes);
  if (const auto* wrong = std::get_if<MeshFileError>(&read)) ADD_FAILURE() << wrong->words;
  return std::holds_alternative<Polygons>(read) ? std::get<Polygons>(std::move(read)) : Polygons{};
}

TEST(PlyFile, TextAndBothBinaryFormsReadAlike) {
  const Polygons text = polygons_of(header("ascii", "4", "4") + corners + faces);
  ASSERT_EQ(text.places.size(), 4u);
  EXPECT_EQ(text.places[2], Vec3(0, 1, 0));
  EXPECT_EQ(text.counts, (std::vector<std::uint32_t>{3, 3, 3, 3}));
  EXPECT_EQ(text.corners, (std::vector<std::uint32_t>{0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3}));
  for (const bool big : {false, true}) {
    const Polygons binary = polygons_of(
        header(big ? "binary_big_endian" : "binary_little_endian", "4", "4") + binary_body(big, 1));
    EXPECT_EQ(binary.counts, text.counts);
    EXPECT_EQ(binary.corners, text.corners);
    EXPECT_EQ(binary.places.size(), 4u);
  }
}

// Every type in both byte orders, in an order of properties of its own, between elements of no use.
TEST(PlyFile, TypesAndWhatIsOfNoUse) {
  const auto put = [](std::string& body, auto value, bool big) {
    std::string raw(reinterpret_cast<const char*>(&value), sizeof value);
    if (big) std::reverse(raw.begin(), raw.end());
    body += raw;
  };
  for (const bool big : {false, true}) {
    std::string body;
    put(body, std::int32_t{7}, big);     // element note
    put(body, double{-2.5}, big);        // z
    put(body, std::uint8_t{200}, big);   // red
    put(body, std::int16_t{-300}, big);  // x
    put(body, std::uint16_t{2}, big);    // a list of colours
    put(body, float{1}, big);
    put(body, float{2}, big);
    put(body, std::uint32_t{4000000000u}, big);  // y
    const Polygons read = polygons_of(
        std::string("ply\nformat binary_") + (big ? "big" : "little") +
        "_endian 1.0\nelement note 1\nproperty int length\nelement vertex 1\nproperty float64 z\n"
        "property uint8 red\nproperty int16 x\nproperty list ushort float32 colours\n"
        "property uint y\nend_header\n" +
        body);
    ASSERT_EQ(read.places.size(), 1u);
    EXPECT_EQ(read.places[0], Vec3(-300, 4e9, -2.5));
  }
  EXPECT_EQ(polygons_of("ply\rformat ascii 1.0\relement vertex 1\rproperty float x\rproperty "
                        "float y\rproperty float z\rend_header\r+1e1 -2. .5\r")
                .places.at(0),
            Vec3(10, -2, 0.5));
}

TEST(PlyFile, CornersThatAreNotThere) {
  for (const char* face : {"3 0 1 4", "3 0 1 -1", "3 0 1 1.5", "3 0 1 nan", "3 0 1 99999999999"}) {
    const auto read = read_ply(header("ascii", "4", "1") + corners + face);
    ASSERT_TRUE(std::holds_alternative<MeshFileError>(read)) << face;
    EXPECT_STREQ(std::get<MeshFileError>(read).code, "mesh-bad-index") << face;
  }
  EXPECT_TRUE(refused(header("ascii", "4", "1") + corners + "3 0 one 2"));
  EXPECT_TRUE(refused(header("ascii", "4", "1") + "0 0 zero\n" + corners + "3 0 1 2"));
}

double area(const Vec3& a, const Vec3& b, const Vec3& c) {
  return 0.5 * (b - a).cross(c - a).norm();
}

// Random star-shaped polygons in random planes: the triangles cover the polygon once, so their
// sizes add up to its area (shoelace, by Newell's normal), and each edge of it is used once.
TEST(Polygon, TrianglesCoverItOnce) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> any(0.2, 1);
    const int count = 3 + static_cast<int>(seed % 14);
    const Eigen::Matrix3d turn =
        Eigen::Quaterniond(any(random) - 0.6, any(random), any(random) - 0.6, any(random))
            .normalized()
            .toRotationMatrix();
    std::vector<Vec3> places;
    std::vector<std::uint32_t> corners_of;
    for (int k = 0; k < count; ++k) {
      const double angle = 2 * std::numbers::pi * k / count, r = any(random);
      places.push_back(turn * Vec3(r * std::cos(angle), r * std::sin(angle), 0.3));
      corners_of.push_back(static_cast<std::uint32_t>(k));
    }
    Vec3 newell = Vec3::Zero();
    for (std::size_t k = 0; k < places.size(); ++k)
      newell += 0.5 * places[k].cross(places[(k + 1) % places.size()]);
    // Of a closed loop the sum does not depend on where the plane lies.
    const auto triangles = triangles_of(corners_of, places);
    ASSERT_EQ(triangles.size(), places.size() - 2) << "seed " << seed;
    double sum = 0;
    std::map<std::pair<std::uint32_t, std::uint32_t>, int> edges;
    for (const auto& t : triangles) {
      sum += area(places[t[0]], places[t[1]], places[t[2]]);
      for (std::size_t k = 0; k < 3; ++k) {
        ++edges[{t[k], t[(k + 1) % 3]}];
        --edges[{t[(k + 1) % 3], t[k]}];
      }
    }
    EXPECT_NEAR(sum, newell.norm(), 1e-9) << "seed " << seed;
    for (std::uint32_t k = 0; k < places.size(); ++k) {
      EXPECT_EQ((edges[{k, (k + 1) % static_cast<std::uint32_t>(places.size())}]), 1)
          << "seed " << seed;
    }
  }
}

// An L of 3 x 3 less 2 x 2, extruded by 4: 20 mm3, read whole with its concave faces.
TEST(PlyFile, ConcaveFacesMakeAClosedMesh) {
  std::string text = header("ascii", "12", "8");
  const std::pair<int, int> outline[] = {{0, 0}, {3, 0}, {3, 1}, {1, 1}, {1, 3}, {0, 3}};
  for (int z : {0, 4})
    for (const auto& [x, y] : outline)
      text += std::to_string(x) + " " + std::to_string(y) + " " + std::to_string(z) + "\n";
  text += "6 5 4 3 2 1 0\n6 6 7 8 9 10 11\n";
  for (int k = 0; k < 6; ++k) {
    const int next = (k + 1) % 6;
    text += "4 " + std::to_string(k) + " " + std::to_string(next) + " " + std::to_string(next + 6) +
            " " + std::to_string(k + 6) + "\n";
  }
  const std::filesystem::path file =
      std::filesystem::temp_directory_path() / ("l-" + std::to_string(::getpid()) + ".ply");
  std::ofstream(file) << text;
  Diagnostics diagnostics;
  const auto mesh = read_mesh(file, 1, Vec3::Zero(), "part mesh", diagnostics);
  std::filesystem::remove(file);
  ASSERT_TRUE(mesh);
  EXPECT_TRUE(diagnostics.all().empty());
  EXPECT_EQ(mesh->triangles.size(), 2u * 4 + 6 * 2);
  EXPECT_NEAR(mass_of(*mesh).volume, 20, 1e-9);
}

}  // namespace
}  // namespace proveout::mesh
