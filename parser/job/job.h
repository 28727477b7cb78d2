// The job: machine, stock, part, tools, setups, materials and quote, as the job file (TOML) gives
// them. All lengths here are mm, feeds mm/min, angles degrees, whatever units the file used.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"
#include "parser/job/errors.h"
#include "parser/nc/reads.h"

namespace proveout::job {

struct Simulation {
  double voxel = 0;  // mm; 0: chosen from stock and tools
  int threads = 0;   // 0: all cores
};

struct Spindle {
  double min_rpm = 0;       // 1/min; 0: not limited
  double max_rpm = 0;       // 1/min; 0: not limited
  double power_w = 0;       // W at the motor; 0: not checked
  double rated_rpm = 0;     // 1/min: below it torque is constant; 0: max_rpm
  double efficiency = 0.8;  // nose over motor, 0..1
  double spin_up_s = 0;     // s
  std::vector<std::pair<double, double>>
      nose;  // diameter, height: mm, cylinders from the holder's top up
};

// A cut as heard at the machine: whether it sang (chattered).
struct KnownCut {
  int tool = 0;
  double stickout = 0;   // mm; 0: as the tool's
  std::string material;  // empty: the stock's
  double rpm = 0;        // 1/min
  double depth = 0;      // mm, axial
  double width = 0;      // mm, radial; 0: a full slot
  bool sings = false;
  double pitch_hz = 0;  // Hz, of the singing; 0: not measured
  std::uint32_t line = 0;
};

// What a program waits for, told apart; each 0 unless the machine file says otherwise.
struct Waits {
  double spindle_start_s = 0;    // s, at M3 and M4 from rest or to the other side
  double spindle_stop_s = 0;     // s, at M5, and at M6 while the spindle turns
  double spindle_rpm_per_s = 0;  // 1/min per s: speed differences take their time; 0: none
  double coolant_on_s = 0;       // s, at M7 and M8
  double coolant_off_s = 0;      // s, at M9
  double program_stop_s = 0;     // s, until the operator goes on at M0, M1 and M60
};

// One way in which a machine's figures may be off together, as timed runs left it open: factors,
// one standard deviation; 1: not touched. Several of them are independent of each other.
struct Leeway {
  double acceleration = 1;  // on accel of all axes
  double path_tolerance = 1;
  double rapid = 1;  // on rapid of all axes
  double tool_change = 1, overhead = 1, spin_up = 1;
  double block_rate = 1;
  double jerk = 1;  // on jerk of all axes
  double arc_acceleration = 1;
  double spindle_start = 1, spindle_rate = 1, coolant = 1;  // on the keys of waits
};

struct Machine {
  std::string name;
  std::optional<Vec3> travel;              // mm
  Vec3 max_feed = Vec3(5000, 5000, 1500);  // mm/min per axis
  Vec3 rapid = Vec3(5000, 5000, 1500);     // mm/min per axis
  Vec3 accel = Vec3(400, 400, 250);        // mm/s2 per axis
  Vec3 jerk = Vec3::Zero();                // mm/s3 per axis; 0: not limited
  double path_tolerance = 0.02;            // mm
  int lookahead = 32;                      // blocks; 0: the whole program
  double block_rate = 0;                   // blocks per second; 0: not limited
  double arc_accel = 0;                    // mm/s2 across an arc; 0: the plane's weaker accel
  bool rapid_by_axis = false;              // rapid_path = "by-axis"
  Spindle spindle;
  double tool_change_s = 60;      // s
  double program_overhead_s = 0;  // s, once per program
  Waits waits;
  double time_error = 0;       // relative, one standard deviation of a program's time; 0: not known
  std::vector<Leeway> leeway;  // what calibration left open besides
  double feed_override = 1;    // factor on feed motions
  double rapid_override = 1;   // factor on rapids
  Vec3 start = Vec3(0, 0, 50);    // mm, setup frame
  nc::Reads reads;                // how the control reads what controls read differently
  std::optional<Vec3> stiffness;  // N/um at the spindle's nose, along x, y, z
  std::vector<KnownCut> known_cuts;
};

struct Stock {
  Vec3 size = Vec3::Zero();    // mm, stock coordinates run from 0,0,0 to size
  std::filesystem::path mesh;  // instead of size; resolved against the job file; empty: none
  double mesh_scale = 1;       // mm per mesh unit (mesh_units)
  std::string material = "6061-T6";
};

struct Part {
  std::filesystem::path mesh;
  double mesh_scale = 1;           // mm per mesh unit (mesh_units)
  Vec3 origin = Vec3::Zero();      // mm, stock coordinates of the mesh's own 0,0,0
  double gouge_tolerance = 0.05;   // mm
  double excess_tolerance = 0.20;  // mm
  double target_mass_g = 0;        // 0: none
  std::vector<Box3> supports;  // stock coordinates: where tabs or frame are meant to stay; see docs
};

enum class ToolShape : std::uint8_t { flat, ball, bull, taper, vee, drill, form };

struct ToolLimits {         // 0: not limited by the job
  double axial_depth = 0;   // mm
  double radial_width = 0;  // mm
  double plunge_feed = 0;   // mm/min
};

struct Tool {
  int number = 0;
  std::string name;
  ToolShape shape = ToolShape::flat;
  double diameter = 0;       // mm, of the cutting part (taper, vee: the largest)
  double corner_radius = 0;  // mm, bull
  double tip_diameter = 0;   // mm, taper (flat-tipped) and vee
  double tip_angle = 118;    // deg: drill point angle; vee, taper: included angle
  std::vector<std::pair<double, double>> profile;  // form: radius, height, mm, from the tip up
  int flutes = 2;
  double helix_angle = 30;  // deg
  bool centre_cutting = true;
  double flute_length = 0;    // mm; 0: as stickout
  double stickout = 0;        // mm, tip to the holder's face
  double shank_diameter = 0;  // mm; 0: as diameter
  std::vector<std::pair<double, double>>
      holder;                             // diameter, height: mm, cylinders from the face up
  std::string tool_material = "carbide";  // carbide | hss
  ToolLimits limits;
  std::map<std::string, ToolLimits> limits_in;  // by stock material
  std::uint32_t line = 0;                       // of its table in the file, for messages
  std::string file;

  // In this stock material: each limit from limits_in where it says one, else from limits.
  ToolLimits limits_for(const std::string& stock_material) const {
    ToolLimits here = limits;
    const auto own = limits_in.find(stock_material);
    if (own == limits_in.end()) return here;
    for (const auto limit :
         {&ToolLimits::axial_depth, &ToolLimits::radial_width, &ToolLimits::plunge_feed}) {
      if (own->second.*limit > 0) here.*limit = own->second.*limit;
    }
    return here;
  }
};

enum class Axis : std::uint8_t { x, y, z };
struct Turn {
  Axis about = Axis::y;
  double degrees = 0;
};

enum class ZeroOn : std::uint8_t { blank, milled };
enum class ZeroEdge : std::uint8_t { min, centre, max };  // z: min is "bottom", max is "top"
struct Zero {
  ZeroOn on = ZeroOn::blank;
  ZeroEdge x = ZeroEdge::min;
  ZeroEdge y = ZeroEdge::min;
  ZeroEdge z = ZeroEdge::max;
  Vec3 offset = Vec3::Zero();                     // mm, machine axes
  std::optional<Vec3> at;                         // mm, stock coordinates: instead of on/x/y/z
  std::optional<std::pair<double, double>> band;  // mm: height range from the lowest material
};

enum class LocatedBy : std::uint8_t { unstated, corner, pins, centre };

struct Fixture {
  std::string name;
  std::optional<Box3> box;     // mm, setup frame
  std::filesystem::path mesh;  // instead of box
  double mesh_scale = 1;       // mm per mesh unit (mesh_units)
  Vec3 origin = Vec3::Zero();  // mm, setup frame: where the mesh's own 0,0,0 lies
};

struct Setup {
  std::string name;
  std::filesystem::path program;
  int tool = 0;  // in the spindle before the program's first M6; 0: none
  std::vector<Turn> turn;
  Zero zero;
  std::map<int, Vec3> offsets;  // 1..9 = G54..G59.3, 101.. = G54.1 P1.., mm, setup frame
  std::map<int, nc::OffsetEntry> offsets_d, offsets_h;  // the control's tables, by D and H
  int work_offset = 1;                                  // which of G54.. the zero is
  LocatedBy located_by = LocatedBy::unstated;
  Vec3 locating_error = Vec3::Zero();   // mm, machine axes
  std::optional<Errors> errors;         // what may be off; none declared: nullopt
  std::optional<Vec3> zero_in_machine;  // mm, machine frame
  std::vector<Fixture> fixtures;
  std::uint32_t line = 0;
};

// One figure, or what sources that do not agree leave of it.
struct Band {
  double low = 0, likely = 0, high = 0;
};

// Overrides of, and additions to, the built-in material table. nullopt: not said here.
struct Material {
  std::optional<Band> ktc,
      krc;  // N/mm2: force over chip thickness, along the edge's motion, radial
  std::optional<Band> kte, kre;  // N/mm of edge: what does not depend on the chip
  std::optional<double> density_g_cm3, kc11, mc, kr, shear_n_mm2;
  std::optional<std::pair<double, double>> cutting_speed;         // m/min, carbide
  std::optional<std::pair<double, double>> chip_per_mm_diameter;  // mm per mm
  std::optional<double> depth_per_diameter;  // greatest axial depth over tool diameter in a slot
};

struct Quote {
  std::vector<int> batch = {1, 5, 10, 20};
  double blank_cost = 0;  // money per blank
  double machine_rate_per_h = 0;
  double labour_rate_per_h = 0;
  double setup_min = 0;          // per batch and setup list, see docs
  double handling_min = 0;       // per part and setup: load, turn over, clean, unload
  double finishing_min = 0;      // per part
  bool changes_attended = true;  // tools are changed by hand
  double scrap = 0;              // share 0..1
  std::map<int, double> tool_life_min;
  std::map<int, double> tool_cost;
};

struct Job {
  std::filesystem::path file;
  std::vector<std::filesystem::path> named_files;  // the machine and tool files it was read with
  std::string name;
  Simulation simulation;
  Machine machine;
  Stock stock;
  std::optional<Part> part;
  std::vector<Tool> tools;
  std::vector<Setup> setups;
  std::map<std::string, Material> materials;
  std::optional<Quote> quote;
};

// Reads the job file and the machine and tool files it names. nullopt with errors in diagnostics
// when it cannot be used; every error found is reported, not only the first.
std::optional<Job> read_job(const std::filesystem::path& path, Diagnostics& diagnostics);
std::optional<Machine> read_machine(const std::filesystem::path& path, Diagnostics& diagnostics);

}  // namespace proveout::job
