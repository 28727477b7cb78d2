// What report.html shows, as plain data, and the writer of the file. report/page/build fills it
// from a run; tests fill it by hand. Lengths mm, times s, feeds mm/min, angles deg, forces N,
// powers W. Text may hold anything a program or job file holds: the writer and the page escape it.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace proveout::page {

using Point = std::array<double, 3>;

struct Fact {  // one line of a list of label and value
  std::string label, value;
};

struct Said {  // something checked, not checked or assumed, and why
  std::string what, why;
};

// A closed surface in stock coordinates. made_by and deviation are per vertex; deviation is empty
// where there is no part to compare with.
struct Surface {
  std::vector<float> vertices;  // x, y, z, mm
  std::vector<std::uint32_t>
      triangles;  // three vertex numbers each, counter-clockwise from outside
  std::vector<std::uint32_t>
      made_by;                   // number of the motion over the whole job, 0: the blank's own
  std::vector<float> deviation;  // mm, positive: material left on; negative: cut into the part
  bool empty() const { return triangles.empty(); }
};

struct Tool {
  int number = 0;
  std::string name;
  std::string shape;                                    // in words
  double diameter = 0, stickout = 0, flute_length = 0;  // mm
  int flutes = 0;
  // Radius and height above the tip, mm, from the axis up, straight between: cutting part and
  // shank.
  std::vector<std::pair<double, double>> outline;
  std::vector<std::pair<double, double>> cutting_outline;  // of the cutting part alone
  std::vector<std::pair<double, double>> holder;           // diameter, height, mm, from the face up
};

struct ToolRow {  // one tool in one setup, in order of use
  int number = 0;
  double time_s = 0, feed_s = 0, rapid_s = 0, dwell_s = 0, change_s = 0, spin_up_s = 0, air_s = 0;
  double feed_mm = 0, rapid_mm = 0;
  std::uint64_t moves = 0;
  double removed_mm3 = 0;
  double peak_axial_depth = 0, peak_radial_width = 0, peak_engagement_deg = 0;
  double peak_removal_mm3_min = 0, peak_chip_mm = 0, peak_force_n = 0, peak_power_w = 0,
         peak_bend_mm = 0;
  // What is known of the material leaves these of the two: low and high.
  std::array<double, 2> force_band_n{}, power_band_w{};
  std::uint32_t peak_line = 0;                 // of the largest force
  double reach_used = 0, stickout_needed = 0;  // mm
  std::string clear_by;                        // least clearances, in words
  std::string speeds;                          // spindle speeds used, in words
};

enum class MotionKind : std::uint8_t { rapid, line, arc };

// All motions of a setup in order, column by column; every column has one entry a motion.
struct Motions {
  std::vector<std::uint8_t> kind;          // MotionKind
  std::vector<std::uint8_t> plane;         // of arcs: 0 xy, 1 zx, 2 yz
  std::vector<double> start, end, centre;  // x, y, z each, setup frame; centre of arcs, else 0
  std::vector<double> sweep;               // rad, signed right-handed about the plane's normal
  std::vector<std::uint32_t> file, line;   // index into Setup::files; 1-based line
  std::vector<std::uint32_t> tool;         // number
  std::vector<double> start_s, time_s;     // since the program's start
  std::vector<double> feed;                // commanded, mm/min, 0 on rapids
  std::vector<double> rpm;                 // 1/min, 0 with the spindle stopped
  // Worst sample of each motion; 0 where it met nothing.
  std::vector<double> removed_mm3, axial_depth, radial_width, engagement_deg, removal_mm3_min,
      chip_mm, force_n, power_w, bend_mm;
  std::vector<std::uint8_t>
      sense;  // which way teeth met the material: 1 climb, 2 conventional, 3 both
  std::size_t size() const { return kind.size(); }
};

struct SourceFile {
  std::string name, text;
};

struct FixtureBox {
  std::string name;
  Point low{}, high{};  // setup frame
};

struct Setup {
  std::string name, program;
  std::string zero_in_words, turn_in_words;  // turn: how the work lies, empty: as first described
  std::string located_by;
  Point zero_in_stock{};
  std::array<double, 12> stock_from_setup{1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0};  // row by row
  double time_s = 0, naive_s = 0, removed_mm3 = 0, stock_left_mm3 = 0;
  std::vector<ToolRow> tools;
  std::uint32_t first_id = 1;  // number of this setup's first motion over the whole job
  Motions motions;
  std::vector<SourceFile> files;
  std::vector<FixtureBox> fixtures;
  Surface before;  // empty: the blank box, or the surface after the setup before
  Surface after;   // the stock when the setup is done; empty: no picture
};

struct Finding {
  std::string kind, level;  // as in result.json
  int setup = -1;           // index; -1: none
  int tool = 0;
  std::string file;
  std::uint32_t line = 0;
  Point at{};  // setup frame
  double value = 0, limit = 0;
  std::string unit, text, detail;
  std::uint64_t count = 1;
  std::int64_t motion = -1;  // index in the setup's motions; -1: none; gives the time to jump to
};

struct StabilityChart {  // one tool in one setup
  std::string title;
  std::vector<double> rpm, limit_depth;         // 1/min, mm
  std::vector<std::pair<double, double>> used;  // speed and axial depth the program uses
  std::string note;                             // what the curve rests on
};

struct FlipSeam {
  std::string text;  // what was found and how
  std::vector<Fact> facts;
  // Along the seam, in order: x, y (mm, later setup's frame), step (mm, > 0: the later wall stands
  // proud), of each place; and its outward direction, x, y.
  std::vector<double> seam, outward;
};

struct Comparison {  // e.g. MDF against metal
  std::string title, note;
  std::vector<std::string> columns;
  std::vector<std::vector<std::string>> rows;
};

struct PageData {
  std::string title;    // name of the job
  std::string verdict;  // one sentence; never a promise
  std::string version;
  int errors = 0, warnings = 0, notes = 0;
  std::vector<Fact> facts;  // machine, stock, material, part, figures of the run
  std::vector<Said> checked, not_checked, assumed;
  std::vector<std::string> cautions;  // printed on the sheet
  std::vector<std::string> by_hand;   // checks by hand, each with a box on the sheet
  Point stock_size{};                 // mm
  bool stock_is_box = true;
  double voxel = 0;           // mm
  double deviation_end = 0;   // mm at the ends of its colour scale, 0: no part
  double deviation_grey = 0;  // mm, from which on it is grey
  std::vector<Tool> tools;
  std::vector<Setup> setups;
  std::vector<Finding> findings;
  std::vector<StabilityChart> stability;
  std::optional<FlipSeam> flip;
  std::vector<Comparison> comparisons;
  std::vector<Comparison> holding;  // what the part hangs on, a table a setup
  std::vector<Comparison> quote;    // tables of money
};

// The page's bytes. Same data, same bytes.
std::string page_html(const PageData& data);

// False where proveout was built with PROVEOUT_PAGE=OFF; page_html then throws std::logic_error.
bool page_built_in();

}  // namespace proveout::page
