#include "parser/job/marks.h"

#include <algorithm>
#include <optional>

namespace proveout::job {
namespace {

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t\r") - first + 1));
}

// Where the comment of a line begins; npos: it has none.
std::size_t comment_at(std::string_view line) {
  char quote = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quote == 0 && c == '#') return i;
    if (quote == '"' && c == '\\') {
      ++i;
    } else if (c == quote) {
      quote = 0;
    } else if (quote == 0 && (c == '"' || c == '\'')) {
      quote = c;
    }
  }
  return std::string_view::npos;
}

std::optional<Mark> mark_of(std::string_view line) {
  const std::size_t comment = comment_at(line);
  if (comment == std::string_view::npos) return std::nullopt;
  // "# holder = ..  #? .." is one too: a mark begins a word.
  std::size_t at = line.find("#?", comment);
  while (at != std::string_view::npos && at != comment && line[at - 1] != ' ')
    at = line.find("#?", at + 1);
  if (at == std::string_view::npos) return std::nullopt;
  Mark out;
  const std::string_view before = line.substr(0, at), words = line.substr(at + 2);
  const std::size_t equals = before.find('=');
  if (equals != std::string_view::npos) {
    out.key = trimmed(before.substr(0, equals));
    if (out.key.starts_with('#')) out.key = trimmed(std::string_view(out.key).substr(1));
  }
  const std::size_t colon = words.find(':');
  out.why = trimmed(colon == std::string_view::npos ? words : words.substr(colon + 1));
  std::string_view kinds = colon == std::string_view::npos ? "" : words.substr(0, colon);
  while (!kinds.empty()) {
    const std::size_t comma = std::min(kinds.find(','), kinds.size());
    if (std::string kind = trimmed(kinds.substr(0, comma)); !kind.empty())
      out.kinds.push_back(std::move(kind));
    kinds.remove_prefix(std::min(comma + 1, kinds.size()));
  }
  return out;
}

}  // namespace

std::vector<Mark> marks(std::string_view text) {
  std::vector<Mark> out;
  std::uint32_t line = 0;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    ++line;
    if (auto mark = mark_of(text.substr(at, end - at))) {
      mark->line = line;
      out.push_back(std::move(*mark));
    }
    at = end + 1;
  }
  return out;
}

}  // namespace proveout::job
