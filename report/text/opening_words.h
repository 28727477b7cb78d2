// What the first screen and the whole report open with, in the same words.
#pragma once

#include <cstddef>
#include <string>

#include "report/text/terminal.h"
#include "sim/run/result.h"

namespace proveout::text {

// "1 error", "2 errors"
std::string plural(std::size_t n, const char* word);
// "door pull: blank 160 x 60 x 32 mm in 6061-T6, voxel 0.2 mm"
std::string job_in_words(const run::JobResult& result);
// "2 errors, 1 warning, 0 notes"
std::string counts_in_words(const run::JobResult& result);
// Its text, with how many findings go with it and how many are left.
std::string cause_in_words(const run::Cause& cause);
Ink ink_of(Severity level);

}  // namespace proveout::text
