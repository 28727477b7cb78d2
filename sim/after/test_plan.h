// Short programs to be timed by stopwatch, each in air and each for one of a machine's figures, so
// that the times tell the figures apart. docs/timing.md, figures by stopwatch.
#pragma once

#include <string>
#include <vector>

#include "sim/after/calibrate.h"

namespace proveout::after {

struct TestProgram {
  std::string name;       // of the file, "corners.nc"
  std::string text;       // mm, G54 as it stands, from where the tool stands upwards; no cutting
  std::string tells;      // the figure, in words
  double expected_s = 0;  // on the machine as its file says
};

// box: mm, what the machine may use from its work zero in +x, +y and +z, each at least 10. figures:
// those to be told; seconds: about what each program is to take, 5 or more. Figures that no program
// tells (overhead is told by all) add none. Empty with an error (plan-box) where the box is too
// small.
std::vector<TestProgram> test_programs(const job::Machine& machine,
                                       const std::vector<Figure>& figures, const Vec3& box,
                                       double seconds, Diagnostics& diagnostics);

}  // namespace proveout::after
