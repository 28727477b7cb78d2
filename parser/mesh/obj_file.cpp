#include "parser/mesh/obj_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>
#include <string>

#include "parser/mesh/text_words.h"

namespace proveout::mesh {
namespace {

class Obj {
 public:
  std::variant<Polygons, MeshFileError> read(std::string_view bytes) {
    std::string joined;  // of a line that goes on behind a backslash
    while (!bytes.empty()) {
      ++line_;
      std::string_view line = cut_line(bytes);
      joined.clear();
      while (line.ends_with('\\') && !bytes.empty()) {
        ++line_;
        joined += line.substr(0, line.size() - 1);
        joined += ' ';
        line = cut_line(bytes);
      }
      if (!joined.empty()) line = joined += line;
      if (!take(line)) return *error_;
    }
    return std::move(out_);
  }

 private:
  static std::string_view cut_line(std::string_view& bytes) {
    const std::size_t end = std::min(bytes.find('\n'), bytes.size());
    std::string_view line = bytes.substr(0, end);
    bytes.remove_prefix(std::min(end + 1, bytes.size()));
    if (line.ends_with('\r')) line.remove_suffix(1);
    return line;
  }
  bool fail(const char* code, const std::string& what) {
    error_ = MeshFileError{
        code, fmt::format("is no OBJ file that can be read: line {}: {}", line_, what)};
    return false;
  }
  bool take(std::string_view line) {
    const std::string_view what = take_word(line);
    if (what == "v") return corner(line);
    if (what == "f") return face(line);
    return true;
  }
  bool corner(std::string_view line) {
    Vec3 p;
    for (int k = 0; k < 3; ++k) {
      const std::string_view word = take_word(line);
      if (!read_number(word, p[k]))
        return fail("mesh-unreadable", fmt::format("'{}' is no number", shown(word)));
    }
    out_.places.push_back(p);
    return true;
  }
  // 7, 7/2, 7//3 or 7/2/3: the first is the corner; below 0 it counts from the last one back.
  bool face(std::string_view line) {
    const std::size_t first = out_.corners.size();
    for (std::string_view word = take_word(line); !word.empty(); word = take_word(line)) {
      const std::string_view number = word.substr(0, word.find('/'));
      long long index = 0;
      const auto end = number.data() + number.size();
      if (std::from_chars(number.data(), end, index).ptr != end || number.empty())
        return fail("mesh-unreadable", fmt::format("'{}' is no corner of a face", shown(word)));
      const auto places = static_cast<long long>(out_.places.size());
      if (index < 0) index += places + 1;
      if (index < 1 || index > places)
        return fail("mesh-bad-index",
                    fmt::format("a face names corner {} of {}", shown(number), places));
      out_.corners.push_back(static_cast<std::uint32_t>(index - 1));
    }
    const std::size_t count = out_.corners.size() - first;
    if (count > most_face_corners)
      return fail("mesh-too-fine",
                  fmt::format("a face of {} corners, more than {}", count, most_face_corners));
    out_.counts.push_back(static_cast<std::uint32_t>(count));
    if (out_.corners.size() > 3 * most_triangles)
      return fail("mesh-too-fine",
                  fmt::format("more than {} corners of faces", 3 * most_triangles));
    return true;
  }

  Polygons out_;
  std::size_t line_ = 0;
  std::optional<MeshFileError> error_;
};

}  // namespace

std::variant<Polygons, MeshFileError> read_obj(std::string_view bytes) { return Obj().read(bytes); }

}  // namespace proveout::mesh
