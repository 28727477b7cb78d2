// Standard output. Its reader may leave before the end (`proveout list P.nc | head`): what nobody
// reads is no failure of the command, and its exit status stays what the command found.
#pragma once

#include <fmt/format.h>

#include <cstdio>
#include <string>
#include <string_view>

namespace proveout::cli {

// Writes text; a failure stays with the stream until output_failure asks.
inline void tell(std::string_view text) { std::fwrite(text.data(), 1, text.size(), stdout); }
template <class First, class... Rest>
void tell(fmt::format_string<First, Rest...> format, First&& first, Rest&&... rest) {
  tell(fmt::format(format, std::forward<First>(first), std::forward<Rest>(rest)...));
}

// Sends everything on its way. Why that failed, in words; empty: it did not, or the reader of a
// pipe has left.
std::string output_failure();

}  // namespace proveout::cli
