// The built page (report/page), embedded in the executable when it is built; empty with
// PROVEOUT_PAGE=OFF.
#pragma once

#include <string_view>

namespace proveout::page {

std::string_view page_bytes();

}  // namespace proveout::page
