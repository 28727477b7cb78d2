// The file report.html: the built page with its data in it. docs/page.md tells the format.
#pragma once

#include <string>

#include "report/page/data/columns.h"

namespace proveout::page {

// Text may hold anything a program or job file holds: the writer and the page escape it.
struct PageData {
  nlohmann::ordered_json about;  // text, tables, and references into the columns
  ColumnWriter columns;
};

// The page's bytes; its title is about["title"]. Same data, same bytes. Throws std::logic_error
// where proveout was built without the page.
std::string page_html(const PageData& data);

bool page_built_in();  // false: built with PROVEOUT_PAGE=OFF

}  // namespace proveout::page
