#include "parser/job/key_depth.h"

namespace proveout::job {
namespace {

bool of_bare_key(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
         c == '-' || static_cast<unsigned char>(c) >= 0x80;
}

// Past the end of the string that starts at `at`; a string of one line ends with its line.
std::size_t past_string(std::string_view text, std::size_t at) {
  const char quote = text[at];
  const bool long_string = at + 2 < text.size() && text[at + 1] == quote && text[at + 2] == quote;
  at += long_string ? 3 : 1;
  for (; at < text.size(); ++at) {
    if (quote == '"' && text[at] == '\\') {
      ++at;
    } else if (long_string) {
      if (text[at] == quote && at + 2 < text.size() && text[at + 1] == quote &&
          text[at + 2] == quote) {
        return at + 3;
      }
    } else if (text[at] == quote) {
      return at + 1;
    } else if (text[at] == '\n') {
      return at;
    }
  }
  return text.size();
}

}  // namespace

std::optional<std::size_t> find_deep_key(std::string_view text) {
  int parts = 0;            // of the key read so far
  bool after_part = false;  // a dot now goes one deeper
  for (std::size_t at = 0; at < text.size();) {
    const char c = text[at];
    if (of_bare_key(c) || c == '"' || c == '\'') {
      if (!after_part && ++parts > most_key_parts) return at;
      after_part = true;
      if (c == '"' || c == '\'') {
        at = past_string(text, at);
      } else {
        while (at < text.size() && of_bare_key(text[at])) ++at;
      }
      continue;
    }
    if (c == '.' && after_part) {
      after_part = false;
    } else if (c != ' ' && c != '\t') {
      parts = 0;
      after_part = false;
      if (c == '#') {
        while (at < text.size() && text[at] != '\n') ++at;
        continue;
      }
    }
    ++at;
  }
  return std::nullopt;
}

}  // namespace proveout::job
