// Programs whose times calibration is tried on: random ones, and four timed on one production
// machine (NIST Smart Manufacturing Systems Test Bed, technical data packages, repository
// usnistgov/smstestbed).
#pragma once

#include <filesystem>
#include <memory>
#include <random>
#include <vector>

#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "sim/after/calibrate.h"

namespace proveout::after {

inline job::Machine known_machine() {
  job::Machine m;
  m.max_feed = Vec3(6000, 6000, 2000);
  m.rapid = Vec3(6000, 6000, 2500);
  m.accel = Vec3(350, 350, 200);
  m.path_tolerance = 0.012;
  m.tool_change_s = 42;
  m.program_overhead_s = 7;
  m.spindle.spin_up_s = 0;
  m.lookahead = 64;
  return m;
}

// Random zigzags: short and long moves, rapids between, some tool changes.
inline std::shared_ptr<const nc::Program> random_program(unsigned seed, int moves, int changes) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> step(-1, 1), u(0, 1);
  auto p = std::make_shared<nc::Program>();
  p->files = {"random.nc"};
  p->chains.emplace_back();
  p->states.emplace_back();
  Vec3 at(0, 0, 5);
  const double reach = seed % 2 == 0 ? 0.8 : 25;
  for (int i = 0; i < moves; ++i) {
    if (changes > 0 && i % (moves / changes) == 0) {
      nc::ModalState s = p->states.back();
      ++s.tool;
      p->states.push_back(s);
      nc::Event e;
      e.kind = nc::EventKind::tool_change;
      e.before_motion = p->motions.size();
      e.state = static_cast<std::uint32_t>(p->states.size() - 1);
      p->events.push_back(e);
    }
    nc::Motion m;
    m.kind = u(random) < 0.06 ? nc::PathKind::rapid : nc::PathKind::line;
    m.start = at;
    const double far = m.kind == nc::PathKind::rapid ? 60 : reach;
    at += Vec3(far * step(random), far * step(random), 0.2 * reach * step(random));
    m.end = at;
    m.feed = m.kind == nc::PathKind::rapid ? 0 : 600 + 3000 * u(random);
    m.line = static_cast<std::uint32_t>(i + 1);
    m.state = static_cast<std::uint32_t>(p->states.size() - 1);
    p->motions.push_back(m);
  }
  return p;
}

struct Timed {
  const char* file;
  double measured_s;  // medians of the control's own times
};
inline constexpr Timed timed[] = {
    {"cover.nc", 80.2}, {"box_op3.nc", 391.8}, {"box_op1.nc", 1774.3}, {"plate_13.nc", 927.4}};

inline std::vector<TimedRun> timed_runs(const job::Machine& machine) {
  std::vector<TimedRun> runs;
  for (const Timed& t : timed) {
    const std::filesystem::path path = std::filesystem::path(PROVEOUT_FIELD_DATA) / t.file;
    if (!std::filesystem::exists(path)) return {};
    Diagnostics diagnostics;
    nc::ReadOptions options;
    options.start = machine.start;
    auto program = nc::read_program(path, options, diagnostics);
    if (!program) return {};
    runs.push_back(
        {t.file, std::make_shared<const nc::Program>(std::move(*program)), t.measured_s, 1, 1, {}});
  }
  return runs;
}

inline job::Machine start_of_fit() {
  job::Machine m;
  m.max_feed = Vec3::Constant(20000);
  m.rapid = Vec3::Constant(36000);  // the log's largest speed was 596 mm/s
  m.accel = Vec3::Constant(1000);
  m.path_tolerance = 0.01;
  m.lookahead = 100;
  m.tool_change_s = 6;
  m.program_overhead_s = 5;
  return m;
}

}  // namespace proveout::after
