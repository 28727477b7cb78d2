// How the programs of a job are read.
#pragma once

#include "parser/job/job.h"
#include "parser/nc/program.h"

namespace proveout::job {

// What a program cannot know by itself, from the job: start, offsets, tools, and how the machine's
// control reads. setup: nullptr for a program that no setup of the job names.
nc::ReadOptions program_reading(const Job& job, const Setup* setup);

}  // namespace proveout::job
