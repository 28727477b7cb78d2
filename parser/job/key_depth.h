// How deep the dotted keys of a TOML file go, found before it is parsed: the parser walks its
// tables by calling itself, so that a key of many thousand parts would use up the stack.
#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace proveout::job {

// Parts a key may have. Inline tables nest 256 deep at most, so tables lie at most 256 times this
// far down; the job file itself needs four.
inline constexpr int most_key_parts = 16;

// Byte offset of the first key in text (TOML 1.0) with more than most_key_parts parts, at its first
// part too many; none if there is no such key. Reads strings and comments as TOML does, and any
// bytes without failing.
std::optional<std::size_t> find_deep_key(std::string_view text);

}  // namespace proveout::job
