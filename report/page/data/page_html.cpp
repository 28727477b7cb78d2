#include "report/page/data/page_html.h"

#include <stdexcept>

#include "report/page/data/page_bytes.h"

namespace proveout::page {
namespace {

std::string with(std::string text, char letter, std::string_view instead) {
  for (std::size_t at = 0; (at = text.find(letter, at)) != std::string::npos; at += instead.size())
    text.replace(at, 1, instead);
  return text;
}

// Bytes that are no UTF-8 become U+FFFD. A script element ends at the first "</script", whatever
// its type (HTML Standard, 4.12.1.3); with every "<" written as an escape no text can end it.
std::string for_script(const nlohmann::ordered_json& json) {
  const std::string text = json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  std::string out;
  out.reserve(text.size() + text.size() / 16);
  for (const char c : text) c == '<' ? out += "\\u003c" : out += c;
  return out;
}

std::string for_title(const nlohmann::ordered_json& title) {
  const std::string text = title.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  return with(with(nlohmann::json::parse(text).get<std::string>(), '&', "&amp;"), '<', "&lt;");
}

// A page that looks for newer ones reads the script beside it: from disk ('self' is no file in
// every browser), or from where it was served.
void let_scripts_beside_in(std::string& head) {
  constexpr std::string_view alone = "script-src 'unsafe-inline'";
  const std::size_t at = head.find(alone);
  if (at == std::string::npos) throw std::logic_error("the page's policy names no scripts");
  head.insert(at + alone.size(), " 'self' file:");
}

}  // namespace

std::string page_html(const PageData& data) {
  std::string_view page = page_bytes();
  if (page.empty()) throw std::logic_error("built without the page (PROVEOUT_PAGE=OFF)");
  std::string out;
  const auto fill = [&](std::string_view mark, const std::string& value) {
    const std::size_t at = page.find(mark);
    if (at == std::string_view::npos) throw std::logic_error("the page lacks a place for its data");
    out.append(page.substr(0, at)).append(value);
    page.remove_prefix(at + mark.size());
  };
  fill("%TITLE%", for_title(data.about.at("title")));
  if (data.about.contains("watched")) let_scripts_beside_in(out);
  fill("%ABOUT%", for_script(data.about));
  fill("%BULK%", base64(deflated(data.columns.bytes())));
  return out.append(page);
}

bool page_built_in() { return !page_bytes().empty(); }

}  // namespace proveout::page
