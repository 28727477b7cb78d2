// Loads of every motion and what they break: depth, width, chip, power, bend, chatter, plunges, a
// spindle that stands still.
#pragma once

#include <map>
#include <memory>

#include "sim/cutting/load.h"
#include "sim/run/setup_run.h"

namespace proveout::run {

class LoadJudge {
 public:
  LoadJudge(const SetupContext& context, SetupResult& result, FindingCollector& findings);
  // Fills the motion's peak and adds its findings.
  void judge(std::size_t motion);
  // Findings that are about a tool as a whole. Call last.
  void finish();

 private:
  struct PerTool {
    const job::Tool* tool = nullptr;
    std::unique_ptr<cutting::LoadModel> model;
    job::ToolLimits limits;
    double in_cut_s = 0, thin_s = 0, thinnest = 1e9;
    std::size_t thin_motion = 0;
    bool speed_said = false;
  };
  PerTool* of(int number);
  Finding finding(std::size_t motion, FindingKind kind, Severity level, double along) const;
  void depth(PerTool& t, std::size_t motion, const stock::EngagementSample& s);
  void loads(PerTool& t, std::size_t motion, const stock::EngagementSample& s,
             const cutting::CutLoad& l);
  void plunge(PerTool& t, std::size_t motion, const stock::EngagementSample& s, double speed);
  void spindle(PerTool& t, std::size_t motion, const stock::EngagementSample& s);

  const SetupContext& context_;
  SetupResult& result_;
  const nc::Program& program_;
  FindingCollector& findings_;
  std::map<int, PerTool> tools_;
};

}  // namespace proveout::run
