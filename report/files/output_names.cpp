#include "report/files/output_names.h"

#include <fmt/format.h>

namespace proveout::files {

std::string setup_file(std::size_t setup, std::string_view ending) {
  return fmt::format("setup-{}{}", setup + 1, ending);
}

std::vector<std::string> output_names(std::size_t setups) {
  std::vector<std::string> out;
  for (const std::string_view name : {result_name, moves_name, junit_name, sarif_name, page_name,
                                      page_version_name, left_name, deviation_name})
    out.emplace_back(name);
  for (std::size_t s = 0; s < setups; ++s) {
    for (const std::string_view ending : {stl_ending, ply_ending, three_mf_ending, stock_ending,
                                          path_ending, picture_ending, cut_open_ending})
      out.push_back(setup_file(s, ending));
  }
  return out;
}

}  // namespace proveout::files
