#include "parser/job/program_reading.h"

namespace proveout::job {

nc::ReadOptions program_reading(const Job& job, const Setup* setup) {
  nc::ReadOptions options;
  options.start = job.machine.start;
  options.reads = job.machine.reads;
  for (const Tool& t : job.tools) {
    options.tool_diameters[t.number] = t.diameter;
    options.tool_lengths[t.number] = t.stickout;
  }
  if (setup == nullptr) return options;
  options.work_offsets = setup->offsets;
  options.zero_in_machine = setup->zero_in_machine;
  options.tool_at_start = setup->tool;
  options.offsets_d = setup->offsets_d;
  options.offsets_h = setup->offsets_h;
  return options;
}

}  // namespace proveout::job
