// Planning speed of a stream of motions on one core, beside the naive sum of length over feed of
// the same motions. Counters: motions_per_s, held (motions held at most: the memory does not grow
// with the program).
#include <benchmark/benchmark.h>

#include <cmath>
#include <random>

#include "sim/timing/stream.h"

namespace proveout::timing {
namespace {

// One finishing row after another, made on the fly: nothing is kept.
class Rows {
 public:
  nc::Motion next() {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.feed = 1500;
    m.start = at_;
    x_ += step_;
    if (x_ > 150 || x_ < 0) {
      step_ = -step_;
      y_ += 0.25;
    }
    at_ = Vec3(x_, y_, std::sin(0.13 * x_) + 0.5 * std::cos(0.2 * y_));
    m.end = at_;
    return m;
  }

 private:
  double x_ = 0, y_ = 0, step_ = 0.5;
  Vec3 at_ = Vec3::Zero();
};

std::vector<nc::Motion> some_rows() {
  Rows rows;
  std::vector<nc::Motion> motions;
  for (int i = 0; i < 100'000; ++i) motions.push_back(rows.next());
  return motions;
}

void naive(benchmark::State& state) {
  const auto motions = some_rows();
  for (auto _ : state) {
    double s = 0;
    for (const auto& m : motions) s += nc::length(m) / m.feed;
    benchmark::DoNotOptimize(s);
  }
  state.counters["motions_per_s"] =
      benchmark::Counter(double(motions.size()), benchmark::Counter::kIsIterationInvariantRate);
}

// Arguments: look-ahead, jerk in mm/s3 (0: none).
void planned(benchmark::State& state) {
  const auto motions = some_rows();
  job::Machine machine;
  machine.jerk = Vec3::Constant(static_cast<double>(state.range(1)));
  machine.lookahead = static_cast<int>(state.range(0));
  const nc::ModalState modal;
  for (auto _ : state) {
    double s = 0;
    Stream stream(machine,
                  [&](std::size_t, const TimedMotion& t, double, double) { s += t.time_s; });
    for (const auto& m : motions) stream.add(m, modal);
    stream.finish();
    benchmark::DoNotOptimize(s);
  }
  state.counters["motions_per_s"] =
      benchmark::Counter(double(motions.size()), benchmark::Counter::kIsIterationInvariantRate);
}

void ten_million(benchmark::State& state) {
  job::Machine machine;
  machine.lookahead = 64;
  const nc::ModalState modal;
  std::size_t held = 0;
  for (auto _ : state) {
    Rows rows;
    double s = 0;
    Stream stream(machine,
                  [&](std::size_t, const TimedMotion& t, double, double) { s += t.time_s; });
    for (int i = 0; i < 10'000'000; ++i) {
      stream.add(rows.next(), modal);
      held = std::max(held, stream.pending());
    }
    stream.finish();
    benchmark::DoNotOptimize(s);
  }
  state.counters["motions_per_s"] =
      benchmark::Counter(1e7, benchmark::Counter::kIsIterationInvariantRate);
  state.counters["held"] = static_cast<double>(held);
}

BENCHMARK(naive);
BENCHMARK(planned)->ArgsProduct({{16, 64, 1000, 0}, {0, 1000, 8000}});
BENCHMARK(ten_million)->Iterations(1)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace proveout::timing

BENCHMARK_MAIN();
