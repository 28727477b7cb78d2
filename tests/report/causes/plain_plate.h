// A plain plate with one pocket, cut out of a sheet by an outline that goes through: next to
// nothing of what is milled tells a height. Invented, for planted shifts of the zero.
#pragma once

#include <Eigen/Geometry>
#include <utility>

#include "parser/base/geometry.h"
#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {

// A round plate of MDF with a pocket in its middle, and maybe a smaller one in that one's floor,
// cut out of a square sheet as thick as it is; four tabs. Sheet, mesh and tabs lie in the stock as
// they must for the program to find them upright once the job has turned them.
struct Plate {
  double radius = 40, high = 12;                  // mm
  double pocket_x = 16, pocket_y = 12, deep = 3;  // mm
  double inner_deep = 0;                          // mm, below the pocket's floor; 0: none
  Vec3 off = Vec3::Zero();       // mm, setup's axes: the declared zero off the posted one
  Vec3 part_off = Vec3::Zero();  // mm, setup's axes: the declared part off where it is cut
  bool by_faces = false;         // the zero by face and middles, not by a point
  std::vector<std::pair<char, int>> turn = {};  // axis and degrees, in quarter turns
  // The program's own: posted so much deeper, longer to +x, with another cutter.
  double posted_deeper = 0, posted_longer = 0, posted_diameter = 6;
  std::string comment = "T1 FLAT";

  static constexpr double margin = 12, tab_half = 4, tab_top = 3;

  Vec3 sheet() const {  // as it lies on the machine
    return {2 * (radius + margin), 2 * (radius + margin), high};
  }
  // mm: the posted zero from the middle of the sheet's top: no corner, middle or face of it.
  static Vec3 posted() { return {3, -2, -1.3}; }
  Outline rim() const { return Outline::circle(0, 0, radius); }
  Outline pocket() const { return {0, 0, pocket_x / 2, pocket_y / 2, {4, 4, 4, 4}}; }
  Outline inner() const { return Outline::circle(0, 0, 4.5); }
  static Outline from_zero(Outline o) {
    o.x -= posted().x();
    o.y -= posted().y();
    return o;
  }

  Eigen::Matrix3d machine_from_stock() const {
    Eigen::Matrix3d out = Eigen::Matrix3d::Identity();
    for (const auto& [axis, degrees] : turn) {
      const Vec3 about = Vec3::Unit(axis - 'x');
      out = Eigen::AngleAxisd(degrees * M_PI / 180, about).toRotationMatrix() * out;
    }
    return out.array().round().matrix();
  }
  Vec3 stock_size() const { return (machine_from_stock().transpose() * sheet()).cwiseAbs(); }
  // From the middle of the sheet's top as it lies on the machine.
  Vec3 in_stock(const Vec3& place) const {
    return machine_from_stock().transpose() * (place + Vec3(0, 0, high / 2)) + stock_size() / 2;
  }

  std::string mesh() const {
    std::vector<Level> levels{{rim(), -high}, {rim(), 0}, {pocket(), 0}, {pocket(), -deep}};
    if (inner_deep > 0) {
      levels.push_back({inner(), -deep});
      levels.push_back({inner(), -deep - inner_deep});
    }
    std::string out = "solid part\n";
    const auto vertex = [&](const Level& l, int k) {
      const auto [x, y] = l.at.point(k % Outline::points);
      const Vec3 p = in_stock({x, y, l.z});
      return fmt::format("vertex {:.6f} {:.6f} {:.6f}\n", p.x(), p.y(), p.z());
    };
    const auto triangle = [&](const std::string& u, const std::string& v, const std::string& w) {
      if (u == v || v == w || w == u) return;
      out += "facet normal 0 0 0\nouter loop\n" + u + v + w + "endloop\nendfacet\n";
    };
    for (std::size_t n = 0; n + 1 < levels.size(); ++n) {
      const Level &from = levels[n], &to = levels[n + 1];
      for (int k = 0; k < Outline::points; ++k) {
        triangle(vertex(from, k), vertex(from, k + 1), vertex(to, k));
        triangle(vertex(from, k + 1), vertex(to, k + 1), vertex(to, k));
      }
    }
    const Level &low = levels.front(), &high_end = levels.back();
    for (int k = 1; k + 1 < Outline::points; ++k) {
      triangle(vertex(low, 0), vertex(low, k + 1), vertex(low, k));
      triangle(vertex(high_end, 0), vertex(high_end, k), vertex(high_end, k + 1));
    }
    return out + "endsolid part\n";
  }

  std::string program() const {
    const double top = -posted().z();
    Posted p("PLATE", top, {3000, 900, 18000});
    p.tool(1, comment, posted_diameter);
    Outline wide = from_zero(pocket());
    wide.half_x += posted_longer / 2;
    wide.x += posted_longer / 2;
    p.pocket(wide, top, top - deep - posted_deeper, 4, 2.4);
    if (inner_deep > 0) p.pocket(from_zero(inner()), top - deep, top - deep - inner_deep, 4, 1.2);
    p.profile(from_zero(rim()), top, top - high - 0.2, 3.5, tab_half, top + tab_top - high);
    return p.done();
  }

  Files files() const {
    const auto list = [](const Vec3& v) {
      return fmt::format("[{:.6f}, {:.6f}, {:.6f}]", v.x(), v.y(), v.z());
    };
    Files f;
    f.job = std::string("name = \"plate\"\n") + machine + "[stock]\nsize = " + list(stock_size()) +
            "\nmaterial = \"mdf\"\n[part]\nmesh = \"part.stl\"\norigin = " +
            list(machine_from_stock().transpose() * part_off) +
            "\ntolerance = { gouge = 0.1, excess = 0.25 }\n";
    for (const auto& [x, y] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
      const double near = radius - 0.5, far = radius + 6.5, half = tab_half + 4;
      const Vec3 along(x, y, 0), across(y, x, 0);
      Box3 box;
      for (const double a : {near, far})
        for (const double b : {-half, half})
          for (const double z : {-high - 0.5, tab_top - high + 0.3})
            box.extend(in_stock(a * along + b * across + Vec3(0, 0, z)));
      f.job += "[[part.supports]]\nbox = [" + list(box.min()) + ", " + list(box.max()) + "]\n";
    }
    std::string turns;
    for (const auto& [axis, degrees] : turn)
      turns += fmt::format("{{ about = \"{}\", degrees = {} }}, ", axis, degrees);
    f.job += flat_tool(1, 6, 2, "limits = { axial_depth = 16, plunge_feed = 1000 }") +
             "[[setups]]\nname = \"top\"\nprogram = \"top.nc\"\nturn = [" + turns + "]\nzero = { " +
             (by_faces ? "on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\", offset = " +
                             list(posted())
                       : "at = " + list(in_stock(posted() + off))) +
             " }\n";
    f.files = {{"top.nc", program()}, {"part.stl", mesh()}};
    return f;
  }
};

}  // namespace proveout::planted
