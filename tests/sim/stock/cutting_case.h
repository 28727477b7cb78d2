// Small helpers of the stock tests: a block, a tool, some motions, and what came of them.
#pragma once

#include <cmath>
#include <random>
#include <vector>

#include "parser/job/job.h"
#include "parser/nc/motion.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::stock {

inline job::Tool tool_of(job::ToolShape shape, double diameter) {
  job::Tool t;
  t.number = 1;
  t.shape = shape;
  t.diameter = diameter;
  t.flute_length = 10 * diameter;
  t.stickout = 10 * diameter;
  return t;
}

inline nc::Motion line(const Vec3& start, const Vec3& end) {
  nc::Motion m;
  m.kind = nc::PathKind::line;
  m.start = start;
  m.end = end;
  m.feed = 600;
  return m;
}

inline nc::Motion arc(const Vec3& start, const Vec3& centre, double sweep, double rise = 0,
                      nc::Plane plane = nc::Plane::xy) {
  nc::Motion m;
  m.kind = nc::PathKind::arc;
  m.start = start;
  m.centre = centre;
  m.sweep = sweep;
  m.plane = plane;
  m.feed = 600;
  const int first = plane == nc::Plane::xy ? 0 : plane == nc::Plane::yz ? 1 : 2;
  const int second = (first + 1) % 3, normal = (first + 2) % 3;
  const double u = start[first] - centre[first], v = start[second] - centre[second];
  m.end = start;
  m.end[first] = centre[first] + u * std::cos(sweep) - v * std::sin(sweep);
  m.end[second] = centre[second] + u * std::sin(sweep) + v * std::cos(sweep);
  m.end[normal] = start[normal] + rise;
  return m;
}

struct Cutting {
  Cut cut;
  Stock stock;
};

// Cuts motions, given in stock coordinates, out of a box.
inline Cutting cut_box(const Vec3& size, double voxel, const job::Tool& tool,
                       const std::vector<nc::Motion>& motions,
                       const RigidMotion& stock_from_setup = RigidMotion::Identity(),
                       int threads = 0) {
  Cutting out{{}, Stock::box(size, voxel)};
  const solid::ToolBody body = solid::make_tool_body(tool);
  const std::vector<ToolRun> uses = {{0, motions.size(), &body}};
  CutOptions options;
  options.threads = threads;
  out.cut = out.stock.cut(motions, uses, stock_from_setup, 1, options);
  return out;
}

inline double removed(const Cut& cut) {
  double sum = 0;
  for (const auto& m : cut.motions) sum += m.removed_mm3;
  return sum;
}

// Turns a motion about the stock's z at a point, and shifts it.
inline nc::Motion moved(const nc::Motion& m, double angle, const Vec3& about, const Vec3& shift) {
  const RigidMotion turn = Eigen::Translation3d(about + shift) *
                           Eigen::AngleAxisd(angle, Vec3::UnitZ()) * Eigen::Translation3d(-about);
  nc::Motion out = m;
  out.start = turn * m.start;
  out.end = turn * m.end;
  out.centre = turn * m.centre;
  return out;
}

}  // namespace proveout::stock
