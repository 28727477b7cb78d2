// Reading posted 3-axis code from memory to motions, beside a bare scan of the same bytes: memchr
// for line ends and std::from_chars for every number. The counter 'share_of_scan' is the ratio of
// the two, timed in the same run. All in processor time.
#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <charconv>
#include <cstring>
#include <ctime>
#include <random>
#include <string>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

// Posted code of a finishing pass: modal G1, changed axes only, three decimals, an arc now and
// then.
std::string posted(std::size_t bytes) {
  std::string text =
      "%\nO0001 (BENCH)\nG17 G21 G40 G49 G54 G80 G90 G94\nT1 M6\nS18000 M3\nG0 X0. Y0. Z5.\nG1 "
      "Z-1. F600.\n";
  std::mt19937 random(1);
  std::uniform_real_distribution<double> step(-0.5, 0.5);
  double x = 0, y = 0, z = -1;
  for (int i = 0; text.size() < bytes; ++i) {
    x += 0.5;
    z = -1 + step(random);
    if (x > 150) {
      x = 0;
      y += 0.25;
      text += fmt::format("X{:.3f} Y{:.3f}\n", x, y);
      continue;
    }
    if (i % 50 == 49) {
      text += fmt::format("G3 X{:.3f} Y{:.3f} I0.25 J0.\nG1 Z{:.3f}\n", x, y, z);
    } else {
      text += fmt::format("X{:.3f} Z{:.3f}\n", x, z);
    }
  }
  return text + "M30\n%\n";
}

const std::string& text() {
  static const std::string t = posted(100 << 20);
  return t;
}

struct Counter : Sink {
  std::size_t motions = 0;
  double sum = 0;
  void motion(const Motion& m, const ModalState&) override {
    ++motions;
    sum += m.end.x();
  }
  void event(const Event&, const ModalState&) override {}
};

double scan(const std::string& t) {
  double sum = 0;
  const char* at = t.data();
  const char* const end = at + t.size();
  while (at < end) {
    const char* line_end =
        static_cast<const char*>(std::memchr(at, '\n', static_cast<std::size_t>(end - at)));
    if (line_end == nullptr) line_end = end;
    while (at < line_end) {
      if ((*at >= '0' && *at <= '9') || *at == '-' || *at == '.') {
        double v = 0;
        const auto r = std::from_chars(at, line_end, v, std::chars_format::fixed);
        sum += v;
        at = r.ptr > at ? r.ptr : at + 1;
      } else {
        ++at;
      }
    }
    at = line_end + 1;
  }
  return sum;
}

// Processor seconds of this thread: other work on the machine does not count.
double processor_seconds() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

void read_program_text(benchmark::State& state) {
  double reading = 0, scanning = 0;
  std::size_t motions = 0;
  for (auto _ : state) {
    const double a = processor_seconds();
    benchmark::DoNotOptimize(scan(text()));
    const double b = processor_seconds();
    Counter counter;
    Diagnostics diagnostics;
    if (!interpret(text(), "bench.nc", {}, counter, diagnostics))
      state.SkipWithError("the program does not read");
    const double c = processor_seconds();
    scanning += b - a;
    reading += c - b;
    motions = counter.motions;
  }
  const auto bytes = static_cast<double>(text().size()) * static_cast<double>(state.iterations());
  state.counters["MB_per_s"] = bytes / reading / 1e6;
  state.counters["scan_MB_per_s"] = bytes / scanning / 1e6;
  state.counters["share_of_scan"] = scanning / reading;
  state.counters["motions"] = static_cast<double>(motions);
}
BENCHMARK(read_program_text)->Unit(benchmark::kMillisecond)->Iterations(3);

}  // namespace
}  // namespace proveout::nc

BENCHMARK_MAIN();
