#include "parser/job/toml_text.h"

#include <fmt/format.h>

namespace proveout::job {

std::string toml_text(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      out += std::string("\\") + c;
    else if (byte < 0x20 || byte == 0x7f)
      out += fmt::format("\\u{:04X}", byte);
    else
      out += c;
  }
  return out + "\"";
}

}  // namespace proveout::job
