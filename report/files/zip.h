// A ZIP archive (PKWARE's application note; the form ISO/IEC 21320-1 and OPC containers use):
// deflated members, no clock in it, so the same members give the same bytes.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace proveout::files {

// name and bytes of each member, in order. Names are ASCII with forward slashes. Up to 4 GB in all.
std::string zip(const std::vector<std::pair<std::string, std::string>>& members);

}  // namespace proveout::files
