// Names of the files a run leaves in its output folder. Whoever writes one takes its name from
// here, so that no command writes one over what it reads.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace proveout::files {

inline constexpr std::string_view result_name = "result.json", moves_name = "moves.csv",
                                  junit_name = "junit.xml", sarif_name = "findings.sarif",
                                  page_name = "report.html", page_version_name = "page-version.js",
                                  left_name = "left.vdb", deviation_name = "deviation.png";

// What a setup's own files end in.
inline constexpr std::string_view stl_ending = ".stl", ply_ending = ".ply",
                                  three_mf_ending = ".3mf", stock_ending = ".vdb",
                                  path_ending = "-path.vtp", picture_ending = ".png",
                                  cut_open_ending = "-section.png";

// setup-1.stl is setup 0's.
std::string setup_file(std::size_t setup, std::string_view ending);

// All of them for a job of so many setups, whatever options it is run with. Not among them are the
// names with a number that only the run or its options give: finding-N.png, setup-N-section-zZ.svg.
std::vector<std::string> output_names(std::size_t setups);

}  // namespace proveout::files
