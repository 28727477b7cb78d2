// The small part of the page's data as JSON, with references into the columns.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "report/page/data/columns.h"
#include "report/page/data/page_data.h"

namespace proveout::page {

nlohmann::ordered_json page_json(const PageData& data, ColumnWriter& columns);

}  // namespace proveout::page
