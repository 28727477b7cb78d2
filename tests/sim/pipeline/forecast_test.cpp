// The forecast of memory and time: what must hold whatever the figures are, and that a run which
// would not fit is refused with a voxel that does.
#include "sim/pipeline/forecast.h"

#include <gtest/gtest.h>

#include <cmath>

#include "parser/job/job.h"

namespace proveout::pipeline {
namespace {

std::shared_ptr<const nc::Program> lines(int count, double length) {
  auto program = std::make_shared<nc::Program>();
  nc::ModalState state;
  state.tool = 1;
  program->states.push_back(state);
  nc::Motion m;
  m.kind = nc::PathKind::line;
  m.end = Vec3(length, 0, 0);
  program->motions.assign(static_cast<std::size_t>(count), m);
  return program;
}

std::map<int, solid::ToolBody> bodies(double diameter) {
  job::Tool t;
  t.number = 1;
  t.diameter = diameter;
  t.flute_length = 20;
  t.stickout = 40;
  return {{1, solid::make_tool_body(t)}};
}

struct Job {
  std::vector<std::shared_ptr<const nc::Program>> programs{lines(1000, 2)};
  std::map<int, solid::ToolBody> tools = bodies(6);
  ForecastInput input(double voxel = 0.2) const {
    ForecastInput in{Box3(Vec3::Zero(), Vec3(150, 60, 30)), voxel, {}, tools, 2, false};
    for (const auto& program : programs) in.programs.push_back(program.get());
    return in;
  }
};

TEST(Forecast, MoreWorkAsksForMore) {
  Job less, more;
  more.programs = {lines(2000, 2)};
  EXPECT_GT(forecast(more.input()).seconds, forecast(less.input()).seconds);
  EXPECT_GT(forecast(more.input()).memory_mb, forecast(less.input()).memory_mb);
  more = less;
  more.tools = bodies(12);
  EXPECT_GT(forecast(more.input()).seconds, forecast(less.input()).seconds);
  ForecastInput one_thread = less.input(), kept = less.input();
  one_thread.threads = 1;
  kept.keep_stock_after_setups = true;
  EXPECT_GT(forecast(one_thread).seconds, forecast(less.input()).seconds);
  EXPECT_GT(forecast(kept).memory_mb, forecast(less.input()).memory_mb);
}

TEST(Forecast, MemoryGoesWithTheSquareOfTheVoxelNotItsCube) {
  Job job;
  const double at_2 = forecast(job.input(0.02)).memory_mb,
               at_1 = forecast(job.input(0.01)).memory_mb;
  EXPECT_NEAR(at_1 / at_2, 4, 0.2);
}

TEST(Forecast, TheVoxelWithinFitsAndIsNotFarCoarser) {
  Job job;
  for (const double memory : {200.0, 1000.0, 5000.0}) {
    const double voxel = voxel_within(job.input(0.005), memory);
    EXPECT_LE(forecast(job.input(voxel)).memory_mb, memory);
    EXPECT_GT(forecast(job.input(voxel * 0.85)).memory_mb, memory);
  }
  EXPECT_EQ(voxel_within(job.input(0.2), 1e6), 0.2);
}

TEST(Forecast, TheSystemSaysWhatIsFree) {
  const auto free = memory_available_mb();
  ASSERT_TRUE(free);
  EXPECT_GT(*free, 1);
  EXPECT_LT(*free, 1e9);
}

}  // namespace
}  // namespace proveout::pipeline
