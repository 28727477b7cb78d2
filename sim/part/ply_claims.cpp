#include "sim/part/ply_claims.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cstdint>
#include <cstring>
#include <variant>
#include <vector>

namespace proveout::part {
namespace {

struct Property {
  bool is_list = false;
  std::string_view count_type, type;
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

// The next word of text, which is shortened by it; empty at the end.
std::string_view take_word(std::string_view& text) {
  constexpr std::string_view blanks = " \t\r\n\f\v";
  const std::size_t start = std::min(text.find_first_not_of(blanks), text.size());
  const std::size_t end = std::min(text.find_first_of(blanks, start), text.size());
  const std::string_view word = text.substr(start, end - start);
  text.remove_prefix(end);
  return word;
}

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
  header.elements.back().properties.push_back(property);
  return bytes_of(property.type) != no_type &&
         (!property.is_list || bytes_of(property.count_type) != no_type);
}

// As its reader looks at it.
bool begins_as_ply(std::string_view bytes) {
  const auto letter = [&](std::size_t i, char c) { return bytes[i] == c || bytes[i] == c - 32; };
  return bytes.size() >= 3 && letter(0, 'p') && letter(1, 'l') && letter(2, 'y');
}

// Takes the header off bytes, which begin as a PLY file does; or what is wrong with it, in words.
// A reader that guesses at a header it cannot follow may wait for thousands of millions of values.
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

// A list's length in a binary file; too few bytes: none.
std::optional<std::uint64_t> take_length(std::string_view& bytes, std::size_t size, bool big) {
  if (bytes.size() < size || size > 4) return std::nullopt;
  std::uint64_t length = 0;
  for (std::size_t i = 0; i < size; ++i) {
    const auto byte = static_cast<unsigned char>(bytes[i]);
    length |= std::uint64_t{byte} << 8 * (big ? size - 1 - i : i);
  }
  bytes.remove_prefix(size);
  return length;
}

// What the claim of n values of at least `size` bytes comes to, if that is more than there is.
std::optional<std::string> too_many(std::uint64_t n, std::size_t size, std::size_t there,
                                    std::string_view what) {
  if (n <= there / std::max<std::size_t>(size, 1)) return std::nullopt;
  return fmt::format("says it has {} {}, which do not fit into the {} bytes that follow", n, what,
                     there);
}

bool has_list(const Element& element) {
  return std::any_of(element.properties.begin(), element.properties.end(),
                     [](const Property& p) { return p.is_list; });
}

// Least bytes of one instance: in text a digit and a blank a value.
std::size_t least_bytes(const Element& element, bool text) {
  std::size_t sum = 0;
  for (const Property& p : element.properties) {
    sum += text ? 2 : bytes_of(p.is_list ? p.count_type : p.type);
  }
  return sum;
}

std::optional<std::string> walk_lists(std::string_view& rest, const Element& element, Form form) {
  const bool text = form == Form::text;
  for (std::uint64_t i = 0; i < element.count && !rest.empty(); ++i) {
    for (const Property& p : element.properties) {
      std::uint64_t length = 1;
      if (p.is_list && text) {
        length = count_of(take_word(rest));
      } else if (p.is_list) {
        const auto read = take_length(rest, bytes_of(p.count_type), form == Form::big);
        if (!read) return std::nullopt;  // cut short: the reader says so
        length = *read;
      }
      // The last value needs no blank behind it.
      if (p.is_list) {
        if (auto claim = too_many(length, text ? 2 : bytes_of(p.type), rest.size() + (text ? 1 : 0),
                                  "values in a list")) {
          return claim;
        }
      }
      if (text) {
        for (std::uint64_t k = 0; k < length; ++k) take_word(rest);
      } else {
        rest.remove_prefix(std::min<std::uint64_t>(length * bytes_of(p.type), rest.size()));
      }
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<std::string> false_claim_of_ply(std::string_view bytes) {
  if (!begins_as_ply(bytes)) return std::nullopt;
  const auto taken = take_header(bytes);
  if (const auto* wrong = std::get_if<std::string>(&taken)) return *wrong;
  const Header* header = &std::get<Header>(taken);
  const bool text = header->form == Form::text;
  for (const Element& element : header->elements) {
    const std::size_t least = least_bytes(element, text);
    const std::string what = fmt::format("of element {}", element.name.substr(0, 40));
    if (auto claim = too_many(element.count, least, bytes.size() + (text ? 1 : 0), what)) {
      return claim;
    }
    if (has_list(element) || text) {
      if (auto claim = walk_lists(bytes, element, header->form)) return claim;
    } else {
      bytes.remove_prefix(element.count * least);
    }
  }
  return std::nullopt;
}

}  // namespace proveout::part
