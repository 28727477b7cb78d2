// Figures and findings in words: one spelling for the terminal, the page and the files.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "sim/pipeline/forecast.h"
#include "sim/run/finding.h"

namespace proveout::text {

// "48 s", "12 min 30 s", "1 h 05 min"; never negative, and no more than some 3000 years.
std::string duration(double seconds);
// "about 40 s (a third to three times that) and 1.2 GB of memory"
std::string needs_in_words(const pipeline::Forecast& needs);
// "error gouge A T3 side-a.nc:412 cuts 0.12 mm into the part, 0.05 allowed (x14)"
std::string one_line(const Finding& finding);
// "side-a.nc:412", "side-a.nc:412-419", "side-a.nc"
std::string place(const Finding& finding);
// Breaks at spaces so that no line is longer than width, each line indented by indent.
std::string wrapped(std::string_view text, std::size_t width, std::size_t indent);
// Cut to width characters (UTF-8 aware), the last one an ellipsis where something was lost.
std::string shortened(std::string_view text, std::size_t width);
// Printable characters in UTF-8 text.
std::size_t columns(std::string_view text);
// Padded with spaces to width, left or right.
std::string left(std::string_view text, std::size_t width);
std::string right(std::string_view text, std::size_t width);
// Control characters (C0, DEL, C1, so line ends too), those that turn the text's direction round
// (Unicode Standard Annex 9) and bytes that are no UTF-8 as '?', so that text from a program or a
// file's name stays on its line, reads as it stands and cannot steer a terminal.
std::string printable(std::string_view text);
// What XML 1.0's Char (section 2.2) does not have, and bytes that are no UTF-8, as '?'.
std::string xml_text(std::string_view text);

// The cautions every face of the report carries, one sentence each.
const std::vector<std::string>& cautions();

}  // namespace proveout::text
