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

constexpr std::string_view about_begins = R"(<script type="application/json" id="about">)",
                           bulk_begins = R"(<script type="text/plain" id="bulk">)",
                           script_ends = "</script>";

// What stands in the one script that begins so; nullopt: there is none.
std::optional<std::string_view> script(std::string_view html, std::string_view begins) {
  const std::size_t at = html.find(begins);
  if (at == std::string_view::npos) return std::nullopt;
  html.remove_prefix(at + begins.size());
  const std::size_t end = html.find(script_ends);
  if (end == std::string_view::npos) return std::nullopt;
  return html.substr(0, end);
}

bool is_base64(std::string_view text) {
  const std::size_t end = text.find_last_not_of('=') + 1;
  return !text.empty() && text.size() % 4 == 0 && text.size() - end <= 2 &&
         text.substr(0, end).find_first_not_of(
             "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/") ==
             std::string_view::npos;
}

}  // namespace

PackedData packed(const PageData& data) {
  PackedData out{data.about, base64(deflated(data.columns.bytes()))};
  out.about["format"] = page_format;
  return out;
}

std::optional<PackedData> read_page(std::string_view html, std::string& why) {
  const auto about = script(html, about_begins), bulk = script(html, bulk_begins);
  PackedData out;
  if (about) out.about = nlohmann::ordered_json::parse(*about, nullptr, false);
  if (!about || !bulk || !out.about.is_object() || !is_base64(*bulk)) {
    why = "the page's data cannot be read";
    return std::nullopt;
  }
  const auto format = out.about.find("format");
  if (format == out.about.end() || *format != page_format) {
    why = "the page was written by another version of proveout";
    return std::nullopt;
  }
  // What it showed beside itself, and where its newer ones are looked for, is not shown again.
  for (const char* key : {"others", "comparisons", "watched"}) out.about.erase(key);
  out.bulk = *bulk;
  return out;
}

std::string page_html(const PackedData& data, const std::vector<OtherPage>& others) {
  std::string_view page = page_bytes();
  if (page.empty()) throw std::logic_error("built without the page (PROVEOUT_PAGE=OFF)");
  std::string out;
  const auto fill = [&](std::string_view mark, const std::string& value) {
    const std::size_t at = page.find(mark);
    if (at == std::string_view::npos) throw std::logic_error("the page lacks a place for its data");
    out.append(page.substr(0, at)).append(value);
    page.remove_prefix(at + mark.size());
  };
  nlohmann::ordered_json about = data.about;
  std::string scripts;
  int shown = 0;
  for (const OtherPage& other : others) {
    nlohmann::ordered_json& told = about["others"].emplace_back();
    told["name"] = other.name;
    if (!other.data) {
      told["missing"] = other.missing;
      continue;
    }
    const std::string number = std::to_string(++shown);
    scripts.append("\n<script type=\"application/json\" id=\"about-" + number + "\">")
        .append(for_script(other.data->about))
        .append(script_ends)
        .append("\n<script type=\"text/plain\" id=\"bulk-" + number + "\">")
        .append(other.data->bulk)
        .append(script_ends);
  }
  fill("%TITLE%", for_title(about.at("title")));
  if (about.contains("watched")) let_scripts_beside_in(out);
  fill("%ABOUT%", for_script(about));
  fill("%BULK%", data.bulk);
  fill("%OTHERS%", scripts);
  return out.append(page);
}

std::string page_html(const PageData& data, const std::vector<OtherPage>& others) {
  return page_html(packed(data), others);
}

bool page_built_in() { return !page_bytes().empty(); }

}  // namespace proveout::page
