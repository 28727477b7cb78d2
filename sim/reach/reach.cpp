#include "sim/reach/reach.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "parser/job/tool_shape.h"
#include "sim/reach/inside_radius.h"
#include "sim/reach/map_step.h"
#include "sim/reach/part_heights.h"
#include "sim/setup/pose.h"
#include "sim/solid/tool_body.h"

namespace proveout::reach {
namespace {

using Vec2 = Eigen::Vector2d;

// A small patch of the part's surface, in stock coordinates or turned into a setup's axes.
struct Patch {
  Vec3 at, outward;
  double area = 0;
  Vec3 slope;  // outward of the rounding its facets stand for, unit; on a plane the same
};

// A face of the part that is the blank's own needs no tool. Of a blank with a mesh of its own
// nothing is told.
bool blanks_own(const job::Stock& blank, const Patch& patch) {
  constexpr double same_mm = 1e-3, square = 0.9999;
  if (!blank.mesh.empty() || !(blank.size.array() > 0).all()) return false;
  for (int a = 0; a < 3; ++a) {
    if (patch.at[a] < -same_mm || patch.at[a] > blank.size[a] + same_mm) return false;
  }
  for (int a = 0; a < 3; ++a) {
    if (patch.outward[a] > square && std::abs(patch.at[a] - blank.size[a]) < same_mm) return true;
    if (patch.outward[a] < -square && std::abs(patch.at[a]) < same_mm) return true;
  }
  return false;
}

// Outward directions at the corners of every triangle: of the facets round the corner, by their
// angles there, those that turn less from it than a sharp edge does.
std::vector<std::array<Vec3, 3>> rounded(const mesh::Mesh& mesh) {
  struct Facet {
    Vec3 outward;
    double angle;
  };
  std::vector<std::vector<Facet>> round(mesh.vertices.size());
  std::vector<Vec3> outward(mesh.triangles.size(), Vec3::Zero());
  for (std::size_t n = 0; n < mesh.triangles.size(); ++n) {
    const auto& t = mesh.triangles[n];
    const Vec3 cross = (mesh.vertices[t[1]] - mesh.vertices[t[0]])
                           .cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]);
    if (!(cross.norm() > 0)) continue;
    outward[n] = cross.normalized();
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 a = mesh.vertices[t[(k + 1) % 3]] - mesh.vertices[t[k]],
                 b = mesh.vertices[t[(k + 2) % 3]] - mesh.vertices[t[k]];
      round[t[k]].push_back({outward[n], std::atan2(a.cross(b).norm(), a.dot(b))});
    }
  }
  const double soft = std::cos(sharp_turn);
  std::vector<std::array<Vec3, 3>> out(mesh.triangles.size());
  for (std::size_t n = 0; n < mesh.triangles.size(); ++n) {
    for (std::size_t k = 0; k < 3; ++k) {
      Vec3 sum = Vec3::Zero();
      for (const Facet& f : round[mesh.triangles[n][k]]) {
        if (f.outward.dot(outward[n]) > soft) sum += f.angle * f.outward;
      }
      out[n][k] = sum.norm() > 0 ? Vec3(sum.normalized()) : outward[n];
    }
  }
  return out;
}

std::vector<Patch> patches_of(const mesh::Mesh& mesh, double spacing) {
  const auto slopes = rounded(mesh);
  const auto corner = [&](std::size_t n, std::size_t k) -> const Vec3& {
    return mesh.vertices[mesh.triangles[n][k]];
  };
  const auto cross_of = [&](std::size_t n) {
    return Vec3((corner(n, 1) - corner(n, 0)).cross(corner(n, 2) - corner(n, 0)));
  };
  // Cut along both sides from a corner; the halves of each cell are the pieces.
  const auto cuts = [&](std::size_t n) {
    const Vec3 &a = corner(n, 0), &b = corner(n, 1), &c = corner(n, 2);
    if (!(cross_of(n).norm() > 0)) return 0;
    return std::clamp(static_cast<int>(std::ceil(
                          std::max({(b - a).norm(), (c - a).norm(), (c - b).norm()}) / spacing)),
                      1, 400);
  };
  std::vector<std::size_t> first(mesh.triangles.size() + 1, 0);
  for (std::size_t n = 0; n < mesh.triangles.size(); ++n) {
    const auto k = static_cast<std::size_t>(cuts(n));
    first[n + 1] = first[n] + k * k;
  }
  std::vector<Patch> out(first.back());
  tbb::parallel_for(std::size_t{0}, mesh.triangles.size(), [&](std::size_t n) {
    const Vec3 &a = corner(n, 0), &b = corner(n, 1), &c = corner(n, 2);
    const Vec3 cross = cross_of(n);
    const double twice = cross.norm();
    const int k = cuts(n);
    std::size_t next = first[n];
    const auto add = [&](double u, double v) {
      u /= k;
      v /= k;
      const Vec3 slope =
          ((1 - u - v) * slopes[n][0] + u * slopes[n][1] + v * slopes[n][2]).normalized();
      out[next++] = {a + u * (b - a) + v * (c - a), cross / twice, twice / 2 / k / k, slope};
    };
    for (int i = 0; i < k; ++i) {
      for (int j = 0; i + j < k; ++j) {
        add(i + 1 / 3.0, j + 1 / 3.0);
        if (i + j < k - 1) add(i + 2 / 3.0, j + 2 / 3.0);
      }
    }
  });
  return out;
}

// Height above the tip of the cutter's underside at a radius (mm).
double underside(const solid::Body& cutter, double radius) {
  double least = 1e9;
  for (const solid::ProfileSegment& p : cutter.meridian) {
    const double low = std::min(p.from.radius, p.to.radius),
                 high = std::max(p.from.radius, p.to.radius);
    if (radius < low - 1e-9 || radius > high + 1e-9) continue;
    if (p.is_arc) {
      const double off = radius - p.centre.radius;
      least = std::min(least, p.centre.height - std::sqrt(std::max(
                                                    0.0, p.arc_radius * p.arc_radius - off * off)));
    } else {
      const double share =
          high > low
              ? std::clamp((radius - p.from.radius) / (p.to.radius - p.from.radius), 0.0, 1.0)
              : 0;
      const double there = high > low ? p.from.height + share * (p.to.height - p.from.height)
                                      : std::min(p.from.height, p.to.height);
      least = std::min(least, there);
    }
  }
  return least;
}

struct Spot {  // of the cutter over the grid
  int i, j;
  double under;  // mm above the tip
};

// Points of a cutter's meridian, close enough that any tangent plane touches near one. Of an
// upright side the lowest counts: who touches with a higher one stands deeper.
struct MeridianPoint : solid::ProfilePoint {
  bool straight = false;  // on a cone, whose slope facets and drawings only come near to
};
std::vector<MeridianPoint> meridian_points(const solid::Body& cutter) {
  std::vector<MeridianPoint> out;
  for (const solid::ProfileSegment& p : cutter.meridian) {
    if (!p.is_arc && p.from.radius == p.to.radius) {
      out.push_back({p.from.height < p.to.height ? p.from : p.to});
      continue;
    }
    const int parts = p.is_arc ? 32 : 4;
    for (int k = 0; k <= parts; ++k) {
      const double share = static_cast<double>(k) / parts;
      MeridianPoint at;
      at.straight = !p.is_arc;
      at.radius = p.from.radius + share * (p.to.radius - p.from.radius);
      at.height = p.from.height + share * (p.to.height - p.from.height);
      if (p.is_arc) {
        const double x = at.radius - p.centre.radius, z = at.height - p.centre.height,
                     r = std::hypot(x, z);
        at.radius = p.centre.radius + p.arc_radius * x / r;
        at.height = p.centre.height + p.arc_radius * z / r;
      }
      out.push_back(at);
    }
  }
  return out;
}

// One tool over one setup's map: where its tip may go, and what then stands under its holder.
class ToolOver {
 public:
  ToolOver(const Heights& map, const job::Tool& tool)
      : map_(map),
        body_(solid::make_tool_body(tool)),
        meridian_(meridian_points(body_.flutes)),
        lowest_tip_(map.height.size()) {
    const double radius = body_.flutes.largest_radius;
    double flat_radius = 0;
    for (const auto& m : meridian_) {
      if (m.height < 1e-6) flat_radius = std::max(flat_radius, m.radius);
    }
    // A tool fits where it is half a step too large, and touches half a step too far: no finer does
    // the map tell walls.
    const double half = map.step / 2;
    const int n = static_cast<int>(std::ceil((radius + half) / map.step));
    std::vector<Spot> fits;
    for (int j = -n; j <= n; ++j) {
      for (int i = -n; i <= n; ++i) {
        const double d = std::hypot(i, j) * map.step;
        const bool middle = i == 0 && j == 0;
        if (d <= flat_radius + half) flat_.push_back({i, j, 0});
        if (d <= radius - half || middle) fits.push_back({i, j, underside(body_.flutes, d)});
      }
    }
    offset(fits);
    for (const solid::Body& shank : body_.shank) {
      if (shank.largest_radius <= radius + 1e-9) continue;
      const auto high = highest_within(map, shank.largest_radius);
      for (std::size_t k = 0; k < high.size(); ++k)
        lowest_tip_[k] = std::max(lowest_tip_[k], high[k] - shank.bottom);
    }
    holder_.assign(map.height.size(), map.floor - 1e9);
    for (const solid::Body& h : body_.holder) {
      const double above_face = h.bottom - body_.holder.front().bottom;
      const auto high = highest_within(map, h.largest_radius);
      for (std::size_t k = 0; k < high.size(); ++k)
        holder_[k] = std::max(holder_[k], high[k] - above_face);
    }
  }

  // Least stick-out (mm) with which the cutter lies against a patch; negative: it does not get
  // there. Where the surface is level any of the cutter's flat may touch it; else the cutter stands
  // where its own surface has the patch's slope, not anywhere it would come near: a cutter beside
  // an inside corner comes near the corner long after it has left the wall.
  double stickout_for(const Patch& p) const {
    const double level = std::hypot(p.slope.x(), p.slope.y());
    const Vec2 place(p.at.x(), p.at.y());
    double least = -1;
    if (level < level_floor) {
      const int i = static_cast<int>(std::lround((place.x() - map_.x0) / map_.step)),
                j = static_cast<int>(std::lround((place.y() - map_.y0) / map_.step));
      for (const Spot& s : flat_) try_point(i + s.i, j + s.j, p.at.z(), least);
      return least;
    }
    const Vec2 away = Vec2(p.slope.x(), p.slope.y()) / level;
    const double up = std::max(0.0, p.slope.z());
    double furthest = -1e9;
    for (const auto& m : meridian_) furthest = std::max(furthest, m.radius * level - m.height * up);
    for (const auto& m : meridian_) {
      const double near = m.straight ? map_.step / 2 : touching;
      if (m.radius * level - m.height * up < furthest - near) continue;
      // A wall stands up to a step nearer in the map than it is; in a gap as wide as the cutter
      // there is no room to stand off it.
      for (const double off : {0.75, 0.0})
        try_at(place + (m.radius + off * map_.step) * away, p.at.z() - m.height, least);
    }
    return least;
  }

 private:
  static constexpr double level_floor = 0.02;  // sine of the slope up to which a floor is level
  static constexpr double touching = 0.002;    // mm

  // The cutter's axis at a place, its tip at a height: the stick-out, where it fits and it is less.
  void try_at(const Vec2& axis, double tip, double& least) const {
    const double u = (axis.x() - map_.x0) / map_.step, v = (axis.y() - map_.y0) / map_.step;
    const int i0 = static_cast<int>(std::floor(u)), j0 = static_cast<int>(std::floor(v));
    for (int k = 0; k < 4; ++k) {
      const int i = i0 + (k & 1), j = j0 + (k >> 1);
      if (std::hypot(i - u, j - v) <= 0.71) try_point(i, j, tip, least);
    }
  }
  void try_point(int i, int j, double tip, double& least) const {
    if (i < 0 || j < 0 || i >= map_.columns || j >= map_.rows) return;
    const std::size_t at = map_.index(i, j);
    if (lowest_tip_[at] > tip + map_.step / 2) return;
    const double need = std::max(0.0, holder_[at] - std::max(lowest_tip_[at], tip));
    if (least < 0 || need < least) least = need;
  }

  void offset(const std::vector<Spot>& fits) {
    tbb::parallel_for(0, map_.rows, [&](int j) {
      for (int i = 0; i < map_.columns; ++i) {
        double tip = map_.floor;
        for (const Spot& s : fits) tip = std::max(tip, map_.at(i + s.i, j + s.j) - s.under);
        lowest_tip_[map_.index(i, j)] = tip;
      }
    });
  }

  const Heights& map_;
  solid::ToolBody body_;
  std::vector<MeridianPoint> meridian_;
  std::vector<Spot> flat_;          // where its underside is level with its tip
  std::vector<double> lowest_tip_;  // mm
  std::vector<double> holder_;      // mm: the holder's face may not go below this
};

struct Cell {
  int i = 0, j = 0;
  bool seen = false;
};

// The grid point in the open beside a patch, and whether the patch lies open from above.
Cell open_beside(const Heights& map, const Patch& p) {
  Cell cell;
  if (p.outward.z() < -1e-3) return cell;
  const double level = std::hypot(p.outward.x(), p.outward.y());
  Vec3 q = p.at;
  if (level > 1e-6) {
    q.x() += 1.5 * map.step * p.outward.x() / level;
    q.y() += 1.5 * map.step * p.outward.y() / level;
  }
  const int i0 = static_cast<int>(std::floor((q.x() - map.x0) / map.step));
  const int j0 = static_cast<int>(std::floor((q.y() - map.y0) / map.step));
  double least = 1e9;
  for (int k = 0; k < 4; ++k) {
    const int i = i0 + (k & 1), j = j0 + (k >> 1);
    if (map.at(i, j) < least) {
      least = map.at(i, j);
      cell.i = i;
      cell.j = j;
    }
  }
  cell.seen = least <= p.at.z() + map.step / 2;
  return cell;
}

// Grid points over bores of one diameter: a ring of points just outside it stands at least half a
// diameter above all of a ring just inside it.
std::vector<char> bored(const Heights& map, double diameter) {
  constexpr int around = 16;
  std::vector<char> out(map.height.size(), 0);
  const auto ring = [&](int i, int j, double radius, bool lowest) {
    double found = lowest ? 1e9 : -1e9;
    for (int k = 0; k < around; ++k) {
      const double angle = 2 * pi * k / around;
      const double h =
          map.at(i + static_cast<int>(std::lround(radius * std::cos(angle) / map.step)),
                 j + static_cast<int>(std::lround(radius * std::sin(angle) / map.step)));
      found = lowest ? std::min(found, h) : std::max(found, h);
    }
    return found;
  };
  const double r = diameter / 2;
  const int n = static_cast<int>(std::ceil((r + map.step) / map.step));
  for (int j = 0; j < map.rows; ++j) {
    for (int i = 0; i < map.columns; ++i) {
      const double inside = ring(i, j, std::max(0.0, r - 1.5 * map.step), false);
      if (ring(i, j, r + 1.5 * map.step, true) < inside + r) continue;
      for (int dj = -n; dj <= n; ++dj) {
        for (int di = -n; di <= n; ++di) {
          const int x = i + di, y = j + dj;
          if (x < 0 || y < 0 || x >= map.columns || y >= map.rows) continue;
          if (std::hypot(di, dj) * map.step <= r + map.step) out[map.index(x, y)] = 1;
        }
      }
    }
  }
  return out;
}

using job::mills;

constexpr double most_comparisons = 1e11;  // minutes of a core

double default_step(const job::Job& job, const Box3& box) {
  double smallest = 1e9;
  for (const auto& t : job.tools) {
    if (mills(t)) smallest = std::min(smallest, t.diameter);
  }
  const double finest =
      std::sqrt(box.sizes().x() * box.sizes().y() + box.sizes().y() * box.sizes().z() +
                box.sizes().z() * box.sizes().x()) /
      2000;
  return std::max({0.02, smallest < 1e9 ? smallest / 24 : 0.25, finest});
}

struct Best {  // of every patch over the tools of one setup
  Best(std::size_t patches, std::size_t count)
      : seen(patches, 0), stickouts(patches * count, -1), tools(count) {}
  double& stickout(std::size_t patch, std::size_t tool) { return stickouts[patch * tools + tool]; }
  std::span<const double> of(std::size_t patch) const {
    return std::span(stickouts).subspan(patch * tools, tools);
  }
  std::vector<char> seen;
  std::vector<double> stickouts;  // patch by patch, by tool; negative: not reached
  std::size_t tools;
};

void sum_up(const job::Job& job, const std::vector<Patch>& patches, const Best& best,
            const Eigen::Matrix3d& stock_from_machine, SetupReach& out) {
  for (std::size_t n = 0; n < patches.size(); ++n) {
    if (best.seen[n] == 0) continue;
    const double area = patches[n].area;
    out.seen_mm2 += area;
    std::size_t largest = job.tools.size();
    for (std::size_t t = 0; t < job.tools.size(); ++t) {
      const double need = best.of(n)[t];
      if (need < 0) continue;
      ToolReach& tool = out.tools[t];
      tool.reached_mm2 += area;
      if (need <= tool.stickout + 1e-9) tool.reached_as_set_mm2 += area;
      if (need > tool.stickout_needed) {
        tool.stickout_needed = need;
        tool.deepest_at = stock_from_machine * patches[n].at;
      }
      const bool better = largest == job.tools.size() ||
                          (mills(job.tools[t]) && (!mills(job.tools[largest]) ||
                                                   tool.diameter > out.tools[largest].diameter));
      if (better) largest = t;
    }
    if (largest == job.tools.size()) {
      out.too_tight_mm2 += area;
      continue;
    }
    out.reached_mm2 += area;
    out.tools[largest].largest_for_mm2 += area;
    out.tools[largest].stickout_there =
        std::max(out.tools[largest].stickout_there, best.of(n)[largest]);
  }
}

// Notes for each patch the least stick-out with which a tool touches it. only: where it counts, by
// grid point; null: everywhere.
void touch(const ToolOver& over, const Heights& map, const std::vector<char>* only,
           const std::vector<Cell>& cells, const std::vector<Patch>& patches, std::size_t tool,
           Best& best) {
  tbb::parallel_for(std::size_t{0}, patches.size(), [&](std::size_t n) {
    const Cell& c = cells[n];
    if (!c.seen) return;
    if (only != nullptr) {
      const bool beyond = c.i < 0 || c.j < 0 || c.i >= map.columns || c.j >= map.rows;
      if (beyond || (*only)[map.index(c.i, c.j)] == 0) return;
    }
    const double need = over.stickout_for(patches[n]);
    double& known = best.stickout(n, tool);
    if (need >= 0 && (known < 0 || need < known)) known = need;
  });
}

SetupReach of_setup(const job::Job& job, const job::Setup& setup, const mesh::Mesh& part,
                    double step, std::vector<Patch> patches, Best& best) {
  const Eigen::Matrix3d turn = setup::machine_from_stock_rotation(setup.turn);
  mesh::Mesh mesh = part;
  for (Vec3& v : mesh.vertices) v = turn * v;
  double widest = 0;
  for (const auto& t : job.tools) widest = std::max(widest, t.diameter);
  const Heights map = part_heights(mesh, step, widest / 2 + 3 * step);
  std::vector<Cell> cells(patches.size());
  tbb::parallel_for(std::size_t{0}, patches.size(), [&](std::size_t n) {
    patches[n].at = turn * patches[n].at;
    patches[n].outward = turn * patches[n].outward;
    patches[n].slope = turn * patches[n].slope;
    cells[n] = open_beside(map, patches[n]);
    best.seen[n] = cells[n].seen ? 1 : 0;
  });
  SetupReach out;
  out.name = setup.name;
  for (std::size_t t = 0; t < job.tools.size(); ++t) {
    const job::Tool& tool = job.tools[t];
    ToolReach named;
    named.number = tool.number;
    named.name = tool.name;
    named.diameter = tool.diameter;
    named.stickout = tool.stickout;
    out.tools.push_back(named);
    if (mills(tool)) {
      touch(ToolOver(map, tool), map, nullptr, cells, patches, t, best);
    } else {
      // The point for the end of a blind bore; square, for a bore the point runs out of.
      const std::vector<char> holes = bored(map, tool.diameter);
      job::Tool square = tool;
      square.shape = job::ToolShape::flat;
      touch(ToolOver(map, tool), map, &holes, cells, patches, t, best);
      touch(ToolOver(map, square), map, &holes, cells, patches, t, best);
    }
  }
  const auto seen = [&](const Vec3& at, const Vec3& open) {
    return open_beside(map, {at, open, 0, open}).seen;
  };
  if (const auto inside = smallest_inside_radius(mesh, seen)) {
    out.inside_corner = true;
    out.inside_radius = inside->radius;
    out.inside_radius_at = turn.transpose() * inside->at;
    for (std::size_t t = 0; t < job.tools.size(); ++t)
      out.tools[t].fits_inside_radius =
          !mills(job.tools[t]) || job.tools[t].diameter / 2 <= inside->radius + step / 2;
  }
  sum_up(job, patches, best, turn.transpose(), out);
  return out;
}

}  // namespace

Reach reach(const job::Job& job, const mesh::Mesh& part, double step, bool keep_patches) {
  Reach out;
  out.step = step > 0 ? step
                      : affordable_step(job, part, default_step(job, mesh::bounds(part)),
                                        most_comparisons);
  const std::vector<Patch> patches = patches_of(part, 2 * out.step);
  std::vector<char> seen(patches.size()), reached(patches.size());
  if (keep_patches) {
    for (const Patch& p : patches)
      out.patches.push_back({p.at, p.outward, p.area, false, false, {}});
  }
  for (const job::Setup& setup : job.setups) {
    Best best(patches.size(), job.tools.size());
    out.setups.push_back(of_setup(job, setup, part, out.step, patches, best));
    for (std::size_t n = 0; n < patches.size(); ++n) {
      if (best.seen[n] != 0) seen[n] = 1;
      if (keep_patches) {
        std::vector<double>& all = out.patches[n].stickout;
        all.insert(all.end(), best.of(n).begin(), best.of(n).end());
      }
      for (double s : best.of(n)) {
        if (s >= 0) reached[n] = 1;
      }
    }
  }
  for (std::size_t n = 0; n < patches.size(); ++n) {
    out.surface_mm2 += patches[n].area;
    const bool own_face = !reached[n] && blanks_own(job.stock, patches[n]);
    if (keep_patches) {
      out.patches[n].seen = seen[n] != 0;
      out.patches[n].own_face = own_face;
    }
    if (own_face) continue;
    if (!seen[n]) {
      if (out.undercut_mm2 == 0) out.undercut_at = patches[n].at;
      out.undercut_mm2 += patches[n].area;
    } else if (!reached[n]) {
      if (out.too_tight_mm2 == 0) out.too_tight_at = patches[n].at;
      out.too_tight_mm2 += patches[n].area;
    }
  }
  return out;
}

}  // namespace proveout::reach
