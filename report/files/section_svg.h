// A section of the stock as an SVG drawing at true scale: one unit is one millimetre, x to the
// right and y up as on the machine.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/measure/section.h"
#include "sim/run/result.h"

namespace proveout::files {

class FileSet;

// title: plain text. Contours in the section's own frame, mm, holes left out of the fill; the
// frame's origin is marked where it lies in the picture's box, 5 mm about the contours.
std::string section_svg(const measure::Section& section, const std::string& title);

// setup-N-section-zHEIGHT.svg for each setup's stock and each height (mm, the setup's work
// coordinates), to set. Needs result.stock_after. Throws WriteError.
void write_sections(const run::JobResult& result, const std::vector<double>& heights,
                    const std::filesystem::path& folder, FileSet& set);

}  // namespace proveout::files
