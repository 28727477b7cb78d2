// Where on the finished piece cusps and steps stand, for the page to draw them there. Needs
// OpenVDB.
#pragma once

#include <nlohmann/json.hpp>

#include "report/page/data/columns.h"
#include "sim/measure/finish.h"

namespace proveout::page {

inline constexpr std::size_t most_finish_places = 60000;

// {at: mm, stock coordinates; height: mm; made: the later of the line's two motions, over the whole
// job; of: how many places there are}. Rising by made. Of more than `most` the highest.
nlohmann::ordered_json finish_places(const measure::Finish& finish, ColumnWriter& columns,
                                     std::size_t most = most_finish_places);

}  // namespace proveout::page
