#include "sim/run/tool_runs.h"

namespace proveout::run {

std::vector<stock::ToolRun> tool_runs(const nc::Program& program,
                                      const std::map<int, solid::ToolBody>& bodies) {
  std::vector<stock::ToolRun> uses;
  int current = -1;
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    const int tool = program.states[program.motions[i].state].tool;
    if (tool != current) {
      const auto body = bodies.find(tool);
      uses.push_back({i, i, body == bodies.end() ? nullptr : &body->second});
      current = tool;
    }
    uses.back().last = i + 1;
  }
  return uses;
}

}  // namespace proveout::run
