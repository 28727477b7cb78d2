// Text as a TOML file writes it.
#pragma once

#include <string>
#include <string_view>

namespace proveout::job {

// In quotes, on one line, with what TOML 1.0 forbids in a basic string escaped; UTF-8 stays.
std::string toml_text(std::string_view text);

}  // namespace proveout::job
