// A plate with a slot that a cutter may be too wide for, run with cutters of any width and
// stick-out.
#pragma once

#include <string>

#include "tests/sim/pipeline/work_folder.h"

namespace proveout::checks {

// A plate with a slot 4 wide and 8 deep along y: a 6 mm cutter fits neither its floor nor its
// walls, 30 (4 + 2 x 8) = 600 mm2 but for what it pokes into at the open ends.
inline std::string slotted() {
  return pipeline::prism_stl(
      {{0, 0}, {40, 0}, {40, 12}, {22, 12}, {22, 4}, {18, 4}, {18, 12}, {0, 12}},
      {{0, 4, 1}, {0, 5, 4}, {1, 3, 2}, {1, 4, 3}, {0, 7, 6}, {0, 6, 5}}, 0, 30);
}

// `below`: mm of blank under the plate; with none the plate's underside is the blank's own face.
inline run::JobResult run_with(double diameter, double stickout, bool both_sides,
                               double below = 0) {
  const pipeline::WorkFolder work;
  work.file("part.stl", slotted());
  work.file("a.nc", "G21 G90\nT1 M6\nS18000 M3\nG0 X-10 Y0 Z5\nG0 Z-1\nG1 Y30 F600\nG0 Z5\nM30\n");
  std::string text =
      "[simulation]\nvoxel = 0.5\n[stock]\nsize = [40, 30, " + std::to_string(12 + below) +
      "]\n[part]\nmesh = \"part.stl\"\norigin = [0, 0, " + std::to_string(below) +
      "]\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = " + std::to_string(diameter) +
      "\nflute_length = 12\nstickout = " + std::to_string(stickout) +
      "\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = "
      "\"top\" }\n";
  if (both_sides)
    text +=
        "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nturn = [{ about = \"y\", degrees = 180 "
        "}]\nzero = { x = \"min\", y = \"min\", z = \"top\" }\n";
  return work.run(text);
}

inline const Finding* of(const run::JobResult& r, FindingKind kind,
                         const std::string& detail = "") {
  for (const Finding& f : r.findings) {
    if (f.kind == kind && f.detail == detail) return &f;
  }
  return nullptr;
}

}  // namespace proveout::checks
