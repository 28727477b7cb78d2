// When each motion happens: acceleration-limited speed along the path. The rules stand in
// docs/timing.md. Speeds here are mm/s, times s, lengths mm, accelerations mm/s2, jerk mm/s3.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <vector>

#include "parser/job/job.h"
#include "parser/nc/motion.h"
#include "parser/nc/program.h"

namespace proveout::timing {

enum class SlowedBy : std::uint8_t {
  nothing,
  corner,
  short_block,
  axis_limit,
  block_rate,
  arc,
  wait
};
inline constexpr int slowed_by_count = 7;
const char* name(SlowedBy reason);  // the word in results: "corner", "short-block", ...

// Speed profile of one motion: ramp from entry to cruise, cruise, ramp to exit.
struct TimedMotion {
  double start_s = 0;  // since the program's start, waits included
  double time_s = 0;
  float entry_speed = 0, cruise_speed = 0, exit_speed = 0;  // mm/s
  float acceleration = 0;                                   // mm/s2 along the path
  float jerk = 0;                                           // mm/s3; 0: not limited
  SlowedBy slowed_by = SlowedBy::nothing;  // what kept it longest from its commanded feed
  bool feed_clipped = false;               // commanded above what the axes can do
};

// Planned speed at a distance along the motion, mm/s.
double speed_at(const TimedMotion& motion, double length, double along);
// Time since the motion's start at which the tool is `along` mm into it, s.
double time_at(const TimedMotion& motion, double length, double along);

struct Wait {  // between motions
  std::uint64_t before_motion = 0;
  double time_s = 0;
  double start_s = 0;
  nc::EventKind kind = nc::EventKind::dwell;  // of the event it stands for
  std::uint32_t line = 0;
};

struct Plan {
  std::vector<TimedMotion> motions;  // one per motion of the program
  std::vector<Wait> waits;
  double time_s = 0;   // all of it, overhead included
  double naive_s = 0;  // length over commanded feed (rapids over rapid), waits included
};

Plan plan(const nc::Program& program, const job::Machine& machine);

}  // namespace proveout::timing
