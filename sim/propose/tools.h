// The tools of a job: from the comments of its programs, from what their motions do, from a file.
#pragma once

#include <set>
#include <span>
#include <vector>

#include "sim/propose/proposal.h"

namespace proveout::propose {

struct ProgramText {  // a program before its tools are known
  std::string name;   // of the file, as messages show it
  std::string_view text;
  bool in_inches = false;  // G20 in force: how comments count where they name no unit
};

// Every tool named by a T word of the programs or their comments' T words that the programs use,
// in the order of numbers. A tool of the file is taken whole. What comments contradict each other
// about stays open, with both readings in its words.
std::vector<ToolProposal> tools_of(std::span<const ProgramText> programs,
                                   std::span<const job::Tool> from_file,
                                   const std::string& file_name);

// Numbers of the tools that cut along x or y; 0: the one in the spindle.
std::set<int> cut_sideways(std::span<const SetupProposal> setups);

// What the motions of the programs add: tools that only go up and down, how deep each goes below
// the top, and with that the least flute length and stick-out. top: mm, setup frame, of each
// setup's material; nullopt where it is not known.
void look_at_motions(std::span<const SetupProposal> setups,
                     std::span<const std::optional<double>> top, std::vector<ToolProposal>& tools);

// The tool as the job file will have it; nullopt while something it cannot do without is open.
std::optional<job::Tool> job_tool(const ToolProposal& tool);

}  // namespace proveout::propose
