// A block with two steps, milled from above in one setup or two: no move along any axis, and no
// turn, lays it on itself. What is wrong with a planted job follows from the numbers alone.
#pragma once

#include <fmt/format.h>

#include <cctype>
#include <cmath>
#include <string>

#include "tests/sim/checks/planted_job.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::causes {

// Blank 60 x 44 x 20. Part: base 60 x 44 x 6, on it [10, 50] x [8, 36] to 12, on that
// [10, 30] x [8, 24] to 17 (mm, stock coordinates).
struct SteppedBlock {
  double posted_diameter = 6;                 // the program's
  std::string comment = "(T1 D6 FLAT MILL)";  // in the program
  double declared_diameter = 6;
  double feed = 3600;
  std::string spindle = "S18000 M3\n";
  std::string before_first_move, after_first_level;  // program text
  Vec3 zero = {30, 22, 20};         // mm, stock: as declared; right: the top's middle
  Vec3 part_origin = Vec3::Zero();  // mm, as declared; right: zero
  bool two_setups = false;          // the lowest level in a setup of its own
  std::string material = "mdf";
  std::string shape = "flat";
  std::string declared_zero;  // instead of `zero`: the job file's words
  std::string units = "G21";
  std::string more_tools;  // the job file's words
  bool in_inches = false;  // the program's numbers
  double turned = 0;       // degrees about z, that the block lies turned by, and is posted for
  bool mirrored = false;   // the program's x
  double blank_z = 20;     // mm: the blank's thickness

  std::string levels(int from, int to) const {
    const Vec3 middle(30, 22, 20);
    const double r = 0.5 * posted_diameter;
    struct Level {
      double z, x0, y0, x1, y1;  // stays: [x0, x1] x [y0, y1]
    };
    const Level all[] = {{17, 0, 0, 0, 0}, {12, 10, 8, 30, 24}, {6, 10, 8, 50, 36}};
    std::string out = units + " G90 G17\n" + comment + "\nT1 M6\n" + spindle + before_first_move;
    const auto at = [&](double x, double y) {
      const double right = (mirrored ? -1 : 1) * (x - middle.x()), up = y - middle.y();
      const double by = turned * M_PI / 180;
      return fmt::format("X{:.4f} Y{:.4f}", right * std::cos(by) - up * std::sin(by),
                         right * std::sin(by) + up * std::cos(by));
    };
    for (int n = from; n < to; ++n) {
      const Level& l = all[n];
      const double z = l.z - middle.z();
      const auto pass = [&](double x0, double x1, double y) {
        if (x1 <= x0) return;
        out += fmt::format("G0 {}\nG0 Z{:.4f}\nG1 Z{:.4f} F400\n", at(x0, y), z + 6, z);
        out += fmt::format("G1 {} F{}\nG0 Z5.0\n", at(x1, y), feed);
      };
      for (double y = -r; y < 44 + r; y += 0.7 * posted_diameter) {
        const bool beside = l.x1 > l.x0 && y > l.y0 - r && y < l.y1 + r;
        if (beside) {
          pass(-r, l.x0 - r, y);
          pass(l.x1 + r, 60 + r, y);
        } else {
          pass(-r, 60 + r, y);
        }
      }
      if (l.x1 > l.x0) {
        out += fmt::format("G0 {}\nG1 Z{:.4f} F400\n", at(l.x0 - r, l.y0 - r), z);
        for (const auto& [x, y] : {std::pair{l.x1 + r, l.y0 - r},
                                   {l.x1 + r, l.y1 + r},
                                   {l.x0 - r, l.y1 + r},
                                   {l.x0 - r, l.y0 - r}})
          out += fmt::format("G1 {} F{}\n", at(x, y), feed);
        out += "G0 Z5.0\n";
      }
      if (n == 0) out += after_first_level;
    }
    out += "G0 Z20.0\nM5\nM30\n";
    return in_inches ? told_in_inches(out) : out;
  }

  // Every X, Y, Z and F of a text divided by 25.4.
  static std::string told_in_inches(const std::string& text) {
    std::string out;
    for (std::size_t at = 0; at < text.size(); ++at) {
      out += text[at];
      const bool number =
          at + 1 < text.size() &&
          (std::isdigit(static_cast<unsigned char>(text[at + 1])) != 0 || text[at + 1] == '-');
      if (!number || std::string("XYZF").find(text[at]) == std::string::npos) continue;
      std::size_t used = 0;
      out += fmt::format("{:.6f}", std::stod(text.substr(at + 1, 16), &used) / 25.4);
      at += used;
    }
    return out.replace(out.find("G21"), 3, "G20");
  }

  // Three boxes that overlap in no volume would share faces: the shape as one closed surface of
  // quads, level by level.
  static std::string stl() {
    std::string out = "solid part\n";
    const auto triangle = [&](const Vec3& a, const Vec3& b, const Vec3& c) {
      out += "facet normal 0 0 0\nouter loop\n";
      for (const Vec3& v : {a, b, c}) out += fmt::format("vertex {} {} {}\n", v.x(), v.y(), v.z());
      out += "endloop\nendfacet\n";
    };
    const auto quad = [&](const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
      triangle(a, b, c);
      triangle(a, c, d);
    };
    // Heights over the cells of all edges' coordinates: every face between two cells once.
    const double x[] = {0, 10, 30, 50, 60}, y[] = {0, 8, 24, 36, 44}, z[] = {0, 6, 12, 17};
    const auto height = [&](int i, int k) {  // levels filled, of 3
      if (i < 0 || i > 3 || k < 0 || k > 3) return 0;
      if (i == 1 && k == 1) return 3;
      return i >= 1 && i <= 2 && k >= 1 && k <= 2 ? 2 : 1;
    };
    for (int i = 0; i < 4; ++i) {
      for (int k = 0; k < 4; ++k) {
        const int h = height(i, k);
        const double x0 = x[i], x1 = x[i + 1], y0 = y[k], y1 = y[k + 1], t = z[h];
        quad({x0, y0, t}, {x1, y0, t}, {x1, y1, t}, {x0, y1, t});
        quad({x0, y0, 0}, {x0, y1, 0}, {x1, y1, 0}, {x1, y0, 0});
        for (int l = 0; l < h; ++l) {
          const double a = z[l], b = z[l + 1];
          if (height(i - 1, k) <= l) quad({x0, y0, a}, {x0, y0, b}, {x0, y1, b}, {x0, y1, a});
          if (height(i + 1, k) <= l) quad({x1, y0, a}, {x1, y1, a}, {x1, y1, b}, {x1, y0, b});
          if (height(i, k - 1) <= l) quad({x0, y0, a}, {x1, y0, a}, {x1, y0, b}, {x0, y0, b});
          if (height(i, k + 1) <= l) quad({x0, y1, a}, {x0, y1, b}, {x1, y1, b}, {x1, y1, a});
        }
      }
    }
    return out + "endsolid part\n";
  }

  run::JobResult run() const {
    const pipeline::WorkFolder work;
    work.file("part.stl", stl());
    work.file("a.nc", levels(0, two_setups ? 2 : 3));
    if (two_setups) work.file("b.nc", levels(2, 3));
    const auto list = [](const Vec3& v) {
      return fmt::format("[{}, {}, {}]", v.x(), v.y(), v.z());
    };
    std::string job = fmt::format(
        "[simulation]\nvoxel = 0.25\n[stock]\nsize = [60, 44, {}]\nmaterial = \"{}\"\n"
        "[part]\nmesh = \"part.stl\"\norigin = {}\ntolerance = {{ gouge = 0.05, excess = 0.1 }}\n"
        "[[tools]]\nnumber = 1\nshape = \"{}\"\nflutes = 2\ndiameter = {}\nflute_length = 20\n"
        "stickout = 30\n",
        blank_z, material, list(part_origin), shape, declared_diameter);
    job += more_tools;
    const std::string at =
        declared_zero.empty() ? fmt::format("at = {}", list(zero)) : declared_zero;
    const std::string lies =
        turned == 0 ? "" : fmt::format("turn = [{{ about = \"z\", degrees = {} }}]\n", turned);
    for (const char* name : {"A", "B"}) {
      if (*name == 'B' && !two_setups) continue;
      job += fmt::format("[[setups]]\nname = \"{}\"\nprogram = \"{}.nc\"\n{}zero = {{ {} }}\n",
                         name, *name == 'A' ? "a" : "b", lies, at);
    }
    return work.run(job);
  }
};

// All findings and causes in words, for what a failed check says.
inline std::string words(const run::JobResult& r) {
  std::string out = r.verdict + "\n";
  for (const run::Cause& c : r.causes)
    out += fmt::format("cause {} {} T{}: {} | {} | explains {}, {} left\n", run::name(c.kind),
                       c.setup, c.tool, c.text, c.remedy, c.explains, c.remains);
  for (const Finding& f : r.findings)
    out += fmt::format("{} {} {} line {}: {} [{}]\n", name(f.level), name(f.kind), f.setup, f.line,
                       f.text, f.detail);
  return out;
}

}  // namespace proveout::causes
