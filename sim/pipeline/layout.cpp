#include "sim/pipeline/layout.h"

#include <algorithm>
#include <cmath>

#include "sim/run/inputs.h"
#include "sim/setup/pose.h"

namespace proveout::pipeline {
namespace {

int chords(const nc::Motion& motion) {
  if (motion.kind != nc::PathKind::arc) return 1;
  return std::clamp(static_cast<int>(std::ceil(std::abs(motion.sweep) / (pi / 12) - 1e-9)), 1,
                    1000);
}

std::vector<Way> ways_of(const nc::Program& program) {
  std::vector<Way> ways;
  for (const nc::Motion& m : program.motions) {
    const bool rapid = m.kind == nc::PathKind::rapid;
    const int tool = program.states[m.state].tool;
    if (ways.empty() || ways.back().rapid != rapid || ways.back().tool != tool)
      ways.push_back({rapid, tool, {m.start}});
    const int pieces = chords(m);
    for (int i = 1; i <= pieces; ++i)
      ways.back().points.push_back(i == pieces ? m.end
                                               : nc::point_at(m, static_cast<double>(i) / pieces));
  }
  return ways;
}

}  // namespace

JobLayout layout(const job::Job& job, const run::Inputs& inputs) {
  JobLayout out;
  for (std::size_t i = 0; i < job.setups.size(); ++i) {
    const job::Setup& setup = job.setups[i];
    SetupLayout s;
    s.zero_known = setup.zero.at || setup.zero.on == job::ZeroOn::blank;
    const Box3 not_milled_yet;
    const RigidMotion pose = setup::stock_from_setup(setup, inputs.blank, not_milled_yet, false);
    s.setup_from_stock = pose.inverse();
    if (s.zero_known) s.zero_text = setup::zero_in_words(pose, inputs.blank);
    s.ways = ways_of(*inputs.setups[i].program);
    out.setups.push_back(std::move(s));
  }
  return out;
}

}  // namespace proveout::pipeline
