// What a job file itself marks as not known (parser/job/marks.h) is not taken for checked.
#pragma once

#include <string_view>
#include <vector>

#include "sim/run/result.h"

namespace proveout::checks {

// Adds each mark of the job file's text to the list: to the reasons of its kinds where the list has
// them, else as new ones, checked in part: with what stands there, which is only usual. A mark that
// names no kind is listed by its key, or as "job".
void add_marked(std::string_view job_text, std::vector<run::NotChecked>& not_checked);

}  // namespace proveout::checks
