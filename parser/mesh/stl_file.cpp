#include "parser/mesh/stl_file.h"

#include <fmt/format.h>

#include <bit>
#include <optional>

#include "parser/mesh/little_endian.h"
#include "parser/mesh/text_words.h"

namespace proveout::mesh {
namespace {

constexpr std::size_t header = 80, count_bytes = 4, per_triangle = 50, corners_at = 12;

bool begins_as_text(std::string_view bytes) { return same_word(take_word(bytes), "solid"); }

std::size_t length_of(std::uint32_t triangles) {
  return header + count_bytes + per_triangle * std::size_t{triangles};
}

MeshFileError too_fine(std::size_t triangles) {
  return {"mesh-too-fine", fmt::format("has {} triangles, more than {} million", triangles,
                                       most_triangles / 1'000'000)};
}

void add_triangle(Polygons& out) {
  const auto first = static_cast<std::uint32_t>(out.corners.size());
  out.counts.push_back(3);
  for (std::uint32_t k = 0; k < 3; ++k) out.corners.push_back(first + k);
}

std::variant<Polygons, MeshFileError> read_binary(std::string_view bytes, std::uint32_t count) {
  if (count > most_triangles) return too_fine(count);
  Polygons out;
  out.places.reserve(3 * std::size_t{count});
  for (std::uint32_t t = 0; t < count; ++t) {
    const std::size_t at = header + count_bytes + per_triangle * std::size_t{t} + corners_at;
    for (std::size_t k = 0; k < 3; ++k) {
      Vec3 p;
      for (std::size_t axis = 0; axis < 3; ++axis)
        p[static_cast<Eigen::Index>(axis)] =
            std::bit_cast<float>(little_endian(bytes, at + 12 * k + 4 * axis));
      out.places.push_back(p);
    }
    add_triangle(out);
  }
  return out;
}

// Text, word by word; lines are counted for what is said.
class TextStl {
 public:
  explicit TextStl(std::string_view bytes) : words_(bytes) {}

  std::variant<Polygons, MeshFileError> read() {
    if (!solid()) return *error_;
    return std::move(out_);
  }

 private:
  bool fail(const char* code, std::string what) {
    error_ = MeshFileError{code, fmt::format("is no STL file that can be read: line {}: {}",
                                             words_.line(), std::move(what))};
    return false;
  }
  bool wants(std::string_view word) {
    const std::string_view found = words_.next();
    if (same_word(found, word)) return true;
    if (found.empty())
      return fail("mesh-cut-short", fmt::format("the file ends where '{}' is wanted", word));
    return fail("mesh-unreadable", fmt::format("'{}' where '{}' is wanted", shown(found), word));
  }
  bool number(double& value) {
    const std::string_view found = words_.next();
    if (found.empty()) return fail("mesh-cut-short", "the file ends where a number is wanted");
    if (read_number(found, value)) return true;
    return fail("mesh-unreadable", fmt::format("'{}' is no number", shown(found)));
  }
  bool facet() {
    double ignored = 0;
    if (!wants("normal")) return false;
    for (int k = 0; k < 3; ++k) {
      if (!number(ignored)) return false;
    }
    if (!wants("outer") || !wants("loop")) return false;
    for (int k = 0; k < 3; ++k) {
      Vec3 p;
      if (!wants("vertex") || !number(p.x()) || !number(p.y()) || !number(p.z())) return false;
      out_.places.push_back(p);
    }
    add_triangle(out_);
    if (out_.counts.size() > most_triangles) {
      error_ = too_fine(out_.counts.size());
      return false;
    }
    return wants("endloop") && wants("endfacet");
  }
  bool solid() {
    if (!wants("solid")) return false;
    words_.skip_line();  // its name
    for (;;) {
      const std::string_view word = words_.next();
      if (same_word(word, "facet")) {
        if (!facet()) return false;
      } else if (same_word(word, "endsolid")) {
        words_.skip_line();
        if (words_.at_end()) return true;
        if (!wants("solid")) return false;  // a file may hold several
        words_.skip_line();
      } else if (word.empty()) {
        return fail("mesh-cut-short", "the file ends without 'endsolid'");
      } else {
        return fail("mesh-unreadable", fmt::format("'{}' where 'facet' is wanted", shown(word)));
      }
    }
  }

  Words words_;
  Polygons out_;
  std::optional<MeshFileError> error_;
};

}  // namespace

bool looks_like_stl(std::string_view bytes) {
  if (bytes.size() >= length_of(0) && bytes.size() == length_of(little_endian(bytes, header)))
    return true;
  return begins_as_text(bytes);
}

std::variant<Polygons, MeshFileError> read_stl(std::string_view bytes) {
  // Binary files may begin with "solid" too: their length decides.
  const bool long_enough = bytes.size() >= length_of(0);
  const std::uint32_t count = long_enough ? little_endian(bytes, header) : 0;
  if (long_enough && bytes.size() == length_of(count)) return read_binary(bytes, count);
  if (begins_as_text(bytes)) return TextStl(bytes).read();
  if (!long_enough)
    return MeshFileError{"mesh-unreadable", fmt::format("is no STL file: {} bytes are too few for "
                                                        "a binary one, and no text begins",
                                                        bytes.size())};
  return MeshFileError{"mesh-cut-short",
                       fmt::format("is no whole STL file: {} triangles take {} bytes and it has {}",
                                   count, length_of(count), bytes.size())};
}

}  // namespace proveout::mesh
