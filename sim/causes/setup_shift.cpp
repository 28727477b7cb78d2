#include "sim/causes/setup_shift.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>

#include "parser/job/find_tool.h"

namespace proveout::causes {
namespace {

constexpr std::size_t most_samples = 6000, wanted_samples = 3000;
constexpr double most_denser = 12;
constexpr std::size_t most_floors = 500;
// mm below what the work lies on: as deep as a cut that goes through is posted (choice).
constexpr double deepest_through = 1;
// Of the surface: what more of it must lie on the part for a tool's size to be told by it (choice).
constexpr double least_told = 0.03;
// A part that lies elsewhere is looked for where no more of the surface lies on it (choice).
constexpr double most_on = 0.5;
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

// What a setup made of the stock's surface, outside supports, and where its lowest place lies.
struct OwnSurface {
  std::vector<measure::SurfaceSample> samples;
  double lowest = 0;  // mm along up, of all that is left
};

OwnSurface own_surface(const run::SetupResult& setup, const stock::Stock& stock,
                       const job::Job& job, const Vec3& up) {
  const auto last = setup.first_id + static_cast<stock::MotionId>(setup.cut.motions.size());
  const auto own = [&](stock::MotionId by) { return by >= setup.first_id && by < last; };
  OwnSurface out;
  out.lowest = 1e30;
  out.samples = measure::surface_samples(
      stock, [](const Vec3&, stock::MotionId) { return true; }, most_samples);
  for (const measure::SurfaceSample& s : out.samples)
    out.lowest = std::min(out.lowest, up.dot(s.at.cast<double>()));
  std::erase_if(out.samples, [&](const measure::SurfaceSample& s) { return !own(s.by); });
  // Of a setup that made little of all that can be seen, more places.
  if (!out.samples.empty() && out.samples.size() < wanted_samples) {
    const double denser = std::min(
        most_denser, static_cast<double>(wanted_samples) / static_cast<double>(out.samples.size()));
    out.samples = measure::surface_samples(
        stock, [&](const Vec3&, stock::MotionId by) { return own(by); },
        static_cast<std::size_t>(denser * most_samples));
  }
  std::erase_if(out.samples, [&](const measure::SurfaceSample& s) {
    return std::any_of(job.part->supports.begin(), job.part->supports.end(),
                       [&](const Box3& box) { return box.contains(s.at.cast<double>()); });
  });
  return out;
}

// The shifts along the tool's axis, either way, that lay most floors on the part: one small floor
// among walls is what tells a height.
std::vector<Vec3> heights(const std::vector<measure::SurfaceSample>& samples,
                          const solid::PartDistance& part, const Vec3& up, double within) {
  std::vector<Vec3> floors, out;
  for (const measure::SurfaceSample& s : samples) {
    if (up.dot(s.outward.cast<double>()) > 0.9) floors.push_back(s.at.cast<double>());
  }
  const std::size_t every = floors.size() / most_floors + 1;
  const double step = std::max(within, 0.05);
  for (const double way : {-1.0, 1.0}) {
    double best = 0, most = 0;
    for (double by = step; by <= largest_shift; by += step) {
      double on = 0;
      for (std::size_t i = 0; i < floors.size(); i += every)
        on += std::abs(part.at(floors[i] - way * by * up, 2 * within)) <= within ? 1 : 0;
      if (on <= most) continue;
      most = on;
      best = way * by;
    }
    if (!(most > 0)) continue;
    double off = 0;  // of those it lays on the part, in the mean
    for (std::size_t i = 0; i < floors.size(); i += every) {
      const double d = part.at(floors[i] - best * up, 2 * within);
      if (std::abs(d) <= within) off += d / most;
    }
    out.push_back((best + off) * up);
  }
  return out;
}

// mm, setup frame: how low the tip is fed, drills left out; none: nothing.
std::optional<double> lowest_feed(const run::SetupResult& setup, const job::Job& job) {
  std::optional<double> out;
  for (const nc::Motion& m : setup.source->motions) {
    if (m.kind == nc::PathKind::rapid) continue;
    const job::Tool* tool = job::find_tool(job.tools, setup.source->states[m.state].tool);
    if (tool != nullptr && tool->shape == job::ToolShape::drill) continue;
    out = std::min({out.value_or(m.end.z()), m.start.z(), m.end.z()});
  }
  return out;
}

// A height that one level alone tells is not the zero's where cuts that go through the work as
// posted would go through no more once it is moved, or far into what the work lies on.
bool through_cuts_deny(const run::SetupResult& setup, const job::Job& job, double lowest,
                       const Vec3& up, const Vec3& shift) {
  const std::optional<double> feed = lowest_feed(setup, job);
  if (!feed) return false;
  const double now = *feed + up.dot(setup.stock_from_setup.translation()) - lowest;
  const double moved = now - up.dot(shift);
  const auto through = [](double z) { return z <= 0 && z >= -deepest_through; };
  return (through(now) && !through(moved)) || (moved < -deepest_through && moved < now);
}

// mm, by tool: by how much its radius is smaller in the comment of this setup's program.
std::map<int, double> smaller_by_comment(const run::SetupResult& setup,
                                         const std::vector<Finding>& findings) {
  std::map<int, double> out;
  for (const Finding& f : findings) {
    if (f.detail == "tool-size-differs" && f.setup == setup.name)
      out.emplace(f.tool, smaller_radius(f));
  }
  return out;
}

// Where the tool a comment names would have left a sample: its walls stand as much further in as
// its radius is smaller, with a ball end what lies below its middle too. Floors end that much
// earlier: those at the foot of a wall are left out. by: mm, > or < 0.
std::vector<measure::SurfaceSample> as_named(std::vector<measure::SurfaceSample> samples,
                                             const run::SetupResult& setup, const job::Job& job,
                                             int number, double by, const Vec3& up, double voxel) {
  std::vector<Vec3> walls;
  const auto along = [&](const measure::SurfaceSample& s) {
    return up.dot(s.outward.cast<double>());
  };
  for (const measure::SurfaceSample& s : samples) {
    if (std::abs(along(s)) < 0.3) walls.push_back(s.at.cast<double>());
  }
  const auto of_tool = [&](const measure::SurfaceSample& s) {
    const job::Tool* tool = tool_of(setup, job, s.by);
    return tool != nullptr && tool->number == number;
  };
  std::erase_if(samples, [&](const measure::SurfaceSample& s) {
    if (!of_tool(s) || along(s) < 0.9) return false;
    const Vec3 at = s.at.cast<double>();
    return std::any_of(walls.begin(), walls.end(), [&](const Vec3& wall) {
      const Vec3 to = wall - at;
      const double above = up.dot(to);
      return std::abs(above) < 3 * voxel && (to - above * up).norm() < std::abs(by) + voxel;
    });
  });
  const job::Tool* tool = job::find_tool(job.tools, number);
  const bool ball = tool != nullptr && tool->shape == job::ToolShape::ball;
  for (measure::SurfaceSample& s : samples) {
    if (!of_tool(s)) continue;
    const Vec3 outward = s.outward.cast<double>();
    const Vec3 way = ball ? Vec3(outward - up) : Vec3(outward - along(s) * up);
    s.at += (by * way).cast<float>();
  }
  return samples;
}

// Much more of the surface lies on the part once the work is turned half round in the blank than
// by any shift, next to none inside it, and it need not be moved besides: turned and moved, a plain
// pocket fits another.
bool fits_half_round(std::vector<measure::SurfaceSample> samples, const solid::PartDistance& part,
                     const Box3& blank, const Vec3& up, double within, const ShiftFit& as_it_lies) {
  const Eigen::Matrix3d round = 2 * up * up.transpose() - Eigen::Matrix3d::Identity();
  const Vec3 middle = blank.center();
  for (measure::SurfaceSample& s : samples) {
    s.at = (round * (s.at.cast<double>() - middle) + middle).cast<float>();
    s.outward = (round * s.outward.cast<double>()).cast<float>();
  }
  const ShiftFit turned = fit_in_place(samples, part, within, largest_shift);
  return turned.shift.norm() <= 3 * within &&
         turned.on_after > std::max(0.5, as_it_lies.on_after + 0.1) &&
         turned.inside_after <= std::max(0.01, 0.1 * as_it_lies.inside_before);
}

// Of the samples, moved back by a shift, that lie as near to the part as the tools' radii, the
// share on it; 0 where none does.
double share_near(const std::vector<measure::SurfaceSample>& samples,
                  const solid::PartDistance& part, const Vec3& shift, double within,
                  const std::function<double(const measure::SurfaceSample&)>& radius_of) {
  double near = 0, on = 0;
  for (const measure::SurfaceSample& s : samples) {
    const double d = std::abs(part.at(s.at.cast<double>() - shift, 2 * largest_shift));
    near += d < std::max(radius_of(s), 2 * within) ? 1 : 0;
    on += d <= within ? 1 : 0;
  }
  return near > 0 ? on / near : 0;
}

}  // namespace

double smaller_radius(const Finding& f) {
  const double in_inches = f.value * mm_per_inch;
  const auto off = [&](double mm) { return std::abs(std::log(mm / f.limit)); };
  return (f.limit - (off(f.value) < off(in_inches) ? f.value : in_inches)) / 2;
}

ShiftFit shift_of(const run::SetupResult& setup, const stock::Stock& stock,
                  const solid::PartDistance& part, const job::Job& job,
                  const std::vector<Finding>& findings, bool part_too) {
  const Vec3 up = setup.stock_from_setup.linear().col(2);
  auto [samples, lowest] = own_surface(setup, stock, job, up);
  const double within = std::max(
      {0.03, 0.3 * stock.voxel(), std::min(job.part->gouge_tolerance, job.part->excess_tolerance)});
  // What no blank of that size has room for says nothing of a part that reaches out of it.
  const Box3 blank(Vec3::Zero(), job.stock.size),
      wide(blank.min().array() - within, blank.max().array() + within);
  const bool holds = job.stock.mesh.empty() && wide.contains(mesh::bounds(part.mesh()));
  std::vector<Vec3> starts = places_in_blank(job, part.mesh());
  for (const Vec3& height : heights(samples, part, up, within)) starts.push_back(height);
  const auto fitted = [&](const std::vector<measure::SurfaceSample>& of) {
    ShiftFit out = fit_shift(of, part, starts, within, largest_shift, holds ? &blank : nullptr);
    if (out.found || !part_too || !holds || out.on_before > most_on) return out;
    const ShiftFit moved = fit_part_shift(of, part, starts, within, largest_shift, blank);
    return moved.found && !moved.by_little ? moved : out;
  };
  ShiftFit fit = fitted(samples);
  // The comment's size or the job's: whichever the surface lies on the part with. Where neither
  // does better the comment's, for it is what the program was posted for, and both are told.
  for (const auto& [number, by] : smaller_by_comment(setup, findings)) {
    auto named = as_named(samples, setup, job, number, by, up, stock.voxel());
    ShiftFit other = fitted(named);
    const double gain = other.on_after - fit.on_after;
    other.declared_fits = fit.declared_fits;
    if (gain < -least_told) {
      fit.declared_fits.insert(number);
      continue;
    }
    if (gain <= least_told && fit.found && (fit.shift - other.shift).norm() > within)
      other.as_declared = fit.shift;
    fit = other;
    samples = std::move(named);
  }
  tell_levels(samples, part, up, fit);
  if (fit.found && fit.one_level && through_cuts_deny(setup, job, lowest, up, fit.shift))
    fit.found = fit.one_level = false;
  if (!fit.found && fit.on_before < 0.95)
    fit.half_round = fits_half_round(samples, part, blank, up, within, fit);
  const auto radius_of = [&](const measure::SurfaceSample& s) {
    const job::Tool* tool = tool_of(setup, job, s.by);
    return tool == nullptr ? largest_shift : tool->diameter / 2;
  };
  tell_walls_off(samples, part, up, largest_shift, radius_of, fit);
  fit.near_on = share_near(samples, part, Vec3::Zero(), within, radius_of);
  return fit;
}

std::string list_of(const Vec3& v) {
  const auto settled = [](double value) { return std::round(100 * value) / 100 + 0.0; };
  return fmt::format("[{:.2f}, {:.2f}, {:.2f}]", settled(v.x()), settled(v.y()), settled(v.z()));
}

std::string in_words(const Vec3& shift, double tell) {
  std::vector<std::string> parts;
  for (int axis = 0; axis < 3; ++axis) {
    if (std::abs(shift[axis]) >= tell)
      parts.push_back(fmt::format("{:.2f} mm in {}", std::abs(shift[axis]), "xyz"[axis]));
  }
  if (parts.empty()) return fmt::format("{:.2f} mm", shift.norm());
  std::string out = parts.front();
  for (std::size_t i = 1; i < parts.size(); ++i)
    out += (i + 1 == parts.size() ? " and " : ", ") + parts[i];
  return out;
}

std::string in_words(const ShiftFit& fit, const run::SetupResult& setup) {
  if (!fit.found) return "";
  return "moved by " + list_of(-(setup.stock_from_setup.linear().transpose() * fit.shift));
}

}  // namespace proveout::causes
