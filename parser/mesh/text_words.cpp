#include "parser/mesh/text_words.h"

#include <algorithm>
#include <charconv>
#include <limits>

namespace proveout::mesh {
namespace {

constexpr std::string_view blanks = " \t\r\n\f\v";

}  // namespace

std::string_view take_word(std::string_view& text) {
  const std::size_t start = std::min(text.find_first_not_of(blanks), text.size());
  const std::size_t end = std::min(text.find_first_of(blanks, start), text.size());
  const std::string_view word = text.substr(start, end - start);
  text.remove_prefix(end);
  return word;
}

bool same_word(std::string_view word, std::string_view lower_case) {
  return std::ranges::equal(word, lower_case, [](char a, char b) {
    return (a >= 'A' && a <= 'Z' ? static_cast<char>(a - 'A' + 'a') : a) == b;
  });
}

bool read_number(std::string_view word, double& value) {
  if (word.starts_with('+')) word.remove_prefix(1);
  const auto end = word.data() + word.size();
  const auto read = std::from_chars(word.data(), end, value);
  if (read.ptr != end || word.empty()) return false;
  if (read.ec == std::errc::result_out_of_range) {
    // Too small for a double is nought, too large is infinite: only the exponent's sign tells.
    const std::size_t exponent = word.find_first_of("eE");
    const bool small = exponent != std::string_view::npos
                           ? word.substr(exponent).find('-') != std::string_view::npos
                           : word.find("0.") <= 1;
    value = small ? 0 : std::numeric_limits<double>::infinity();
    return true;
  }
  return read.ec == std::errc();
}

std::string shown(std::string_view word) {
  std::string out(word.substr(0, 20));
  for (char& c : out) {
    if (c < ' ' || c > '~') c = '?';
  }
  return word.size() > 20 ? out + "..." : out;
}

void Words::skip_blanks() {
  for (; at_ < text_.size() && blanks.find(text_[at_]) != std::string_view::npos; ++at_)
    line_ += text_[at_] == '\n';
}

std::string_view Words::next() {
  skip_blanks();
  const std::size_t end = std::min(text_.find_first_of(blanks, at_), text_.size());
  const std::string_view word = text_.substr(at_, end - at_);
  at_ = end;
  return word;
}

void Words::skip_line() {
  const std::size_t end = text_.find('\n', at_);
  line_ += end != std::string_view::npos;
  at_ = end == std::string_view::npos ? text_.size() : end + 1;
}

bool Words::at_end() {
  skip_blanks();
  return at_ == text_.size();
}

}  // namespace proveout::mesh
