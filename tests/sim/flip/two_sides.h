// Jobs whose outline is cut half from each side round a convex polygon: what the step must be, and
// which placement must win, follows from the polygon alone.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include "sim/pipeline/dry_run.h"

namespace proveout::two_sides {

using Vec2 = Eigen::Vector2d;
using Polygon = std::vector<Vec2>;  // mm, counter-clockwise, from the middle of the blank

// Three square corners and one cut off: no turn but the declared one maps it to itself.
inline Polygon one_corner_off() { return {{-20, -12}, {20, -12}, {20, 4}, {12, 12}, {-20, 12}}; }
inline Polygon rectangle() { return {{-20, -12}, {20, -12}, {20, 12}, {-20, 12}}; }

// The path of a tool's axis round it: each side moved out by r, corners mitred.
inline Polygon path_round(const Polygon& outline, double r) {
  Polygon out;
  const std::size_t n = outline.size();
  for (std::size_t i = 0; i < n; ++i) {
    const Vec2 before = (outline[i] - outline[(i + n - 1) % n]).normalized();
    const Vec2 after = (outline[(i + 1) % n] - outline[i]).normalized();
    const Vec2 m(before.y(), -before.x()), k(after.y(), -after.x());
    out.push_back(outline[i] + r * (m + k) / (1 + m.dot(k)));
  }
  return out;
}

inline std::string program(const Polygon& path, double depth) {
  std::string out = "G21 G90\nT1 M6\nS18000 M3\n";
  out +=
      fmt::format("G0 X{:.5f} Y{:.5f} Z5.0\nG1 Z{:.5f} F300\n", path[0].x(), path[0].y(), -depth);
  for (std::size_t i = 1; i <= path.size(); ++i)
    out +=
        fmt::format("X{:.5f} Y{:.5f} F500\n", path[i % path.size()].x(), path[i % path.size()].y());
  return out + "G0 Z5.0\nM30\n";
}

// An ASCII STL of the prism over a convex polygon, 20 high, in stock coordinates.
inline std::string prism(const Polygon& outline) {
  std::string out = "solid part\n";
  const auto corner = [&](std::size_t i, double z) {
    const Vec2& p = outline[i % outline.size()];
    return Vec3(p.x() + 30, p.y() + 20, z);
  };
  const auto triangle = [&](const Vec3& a, const Vec3& b, const Vec3& c) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const Vec3& v : {a, b, c})
      out += fmt::format("vertex {:.9g} {:.9g} {:.9g}\n", v.x(), v.y(), v.z());
    out += "endloop\nendfacet\n";
  };
  for (std::size_t i = 0; i < outline.size(); ++i) {
    triangle(corner(i, 0), corner(i + 1, 0), corner(i + 1, 20));
    triangle(corner(i, 0), corner(i + 1, 20), corner(i, 20));
    if (i + 2 > outline.size() || i == 0) continue;
    triangle(corner(0, 20), corner(i, 20), corner(i + 1, 20));
    triangle(corner(0, 0), corner(i + 1, 0), corner(i, 0));
  }
  return out + "endsolid part\n";
}

struct Sides {
  Polygon outline = one_corner_off();
  std::function<Vec2(const Vec2&)> warp_a = [](const Vec2& p) { return p; };  // machine x, y
  std::function<Vec2(const Vec2&)> warp_b = [](const Vec2& p) { return p; };
  double depth_a = 11, depth_b = 9.5;  // of a blank 20 thick
  std::string turn = "{ about = \"y\", degrees = 180 }";
  std::string zero = "zero = { x = \"centre\", y = \"centre\", z = \"top\" }\n";
  std::string zero_b;  // empty: as zero
  std::string more_a, more_b;
  std::string part_stl;  // empty: no part
  std::string supports;  // tables of the part's
  double voxel = 0.25;
  int threads = 2;
};

// Side B's program is made for a blank turned about y, zeroed on its middle.
inline run::JobResult run(const Sides& s) {
  std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
  const std::filesystem::path folder = ::mkdtemp(name.data());
  Polygon a = path_round(s.outline, 3), b = a;
  for (Vec2& p : a) p = s.warp_a(p);
  for (Vec2& p : b) p = s.warp_b(Vec2(-p.x(), p.y()));
  std::ofstream(folder / "a.nc") << program(a, s.depth_a);
  std::ofstream(folder / "b.nc") << program(b, s.depth_b);
  if (!s.part_stl.empty()) std::ofstream(folder / "part.stl") << s.part_stl;
  std::ofstream(folder / "job.toml")
      << fmt::format("[simulation]\nvoxel = {}\nthreads = {}\n[stock]\nsize = [60, 40, 20]\n",
                     s.voxel, s.threads)
      << (s.part_stl.empty() ? "" : "[part]\nmesh = \"part.stl\"\n" + s.supports)
      << "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 20\n"
         "stickout = 30\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
      << s.zero << s.more_a << "[[setups]]\nname = \"B\"\nprogram = \"b.nc\"\nturn = [" << s.turn
      << "]\n"
      << (s.zero_b.empty() ? s.zero : s.zero_b) << s.more_b;
  Diagnostics diagnostics;
  const auto read = job::read_job(folder / "job.toml", diagnostics);
  EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  auto result = pipeline::dry_run(*read, {}, diagnostics);
  EXPECT_TRUE(result) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  std::filesystem::remove_all(folder);
  return std::move(*result);
}

}  // namespace proveout::two_sides
