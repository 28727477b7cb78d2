#include "sim/causes/setup_shift.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "parser/job/find_tool.h"

namespace proveout::causes {
namespace {

constexpr std::size_t most_samples = 6000;
constexpr double largest_shift = 12;  // mm; a wrong corner, far more, is told by the zero search

// Shifts that would put the part where parts are put: in the middle of the blank or flush with a
// face of it, along each axis.
std::vector<Vec3> places_in_blank(const job::Job& job, const mesh::Mesh& part) {
  std::vector<Vec3> out;
  if (!job.stock.mesh.empty() || part.vertices.empty()) return out;
  const Box3 box = mesh::bounds(part);
  const Vec3 room = job.stock.size - box.sizes();
  if ((room.array() < 0).any()) return out;
  for (const double x : {0.0, 0.5, 1.0}) {
    for (const double y : {0.0, 0.5, 1.0}) {
      for (const double z : {0.0, 0.5, 1.0})
        out.push_back(Vec3(x, y, z).cwiseProduct(room) - box.min());
    }
  }
  return out;
}

const job::Tool* tool_of(const run::SetupResult& setup, const job::Job& job, stock::MotionId by) {
  const nc::Program& program = *setup.source;
  return job::find_tool(job.tools, program.states[program.motions[by - setup.first_id].state].tool);
}

// Where the tool a comment names would have left a sample: its walls stand as much further in as
// its radius is smaller, with a ball end what lies below its middle too. Floors end that much
// earlier: those at the foot of a wall are left out.
void as_named(const run::SetupResult& setup, const job::Job& job,
              const std::vector<Finding>& findings, const Vec3& up, double voxel,
              std::vector<measure::SurfaceSample>& samples) {
  std::map<int, double> smaller;
  for (const Finding& f : findings) {
    if (f.detail == "tool-size-differs" && f.setup == setup.name)
      smaller.emplace(f.tool, smaller_radius(f));
  }
  if (smaller.empty()) return;
  std::vector<Vec3> walls;
  const auto along = [&](const measure::SurfaceSample& s) {
    return up.dot(s.outward.cast<double>());
  };
  for (const measure::SurfaceSample& s : samples) {
    if (std::abs(along(s)) < 0.3) walls.push_back(s.at.cast<double>());
  }
  const auto by_of = [&](const measure::SurfaceSample& s) {
    const job::Tool* tool = tool_of(setup, job, s.by);
    return tool != nullptr && smaller.contains(tool->number) ? smaller.at(tool->number) : 0.0;
  };
  std::erase_if(samples, [&](const measure::SurfaceSample& s) {
    const double by = by_of(s);
    if (by == 0 || along(s) < 0.9) return false;
    const Vec3 at = s.at.cast<double>();
    return std::any_of(walls.begin(), walls.end(), [&](const Vec3& wall) {
      const Vec3 to = wall - at;
      const double above = up.dot(to);
      return std::abs(above) < 3 * voxel && (to - above * up).norm() < std::abs(by) + voxel;
    });
  });
  for (measure::SurfaceSample& s : samples) {
    const job::Tool* tool = tool_of(setup, job, s.by);
    const Vec3 outward = s.outward.cast<double>();
    const bool ball = tool != nullptr && tool->shape == job::ToolShape::ball;
    const Vec3 way = ball ? Vec3(outward - up) : Vec3(outward - along(s) * up);
    s.at += (by_of(s) * way).cast<float>();
  }
}

// Much more of the surface lies on the part once the work is turned half round in the blank, and
// next to none inside it.
bool fits_half_round(std::vector<measure::SurfaceSample> samples, const solid::PartDistance& part,
                     const Box3& blank, const Vec3& up, double within, const ShiftFit& as_it_lies) {
  const Eigen::Matrix3d round = 2 * up * up.transpose() - Eigen::Matrix3d::Identity();
  const Vec3 middle = blank.center();
  for (measure::SurfaceSample& s : samples) {
    s.at = (round * (s.at.cast<double>() - middle) + middle).cast<float>();
    s.outward = (round * s.outward.cast<double>()).cast<float>();
  }
  const ShiftFit turned = fit_shift(samples, part, {}, within, largest_shift);
  return turned.on_after > std::max(0.5, as_it_lies.on_before + 0.1) &&
         turned.inside_after <= std::max(0.01, 0.1 * as_it_lies.inside_before);
}

}  // namespace

double smaller_radius(const Finding& f) {
  const double in_inches = f.value * mm_per_inch;
  const auto off = [&](double mm) { return std::abs(std::log(mm / f.limit)); };
  return (f.limit - (off(f.value) < off(in_inches) ? f.value : in_inches)) / 2;
}

ShiftFit shift_of(const run::SetupResult& setup, const stock::Stock& stock,
                  const solid::PartDistance& part, const job::Job& job,
                  const std::vector<Finding>& findings) {
  const auto last = setup.first_id + static_cast<stock::MotionId>(setup.cut.motions.size());
  std::vector<measure::SurfaceSample> samples = measure::surface_samples(
      stock, [&](const Vec3&, stock::MotionId by) { return by >= setup.first_id && by < last; },
      most_samples);
  std::erase_if(samples, [&](const measure::SurfaceSample& s) {
    return std::any_of(job.part->supports.begin(), job.part->supports.end(),
                       [&](const Box3& box) { return box.contains(s.at.cast<double>()); });
  });
  const Vec3 up = setup.stock_from_setup.linear().col(2);
  as_named(setup, job, findings, up, stock.voxel(), samples);
  const double within = std::max(
      {0.03, 0.3 * stock.voxel(), std::min(job.part->gouge_tolerance, job.part->excess_tolerance)});
  // What no blank of that size has room for says nothing of a part that reaches out of it.
  const Box3 blank(Vec3::Zero(), job.stock.size),
      wide(blank.min().array() - within, blank.max().array() + within);
  const bool holds = job.stock.mesh.empty() && wide.contains(mesh::bounds(part.mesh()));
  ShiftFit fit = fit_shift(samples, part, places_in_blank(job, part.mesh()), within, largest_shift,
                           holds ? &blank : nullptr);
  tell_levels(samples, part, up, largest_shift, fit);
  if (!fit.found && fit.on_before < 0.95)
    fit.half_round = fits_half_round(samples, part, blank, up, within, fit);
  tell_walls_off(
      samples, part, up, largest_shift,
      [&](const measure::SurfaceSample& s) {
        const job::Tool* tool = tool_of(setup, job, s.by);
        return tool == nullptr ? largest_shift : tool->diameter / 2;
      },
      fit);
  return fit;
}

std::string list_of(const Vec3& v) {
  const auto settled = [](double value) { return std::round(100 * value) / 100 + 0.0; };
  return fmt::format("[{:.2f}, {:.2f}, {:.2f}]", settled(v.x()), settled(v.y()), settled(v.z()));
}

std::string in_words(const ShiftFit& fit, const run::SetupResult& setup) {
  if (!fit.found) return "";
  return "moved by " + list_of(-(setup.stock_from_setup.linear().transpose() * fit.shift));
}

}  // namespace proveout::causes
