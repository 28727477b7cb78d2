// What a dry run of a whole job gives: the figures behind result.json, moves.csv, the page and the
// terminal. Lengths mm, times s, feeds mm/min, masses g, volumes mm3, powers W.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "sim/clearance/clearance.h"
#include "sim/flip/flip.h"
#include "sim/run/cause.h"
#include "sim/run/finding.h"
#include "sim/setup/zero_touch.h"
#include "sim/stock/stock.h"
#include "sim/timing/plan.h"

namespace proveout::measure {
struct Finish;  // sim/measure/finish.h
}

namespace proveout::run {

// The worst sample of one motion; zero where the motion met nothing.
struct MotionPeak {
  float axial_depth = 0;      // mm
  float radial_width = 0;     // mm
  float engagement_deg = 0;   // deg
  float removal_mm3_min = 0;  // mm3/min
  float chip_mm = 0;          // mm
  float force_n = 0;          // N, likely; low and high: the ends of the material's band
  float force_low_n = 0, force_high_n = 0;
  float power_w = 0;  // W at the spindle nose, likewise
  float power_low_w = 0, power_high_w = 0;
  float bend_mm = 0;       // mm at the tip
  std::uint8_t sense = 0;  // cutting::Sense bits of all samples
};

// Largest of each figure over a tool's motions in one setup, and the line of the largest force.
struct ToolPeak {
  MotionPeak worst;
  std::uint32_t line = 0;
};

struct ToolResult {
  int number = 0;
  std::string name;
  double feed_s = 0, rapid_s = 0, dwell_s = 0, change_s = 0, spin_up_s = 0;
  double air_s = 0;    // part of feed_s in which nothing was removed
  double naive_s = 0;  // length over commanded feed, waits included
  double slow_s = 0;   // part of feed_s below 80 % of the commanded feed
  std::array<double, timing::slowed_by_count>
      slow_by_s{};  // slow_s by what kept the motion from its feed
  double feed_mm = 0, rapid_mm = 0;
  std::uint64_t moves = 0;
  double removed_mm3 = 0;
  double energy_j = 0;  // sum of power x time at the spindle nose
  ToolPeak peak;
  double reach_used = 0;       // mm: deepest the tip stood below material beside it
  double stickout_needed = 0;  // mm: least stick-out that clears
  double stickout = 0;         // mm: as given
  clearance::ToolClearance clearance;
  double time_s() const { return feed_s + rapid_s + dwell_s + change_s + spin_up_s; }
};

// What ties the part to the rest after a setup (sim/measure/bridges.h), and what it bears.
struct BridgeResult {
  Vec3 at = Vec3::Zero();    // mm, stock coordinates: middle of the smallest section
  Vec3 axis = Vec3::Zero();  // unit, square to it; zero: the section runs round the part
  double area_mm2 = 0;       // smallest section
  double thickness = 0;      // mm, across it where it is narrow
  stock::MotionId left_by = 0;
  std::uint32_t line = 0;  // of this setup's program, that last shaped it; 0: an earlier setup's
  double strength_n = 0;   // in shear
  double times_peak = 0;   // strength over Holding::peak_force_n; 0: no force met
  double stub_mm3 = 0;     // what it leads to, where that is too little to hold it; 0: the rest
};
struct Holding {            // all bridges together but those that lead to stubs
  double strength_n = 0;    // in shear
  double peak_force_n = 0;  // met while they hold
  double times_peak = 0;    // 0: no bridges, or no force met
};

// A setup once it is cut: what its checks look at. Whole before the first of them runs.
struct SetupCut {
  std::string name;
  std::string program;  // as the job gives it
  std::shared_ptr<const nc::Program> source;
  RigidMotion stock_from_setup = RigidMotion::Identity();
  double voxel = 0;  // mm
  stock::MotionId first_id = 1;
  timing::Plan plan;
  stock::Cut cut;
};

// What the loads of a setup's motions come to.
struct MotionLoads {
  std::vector<MotionPeak> peaks;  // one per motion
  std::vector<float> energy_j;    // one per motion: power x time at the spindle nose
  // One per sample of the cut: volume taken over what its area would take (cutting::VolumeRuns).
  std::vector<float> rate_scale;
};

struct SetupResult : SetupCut, MotionLoads {
  std::vector<ToolResult> tools;  // in order of first use
  double other_s = 0;             // program overhead, in no tool's time
  double time_s = 0;
  double time_low_s = 0, time_high_s = 0;  // sim/timing/range.h
  double removed_mm3 = 0;
  double gouge_mm3 = 0;       // of the part, by this setup's motions; told after the last setup
  double stock_left_mm3 = 0;  // before pieces are taken away
  Vec3 zero_in_stock = Vec3::Zero();
  std::string zero_in_words;
  setup::ZeroTouch zero_touch;        // what the zero touches, before this setup cuts
  std::vector<BridgeResult> bridges;  // after this setup; empty without a part mesh
  Holding holding;
  std::vector<double> pieces_mm3;  // volumes of the pieces after the setup, largest first
  std::vector<std::string> fixture_names;
  double clearance_within_mm = 0;  // clearances may be too small by so much, beside plain faces
};

struct PocketFound {       // of the finished piece; sim/measure/pockets.h
  std::string setup;       // seen from this setup's side
  Vec3 at = Vec3::Zero();  // mm, that setup's frame
  double volume_mm3 = 0, depth = 0, area_mm2 = 0;
  double plug_diameter = 0;  // mm, widest plug that reaches its floor
};
struct BoreFound {                 // room in the finished piece; sim/measure/bores.h
  std::string setup;               // bored from this setup's side
  Vec3 at = Vec3::Zero();          // mm, that setup's frame: the middle of its mouth
  double diameter = 0, depth = 0;  // mm
};
struct InsertOption {  // one material that would bring the piece to its target mass
  std::string material, source;
  double density_g_cm3 = 0;
  double added_mm3 = 0;  // laid into a pocket; 0: does not help
  // In place of the part's own material; 0: does not help, or there is no room for it.
  double replaced_mm3 = 0;
  int pocket = 0;  // 1-based, into MassTarget::pockets, that takes added_mm3; 0: none does
  double plug_diameter = 0, plug_height = 0;  // mm, of a round plug that does; 0: poured in
};
struct MassTarget {
  double target_g = 0;   // 0: none asked
  double missing_g = 0;  // negative: too heavy
  std::vector<PocketFound> pockets;
  std::vector<BoreFound> bores;  // from the side that has room for most
  std::vector<InsertOption> inserts;
};

struct PartResult {
  bool compared = false;  // a part mesh was given
  double volume_mm3 = 0;  // of the piece that goes on
  double mass_g = 0;
  Vec3 centre = Vec3::Zero();                               // mm, stock coordinates
  Eigen::Matrix3d inertia_g_mm2 = Eigen::Matrix3d::Zero();  // about the centre, stock axes
  double mesh_volume_mm3 = 0;       // of the part mesh, and below as if of the stock's material
  Vec3 mesh_centre = Vec3::Zero();  // mm, stock coordinates
  Eigen::Matrix3d mesh_inertia_g_mm2 = Eigen::Matrix3d::Zero();  // about mesh_centre, stock axes
  MassTarget target;
  // Part without stock and stock outside the part, whatever the tolerance; and in regions beyond
  // it.
  double gouge_mm3 = 0, excess_mm3 = 0, gouge_beyond_mm3 = 0, excess_beyond_mm3 = 0;
  // mm: from the deepest missing place to the nearest stock; its thickness along the part's inward
  // normal; from the highest place left on to the part.
  double worst_gouge = 0, worst_gouge_thickness = 0, worst_excess = 0;
};

struct ZeroTrial {    // a setup's program cut from one zero
  std::string words;  // as a job file says it
  RigidMotion stock_from_setup = RigidMotion::Identity();
  double useful_mm3 = 0;  // removed outside the part; without a part: removed
  double gouged_mm3 = 0;  // removed from inside the part
  double rapid_mm3 = 0;   // removed by rapids
  double below = 0;       // mm, of the tip below the blank
};
struct ZeroSearch {  // why a setup's zero was doubted, and which others fit
  std::string setup, why, text;
  double voxel = 0;  // mm: what the trials are told to
  std::size_t tried = 0;
  ZeroTrial declared;
  std::vector<ZeroTrial> fits;  // best first
};

struct NotChecked {  // said on every face of the report
  std::string what;
  std::string why;
  bool in_part = false;             // for some tools or setups it is looked for
  std::vector<std::string> setups;  // in_part: those in which it is not looked for at all
};

struct RunFigures {
  double wall_s = 0;
  double moves_per_s = 0;  // motions cut over time spent cutting
  double peak_memory_mb = 0;
  int threads = 0;
  // Tool runs: cut in this run, and taken from a kept stage.
  std::size_t tool_runs_cut = 0, tool_runs_reused = 0;
};

struct Inputs;   // sim/run/inputs.h
struct TimeUse;  // sim/run/time_use.h

struct JobResult {
  job::Job job;
  // All that was read from files for this run; null only in a result no run has made.
  std::shared_ptr<const Inputs> inputs;
  std::string material;
  double density_g_cm3 = 0;
  double voxel = 0;
  std::vector<SetupResult> setups;
  PartResult part;
  std::vector<flip::Flip> flips;  // one a setup that turned the work over
  double time_s = 0;
  double time_low_s = 0, time_high_s = 0;
  double removed_mm3 = 0;
  double blank_mm3 = 0;  // of the blank, from its sizes or its mesh
  std::vector<Finding> findings;
  std::vector<Cause> causes;  // what lies behind the findings, the first first
  std::string verdict;        // the outcome in one sentence without a full stop
  std::vector<ZeroSearch> zero_search;
  std::vector<Diagnostic> remarks;  // of the parser, notes included
  std::vector<NotChecked> not_checked;
  std::vector<std::string> assumed;     // inputs that were not given, and what stood in, in words
  std::shared_ptr<stock::Stock> stock;  // as left at the end
  std::shared_ptr<stock::Stock> finished;  // the piece that goes on, supports taken off, where kept
  std::vector<std::shared_ptr<stock::Stock>> stock_after;  // per setup, where kept
  RunFigures run;
  // Cusps and steps on the piece that goes on; null in a result no run has made.
  std::shared_ptr<const measure::Finish> finish;
  // Put in by whoever asks for it first after the run, for all that write it; else null.
  std::shared_ptr<const TimeUse> time_use;

  // Setup index and motion index behind a MotionId; nullopt for the blank's own surface.
  struct Origin {
    std::size_t setup, motion;
  };
  std::optional<Origin> origin(stock::MotionId id) const;
};

}  // namespace proveout::run
