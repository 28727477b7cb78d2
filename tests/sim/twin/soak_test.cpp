// Random small jobs, NC text to result, against the twin (twin.h). PROVEOUT_SOAK sets how many;
// PROVEOUT_SOAK_SEED where they start. A failure prints the seed and the job's files.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "parser/job/job.h"
#include "sim/measure/measure.h"
#include "sim/pipeline/dry_run.h"
#include "tests/sim/twin/twin.h"

namespace proveout::twin {
namespace {

namespace fs = std::filesystem;

int from_environment(const char* name, int otherwise) {
  const char* text = std::getenv(name);
  return text != nullptr ? std::atoi(text) : otherwise;
}

struct Side {
  Tool tool;
  std::vector<Point> starts;  // of the cutting moves
  std::vector<Move> moves;
  std::string program;
  double feed_mm = 0;
};

struct SmallJob {
  Point size;
  double voxel = 0;
  std::vector<Side> sides;
  std::string toml;
};

double rounded(double v) { return std::round(v * 1000) / 1000; }

class Maker {
 public:
  explicit Maker(unsigned seed) : random_(seed) {}

  SmallJob job() {
    SmallJob out;
    out.size = {rounded(in(15, 30)), rounded(in(12, 24)), rounded(in(6, 12))};
    const int sides = in(0, 1) < 0.5 ? 1 : 2;
    for (int s = 0; s < sides; ++s) out.sides.push_back(side(out.size));
    double smallest = 1e9;
    for (const Side& s : out.sides) smallest = std::min(smallest, s.tool.diameter);
    out.voxel = smallest / 20;
    out.toml = fmt::format("[simulation]\nvoxel = {}\n[stock]\nsize = [{}, {}, {}]\n", out.voxel,
                           out.size.x, out.size.y, out.size.z);
    static const char* const shapes[] = {"flat", "ball", "bull", "vee"};
    for (int s = 0; s < sides; ++s) {
      const Tool& t = out.sides[s].tool;
      out.toml += fmt::format("[[tools]]\nnumber = {}\nshape = \"{}\"\ndiameter = {}\n", s + 1,
                              shapes[static_cast<int>(t.shape)], t.diameter);
      if (t.shape == Shape::bull) out.toml += fmt::format("corner_radius = {}\n", t.corner);
      if (t.shape == Shape::vee) out.toml += fmt::format("tip_angle = {}\n", t.angle);
      out.toml += "flute_length = 60\nstickout = 70\n";
    }
    for (int s = 0; s < sides; ++s) {
      out.toml += fmt::format("[[setups]]\nname = \"{0}\"\nprogram = \"{0}.nc\"\n", s);
      if (s == 1) out.toml += "turn = [{ about = \"y\", degrees = 180 }]\n";
      out.toml += "zero = { x = \"min\", y = \"min\", z = \"top\" }\n";
      std::string& text = out.sides[s].program;
      text = fmt::format("G21 G90 G17\nT{} M6\nS12000 M3\n", s + 1) + text + "M30\n";
    }
    return out;
  }

 private:
  double in(double a, double b) { return std::uniform_real_distribution<double>(a, b)(random_); }

  Side side(const Point& size) {
    Side s;
    s.tool.shape = static_cast<Shape>(std::min(3, static_cast<int>(in(0, 4))));
    s.tool.diameter = rounded(in(3, 6));
    s.tool.corner = rounded(0.25 * s.tool.diameter);
    s.tool.angle = 90;
    const int paths = 1 + static_cast<int>(in(0, 3));
    for (int p = 0; p < paths; ++p) path(size, s);
    return s;
  }

  // One plunge and a few moves, then up. Positions to the 0.001 mm that the program is posted with.
  void path(const Point& size, Side& s) {
    Point here{rounded(in(-2, size.x + 2)), rounded(in(-2, size.y + 2)), 3};
    s.program += fmt::format("G0 Z3\nG0 X{:.3f} Y{:.3f}\n", here.x, here.y);
    Move plunge{{here.x, here.y, -rounded(in(0.3, 0.45 * size.z))}};
    add(s, here, plunge, fmt::format("G1 Z{:.3f} F300\n", plunge.end.z));
    const int moves = 1 + static_cast<int>(in(0, 4));
    for (int m = 0; m < moves; ++m) {
      Move next;
      next.end.z = in(0, 1) < 0.5 ? here.z : -rounded(in(0.3, 0.45 * size.z));
      if (in(0, 1) < 0.4) {
        const double radius = in(1, 8), from = in(-3.1, 3.1);
        next.is_arc = true;
        next.cx = here.x - rounded(radius * std::cos(from));
        next.cy = here.y - rounded(radius * std::sin(from));
        next.sweep = (in(0, 1) < 0.5 ? 1 : -1) * in(0.5, 5.5);
        const double z = next.end.z;
        next.end = at(here, next, 1);
        next.end.z = z;
        add(s, here, next,
            fmt::format("G{} X{:.6f} Y{:.6f} Z{:.3f} I{:.6f} J{:.6f} F600\n",
                        next.sweep > 0 ? 3 : 2, next.end.x, next.end.y, next.end.z,
                        next.cx - here.x, next.cy - here.y));
      } else {
        next.end.x = rounded(in(-2, size.x + 2));
        next.end.y = rounded(in(-2, size.y + 2));
        add(s, here, next,
            fmt::format("G1 X{:.3f} Y{:.3f} Z{:.3f} F600\n", next.end.x, next.end.y, next.end.z));
      }
    }
    s.program += "G0 Z3\n";
  }

  static void add(Side& s, Point& here, const Move& move, const std::string& text) {
    s.starts.push_back(here);
    s.moves.push_back(move);
    s.feed_mm += length(here, move);
    s.program += text;
    here = move.end;
  }

  std::mt19937 random_;
};

// From a side's setup frame (zero on the corner of its upper face) to stock coordinates.
Point to_stock(const Point& p, const Point& size, bool below) {
  return below ? Point{size.x - p.x, p.y, -p.z} : Point{p.x, p.y, size.z + p.z};
}

double twin_volume(const SmallJob& job, unsigned seed) {
  Block block(job.size, 0.04, seed);
  for (std::size_t s = 0; s < job.sides.size(); ++s) {
    const Side& side = job.sides[s];
    const bool below = s == 1;
    for (std::size_t i = 0; i < side.moves.size(); ++i) {
      Move move = side.moves[i];
      const Point start = to_stock(side.starts[i], job.size, below);
      move.end = to_stock(move.end, job.size, below);
      if (below) {  // mirrored, so arcs turn the other way
        move.cx = job.size.x - move.cx;
        move.sweep = -move.sweep;
      }
      block.cut(side.tool, start, move, below, 0.04);
    }
  }
  return block.volume();
}

TEST(Soak, RandomJobsAgreeWithTheTwin) {
  const int jobs = from_environment("PROVEOUT_SOAK", 15);
  const int first = from_environment("PROVEOUT_SOAK_SEED", 1);
  std::string name = (fs::temp_directory_path() / "proveout-soak-XXXXXX").string();
  ASSERT_NE(::mkdtemp(name.data()), nullptr);
  const fs::path folder = name;
  double worst = 0, squares = 0, worst_length = 0;
  int set_aside = 0;
  for (int seed = first; seed < first + jobs; ++seed) {
    const SmallJob job = Maker(seed).job();
    std::string files = job.toml;
    std::ofstream(folder / "job.toml") << job.toml;
    for (std::size_t s = 0; s < job.sides.size(); ++s) {
      std::ofstream(folder / fmt::format("{}.nc", s)) << job.sides[s].program;
      files += fmt::format("--- {}.nc\n{}", s, job.sides[s].program);
    }
    Diagnostics diagnostics;
    const auto read = job::read_job(folder / "job.toml", diagnostics);
    ASSERT_TRUE(read) << "seed " << seed << "\n" << files;
    pipeline::RunOptions options;
    options.threads = 1 + seed % 3;
    const auto result = pipeline::dry_run(*read, options, diagnostics);
    ASSERT_TRUE(result) << "seed " << seed << "\n" << files;
    const double whole = job.size.x * job.size.y * job.size.z;
    const double twin = twin_volume(job, seed);
    // Before pieces that came apart are taken away; after the last setup nothing is cut any more.
    // Pieces lost between the setups are missing from what the second one leaves.
    double lost = 0;
    for (std::size_t s = 0; s + 1 < result->setups.size(); ++s) {
      const auto& pieces = result->setups[s].pieces_mm3;
      for (std::size_t p = 1; p < pieces.size(); ++p) lost += pieces[p];
    }
    if (lost > 0) {  // the twin keeps every piece
      ++set_aside;
      continue;
    }
    const double left = result->setups.back().stock_left_mm3;
    // Stated accuracy (docs/accuracy.md): share of what was removed, and blur along walls cut
    // twice.
    const double removed = whole - twin;
    const double error = std::abs(left - twin);
    const double allowed = 0.003 * removed + 0.5;
    EXPECT_LE(error, allowed) << fmt::format("seed {}: left {:.3f}, twin {:.3f} mm3\n{}", seed,
                                             left, twin, files);
    const double share = error / std::max(removed, 20.0);
    worst = std::max(worst, share);
    squares += share * share;
    double mm = 0, twin_mm = 0, by_setup = 0, by_motion = 0;
    for (std::size_t s = 0; s < result->setups.size(); ++s) {
      twin_mm += job.sides[s].feed_mm;
      for (const auto& t : result->setups[s].tools) mm += t.feed_mm;
      by_setup += result->setups[s].removed_mm3;
      for (const auto& m : result->setups[s].cut.motions) by_motion += m.removed_mm3;
    }
    worst_length = std::max(worst_length, std::abs(mm - twin_mm));
    EXPECT_NEAR(mm, twin_mm, 1e-4 * twin_mm + 1e-3) << "seed " << seed << "\n" << files;
    // Every cubic millimetre is some motion's: what motions took is what is gone.
    EXPECT_NEAR(by_motion, by_setup, 1e-6 * whole) << "seed " << seed << "\n" << files;
    EXPECT_NEAR(by_motion, whole - left, 0.002 * whole) << "seed " << seed << "\n" << files;
  }
  fs::remove_all(folder);
  const int compared = jobs - set_aside;
  fmt::print(
      "{} jobs from seed {}, {} compared ({} lost a piece between setups): volume against the "
      "twin, "
      "worst {:.2f} %, RMS {:.2f} % of what was removed; path length within {:.5f} mm\n",
      jobs, first, compared, set_aside, 100 * worst, 100 * std::sqrt(squares / compared),
      worst_length);
  EXPECT_GE(10 * compared, 9 * jobs) << "too many jobs were not compared";
}

// The twin itself, by closed forms: a slot, a ball groove, a full circle.
TEST(Twin, ClosedForms) {
  const auto removed = [](const Tool& tool, const Point& start, const Move& move, bool below) {
    Block block({30, 20, 10}, 0.04, 7);
    block.cut(tool, start, move, below, 0.02);
    return 30.0 * 20 * 10 - block.volume();
  };
  const double pi = std::numbers::pi;
  EXPECT_NEAR(removed({Shape::flat, 6}, {-5, 10, 8}, {{35, 10, 8}}, false), 30 * 6 * 2, 0.3);
  EXPECT_NEAR(removed({Shape::flat, 6}, {-5, 10, 2}, {{35, 10, 2}}, true), 30 * 6 * 2, 0.3);
  EXPECT_NEAR(removed({Shape::ball, 6}, {-5, 10, 7}, {{35, 10, 7}}, false), 30 * pi * 9 / 2, 0.5);
  EXPECT_NEAR(removed({Shape::vee, 6, 0, 90}, {-5, 10, 7}, {{35, 10, 7}}, false), 30 * 9, 0.5);
  // A ring of width 4 about a mean radius of 5.
  EXPECT_NEAR(removed({Shape::flat, 4}, {20, 10, 9}, {{20, 10, 9}, true, 15, 10, 2 * pi}, false),
              2 * pi * 5 * 4, 0.3);
}

}  // namespace
}  // namespace proveout::twin
