// The toolpath as a file for scientific viewers: VTK's XML poly data (.vtp), the published format
// of that open library.
#pragma once

#include <filesystem>
#include <string>

#include "sim/run/result.h"

namespace proveout::files {
class FileSet;
}

namespace proveout::mesh_files {

// One line cell a motion, arcs as chords within 0.01 mm, in stock coordinates (mm). Cell data: line
// (of the program), tool, rapid (0 or 1), feed (planned mean, mm/min), start_s, removed_mm3,
// axial_depth, engagement_deg, chip_mm, force_n, power_w, bend_mm (the motion's peaks).
std::string vtp(const run::SetupResult& setup);

// setup-N-path.vtp of every setup, to set. Throws files::WriteError.
void write_paths(const run::JobResult& result, const std::filesystem::path& folder,
                 files::FileSet& set);

}  // namespace proveout::mesh_files
