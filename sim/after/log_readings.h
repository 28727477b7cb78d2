// A control's log as calibration takes it, and what shows that it is not of this program or in
// other units.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "sim/after/calibrate.h"

namespace proveout::after {

struct Reading {
  double seconds = 0;
  std::uint32_t line = 0;  // of the program, 1 = first; readings without a line are left out
  double speed = -1;       // mm/s along the path; below 0: not logged
  std::uint32_t row = 0;   // of the log's file, for errors
};

// Readings, in order of time, as passages of one line each: when its first reading was, the top
// speed seen, and whether it was held (three readings within 2 % of it; choice).
std::vector<LoggedLine> logged_lines(std::span<const Reading> readings);

// Errors at rows whose time goes backwards; true: none.
bool in_order(std::span<const Reading> readings, const std::string& file, Diagnostics& diagnostics);

// Warnings: lines the program does not have (another program's log), and top speeds of feed lines
// that lie nowhere near a feed of the program (another unit than mm/min).
void hold_against_program(const TimedRun& run, const std::string& file, Diagnostics& diagnostics);

}  // namespace proveout::after
