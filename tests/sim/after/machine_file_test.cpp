// The machine file calibration writes must not lose what the one it began with said: every key the
// reader knows is written where it says something.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "parser/job/job.h"
#include "parser/job/sections.h"
#include "sim/after/calibrate.h"
#include "tests/sim/after/timed_programs.h"

namespace proveout::after {
namespace {

namespace fs = std::filesystem;

std::optional<job::Machine> back(const job::Machine& m) {
  const fs::path path = fs::path(testing::TempDir()) / "machine-file-test.toml";
  std::ofstream(path) << machine_file(m, "two\nlines");
  Diagnostics diagnostics;
  auto read = job::read_machine(path, diagnostics);
  fs::remove(path);
  for (const Diagnostic& d : diagnostics.all()) EXPECT_NE(d.severity, Severity::error) << d.what;
  return read;
}

TEST(MachineFile, ReadsBack) {
  job::Machine m = known_machine();
  m.name = "a \"quoted\" name";
  m.jerk = Vec3(8000, 8000, 4000);
  m.block_rate = 450;
  m.rapid_by_axis = true;
  m.travel = Vec3(300, 200, 80);
  m.spindle.min_rpm = 4000;
  m.spindle.max_rpm = 24000;
  m.spindle.power_w = 2200;
  m.spindle.rated_rpm = 12000;
  m.feed_override = 0.8;
  m.rapid_override = 0.5;
  m.arc_accel = 310;
  m.spindle.nose = {{60, 40}, {80, 25.5}};
  m.waits = {1.25, 2, 6000, 4.5, 0.5, 30};
  m.time_error = 0.0125;
  m.leeway.resize(2);
  m.leeway[0].acceleration = 1.25;
  m.leeway[1].coolant = 0.5;
  m.stiffness = Vec3(12, 14, 40);
  m.reads.declare(nc::Read::scale_p, nc::read_choices().back().words[1]);
  m.reads.m_without_motion = {31, 88};
  m.known_cuts.push_back({3, 40, "6061-T6", 12000, 2.5, 4, true, 1234.5, 0});
  const auto read = back(m);
  ASSERT_TRUE(read);
  EXPECT_EQ(read->name, m.name);
  for (const Figure f : all_figures)
    EXPECT_NEAR(value_of(f, *read), value_of(f, m), 1e-5 * value_of(f, m));
  EXPECT_EQ(read->jerk, m.jerk);
  EXPECT_EQ(read->rapid_by_axis, true);
  EXPECT_EQ(*read->travel, *m.travel);
  EXPECT_EQ(read->spindle.min_rpm, 4000);
  EXPECT_EQ(read->spindle.max_rpm, 24000);
  EXPECT_EQ(read->spindle.power_w, 2200);
  EXPECT_EQ(read->spindle.rated_rpm, 12000);
  EXPECT_EQ(read->arc_accel, 310);
  EXPECT_EQ(read->spindle.nose, m.spindle.nose);
  EXPECT_EQ(read->waits.spindle_start_s, 1.25);
  EXPECT_EQ(read->waits.spindle_stop_s, 2);
  EXPECT_EQ(read->waits.spindle_rpm_per_s, 6000);
  EXPECT_EQ(read->waits.coolant_on_s, 4.5);
  EXPECT_EQ(read->waits.coolant_off_s, 0.5);
  EXPECT_EQ(read->waits.program_stop_s, 30);
  EXPECT_EQ(read->time_error, 0.0125);
  ASSERT_EQ(read->leeway.size(), 2u);
  EXPECT_EQ(read->leeway[0].acceleration, 1.25);
  EXPECT_EQ(read->leeway[0].coolant, 1);
  EXPECT_EQ(read->leeway[1].coolant, 0.5);
  ASSERT_TRUE(read->stiffness);
  EXPECT_EQ(*read->stiffness, *m.stiffness);
  for (const nc::ReadChoice& c : nc::read_choices()) {
    EXPECT_EQ(read->reads.declared(c.which), m.reads.declared(c.which)) << c.key;
    EXPECT_EQ(read->reads.chosen(c.which), m.reads.chosen(c.which)) << c.key;
  }
  EXPECT_EQ(read->reads.m_without_motion, m.reads.m_without_motion);
  ASSERT_EQ(read->known_cuts.size(), 1u);
  EXPECT_EQ(read->known_cuts[0].tool, 3);
  EXPECT_EQ(read->known_cuts[0].stickout, 40);
  EXPECT_EQ(read->known_cuts[0].material, "6061-T6");
  EXPECT_EQ(read->known_cuts[0].width, 4);
  EXPECT_TRUE(read->known_cuts[0].sings);
  EXPECT_EQ(read->known_cuts[0].pitch_hz, 1234.5);
  EXPECT_EQ(read->feed_override, 0.8);
  EXPECT_EQ(read->rapid_override, 0.5);
}

// Also keys that come later: a machine with everything said, each in turn. A kept machine's name is
// not written: its figures are.
TEST(MachineFile, EveryKeyOfTheReaderIsWritten) {
  job::Machine m = known_machine();
  m.name = "name";
  m.travel = Vec3(300, 200, 80);
  m.jerk = Vec3(8000, 8000, 4000);
  m.arc_accel = m.block_rate = 300;
  m.rapid_by_axis = true;
  m.feed_override = m.rapid_override = 0.5;
  m.stiffness = Vec3(12, 14, 40);
  m.spindle = {4000, 24000, 2200, 12000, 0.7, 2, {{60, 40}}};
  m.waits = {1, 2, 3, 4, 5, 6};
  m.time_error = 0.01;
  m.known_cuts.push_back({3, 40, "6061-T6", 12000, 2.5, 4, true, 1234.5, 0});
  m.leeway.push_back({2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2});
  for (const nc::ReadChoice& c : nc::read_choices()) m.reads.declare(c.which, c.words[1]);
  m.reads.m_without_motion = {31};
  const std::string text = machine_file(m, "");
  int keys = 0;
  for (const job::KeyDoc& k : job::job_keys()) {
    if (!k.section.starts_with("machine") || k.type.starts_with("table") ||
        k.type.starts_with("list of tables") || k.key == "file" || k.key == "kept")
      continue;
    ++keys;
    const std::string key = k.key.substr(k.key.rfind('.') + 1);
    EXPECT_NE(text.find("\n" + key + " = "), std::string::npos) << k.section << " " << k.key;
  }
  EXPECT_GT(keys, 50);
}

}  // namespace
}  // namespace proveout::after
