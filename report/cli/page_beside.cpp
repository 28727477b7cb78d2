#include "report/cli/page_beside.h"

#include <fmt/format.h>

#include <filesystem>

#include "parser/base/text_file.h"
#include "report/files/output_names.h"

namespace proveout::cli {
namespace {

// What of a result.json its page does not hold (page_of_result.cpp), and what is added to the file.
nlohmann::ordered_json held_by_page(nlohmann::ordered_json result) {
  for (const char* key : {"run", "flips", "meshes"}) result.erase(key);
  return result;
}

}  // namespace

page::OtherPage page_beside(const std::string& result_path, const compare::NamedResult& result,
                            Diagnostics& diagnostics) {
  page::OtherPage out{result.name, std::nullopt, {}};
  const std::filesystem::path path =
      std::filesystem::path(result_path).replace_filename(files::page_name);
  std::error_code ignored;
  if (!std::filesystem::is_regular_file(path, ignored)) {
    out.missing = fmt::format("there is no {} beside the result", files::page_name);
  } else {
    Diagnostics unsaid;
    const auto html = read_text_file(path, "page", unsaid, std::uintmax_t{1} << 30);
    if (html)
      out.data = page::read_page(*html, out.missing);
    else
      out.missing = "the page cannot be read";
    if (out.data &&
        out.data->about.value("result", nlohmann::ordered_json()) != held_by_page(result.result)) {
      out.data.reset();
      out.missing = "the page beside the result is of another run";
    }
  }
  if (!out.data)
    diagnostics.warning("result-without-page", Place{result_path, 0, 0, 0},
                        "it is shown in tables alone, without a picture: " + out.missing,
                        "run its job again without --no-html, and keep report.html with it");
  return out;
}

}  // namespace proveout::cli
