#include <nlohmann/json.hpp>
#include <stdexcept>

#include "report/page/data/page_bytes.h"
#include "report/page/data/page_json.h"

namespace proveout::page {
namespace {

// A script element ends at the first "</script", whatever its type (HTML Standard, 4.12.1.3); with
// every
// "<" written as an escape no text can end it.
std::string for_script(const std::string& json) {
  std::string out;
  out.reserve(json.size());
  for (const char c : json) {
    if (c == '<')
      out += "\\u003c";
    else
      out += c;
  }
  return out;
}

std::string for_title(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '<')
      out += "&lt;";
    else if (c == '&')
      out += "&amp;";
    else
      out += c;
  }
  return out;
}

}  // namespace

std::string page_html(const PageData& data) {
  std::string_view page = page_bytes();
  if (page.empty()) throw std::logic_error("built without the page (PROVEOUT_PAGE=OFF)");
  ColumnWriter columns;
  const std::string json = for_script(page_json(data, columns).dump());
  const std::string bulk = base64(deflated(columns.bytes()));

  std::string out;
  out.reserve(page.size() + json.size() + bulk.size() + 256);
  const auto copy_up_to = [&](std::string_view mark) {
    const std::size_t at = page.find(mark);
    if (at == std::string_view::npos) throw std::logic_error("the page lacks a place for its data");
    out += page.substr(0, at);
    page.remove_prefix(at + mark.size());
  };
  copy_up_to("%TITLE%");
  out += for_title(valid_utf8(data.title));
  copy_up_to("%ABOUT%");
  out += json;
  copy_up_to("%BULK%");
  out += bulk;
  out += page;
  return out;
}

bool page_built_in() { return !page_bytes().empty(); }

}  // namespace proveout::page
