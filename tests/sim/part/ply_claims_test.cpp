// What a PLY file claims against how long it is. Layout of the files by Turk, "The PLY polygon file
// format" (1994): header lines, then the elements in order, a list as its length and its values.
#include "sim/part/ply_claims.h"

#include <gtest/gtest.h>

namespace proveout::part {
namespace {

std::string header(const std::string& format, const std::string& vertices, const std::string& faces,
                   const std::string& length = "uchar") {
  return "ply\nformat " + format + " 1.0\ncomment made by hand\nelement vertex " + vertices +
         "\nproperty float x\nproperty float y\nproperty float z\nelement face " + faces +
         "\nproperty list " + length + " int vertex_indices\nend_header\n";
}
const std::string corners = "0 0 0\n1 0 0\n0 1 0\n0 0 1\n";
const std::string faces = "3 0 2 1\n3 0 1 3\n3 1 2 3\n3 2 0 3";

// Bytes of a binary tetrahedron, its lists with lengths of `size` bytes.
std::string binary_body(bool big, std::size_t size) {
  std::string body(4 * 3 * 4, '\0');
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

TEST(PlyClaims, WholeFilesClaimWhatTheyHold) {
  EXPECT_FALSE(false_claim_of_ply(header("ascii", "4", "4") + corners + faces));
  EXPECT_FALSE(false_claim_of_ply(header("ascii", "4", "4") + corners + faces + "\r\n"));
  const std::pair<const char*, std::size_t> lengths[] = {{"uchar", 1}, {"ushort", 2}, {"int", 4}};
  for (const auto& [type, size] : lengths) {
    EXPECT_FALSE(false_claim_of_ply(header("binary_little_endian", "4", "4", type) +
                                    binary_body(false, size)))
        << type;
    EXPECT_FALSE(
        false_claim_of_ply(header("binary_big_endian", "4", "4", type) + binary_body(true, size)))
        << type;
  }
}

TEST(PlyClaims, CountsBeyondTheFileAreFalse) {
  for (const char* count : {"4000000000", "1000", "99999999999999999999999999"}) {
    const auto vertices = false_claim_of_ply(header("ascii", count, "4") + corners + faces);
    ASSERT_TRUE(vertices) << count;
    EXPECT_NE(vertices->find("of element vertex"), std::string::npos) << *vertices;
    EXPECT_TRUE(false_claim_of_ply(header("ascii", "4", count) + corners + faces)) << count;
    EXPECT_TRUE(
        false_claim_of_ply(header("binary_little_endian", count, "4") + binary_body(false, 1)))
        << count;
    EXPECT_TRUE(false_claim_of_ply(header("binary_big_endian", "4", count) + binary_body(true, 1)))
        << count;
  }
}

// Lines that PLY does not have, each alone in an otherwise whole file: a reader that guesses on
// waited for minutes (found by mesh_fuzz).
TEST(PlyClaims, HeadersThatCannotBeFollowedAreNamed) {
  const std::string whole = header("ascii", "4", "4");
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = whole;
    const std::size_t at = changed.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    changed.replace(at, from.size(), to);
    return false_claim_of_ply(changed + corners + faces);
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
    EXPECT_TRUE(false_claim_of_ply(text)) << text;
  }
}

TEST(PlyClaims, ListsBeyondTheFileAreFalse) {
  const auto text =
      false_claim_of_ply(header("ascii", "4", "4") + corners + "3 0 2 1\n4000000000 0 1 3\n");
  ASSERT_TRUE(text);
  EXPECT_NE(text->find("4000000000 values in a list"), std::string::npos) << *text;
  for (const bool big : {false, true}) {
    std::string body = binary_body(big, 4);
    body[48 + 16 + (big ? 0 : 3)] = 0x70;  // the second face's length: about 1.9 billion
    EXPECT_TRUE(false_claim_of_ply(
        header(big ? "binary_big_endian" : "binary_little_endian", "4", "4", "uint") + body));
  }
}

// One more than fits, by the byte.
TEST(PlyClaims, TheLastByteCounts) {
  const std::string start =
      "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty short x\nproperty double "
      "y\n"
      "property char z\nend_header\n";
  EXPECT_FALSE(false_claim_of_ply(start + std::string(33, '\0')));
  EXPECT_TRUE(false_claim_of_ply(start + std::string(32, '\0')));
}

TEST(PlyClaims, WhatIsNoPlyIsLeftToTheReader) {
  for (const std::string& text :
       {std::string(), std::string("solid a\n"), std::string("pl"), std::string(1000, '\0')}) {
    EXPECT_FALSE(false_claim_of_ply(text)) << text;
  }
}

}  // namespace
}  // namespace proveout::part
