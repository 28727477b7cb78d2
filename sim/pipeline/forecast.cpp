#include "sim/pipeline/forecast.h"

#include <sys/resource.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <string>
#include <utility>

namespace proveout::pipeline {
namespace {

double area(const Box3& box) {
  const Vec3 s = box.sizes();
  return 2 * (s.x() * s.y() + s.y() * s.z() + s.z() * s.x());
}

// Measured on this engine; see docs/engine.md for the runs.
constexpr double base_mb = 90;                  // program, libraries, page
constexpr double bytes_per_surface_voxel = 63;  // distances: blocks of 8 voxels about a face
constexpr double bytes_per_milled_voxel = 46;   // the motion that made each
constexpr double bytes_per_motion = 700;
constexpr double seconds_per_motion = 20e-6;        // of one core
constexpr double seconds_per_swept_voxel = 30e-9;   // of one core, of the swept footprint
constexpr double seconds_per_surface_voxel = 3e-6;  // measuring, comparing, the page

struct Work {
  double motions = 0;
  double swept_mm2 = 0;   // footprints of all motions
  double milled_mm2 = 0;  // surface that motions make, at most
};

Work work_of(const ForecastInput& in) {
  Work work;
  for (const auto& program : in.programs) {
    double swept = 0;
    for (const nc::Motion& m : program->motions) {
      const auto body = in.bodies.find(program->states[m.state].tool);
      if (body == in.bodies.end()) continue;
      const double d = 2 * body->second.flutes.largest_radius;
      if (m.kind != nc::PathKind::rapid) swept += (nc::length(m) + d) * d;
    }
    work.motions += static_cast<double>(program->motions.size());
    work.swept_mm2 += swept;
    const Vec3 s = in.blank.sizes();
    work.milled_mm2 += std::min(swept, 1.5 * s.x() * s.y());
  }
  return work;
}

Forecast forecast_of(const ForecastInput& in, const Work& work) {
  const double per_mm2 = 1 / (in.voxel * in.voxel);
  const double copies =
      1 + (in.keep_stock_after_setups ? static_cast<double>(in.programs.size()) + 1 : 0);
  const double surface = area(in.blank) * bytes_per_surface_voxel;
  const double milled = work.milled_mm2 * bytes_per_milled_voxel;
  Forecast f;
  f.memory_mb =
      base_mb + ((surface + milled) * per_mm2 * copies + work.motions * bytes_per_motion) / 1e6;
  f.seconds =
      (work.motions * seconds_per_motion + work.swept_mm2 * per_mm2 * seconds_per_swept_voxel) /
      std::max(in.threads, 1);
  f.seconds += area(in.blank) * per_mm2 * seconds_per_surface_voxel;
  return f;
}

std::optional<double> number_in(const std::string& file, const std::string& before) {
  std::ifstream in(file);
  for (std::string line; std::getline(in, line);) {
    if (!line.starts_with(before)) continue;
    try {
      return std::stod(line.substr(before.size()));
    } catch (const std::exception&) {
      return std::nullopt;  // 'max': no limit
    }
  }
  return std::nullopt;
}

}  // namespace

Forecast forecast(const ForecastInput& input) { return forecast_of(input, work_of(input)); }

double rounded_up(double v) {
  const double unit = std::pow(10.0, std::floor(std::log10(v)) - 1);
  return std::ceil(v / unit - 1e-9) * unit;
}

double voxel_within(ForecastInput input, double memory_mb) {
  const Work work = work_of(input);
  while (forecast_of(input, work).memory_mb > memory_mb && input.voxel < 1e3)
    input.voxel = rounded_up(input.voxel * 1.05);
  return input.voxel;
}

std::optional<double> memory_available_mb() {
  double least = std::numeric_limits<double>::infinity();
  if (const auto kb = number_in("/proc/meminfo", "MemAvailable:")) least = *kb / 1024;
  // Control groups, the second version and the first.
  const std::string group = "/sys/fs/cgroup/";
  for (const auto& [most_in, used_in] :
       {std::pair("memory.max", "memory.current"),
        std::pair("memory/memory.limit_in_bytes", "memory/memory.usage_in_bytes")}) {
    if (const auto most = number_in(group + most_in, "")) {
      const double used = number_in(group + used_in, "").value_or(0);
      least = std::min(least, (*most - used) / 1048576);
    }
  }
  rlimit limit{};
  if (::getrlimit(RLIMIT_AS, &limit) == 0 && limit.rlim_cur != RLIM_INFINITY)
    least = std::min(least, static_cast<double>(limit.rlim_cur) / 1048576);
  if (!std::isfinite(least)) return std::nullopt;
  return std::max(least, 0.0);
}

}  // namespace proveout::pipeline
