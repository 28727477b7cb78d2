#include "sim/after/log_readings.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

namespace proveout::after {
namespace {

constexpr double held_share = 0.98;
constexpr int held_readings = 3;

// Whether the readings from first to last held the top speed among them.
LoggedLine passage(std::span<const Reading> readings) {
  LoggedLine out;
  out.line = readings.front().line;
  out.start_s = readings.front().seconds;
  for (const Reading& r : readings) out.top_speed = std::max(out.top_speed, r.speed);
  const auto near_top = std::count_if(readings.begin(), readings.end(), [&](const Reading& r) {
    return out.top_speed > 0 && r.speed >= held_share * out.top_speed;
  });
  out.held = near_top >= held_readings;
  return out;
}

}  // namespace

std::vector<LoggedLine> logged_lines(std::span<const Reading> readings) {
  std::vector<Reading> told;
  std::copy_if(readings.begin(), readings.end(), std::back_inserter(told),
               [](const Reading& r) { return r.line > 0; });
  std::vector<LoggedLine> out;
  for (std::size_t from = 0; from < told.size();) {
    std::size_t to = from;
    while (to < told.size() && told[to].line == told[from].line) ++to;
    out.push_back(passage(std::span(told).subspan(from, to - from)));
    from = to;
  }
  return out;
}

bool in_order(std::span<const Reading> readings, const std::string& file,
              Diagnostics& diagnostics) {
  const std::size_t before = diagnostics.errors();
  for (std::size_t i = 1; i < readings.size(); ++i) {
    if (readings[i].seconds >= readings[i - 1].seconds) continue;
    diagnostics.error(
        "runs-log-order", {file, readings[i].row, 0, 0},
        fmt::format("{:g} s comes after {:g} s", readings[i].seconds, readings[i - 1].seconds),
        "give the readings of one run in order of time, in seconds");
    break;
  }
  return diagnostics.errors() == before;
}

void hold_against_program(const TimedRun& run, const std::string& file, Diagnostics& diagnostics) {
  std::map<std::uint32_t, double> feed_of;  // of each line with motions, mm/s; 0: rapids only
  for (const nc::Motion& m : run.program->motions) {
    double& feed = feed_of[m.line];
    feed = std::max(feed, m.feed * run.feed_override / 60);
  }
  std::size_t missing = 0;
  std::vector<double> shares;  // of its feed, what was seen of a line
  for (const LoggedLine& l : run.log) {
    const auto found = feed_of.find(l.line);
    missing += found == feed_of.end() ? 1 : 0;
    if (found == feed_of.end() || !(found->second > 0) || !(l.top_speed > 0)) continue;
    shares.push_back(l.top_speed / found->second);
  }
  if (2 * missing > run.log.size())
    diagnostics.warning("runs-log-lines", {file, 0, 0, 0},
                        fmt::format("{} of its {} passages are of lines on which {} moves nothing",
                                    missing, run.log.size(), run.name),
                        "is it this program's log? lines are the file's, counted from 1");
  constexpr std::size_t enough = 10;  // choice
  if (shares.size() < enough) return;
  std::sort(shares.begin(), shares.end());
  // Some line comes near its feed; most do not go beyond it.
  const double most = shares[shares.size() - 1 - shares.size() / 50],
               median = shares[shares.size() / 2];
  if (most > 0.2 && median < 3) return;
  diagnostics.warning("runs-log-speed", {file, 0, 0, 0},
                      fmt::format("its speeds are {:.2g} of the feeds of {} at the median, {:.2g} "
                                  "at most",
                                  median, run.name, most),
                      "speed_mm_min is in mm/min; take the column out if it is something else");
}

}  // namespace proveout::after
