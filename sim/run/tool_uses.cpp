#include "sim/run/tool_uses.h"

namespace proveout::run {

std::vector<stock::ToolUse> tool_uses(const nc::Program& program,
                                      const std::map<int, solid::ToolBody>& bodies) {
  std::vector<stock::ToolUse> uses;
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
