// What a run prints unless asked for all: the outcome, its causes, time, mass and what was not
// checked, on one screen.
#pragma once

#include <string>

#include "sim/run/result.h"

namespace proveout::text {

struct FirstScreenOptions {
  bool colour = false;
  std::string output_folder;  // named at the end; empty: nothing was written
  bool page = true;           // report.html is in it
};

inline constexpr std::size_t first_screen_lines = 24;  // at most, of 80 columns

std::string first_screen(const run::JobResult& result, const FirstScreenOptions& options);

}  // namespace proveout::text
