// What a check is: what one kind of finding means, and what looks for it and when.
//
// A check runs at one of these moments, each with a value that is whole by then:
//   for_tool    while one tool's motions through one setup are followed: each sample of a feed move
//               that lies in material (CutSample), then once at their end;
//   after_cut   a setup is cut (SetupCut);
//   after_last  the last setup is cut (JobContext);
//   not_checked at the end: what of the kind could not be looked for, for want of input.
// Checks whose measurements others read as well (the part, both sides, what holds the part,
// clearances, loose pieces, zeros) are called by name, by sim/pipeline, and return what they
// measured; they stand in the registry for what their findings mean.
#pragma once

#include <cstddef>
#include <memory>
#include <string_view>
#include <vector>

#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "sim/cutting/load.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"

namespace proveout::run {

// One tool as a setup uses it.
struct ToolInSetup {
  const SetupContext& context;
  const SetupCut& setup;
  const job::Tool& tool;
  job::ToolLimits limits;  // of the tool in the job's material
  cutting::LoadModel model;
};

// One sample of a feed move, with the loads there.
struct CutSample {
  std::size_t motion = 0;  // index into the program's motions
  const nc::Motion& path;
  const nc::ModalState& state;
  const stock::EngagementSample& engagement;
  const cutting::EngagedArea& area;  // of the tool's face in material
  const cutting::CutLoad& load;
  double speed = 0;    // mm/min along the path, as planned
  double seconds = 0;  // s it stands for
  bool turning() const { return state.turn != nc::SpindleTurn::stopped; }
  // Sine of the angle at which the tip goes down there, 0 for a motion of no length.
  double downward() const;
  // mm: how deep it cuts there. Straight down the floor alone is met, at no height of the tool:
  // then as deep as the way down.
  double depth() const;
};

// Follows one tool through one setup.
class ToolCheck {
 public:
  explicit ToolCheck(const ToolInSetup& use) : use_(use) {}
  virtual ~ToolCheck() = default;
  // Samples come in the order of the program.
  virtual void see(const CutSample& sample, FindingCollector& findings) = 0;
  virtual void finish(FindingCollector&) {}

 protected:
  // A finding at a place of a motion. along: mm from its start.
  Finding finding(std::size_t motion, double along, FindingKind kind, Severity level) const;
  Finding finding(const CutSample& sample, FindingKind kind, Severity level) const {
    return finding(sample.motion, static_cast<double>(sample.engagement.along), kind, level);
  }

  const ToolInSetup& use_;
};

using StartToolCheck = std::unique_ptr<ToolCheck> (*)(const ToolInSetup&);
template <class OneCheck>
std::unique_ptr<ToolCheck> start(const ToolInSetup& use) {
  return std::make_unique<OneCheck>(use);
}

// What input a check may have to do without: the list of what was not checked goes by it.
enum class Lack : std::uint8_t { part, tool_limits, holders, setups, machine, nothing };

// The job when its last setup is cut.
struct JobContext {
  const job::Job& job;
  const cutting::Material& material;
  const mesh::Mesh* part;   // stock coordinates; none: nullptr
  const JobResult& result;  // setups and flips are whole; what is made of all of them is not
};

struct Check {
  FindingKind kind = FindingKind::program;
  Severity level = Severity::error;  // the worst that its findings have
  std::string_view meaning;          // one sentence without a full stop
  std::string_view help;             // what to look at and do
  std::string_view needs = {};       // input without which it is not checked; empty: always checked
  StartToolCheck for_tool = nullptr;
  void (*after_cut)(const SetupContext&, const SetupCut&, FindingCollector&) = nullptr;
  void (*after_last)(const JobContext&, FindingCollector&) = nullptr;
  Lack lacks = Lack::nothing;
  // What of the kind was not looked for and why, NotChecked::what left out; empty: all of it was.
  std::vector<NotChecked> (*not_checked)(const JobContext&) = nullptr;
};

}  // namespace proveout::run
