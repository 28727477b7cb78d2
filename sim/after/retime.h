// The same toolpaths in another material: the feed each motion may have there, what binds it, the
// time that gives, and the programs with those feeds. Rules: docs/loads.md, retiming.
#pragma once

#include <array>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "sim/cutting/material.h"
#include "sim/run/result.h"

namespace proveout::after {

enum class Binding : std::uint8_t {
  chip,
  cutting_speed,
  power,
  bend,
  machine_feed,
  as_programmed,
  plunge
};
std::string_view name(Binding binding);

struct RetimedSetup {
  std::string name;
  std::vector<double> feed;      // mm/min, one per motion; 0 on rapids
  std::vector<Binding> binding;  // one per motion
  std::vector<double> rpm;       // one per motion
  double time_s = 0;             // with one pass
  double extra_passes_s = 0;     // for depth beyond the material's rule
  std::uint64_t motions_with_passes = 0;
};
struct Retimed {
  std::string material;
  std::vector<RetimedSetup> setups;
  std::array<double, 7> bound_s{};  // time bound by each limit
  double time_s = 0;                // all, extra passes included
  double own_time_s = 0;            // in the job's own material
};

Retimed retime(const run::JobResult& result, const cutting::Material& material);

// In the job's own material, at the programs' own spindle speeds: feeds rise up to what binds, and
// none is lowered. More careful than a new material's: a tooth gets no more than the rule's
// greatest chip however thin the cut makes it, and drills, taps and moves in air stay as they are.
// A line that runs more than once gets what the most loaded of its runs may have, as rewrite posts
// it. binding: what held the feed; extra passes are not counted. No setups without result.inputs.
Retimed retime_faster(const run::JobResult& result);

// The same with chips that go only part of the way up the rule's range, 0 its least, 1 its
// greatest. faster: retime_faster of the result.
Retimed retime_faster(const run::JobResult& result, const Retimed& faster, double of_chip_range);

}  // namespace proveout::after
