// Loads of every motion and what they break: depth, width, chip, power, bend, chatter, plunges, a
// spindle that stands still.
#pragma once

#include <map>
#include <memory>
#include <utility>
#include <vector>

#include "sim/cutting/load.h"
#include "sim/run/finding.h"
#include "sim/run/result.h"
#include "sim/run/setup_context.h"

namespace proveout::checks {

class LoadJudge {
 public:
  LoadJudge(const run::SetupContext& context, run::SetupResult& result, FindingCollector& findings);
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
    bool speed_said = false, reversed_said = false;
    // Feed per tooth over diameter in each sample of a feed move, and its seconds.
    std::vector<std::pair<double, double>> chips;
    std::size_t cut_motion = 0;  // the first that cut
    struct Most {                // the largest of something, and where
      double value = 0;
      std::size_t motion = 0;
      void raise(double v, std::size_t m) {
        if (v > value) *this = {v, m};
      }
    } deepest, deepest_slot, fastest_down;  // mm, mm, mm/min
    struct Chatter {                        // the sample furthest beyond its limit
      double beyond = 1, depth = 0, limit = 0, arc_from = 0, arc_to = 0, rpm = 0, along = 0;
      bool clockwise = true;
      std::size_t motion = 0;
      std::uint64_t motions = 0;  // how many are beyond
    } chatter;
  };
  PerTool* of(int number);
  Finding finding(std::size_t motion, FindingKind kind, Severity level, double along) const;
  void depth(PerTool& t, std::size_t motion, const stock::EngagementSample& s);
  void loads(PerTool& t, std::size_t motion, const stock::EngagementSample& s,
             const cutting::CutLoad& l);
  void stability(PerTool& t, std::size_t motion, const stock::EngagementSample& s);
  void tell_thin_chips(const PerTool& t);
  void tell_chatter(const PerTool& t);
  double middle_chip(PerTool& t) const;
  void tell_other_material(PerTool& t);
  struct Reading {  // one thing that speaks for another material
    FindingKind kind;
    double value, limit, other_limit;
    const char* unit;
    const char* what;
    std::size_t motion;
  };
  std::vector<Reading> readings(const PerTool& t, double chip,
                                const cutting::Material& other) const;
  void plunge(PerTool& t, std::size_t motion, const stock::EngagementSample& s, double speed);
  void spindle(PerTool& t, std::size_t motion, const stock::EngagementSample& s);
  void reversed(PerTool& t, std::size_t motion, const stock::EngagementSample& s);

  const run::SetupContext& context_;
  run::SetupResult& result_;
  const nc::Program& program_;
  FindingCollector& findings_;
  std::map<int, PerTool> tools_;
};

}  // namespace proveout::checks
