#include "sim/checks/straightened.h"

#include <algorithm>

namespace proveout::checks {
namespace {

double from_chord(const Vec3& p, const Vec3& a, const Vec3& b) {
  const Vec3 along = b - a;
  const double squared = along.squaredNorm();
  const double t = squared > 0 ? std::clamp((p - a).dot(along) / squared, 0.0, 1.0) : 0.0;
  return (p - a - t * along).norm();
}

}  // namespace

nc::Program straightened(const nc::Program& program, double tolerance) {
  constexpr std::size_t most_joined = 64;
  nc::Program out = program;
  out.motions.clear();
  const auto& in = program.motions;
  const auto joins = [&](std::size_t first, std::size_t next) {
    return in[next].kind == nc::PathKind::line &&
           program.states[in[next].state].tool == program.states[in[first].state].tool;
  };
  for (std::size_t i = 0; i < in.size();) {
    std::size_t last = i;
    if (in[i].kind == nc::PathKind::line) {
      for (std::size_t n = i + 1; n < in.size() && n - i < most_joined && joins(i, n); ++n) {
        bool near = true;
        for (std::size_t k = i; k < n && near; ++k)
          near = from_chord(in[k].end, in[i].start, in[n].end) <= tolerance;
        if (!near) break;
        last = n;
      }
    }
    out.motions.push_back(in[i]);
    out.motions.back().end = in[last].end;
    i = last + 1;
  }
  return out;
}

}  // namespace proveout::checks
