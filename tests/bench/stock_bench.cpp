// Cutting speed of the stock engine: a wavy surface in a 150 x 100 x 35 mm block, roughed with
// a 6.35 mm flat tool (27,520 motions) and finished with a 6.35 mm ball tool (128,000 motions of
// 0.5 mm, 0.25 mm apart), with volume, engagement and provenance, beside OpenVDB's csgDifference of
// a ball per motion timed on a slice of the same motions. Counters: motions_per_s, and on one line
// of the last entry the ratios. 'columns': what the columns of the engaged area cost, by turns with
// an engine that does no work on them.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <openvdb/openvdb.h>
#include <openvdb/tools/Composite.h>
#include <openvdb/tools/LevelSetSphere.h>
#include <sys/resource.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <vector>

#include "parser/job/job.h"
#include "sim/stock/cut_without_areas.h"
#include "sim/stock/field_conversion.h"
#include "sim/stock/fields.h"
#include "sim/stock/kernel.h"
#include "sim/stock/stock.h"

namespace proveout::stock {
namespace {

const Vec3 block(150, 100, 35);
constexpr double diameter = 6.35;

double surface(double x, double y) {
  return 26 + 4 * std::sin(x / 11.0) * std::cos(y / 9.0) + 2 * std::sin((x + y) / 23.0);
}

// Height of a ball's or flat tool's tip so that the ball rests on the surface: near enough for a
// benchmark.
double tip(double x, double y, bool ball, double allowance) {
  double z = surface(x, y);
  const double r = 0.5 * diameter;
  for (int i = 0; i < 16; ++i) {
    const double a = 2 * pi * i / 16;
    for (const double share : {0.5, 1.0}) {
      const double lift = ball ? r - r * std::sqrt(1 - share * share) : 0;
      z = std::max(z, surface(x + share * r * std::cos(a), y + share * r * std::sin(a)) - lift);
    }
  }
  return z + allowance;
}

nc::Motion line(const Vec3& start, const Vec3& end) {
  nc::Motion m;
  m.kind = nc::PathKind::line;
  m.start = start;
  m.end = end;
  m.feed = 1200;
  return m;
}

void raster(std::vector<nc::Motion>& to, int rows, double step, int segments, double pitch,
            bool ball, double allowance, double floor) {
  const auto place = [&](int row, int i) {
    const double x = -5 + 0.5 * pitch + (row & 1 ? segments - i : i) * pitch;
    const double y = 0.5 * step + row * step;
    return Vec3(x, y, std::max(tip(x, y, ball, allowance), floor));
  };
  for (int row = 0; row < rows; ++row) {
    for (int i = 0; i < segments; ++i) to.push_back(line(place(row, i), place(row, i + 1)));
  }
}

struct Case {
  std::vector<nc::Motion> motions;
  std::vector<ToolRun> uses;
  solid::ToolBody flat, ball;
};

solid::ToolBody body(job::ToolShape shape) {
  job::Tool t;
  t.number = 1;
  t.shape = shape;
  t.diameter = diameter;
  t.flute_length = 20;
  t.stickout = 38;
  return solid::make_tool_body(t);
}

const Case& the_case() {
  static const Case c = [] {
    Case k;
    k.flat = body(job::ToolShape::flat);
    k.ball = body(job::ToolShape::ball);
    raster(k.motions, 43, 2.4, 320, 0.5, false, 0.5, 29);
    raster(k.motions, 43, 2.4, 320, 0.5, false, 0.5, 0);
    const std::size_t roughing = k.motions.size();
    raster(k.motions, 400, 0.25, 320, 0.5, true, 0, 0);
    k.uses = {{0, roughing, &k.flat}, {roughing, k.motions.size(), &k.ball}};
    return k;
  }();
  return c;
}

double seconds_of(const std::function<void()>& work) {
  const auto from = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

// The process's own time in the program, s: others on the machine lengthen it less than the
// clock's.
double user_seconds() {
  rusage u{};
  getrusage(RUSAGE_SELF, &u);
  return double(u.ru_utime.tv_sec) + 1e-6 * double(u.ru_utime.tv_usec);
}

double peak_mb() {
  rusage u{};
  getrusage(RUSAGE_SELF, &u);
  return double(u.ru_maxrss) / 1024;
}

// Best time so far of each entry, for the ratios.
std::map<std::string, double>& rates() {
  static std::map<std::string, double> r;
  return r;
}

void cut(benchmark::State& state, const std::string& name, double voxel, int threads) {
  const Case& c = the_case();
  std::span<const nc::Motion> motions = c.motions;
  std::vector<ToolRun> uses = c.uses;
  const std::size_t roughing = uses[0].last;
  if (threads == -1) {
    motions = motions.subspan(0, roughing);
    uses.resize(1);
  } else if (threads == -2) {  // the finishing passes alone, in the full block: far deeper cuts
    motions = motions.subspan(roughing);
    uses = {{0, motions.size(), &c.ball}};
  }
  double distances = 0, removed = 0;
  for (auto _ : state) {
    Stock stock = Stock::box(block, voxel);
    CutOptions options;
    options.threads = std::max(threads, 1);
    const double s = seconds_of([&] {
      const Cut cut = stock.cut(motions, uses, RigidMotion::Identity(), 1, options);
      distances = double(cut.distances);
      removed = 0;
      for (const auto& m : cut.motions) removed += m.removed_mm3;
    });
    state.SetIterationTime(s);
    rates()[name] = std::max(rates()[name], double(motions.size()) / s);
  }
  state.counters["motions_per_s"] = rates()[name];
  state.counters["removed_mm3"] = removed;
  state.counters["distances_a_motion"] = distances / double(motions.size());
  state.counters["distances_per_s"] = distances * rates()[name] / double(motions.size());
  rates()[name + " distances"] = state.counters["distances_per_s"];
  state.counters["peak_MB"] = peak_mb();
}

// Columns on and off by turns; an iteration is one turn each.
void columns(benchmark::State& state, double voxel, int threads) {
  const Case& c = the_case();
  CutOptions options;
  options.threads = threads;
  std::vector<double> with, without;
  const auto turn = [&](bool areas) {
    Stock stock = Stock::box(block, voxel);
    const double from = user_seconds();
    benchmark::DoNotOptimize(
        areas ? stock.cut(c.motions, c.uses, RigidMotion::Identity(), 1, options)
              : cut_without_areas(stock, c.motions, c.uses, RigidMotion::Identity(), 1, options));
    (areas ? with : without).push_back(user_seconds() - from);
  };
  turn(false);  // memory not touched before is paid for here
  without.clear();
  for (auto _ : state) {
    turn(true);
    turn(false);
    state.SetIterationTime(with.back() + without.back());
  }
  const auto least = [](const std::vector<double>& of) { return *std::ranges::min_element(of); };
  const auto middle = [](std::vector<double> of) {
    std::ranges::sort(of);
    return of[of.size() / 2];
  };
  state.counters["with_s"] = least(with);
  state.counters["without_s"] = least(without);
  state.counters["least_to_least"] = least(with) / least(without);
  state.counters["middle_to_middle"] = middle(with) / middle(without);
}

// One ball a motion, at its end: less than the swept tool, so kinder than a true rival.
void difference_loop(benchmark::State& state, double voxel) {
  const Case& c = the_case();
  constexpr std::size_t slice = 150;
  for (auto _ : state) {
    Stock stock = Stock::box(block, voxel);
    const auto mm = in_mm(stock.fields());
    auto& grid = *mm;
    const std::size_t first = c.uses[1].first, step = (c.motions.size() - first) / slice;
    const double s = seconds_of([&] {
      for (std::size_t i = 0; i < slice; ++i) {
        const Vec3 at = c.motions[first + i * step].end + Vec3(0, 0, 0.5 * diameter);
        auto ball = openvdb::tools::createLevelSetSphere<openvdb::FloatGrid>(
            float(0.5 * diameter), openvdb::Vec3f(float(at.x()), float(at.y()), float(at.z())),
            float(voxel), 3.f);
        openvdb::tools::csgDifference(grid, *ball);
      }
    });
    state.SetIterationTime(s);
    rates()["csgDifference"] = std::max(rates()["csgDifference"], double(slice) / s);
  }
  state.counters["motions_per_s"] = rates()["csgDifference"];
}

// The distance of a ball on a ramp, nothing else, from cache: what the arithmetic alone allows on
// one core.
void bare_distance(benchmark::State& state) {
  const Case& c = the_case();
  const Profile profile = make_profile(c.ball.flutes);
  const Sweep sweep = make_sweep(c.motions[c.uses[1].first + 1000], profile);
  LocalSweep local;
  localise(sweep, sweep.motion->start, 0.1, local);
  // All the 512 pieces of a tile, against a stock that nothing can win from.
  TileFrame frame;
  frame.voxel = 0.1f;
  std::vector<float> stored(512 * 64, 0.3f), swept(512 * 64);
  std::vector<std::uint16_t> list(512), winners(512);
  std::vector<float> middle(512, 0.f);
  for (int i = 0; i < 512; ++i) list[i] = static_cast<std::uint16_t>(i);
  double evaluated = 0;
  double s = 0;
  for (auto _ : state) {
    s += seconds_of([&] {
      for (int n = 0; n < 2000; ++n) {
        // One piece again and again: nothing but the arithmetic.
        for (auto& l : list) l = static_cast<std::uint16_t>(n & 255);
        benchmark::DoNotOptimize(kernels().evaluate(local, frame, list.data(), middle.data(), 512,
                                                    stored.data(), 0.3f, swept.data(),
                                                    winners.data()));
      }
    });
    evaluated += 2000.0 * 512 * 64;
  }
  rates()["bare"] = evaluated / s;
  state.counters["distances_per_s"] = evaluated / s;
}

void motions_scaling(benchmark::State& state) {
  // The finishing pass of a fifth of the surface, again and again: 10^4, 10^5, 10^6 motions at 0.2
  // mm.
  const Case& c = the_case();
  const auto count = static_cast<std::size_t>(state.range(0));
  std::vector<nc::Motion> motions;
  for (std::size_t i = 0; i < count; ++i) {
    nc::Motion m = c.motions[c.uses[1].first + i % 128000];
    m.start.z() -= 0.02 * double(i / 128000);
    m.end.z() -= 0.02 * double(i / 128000);
    motions.push_back(m);
  }
  const std::vector<ToolRun> uses = {{0, count, &c.ball}};
  for (auto _ : state) {
    Stock stock = Stock::box(block, 0.2);
    state.SetIterationTime(seconds_of([&] {
      benchmark::DoNotOptimize(stock.cut(motions, uses, RigidMotion::Identity(), 1, {}));
    }));
  }
  state.counters["motions_per_s"] =
      benchmark::Counter(double(count), benchmark::Counter::kIsIterationInvariantRate);
}

// 600 x 400 x 80 mm at 0.1 mm, the top faced: memory must follow the surface.
void large_blank(benchmark::State& state) {
  const double before = peak_mb();
  for (auto _ : state) {
    const double s = seconds_of([&] {
      Stock stock = Stock::box(Vec3(600, 400, 80), 0.1);
      const solid::ToolBody cutter = body(job::ToolShape::flat);
      std::vector<nc::Motion> motions;
      for (double y = 0; y <= 400; y += 5) motions.push_back(line({-5, y, 79.3}, {605, y, 79.3}));
      const std::vector<ToolRun> uses = {{0, motions.size(), &cutter}};
      benchmark::DoNotOptimize(stock.cut(motions, uses, RigidMotion::Identity(), 1, {}));
    });
    state.SetIterationTime(s);
  }
  state.counters["peak_MB_before"] = before;
  state.counters["peak_MB"] = peak_mb();
}

void ratios(benchmark::State& state) {
  for (auto _ : state) {
  }
  auto& r = rates();
  const auto of = [&](const char* a, const char* b) { return r[b] > 0 ? r[a] / r[b] : 0; };
  state.counters["to_csgDifference"] = of("0.1 mm, 2 threads", "csgDifference");
  state.counters["two_threads_to_one"] = of("0.1 mm, 2 threads", "0.1 mm, 1 thread");
  state.counters["0.2_to_0.1_mm"] = of("0.2 mm, 2 threads", "0.1 mm, 2 threads");
  state.counters["0.4_to_0.2_mm"] = of("0.4 mm, 2 threads", "0.2 mm, 2 threads");
  state.counters["share_of_bare_distance"] = of("0.1 mm, 1 thread distances", "bare");
}

}  // namespace

void register_all() {
  using benchmark::RegisterBenchmark;
  const auto once = [](auto* b) {
    b->UseManualTime()->Iterations(1)->Unit(benchmark::kMillisecond);
  };
  // What is compared is the best of two: a first run also pays for memory not touched before.
  const auto twice = [](auto* b) {
    b->UseManualTime()->Iterations(2)->Unit(benchmark::kMillisecond);
  };
  for (const auto& [name, voxel, threads] : {std::tuple{"0.1 mm, 2 threads", 0.1, 2},
                                             {"0.1 mm, 1 thread", 0.1, 1},
                                             {"0.1 mm roughing", 0.1, -1},
                                             {"0.1 mm finishing", 0.1, -2},
                                             {"0.2 mm, 2 threads", 0.2, 2},
                                             {"0.4 mm, 2 threads", 0.4, 2}}) {
    twice(RegisterBenchmark(name, [=](benchmark::State& s) { cut(s, name, voxel, threads); }));
  }
  for (const auto& [name, voxel, threads] : {std::tuple{"columns, 0.1 mm, 1 thread", 0.1, 1},
                                             {"columns, 0.2 mm, 1 thread", 0.2, 1},
                                             {"columns, 0.2 mm, 2 threads", 0.2, 2},
                                             {"columns, 0.4 mm, 1 thread", 0.4, 1}}) {
    RegisterBenchmark(name, [=](benchmark::State& s) { columns(s, voxel, threads); })
        ->UseManualTime()
        ->Iterations(3)
        ->Unit(benchmark::kMillisecond);
  }
  twice(RegisterBenchmark("csgDifference", [](benchmark::State& s) { difference_loop(s, 0.1); }));
  RegisterBenchmark("bare distance", bare_distance)->Iterations(3);
  once(RegisterBenchmark("motions", motions_scaling)->Arg(10'000)->Arg(100'000)->Arg(1'000'000));
  once(RegisterBenchmark("large blank", large_blank));
  RegisterBenchmark("ratios", ratios)->Iterations(1);
}

}  // namespace proveout::stock

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  openvdb::initialize();
  proveout::stock::register_all();
  benchmark::RunSpecifiedBenchmarks();
}
