#include "parser/mesh/ply_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <optional>
#include <variant>
#include <vector>

#include "parser/mesh/text_words.h"

namespace proveout::mesh {
namespace {

struct Property {
  bool is_list = false;
  std::string_view count_type, type, name;
};
struct Element {
  std::string_view name;
  std::uint64_t count = 0;
  std::vector<Property> properties;
};
enum class Form { text, little, big, unknown };
constexpr std::size_t no_type = 0;
struct Header {
  Form form = Form::unknown;
  std::vector<Element> elements;
};

// A count too long for 64 bits counts as the largest; what is no count as 0.
std::uint64_t count_of(std::string_view word) {
  std::uint64_t count = 0;
  const auto end = word.data() + word.size();
  if (std::from_chars(word.data(), end, count).ec == std::errc::result_out_of_range) {
    return ~std::uint64_t{0};
  }
  return count;
}

std::size_t bytes_of(std::string_view type) {
  if (type == "char" || type == "uchar" || type == "int8" || type == "uint8") return 1;
  if (type == "short" || type == "ushort" || type == "int16" || type == "uint16") return 2;
  if (type == "int" || type == "uint" || type == "int32" || type == "uint32") return 4;
  if (type == "float" || type == "float32") return 4;
  if (type == "double" || type == "float64") return 8;
  return no_type;
}

// Takes one line off bytes, whatever ends it.
std::string_view take_line(std::string_view& bytes) {
  const std::size_t end = std::min(bytes.find_first_of("\r\n"), bytes.size());
  const std::string_view line = bytes.substr(0, end);
  const bool both = bytes.substr(end, 2) == "\r\n";
  bytes.remove_prefix(std::min(end + (both ? 2 : 1), bytes.size()));
  return line;
}

// A line of a header, its first word taken off; false: PLY has no such line.
bool understood(std::string_view word, std::string_view line, Header& header) {
  if (word.empty() || word == "comment" || word == "obj_info") return true;
  if (word == "format") {
    const std::string_view form = take_word(line);
    if (form == "ascii") header.form = Form::text;
    if (form == "binary_little_endian") header.form = Form::little;
    if (form == "binary_big_endian") header.form = Form::big;
    return header.form != Form::unknown;
  }
  if (word == "element") {
    Element element;
    element.name = take_word(line);
    const std::string_view count = take_word(line);
    element.count = count_of(count);
    header.elements.push_back(std::move(element));
    return !count.empty() && count.find_first_not_of("0123456789") == std::string_view::npos;
  }
  if (word != "property" || header.elements.empty()) return false;
  Property property;
  property.type = take_word(line);
  if (property.type == "list") {
    property.is_list = true;
    property.count_type = take_word(line);
    property.type = take_word(line);
  }
  property.name = take_word(line);
  header.elements.back().properties.push_back(property);
  return !property.name.empty() && take_word(line).empty() && bytes_of(property.type) != no_type &&
         (!property.is_list || bytes_of(property.count_type) != no_type);
}

// Takes the header off bytes, which begin as a PLY file does; or what is wrong with it, in words.
std::variant<Header, std::string> take_header(std::string_view& bytes) {
  Header header;
  std::string_view magic = take_line(bytes);
  if (take_word(magic).size() != 3 || !take_word(magic).empty())
    return "begins with more than the word ply on its first line";
  for (std::size_t number = 2; !bytes.empty(); ++number) {
    std::string_view line = take_line(bytes);
    const bool plain = std::all_of(line.begin(), line.end(),
                                   [](char c) { return c == '\t' || (c >= ' ' && c != 127); });
    const std::string_view word = take_word(line);
    if (plain && word == "end_header" && line.find_first_not_of(" \t") == std::string_view::npos) {
      if (header.form == Form::unknown) return "names no format that PLY has";
      for (const Element& e : header.elements) {
        if (e.properties.empty())
          return fmt::format("has an element {} without properties", e.name.substr(0, 40));
      }
      return header;
    }
    const bool comment = word == "comment" || word == "obj_info";  // in any language
    if (!(plain || comment) || !understood(word, line, header))
      return fmt::format("has a line in its header that PLY does not have, line {}", number);
  }
  return "has a header without end_header";
}

// What the claim of n values of at least `size` bytes comes to, if that is more than there is.
std::optional<std::string> too_many(std::uint64_t n, std::size_t size, std::size_t there,
                                    std::string_view what) {
  if (n <= there / std::max<std::size_t>(size, 1)) return std::nullopt;
  return fmt::format("says it has {} {}, which do not fit into the {} bytes that follow", n, what,
                     there);
}

// Least bytes of one instance: in text a digit and a blank a value.
std::size_t least_bytes(const Element& element, bool text) {
  std::size_t sum = 0;
  for (const Property& p : element.properties) {
    sum += text ? 2 : bytes_of(p.is_list ? p.count_type : p.type);
  }
  return sum;
}

template <class T>
double as(std::uint64_t bits) {
  T value;
  std::memcpy(&value, &bits, sizeof value);  // little-endian machines only, as all of sim/stock
  return static_cast<double>(value);
}

double number_of(std::string_view type, std::uint64_t bits) {
  if (type == "char" || type == "int8") return as<std::int8_t>(bits);
  if (type == "short" || type == "int16") return as<std::int16_t>(bits);
  if (type == "int" || type == "int32") return as<std::int32_t>(bits);
  if (type == "float" || type == "float32") return as<float>(bits);
  if (type == "double" || type == "float64") return as<double>(bits);
  return static_cast<double>(bits);
}

// The values behind the header, one after the other.
class Values {
 public:
  Values(std::string_view rest, Form form) : rest_(rest), form_(form) {}

  // False: nothing is left, or no number.
  bool next(std::string_view type, double& value) {
    if (form_ == Form::text) return read_number(take_word(rest_), value);
    const std::size_t size = bytes_of(type);
    if (rest_.size() < size) return false;
    std::uint64_t bits = 0;
    for (std::size_t i = 0; i < size; ++i) {
      const std::uint64_t byte = static_cast<unsigned char>(rest_[i]);
      bits |= byte << 8 * (form_ == Form::big ? size - 1 - i : i);
    }
    rest_.remove_prefix(size);
    value = number_of(type, bits);
    return true;
  }
  // The last value of a text needs no blank behind it.
  std::size_t room() const { return rest_.size() + (form_ == Form::text ? 1 : 0); }
  bool text() const { return form_ == Form::text; }

 private:
  std::string_view rest_;
  Form form_;
};

class Reader {
 public:
  Reader(const Header& header, std::string_view rest)
      : header_(header), values_(rest, header.form) {}

  std::variant<Polygons, MeshFileError> read() {
    for (const Element& e : header_.elements) {
      const std::string what = fmt::format("of element {}", e.name.substr(0, 40));
      if (auto claim = too_many(e.count, least_bytes(e, values_.text()), values_.room(), what))
        return MeshFileError{"mesh-cut-short", std::move(*claim)};
      for (std::uint64_t i = 0; i < e.count; ++i) {
        if (auto wrong = one(e)) return std::move(*wrong);
      }
    }
    for (const std::uint32_t corner : out_.corners) {
      if (corner >= out_.places.size())
        return MeshFileError{"mesh-bad-index", "has a face that names a corner that is not there"};
    }
    return std::move(out_);
  }

 private:
  std::optional<MeshFileError> one(const Element& element) {
    const bool is_vertex = element.name == "vertex", is_face = element.name == "face";
    Vec3 at = Vec3::Zero();
    for (const Property& p : element.properties) {
      if (p.is_list) {
        if (auto wrong = list(p, is_face)) return wrong;
        continue;
      }
      double value = 0;
      if (!values_.next(p.type, value)) return cut_short(element);
      if (p.name == "x") at.x() = value;
      if (p.name == "y") at.y() = value;
      if (p.name == "z") at.z() = value;
    }
    if (is_vertex) out_.places.push_back(at);
    return std::nullopt;
  }

  std::optional<MeshFileError> list(const Property& p, bool is_face) {
    double length = 0;
    if (!values_.next(p.count_type, length) || !(length >= 0) || length > 1e15)
      return MeshFileError{"mesh-cut-short", "has a list without a length"};
    const auto count = static_cast<std::uint64_t>(length);
    if (auto claim = too_many(count, values_.text() ? 2 : bytes_of(p.type), values_.room(),
                              "values in a list"))
      return MeshFileError{"mesh-cut-short", std::move(*claim)};
    const bool corners = is_face && (p.name == "vertex_indices" || p.name == "vertex_index");
    if (corners) out_.counts.push_back(static_cast<std::uint32_t>(count));
    for (std::uint64_t k = 0; k < count; ++k) {
      double value = 0;
      if (!values_.next(p.type, value))
        return MeshFileError{"mesh-cut-short", "ends within a list"};
      if (!corners) continue;
      if (!(value >= 0 && value < 4294967295.0 && value == std::floor(value)))
        return MeshFileError{"mesh-bad-index", "has a face that names a corner that is not there"};
      out_.corners.push_back(static_cast<std::uint32_t>(value));
    }
    return std::nullopt;
  }

  static MeshFileError cut_short(const Element& element) {
    return {"mesh-cut-short",
            fmt::format("ends, or has something that is no number, within its elements {}",
                        element.name.substr(0, 40))};
  }

  const Header& header_;
  Values values_;
  Polygons out_;
};

}  // namespace

bool begins_as_ply(std::string_view bytes) {
  const auto letter = [&](std::size_t i, char c) { return bytes[i] == c || bytes[i] == c - 32; };
  return bytes.size() >= 3 && letter(0, 'p') && letter(1, 'l') && letter(2, 'y');
}

std::variant<Polygons, MeshFileError> read_ply(std::string_view bytes) {
  const auto taken = take_header(bytes);
  if (const auto* wrong = std::get_if<std::string>(&taken))
    return MeshFileError{"mesh-cut-short", *wrong};
  return Reader(std::get<Header>(taken), bytes).read();
}

}  // namespace proveout::mesh
