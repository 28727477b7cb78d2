// The file report.html: the built page with its data in it. docs/page.md tells the format.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "report/page/data/columns.h"

namespace proveout::page {

// Of the data in a page; counted up whenever a page of this version could not show an earlier
// one's.
inline constexpr int page_format = 1;

// Text may hold anything a program or job file holds: the writer and the page escape it.
struct PageData {
  nlohmann::ordered_json about;  // text, tables, and references into the columns
  ColumnWriter columns;
};

// The same as it stands in a page.
struct PackedData {
  nlohmann::ordered_json about;
  std::string bulk;  // base64
};
PackedData packed(const PageData& data);

// The data in a report.html, whoever wrote it: nullopt, and why in words, where there is none that
// a page of this version can show.
std::optional<PackedData> read_page(std::string_view html, std::string& why);

// Another result to be shown beside a page's own.
struct OtherPage {
  std::string name;
  std::optional<PackedData> data;
  std::string missing;  // why there is no data
};

// The page's bytes; its title is about["title"]. Same data, same bytes. Throws std::logic_error
// where proveout was built without the page.
std::string page_html(const PackedData& data, const std::vector<OtherPage>& others = {});
std::string page_html(const PageData& data, const std::vector<OtherPage>& others = {});

bool page_built_in();  // false: built with PROVEOUT_PAGE=OFF

}  // namespace proveout::page
