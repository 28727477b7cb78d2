// Every key of a job file ends where docs/job-file.md says, in millimetres and in inches; what each
// refuses, at the ends of its range; contradictions.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "parser/job/job.h"

namespace proveout::job {
namespace {
namespace fs = std::filesystem;

class Folder {
 public:
  Folder() {
    std::string name = (fs::temp_directory_path() / "proveout-values-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no folder for the test";
    path_ = name;
  }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  fs::path file(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
    return path_ / name;
  }
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

const std::string machine = R"(name = "m"
travel = [1, 2, 3]
max_feed = [4, 5, 6]
rapid = [7, 8, 9]
accel = [10, 11, 12]
jerk = [13, 14, 15]
path_tolerance = 0.5
lookahead = 7
block_rate = 100
arc_accel = 16
rapid_path = "by-axis"
tool_change_s = 21
program_overhead_s = 22
feed_override = 0.75
rapid_override = 0.5
start = [-1, -2, -3]
spindle = { min_rpm = 1, max_rpm = 2, power_w = 3, rated_rpm = 4, efficiency = 0.5, spin_up_s = 6, nose = [[60, 40]] }
waits = { spindle_stop_s = 31, coolant_on_s = 32, coolant_off_s = 33, program_stop_s = 34 }
time_error = 0.02
leeway = [{ acceleration = 1.1, path_tolerance = 0.9, rapid = 1.2, tool_change = 1.3, overhead = 1.4, spin_up = 1.5, block_rate = 1.6 }, { jerk = 1.7, arc_acceleration = 1.8, spindle_start = 1.9, spindle_rate = 0.8, coolant = 0.7 }]
)";
const std::string tool = R"(number = 12
name = "t"
shape = "vee"
diameter = 8
corner_radius = 0.25
tip_diameter = 0.5
tip_angle = 90
profile = [[0, 0], [1, 2]]
flutes = 3
helix_angle = 45
centre_cutting = false
flute_length = 10
stickout = 20
shank_diameter = 9
holder = [[30, 11], [40, 12]]
tool_material = "hss"
limits = { axial_depth = 1, radial_width = 2, plunge_feed = 3 }
limits_in = { MDF = { axial_depth = 4 } }
)";
const std::string setups = R"([[setups]]
name = "A"
program = "a.nc"
tool = 12
[[setups]]
name = "B"
program = "/b.nc"
turn = [{ about = "x", degrees = 180 }, { about = "z", degrees = -90 }]
zero = { on = "milled", x = "centre", y = "max", z = "bottom", offset = [1, 2, 3], band = [0.5, 1] }
offsets = { G54 = [1, 1, 1], g55 = [2, 2, 2], "G59.3" = [9, 8, 7] }
work_offset = "G59.2"
located_by = "pins"
locating_error = [0.1, -0.1, 0]
errors = { zero = [0.01, 0.02, 0.03], pin_clearance = 0.04, pin_distance = 80, squareness = 0.05, thickness = 0.06 }
zero_in_machine = [-100, -50, -20]
fixtures = [{ name = "clamp", box = [[0, 0, 0], [1, 2, 3]] }, { mesh = "vise.stl", mesh_units = "inch", origin = [7, 8, 9] }]
[[setups]]
name = "C"
program = "c.nc"
zero = { at = [4, 5, 6] }
)";
const std::string rest = R"(name = "whole"
[simulation]
voxel = 0.25
threads = 3
[stock]
size = [30, 20, 10]
material = "MDF"
[part]
mesh = "part.stl"
mesh_units = "inch"
origin = [1, 2, 3]
tolerance = { gouge = 0.125, excess = 0.5 }
target_mass_g = 77
supports = [{ box = [[0, 0, 0], [1, 1, 1]] }, { box = [[2, 2, 2], [3, 4, 5]] }]
[materials.MDF]
density_g_cm3 = 0.7
kc11 = 300
mc = 0.3
kr = 0.4
shear_n_mm2 = 8
cutting_speed = [200, 900]
chip_per_mm_diameter = [0.01, 0.02]
depth_per_diameter = 1.5
[quote]
batch = [2, 3]
blank_cost = 1
machine_rate_per_h = 2
labour_rate_per_h = 3
setup_min = 4
finishing_min = 5
scrap = 0.05
tool_life_min = { 12 = 60 }
tool_cost = { "12" = 25.5 }
)";
std::string whole() { return rest + "[machine]\n" + machine + "[[tools]]\n" + tool + setups; }

Job read(const std::string& text) {
  const Folder folder;
  Diagnostics d;
  const auto job = read_job(folder.file("job.toml", text), d);
  EXPECT_TRUE(job) << text << (d.all().empty() ? "" : to_text(d.all()[0]));
  return job.value_or(Job{});
}

void expect_machine(const Machine& m, double mm) {
  EXPECT_EQ(m.name, "m");
  EXPECT_EQ(m.travel.value(), mm * Vec3(1, 2, 3));
  EXPECT_EQ(m.max_feed, mm * Vec3(4, 5, 6));
  EXPECT_EQ(m.rapid, mm * Vec3(7, 8, 9));
  EXPECT_EQ(m.accel, mm * Vec3(10, 11, 12));
  EXPECT_EQ(m.jerk, mm * Vec3(13, 14, 15));
  EXPECT_EQ(m.path_tolerance, mm * 0.5);
  EXPECT_EQ(m.lookahead, 7);
  EXPECT_EQ(m.block_rate, 100);
  EXPECT_EQ(m.arc_accel, mm * 16);
  EXPECT_TRUE(m.rapid_by_axis);
  EXPECT_EQ(m.tool_change_s, 21);
  EXPECT_EQ(m.program_overhead_s, 22);
  EXPECT_EQ(m.feed_override, 0.75);
  EXPECT_EQ(m.rapid_override, 0.5);
  EXPECT_EQ(m.start, mm * Vec3(-1, -2, -3));
  EXPECT_EQ(m.spindle.min_rpm, 1);
  EXPECT_EQ(m.spindle.max_rpm, 2);
  EXPECT_EQ(m.spindle.power_w, 3);
  EXPECT_EQ(m.spindle.rated_rpm, 4);
  EXPECT_EQ(m.spindle.efficiency, 0.5);
  EXPECT_EQ(m.spindle.spin_up_s, 6);
  EXPECT_EQ(m.time_error, 0.02);
  ASSERT_EQ(m.leeway.size(), 2u);
  EXPECT_EQ(m.leeway[0].acceleration, 1.1);
  EXPECT_EQ(m.leeway[0].path_tolerance, 0.9);
  EXPECT_EQ(m.leeway[0].rapid, 1.2);
  EXPECT_EQ(m.leeway[0].tool_change, 1.3);
  EXPECT_EQ(m.leeway[0].overhead, 1.4);
  EXPECT_EQ(m.leeway[0].spin_up, 1.5);
  EXPECT_EQ(m.leeway[0].block_rate, 1.6);
  EXPECT_EQ(m.leeway[0].jerk, 1);
  EXPECT_EQ(m.leeway[1].jerk, 1.7);
  EXPECT_EQ(m.leeway[1].arc_acceleration, 1.8);
  EXPECT_EQ(m.leeway[1].spindle_start, 1.9);
  EXPECT_EQ(m.leeway[1].spindle_rate, 0.8);
  EXPECT_EQ(m.leeway[1].coolant, 0.7);
  EXPECT_EQ(m.waits.spindle_stop_s, 31);
  EXPECT_EQ(m.waits.coolant_on_s, 32);
  EXPECT_EQ(m.waits.coolant_off_s, 33);
  EXPECT_EQ(m.waits.program_stop_s, 34);
  ASSERT_EQ(m.spindle.nose.size(), 1u);
  EXPECT_EQ(m.spindle.nose[0], std::pair(mm * 60, mm * 40));
}

void expect_tool(const Tool& t, double mm) {
  using Pairs = std::vector<std::pair<double, double>>;
  EXPECT_EQ(t.number, 12);
  EXPECT_EQ(t.name, "t");
  EXPECT_EQ(t.shape, ToolShape::vee);
  EXPECT_EQ(t.diameter, mm * 8);
  EXPECT_EQ(t.corner_radius, mm * 0.25);
  EXPECT_EQ(t.tip_diameter, mm * 0.5);
  EXPECT_EQ(t.tip_angle, 90);
  EXPECT_EQ(t.profile, (Pairs{{0, 0}, {mm, mm * 2}}));
  EXPECT_EQ(t.flutes, 3);
  EXPECT_EQ(t.helix_angle, 45);
  EXPECT_FALSE(t.centre_cutting);
  EXPECT_EQ(t.flute_length, mm * 10);
  EXPECT_EQ(t.stickout, mm * 20);
  EXPECT_EQ(t.shank_diameter, mm * 9);
  EXPECT_EQ(t.holder, (Pairs{{mm * 30, mm * 11}, {mm * 40, mm * 12}}));
  EXPECT_EQ(t.tool_material, "hss");
  EXPECT_EQ(t.limits.axial_depth, mm);
  EXPECT_EQ(t.limits.radial_width, mm * 2);
  EXPECT_EQ(t.limits.plunge_feed, mm * 3);
  EXPECT_EQ(t.limits_in.at("MDF").axial_depth, mm * 4);
  EXPECT_EQ(t.limits_in.at("MDF").plunge_feed, 0);
}

void expect_setups(const Job& job, double mm) {
  ASSERT_EQ(job.setups.size(), 3u);
  EXPECT_EQ(job.setups[0].tool, 12);
  EXPECT_EQ(job.setups[0].program, job.file.parent_path() / "a.nc");
  EXPECT_EQ(job.setups[0].work_offset, 1);
  EXPECT_EQ(job.setups[0].located_by, LocatedBy::unstated);
  const Setup& b = job.setups[1];
  EXPECT_EQ(b.name, "B");
  EXPECT_EQ(b.program, "/b.nc");
  ASSERT_EQ(b.turn.size(), 2u);
  EXPECT_EQ(b.turn[0].about, Axis::x);
  EXPECT_EQ(b.turn[0].degrees, 180);
  EXPECT_EQ(b.turn[1].about, Axis::z);
  EXPECT_EQ(b.turn[1].degrees, -90);
  EXPECT_EQ(b.zero.on, ZeroOn::milled);
  EXPECT_EQ(b.zero.x, ZeroEdge::centre);
  EXPECT_EQ(b.zero.y, ZeroEdge::max);
  EXPECT_EQ(b.zero.z, ZeroEdge::min);
  EXPECT_EQ(b.zero.offset, mm * Vec3(1, 2, 3));
  EXPECT_EQ(b.zero.band.value(), std::make_pair(mm * 0.5, mm));
  EXPECT_FALSE(b.zero.at);
  EXPECT_EQ(b.offsets.size(), 3u);
  EXPECT_EQ(b.offsets.at(1), mm * Vec3(1, 1, 1));
  EXPECT_EQ(b.offsets.at(2), mm * Vec3(2, 2, 2));
  EXPECT_EQ(b.offsets.at(9), mm * Vec3(9, 8, 7));
  EXPECT_EQ(b.work_offset, 8);
  EXPECT_EQ(b.located_by, LocatedBy::pins);
  EXPECT_EQ(b.locating_error, mm * Vec3(0.1, -0.1, 0));
  ASSERT_TRUE(b.errors);
  EXPECT_EQ(b.errors->zero, mm * Vec3(0.01, 0.02, 0.03));
  EXPECT_EQ(b.errors->pin_clearance, mm * 0.04);
  EXPECT_EQ(b.errors->pin_distance, mm * 80);
  EXPECT_EQ(b.errors->squareness, 0.05);  // a ratio
  EXPECT_EQ(b.errors->thickness, mm * 0.06);
  EXPECT_EQ(b.zero_in_machine.value(), mm * Vec3(-100, -50, -20));
  ASSERT_EQ(b.fixtures.size(), 2u);
  EXPECT_EQ(b.fixtures[0].name, "clamp");
  EXPECT_EQ(b.fixtures[0].box->max(), mm * Vec3(1, 2, 3));
  EXPECT_EQ(b.fixtures[1].mesh, job.file.parent_path() / "vise.stl");
  EXPECT_EQ(b.fixtures[1].mesh_scale, 25.4);
  EXPECT_EQ(b.fixtures[1].origin, mm * Vec3(7, 8, 9));
  EXPECT_EQ(job.setups[2].zero.at.value(), mm * Vec3(4, 5, 6));
}

void expect_rest(const Job& job, double mm) {
  EXPECT_EQ(job.name, "whole");
  EXPECT_EQ(job.simulation.voxel, mm * 0.25);
  EXPECT_EQ(job.simulation.threads, 3);
  EXPECT_EQ(job.stock.size, mm * Vec3(30, 20, 10));
  EXPECT_EQ(job.stock.material, "MDF");
  ASSERT_TRUE(job.part);
  EXPECT_EQ(job.part->mesh, job.file.parent_path() / "part.stl");
  EXPECT_EQ(job.part->mesh_scale, 25.4);
  EXPECT_EQ(job.part->origin, mm * Vec3(1, 2, 3));
  EXPECT_EQ(job.part->gouge_tolerance, mm * 0.125);
  EXPECT_EQ(job.part->excess_tolerance, mm * 0.5);
  EXPECT_EQ(job.part->target_mass_g, 77);
  ASSERT_EQ(job.part->supports.size(), 2u);
  EXPECT_EQ(job.part->supports[1].max(), mm * Vec3(3, 4, 5));
  const Material& m = job.materials.at("MDF");
  EXPECT_EQ(m.density_g_cm3, 0.7);
  EXPECT_EQ(m.kc11, 300);
  EXPECT_EQ(m.mc, 0.3);
  EXPECT_EQ(m.kr, 0.4);
  EXPECT_EQ(m.shear_n_mm2, 8);
  EXPECT_EQ(m.cutting_speed, std::make_pair(200.0, 900.0));
  EXPECT_EQ(m.chip_per_mm_diameter, std::make_pair(0.01, 0.02));
  EXPECT_EQ(m.depth_per_diameter, 1.5);
  ASSERT_TRUE(job.quote);
  EXPECT_EQ(job.quote->batch, (std::vector<int>{2, 3}));
  EXPECT_EQ(job.quote->blank_cost, 1);
  EXPECT_EQ(job.quote->machine_rate_per_h, 2);
  EXPECT_EQ(job.quote->labour_rate_per_h, 3);
  EXPECT_EQ(job.quote->setup_min, 4);
  EXPECT_EQ(job.quote->finishing_min, 5);
  EXPECT_EQ(job.quote->scrap, 0.05);
  EXPECT_EQ(job.quote->tool_life_min, (std::map<int, double>{{12, 60}}));
  EXPECT_EQ(job.quote->tool_cost, (std::map<int, double>{{12, 25.5}}));
}

TEST(JobValues, EveryKeyInMillimetresAndInInches) {
  for (const double mm : {1.0, 25.4}) {
    SCOPED_TRACE(mm);
    const Job job = read((mm == 1 ? "" : "units = \"inch\"\n") + whole());
    expect_rest(job, mm);
    expect_machine(job.machine, mm);
    ASSERT_EQ(job.tools.size(), 1u);
    expect_tool(job.tools[0], mm);
    expect_setups(job, mm);
  }
}

// Machine and tools of their own, each in units of its own.
TEST(JobValues, MachineAndToolsFromFiles) {
  const Folder folder;
  folder.file("m.toml", "units = \"inch\"\n" + machine);
  folder.file("t.toml", "[[tools]]\n" + tool);
  Diagnostics d;
  const auto job = read_job(
      folder.file("job.toml", "machine = \"m.toml\"\ntools = \"t.toml\"\n" + rest + setups), d);
  ASSERT_TRUE(job) << to_text(d.all().at(0));
  expect_machine(job->machine, 25.4);
  expect_tool(job->tools.at(0), 1);
  EXPECT_EQ(job->tools[0].file, (folder.path() / "t.toml").string());
  const auto alone = read_machine(folder.path() / "m.toml", d);
  ASSERT_TRUE(alone);
  expect_machine(*alone, 25.4);
  EXPECT_FALSE(read_machine(folder.file("bad.toml", "lookahead = -1\n"), d));
}

// What stands for a key that is not given.
TEST(JobValues, WhatIsNotGiven) {
  const std::string start =
      "[stock]\nsize = [1, 1, 1]\n[[setups]]\nname = \"A\"\nprogram = \"a\"\n";
  const auto only = [&](const std::string& keys) {
    return read(start + "[[tools]]\nnumber = 4\n" + keys).tools.at(0);
  };
  const Tool plain = only("shape = \"flat\"\ndiameter = 6\n");
  EXPECT_EQ(plain.name, "tool 4");
  EXPECT_EQ(plain.stickout, 30);  // five diameters
  EXPECT_EQ(plain.flute_length, 30);
  EXPECT_EQ(plain.tool_material, "carbide");
  EXPECT_EQ(only("shape = \"flat\"\ndiameter = 6\nflute_length = 12\n").stickout, 12);
  EXPECT_EQ(only("shape = \"flat\"\ndiameter = 6\nstickout = 14\n").flute_length, 14);
  const Tool form = only("shape = \"form\"\nprofile = [[0, 0], [2, 0], [5, 3], [4, 6]]\n");
  EXPECT_EQ(form.diameter, 10);  // twice the widest radius of the profile
  const Job job = read(start + "[[tools]]\nnumber = 1\nshape = \"ball\"\ndiameter = 2\n");
  EXPECT_EQ(job.name, "job");  // the file's
  EXPECT_FALSE(job.machine.rapid_by_axis);
  EXPECT_FALSE(job.part);
  EXPECT_FALSE(job.quote);
  EXPECT_EQ(job.setups[0].turn.size(), 0u);
  EXPECT_EQ(
      read(start + "[[tools]]\nnumber = 1\nshape = \"ball\"\ndiameter = 2\n[[setups]]\nname = "
                   "\"B\"\nprogram = \"b\"\nturn = [{ degrees = 180 }]\n")
          .setups[1]
          .turn.at(0)
          .about,
      Axis::y);
}

// The job with one line put in place of another; what is said of it, or nothing.
std::string said_of(const std::string& old, const std::string& line) {
  std::string text = whole();
  const std::size_t at = text.find(old);
  if (at == std::string::npos) {
    ADD_FAILURE() << "no '" << old << "' in the job";
    return "?";
  }
  text.replace(at, old.size(), line);
  const Folder folder;
  Diagnostics d;
  const auto job = read_job(folder.file("job.toml", text), d);
  EXPECT_EQ(job.has_value(), d.errors() == 0);
  std::string all;
  for (const Diagnostic& one : d.all()) {
    // One tool has the keys of all shapes here, and ranges are tried one key by itself.
    if (one.code == "job-idle-key" || one.code == "job-slow-rapid") continue;
    all += to_text(one);
    EXPECT_GT(one.place.line, 0u) << to_text(one);
  }
  return all;
}

// A key, where it stands, the last value allowed and the first that is not, at one end.
TEST(JobValues, RangesEndWhereTheySay) {
  struct Edge {
    const char *line, *allowed, *refused;
  };
  const Edge edges[] = {
      {"voxel = 0.25", "voxel = 0.001", "voxel = 0.0009"},
      {"threads = 3", "threads = 0", "threads = -1"},
      {"threads = 3", "threads = 4096", "threads = 4097"},
      {"lookahead = 7", "lookahead = 0", "lookahead = -1"},
      {"lookahead = 7", "lookahead = 1000000", "lookahead = 1000001"},
      {"path_tolerance = 0.5", "path_tolerance = 0", "path_tolerance = -1e-9"},
      {"jerk = [13, 14, 15]", "jerk = [0, 0, 0]", "jerk = [0, 0, -1]"},
      {"accel = [10, 11, 12]", "accel = [1e-3, 1, 1]", "accel = [0, 1, 1]"},
      {"feed_override = 0.75", "feed_override = 10", "feed_override = 10.01"},
      {"feed_override = 0.75", "feed_override = 0.001", "feed_override = 0"},
      {"rapid_override = 0.5", "rapid_override = 10", "rapid_override = 10.01"},
      {"rapid_override = 0.5", "rapid_override = 0.001", "rapid_override = 0"},
      {"efficiency = 0.5", "efficiency = 1", "efficiency = 1.001"},
      {"efficiency = 0.5", "efficiency = 0.01", "efficiency = 0.009"},
      {"number = 12", "number = 99999", "number = 100000"},
      {"number = 12", "number = 1", "number = 0"},
      {"tool = 12", "tool = 99999", "tool = 100000"},
      {"tool = 12", "tool = 1", "tool = 0"},
      {"tip_angle = 90", "tip_angle = 179", "tip_angle = 179.5"},
      {"tip_angle = 90", "tip_angle = 1", "tip_angle = 0.5"},
      {"tip_diameter = 0.5", "tip_diameter = 8", "tip_diameter = 8.001"},
      {"corner_radius = 0.25", "corner_radius = 4", "corner_radius = 4.001"},
      {"flutes = 3", "flutes = 100", "flutes = 101"},
      {"flutes = 3", "flutes = 1", "flutes = 0"},
      {"helix_angle = 45", "helix_angle = -80", "helix_angle = -80.5"},
      {"helix_angle = 45", "helix_angle = 80", "helix_angle = 80.5"},
      {"flute_length = 10", "flute_length = 20", "flute_length = 20.001"},
      {"profile = [[0, 0], [1, 2]]", "profile = [[0, 2], [1, 2]]", "profile = [[0, 2.1], [1, 2]]"},
      {"degrees = 180", "degrees = 360", "degrees = 361"},
      {"degrees = 180", "degrees = -360", "degrees = -361"},
      {"band = [0.5, 1]", "band = [1, 1]", "band = [1.001, 1]"},
      {"box = [[0, 0, 0], [1, 2, 3]]", "box = [[0, 0, 0], [1, 2, 1e-3]]",
       "box = [[0, 0, 3], [1, 2, 3]]"},
      {"mc = 0.3", "mc = 1", "mc = 1.001"},
      {"mc = 0.3", "mc = 0", "mc = -0.001"},
      {"kr = 0.4", "kr = 5", "kr = 5.001"},
      {"scrap = 0.05", "scrap = 0.95", "scrap = 0.951"},
      {"scrap = 0.05", "scrap = 0", "scrap = -0.001"},
      {"batch = [2, 3]", "batch = [1]", "batch = [0]"},
      {"batch = [2, 3]", "batch = [1000000]", "batch = [1000001]"},
      {"{ 12 = 60 }", "{ 99999 = 60 }", "{ 0 = 60 }"},
      {"{ 12 = 60 }", "{ 12 = 0 }", "{ 12 = -1 }"},
      {"blank_cost = 1", "blank_cost = 0", "blank_cost = -1"},
      {"blank_cost = 1", "blank_cost = 1e9", "blank_cost = 1.001e9"},
      {"origin = [1, 2, 3]", "origin = [-1e6, 0, 1e6]", "origin = [-1.001e6, 0, 0]"},
      {"origin = [7, 8, 9]", "origin = [-1e6, 0, 1e6]", "origin = [0, 1.001e6, 0]"},
      {"offset = [1, 2, 3]", "offset = [1e6, 0, -1e6]", "offset = [0, 0, -1.001e6]"},
      {"at = [4, 5, 6]", "at = [1e6, 0, -1e6]", "at = [0, 0, -1.001e6]"},
      {"band = [0.5, 1]", "band = [-1e6, 1e6]", "band = [0.5, 1.001e6]"},
      {"G54 = [1, 1, 1]", "G54 = [1e6, 0, 0]", "G54 = [1e9, 0, 0]"},
      {"start = [-1, -2, -3]", "start = [1e6, 0, 0]", "start = [1e8, 0, 0]"},
      {"travel = [1, 2, 3]", "travel = [1, 2, 1e6]", "travel = [1, 2, 1.001e6]"},
      {"locating_error = [0.1, -0.1, 0]", "locating_error = [1e6, 0, 0]",
       "locating_error = [1.001e6, 0, 0]"},
      {"zero_in_machine = [-100, -50, -20]", "zero_in_machine = [-1e6, 0, 0]",
       "zero_in_machine = [-1.001e6, 0, 0]"},
      {"pin_distance = 80", "pin_distance = 1e6", "pin_distance = 1.001e6"},
      {"gouge = 0.125", "gouge = 1e6", "gouge = 1.001e6"},
      {"box = [[0, 0, 0], [1, 2, 3]]", "box = [[0, 0, 0], [1, 2, 1e6]]",
       "box = [[0, 0, 0], [1, 2, 1.001e6]]"},
      {"diameter = 8", "diameter = 1000", "diameter = 1000.5"},
      {"shank_diameter = 9", "shank_diameter = 1000", "shank_diameter = 1000.5"},
      {"stickout = 20", "stickout = 10000", "stickout = 10000.5"},
      {"holder = [[30, 11], [40, 12]]", "holder = [[1e4, 1e4]]", "holder = [[30, 10001]]"},
      {"profile = [[0, 0], [1, 2]]", "profile = [[0, 0], [1, 10000]]",
       "profile = [[0, 0], [1, 10001]]"},
      {"accel = [10, 11, 12]", "accel = [1e-3, 1, 1]", "accel = [1, 1, 9e-4]"},
      {"max_feed = [4, 5, 6]", "max_feed = [1, 1e-3, 1]", "max_feed = [1, 9e-4, 1]"},
      {"rapid = [7, 8, 9]", "rapid = [1e-3, 1, 1]", "rapid = [9e-4, 1, 1]"},
      {"min_rpm = 1, max_rpm = 2", "min_rpm = 2, max_rpm = 2", "min_rpm = 2.5, max_rpm = 2"},
      {"min_rpm = 1, max_rpm = 2", "min_rpm = 9, max_rpm = 0", "min_rpm = -1, max_rpm = 0"},
      {"size = [30, 20, 10]", "size = [30, 20, 1e-3]", "size = [30, 20, 0]"},
  };
  for (const Edge& e : edges) {
    EXPECT_EQ(said_of(e.line, e.allowed), "") << e.allowed;
    EXPECT_NE(said_of(e.line, e.refused), "") << e.refused;
  }
}

TEST(JobValues, EachMistakeIsNamed) {
  struct Mistake {
    const char *old, *line, *says;
  };
  const Mistake mistakes[] = {
      {"name = \"whole\"", "name = 3", "name must be text in quotes"},
      {"voxel = 0.25", "voxel = true", "simulation.voxel must be a number"},
      {"voxel = 0.25", "voxel = nan", "out of range"},
      {"voxel = 0.25", "voxel = inf", "out of range"},
      {"threads = 3", "threads = 3.0", "simulation.threads must be a whole number"},
      {"centre_cutting = false", "centre_cutting = 0",
       "tools.centre_cutting must be true or false"},
      {"travel = [1, 2, 3]", "travel = [1, 2]", "machine.travel must be a list of three numbers"},
      {"travel = [1, 2, 3]", "travel = [1, 2, \"3\"]", "machine.travel must be a number"},
      {"holder = [[30, 11], [40, 12]]", "holder = [30, 11]", "list of pairs of numbers"},
      {"holder = [[30, 11], [40, 12]]", "holder = 4", "list of pairs of numbers"},
      {"holder = [[30, 11], [40, 12]]", "holder = [[30, 11, 3]]", "list of pairs of numbers"},
      {"holder = [[30, 11], [40, 12]]", "holder = [[30, -1]]", "out of range: 0 to 10000"},
      {"spindle = { min_rpm = 1,", "spindle = { min_rpm = 3,",
       "slowest speed, 3, is above its fastest, 2"},
      {"diameter = 8", "diameter = 1e9", "out of range: above 0, at most 1000"},
      {"band = [0.5, 1]", "band = 1", "band must be a list of two numbers"},
      {"band = [0.5, 1]", "band = [1, 2, 3]", "band must be a list of two numbers"},
      {"batch = [2, 3]", "batch = []", "quote.batch must be a list of whole numbers"},
      {"batch = [2, 3]", "batch = [1.5]", "list of whole numbers from 1 on"},
      {"box = [[2, 2, 2], [3, 4, 5]]", "box = [[2, 2, 2]]", "two corners of three numbers each"},
      {"box = [[2, 2, 2], [3, 4, 5]]", "box = [[2, 2, 2], [3, 4]]", "list of three numbers"},
      {"box = [[2, 2, 2], [3, 4, 5]]", "", "a support needs a box"},
      {"tolerance = { gouge = 0.125, excess = 0.5 }", "tolerance = 1", "tolerance must be a table"},
      {"turn = [{ about = \"x\", degrees = 180 }", "turn = [3",
       "setups.turn must be a list of tables"},
      {"turn = [{ about = \"x\", degrees = 180 }, { about = \"z\", degrees = -90 }]", "turn = 3",
       "[[setups.turn]]"},
      {"about = \"x\"", "about = \"w\"", "must be one of x | y | z"},
      {"shape = \"vee\"", "shape = \"vea\"", "did you mean \"vee\"?"},
      {"shape = \"vee\"", "shape = 1", "must be one of flat | ball"},
      {"shape = \"vee\"", "", "a tool needs a shape"},
      {"number = 12", "", "a tool needs a number"},
      {"diameter = 8", "", "a tool needs a diameter"},
      {"shape = \"vee\"", "shape = \"form\"\nlimits_im = 1", "did you mean 'limits_in'?"},
      {"profile = [[0, 0], [1, 2]]", "qwertyuiop = 1", "see docs/job-file.md"},
      {"limits_in = { MDF = { axial_depth = 4 } }", "limits_in = 4", "must be a table of tables"},
      {"limits_in = { MDF = { axial_depth = 4 } }", "limits_in = { MDF = 4 }", "table of tables"},
      {"{ 12 = 60 }", "{ x = 60 }", "'x' is no tool number"},
      {"{ 12 = 60 }", "{ 123456789012345678901234567890 = 60 }", "is no tool number"},
      {"{ 12 = 60 }", "4", "must be a table of numbers"},
      {"{ G54 = [1, 1, 1],", "{ G53 = [1, 1, 1],", "offsets has no work offset 'G53'"},
      {"offsets = {", "offsets = 3 # {", "must be a table of points"},
      {"work_offset = \"G59.2\"", "work_offset = \"G59.4\"", "work_offset must be G54 .. G59"},
      {"name = \"B\"", "name = \"A\"", "there are two setups 'A'"},
      {"name = \"B\"\n", "\n", "setups.name is missing"},
      {"at = [4, 5, 6]", "at = [4, 5, 6], z = \"top\"", "'at' stands beside on, x, y or z"},
      {"at = [4, 5, 6]", "at = [4, 5, 6], on = \"blank\"", "'at' stands beside on, x, y or z"},
      {"at = [4, 5, 6]", "at = [4, 5, 6], x = \"min\"", "'at' stands beside on, x, y or z"},
      {"at = [4, 5, 6]", "at = [4, 5, 6], y = \"min\"", "'at' stands beside on, x, y or z"},
      {"{ mesh = \"vise.stl\", mesh_units = \"inch\", origin = [7, 8, 9] }", "{ name = \"vise\" }",
       "a fixture needs either box or mesh"},
      {"{ mesh = \"vise.stl\",", "{ box = [[0, 0, 0], [1, 1, 1]], mesh = \"v\",",
       "either box or mesh"},
      {"size = [30, 20, 10]", "", "[stock] needs size or mesh"},
      {"size = [30, 20, 10]", "size = [30, 20, 10]\nmesh = \"b.stl\"", "both size and mesh"},
      {"20, 10]", "20, 10]\nmesh_units = \"inch\"", "[stock] has mesh_units and no mesh"},
      {"size = [30, 20, 10]", "mesh = \"b.stl\"\nmesh_units = \"foot\"", "one of mm | inch"},
      {"[stock]\nsize = [30, 20, 10]\nmaterial = \"MDF\"", "", "the job has no [stock]"},
      {"program = \"a.nc\"", "program = \"a.nc\"\nzero = { on = \"milled\" }", "there are none"},
      {"[[setups]]\nname = \"A\"",
       "[[tools]]\nnumber = 12\nshape = \"ball\"\ndiameter = 1\n"
       "[[setups]]\nname = \"A\"",
       "there are two tools 12"},
  };
  for (const Mistake& m : mistakes) {
    EXPECT_NE(said_of(m.old, m.line).find(m.says), std::string::npos) << m.line << " says\n"
                                                                      << said_of(m.old, m.line);
  }
}

// A range is told in the units of the file: 40 inches are more than a metre.
TEST(JobValues, RangesAreToldInTheFilesUnits) {
  const Folder folder;
  std::string text = "units = \"inch\"\n" + whole();
  text.replace(text.find("diameter = 8"), 12, "diameter = 40");
  Diagnostics d;
  EXPECT_FALSE(read_job(folder.file("job.toml", text), d));
  ASSERT_TRUE(d.has_errors());
  EXPECT_NE(to_text(d.all()[0]).find("above 0, at most 39.3701"), std::string::npos)
      << to_text(d.all()[0]);
}

// The profile gives a form tool its diameter.
TEST(JobValues, AFormToolIsNoWiderThanAMetre) {
  const auto said = [](const char* radius) {
    std::string line = std::string("shape = \"form\"\nprofile = [[0, 0], [") + radius + ", 2]]\n";
    return "[stock]\nsize = [1, 1, 1]\n[[setups]]\nname = \"A\"\nprogram = \"a\"\n"
           "[[tools]]\nnumber = 1\n" +
           line;
  };
  read(said("500"));
  const Folder folder;
  Diagnostics d;
  EXPECT_FALSE(read_job(folder.file("job.toml", said("500.5")), d));
  ASSERT_EQ(d.errors(), 1u);
  EXPECT_NE(d.all()[0].what.find("wider than a metre"), std::string::npos);
}

// A spindle's start is said in one way: by spin_up_s, or told apart.
TEST(JobValues, TheSpindlesStartIsSaidOnce) {
  const Folder folder;
  const auto errors = [&](const std::string& words) {
    Diagnostics d;
    const auto from_file = read_machine(folder.file("m.toml", words), d);
    if (from_file) {
      EXPECT_EQ(from_file->waits.spindle_rpm_per_s, 6000);
      EXPECT_EQ(from_file->waits.spindle_start_s, 1.2);
    }
    return d.errors();
  };
  const std::string apart = "waits = { spindle_rpm_per_s = 6000, spindle_start_s = 1.2 }\n";
  EXPECT_EQ(errors(apart), 0u);
  EXPECT_EQ(errors(apart + "spindle = { spin_up_s = 4 }\n"), 1u);
}

// The message points at the key in its line.
TEST(JobValues, APlaceIsLineAndColumn) {
  const Folder folder;
  Diagnostics d;
  const std::string text = whole();
  const std::string wrong = "spin_up_s = -6";
  std::string bad = text;
  bad.replace(bad.find("spin_up_s = 6"), 13, wrong);
  EXPECT_FALSE(read_job(folder.file("job.toml", bad), d));
  ASSERT_EQ(d.errors(), 1u);
  const Place place = d.all()[0].place;
  const std::string before = bad.substr(0, bad.find(wrong));
  EXPECT_EQ(place.line, std::count(before.begin(), before.end(), '\n') + 1);
  EXPECT_EQ(place.column, before.size() - before.rfind('\n'));
  EXPECT_EQ(place.length, std::string("spin_up_s").size());
}

}  // namespace
}  // namespace proveout::job
