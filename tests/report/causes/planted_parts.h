// The jobs mistakes are planted in: text of job file, programs and meshes, and what a run made of
// them.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

#include "report/text/words.h"
#include "tests/report/causes/posted.h"
#include "tests/report/cli/command_run.h"

namespace proveout::planted {

struct Files {
  std::string job;                           // TOML
  std::map<std::string, std::string> files;  // programs and meshes by name

  // Every occurrence; a text that is not there is a fault of the test.
  Files& replace(const std::string& name, const std::string& from, const std::string& to) {
    std::string& text = name.empty() ? job : files.at(name);
    std::size_t n = 0;
    for (std::size_t at = text.find(from); at != std::string::npos;
         at = text.find(from, at + to.size()), ++n)
      text.replace(at, from.size(), to);
    EXPECT_GT(n, 0u) << "'" << from << "' is not in " << (name.empty() ? "the job" : name);
    return *this;
  }
  // Every feed times a factor.
  Files& feeds(const std::string& name, double by) {
    std::string& text = files.at(name);
    std::string out;
    for (std::size_t at = 0; at < text.size(); ++at) {
      out += text[at];
      if (text[at] != 'F' || at + 1 >= text.size() || std::isdigit(text[at + 1]) == 0) continue;
      std::size_t used = 0;
      const double feed = std::stod(text.substr(at + 1, 12), &used);
      out += fmt::format("{:.4f}", feed * by);
      at += used;
    }
    text = out;
    return *this;
  }
};

struct Ran {
  int status = -1;
  nlohmann::ordered_json result;  // null: none was written
  std::string said;               // on the terminal
  std::string screen;             // of it, standard output, the folder's own line apart
};

// At most 24 lines of 80 columns, whatever was planted.
inline void fits_one_screen(const Ran& ran, const std::string& what) {
  std::istringstream in(ran.screen);
  std::size_t lines = 1;  // the folder's
  for (std::string line; std::getline(in, line); ++lines)
    EXPECT_LE(text::columns(line), 80u) << what << ": " << line;
  EXPECT_LE(lines, 24u) << what << "\n" << ran.screen;
  EXPECT_EQ(ran.screen.find("e+0"), std::string::npos) << what << ": no figure has an exponent";
}

inline Ran run(const Files& files, double voxel) {
  const cli::Folder folder;
  const std::string job = folder.file("job.toml", files.job);
  for (const auto& [name, text] : files.files) folder.file(name, text);
  const auto out = folder.path() / "out";
  const cli::CommandRun r = cli::command(
      {"run", job, "-o", out.string(), "--no-html", "--voxel", fmt::format("{}", voxel)});
  Ran ran{r.status, nullptr, r.out + r.err, r.out};
  // The folder stands whole, however long, and the test's is.
  const std::string place = out.string() + "\n";
  if (const std::size_t at = ran.screen.find(place); at != std::string::npos)
    ran.screen.erase(at, place.size());
  if (std::filesystem::exists(out / "result.json"))
    ran.result = nlohmann::ordered_json::parse(cli::read(out / "result.json"));
  return ran;
}

inline std::string flat_tool(int number, double diameter, int flutes, const std::string& limits) {
  return fmt::format(
      "[[tools]]\nnumber = {}\nname = \"flat\"\nshape = \"flat\"\ndiameter = {}\nflutes = {}\n"
      "flute_length = 20\nstickout = 26\nshank_diameter = {}\n{}\n",
      number, diameter, flutes, diameter, limits);
}

inline const char* machine =
    "[machine]\nmax_feed = [6000, 6000, 2000]\nrapid = [6000, 6000, 2000]\n"
    "accel = [500, 500, 300]\nspindle = { min_rpm = 3000, max_rpm = 24000, power_w = 1500 }\n"
    "tool_change_s = 60\n";

// ---- A bracket: 64 x 44 x 18, a pocket from each side, a web of 2 mm between them with a hole of
// 8 mm, one corner round by 12 mm. Blank 74 x 54 x 22 in 6061-T6, the part 5 mm in from its sides.
namespace bracket {

inline const Outline rim{32, 22, 32, 22, {12, 4, 4, 4}};
inline const Outline front_pocket{30, 22, 22, 14, {5, 5, 5, 5}};
inline const Outline back_pocket{32, 22, 25, 15, {5, 5, 5, 5}};
inline const Outline hole = Outline::circle(30, 22, 4);
constexpr double web_low = 7.5, web_high = 9.5, high = 18;  // mm above the part's back

inline std::string mesh() {
  return closed_surface({{hole, web_low},
                         {hole, web_high},
                         {front_pocket, web_high},
                         {front_pocket, high},
                         {rim, high},
                         {rim, 0},
                         {back_pocket, 0},
                         {back_pocket, web_low}});
}

inline Outline moved(Outline o, double x, double y) {
  o.x += x;
  o.y += y;
  return o;
}

// Zero: lower left corner of the blank, its top.
inline std::string front(double diameter = 6) {
  Posted p("BRACKET, FRONT", 0, {1100, 300, 18000});
  p.tool(1, "T1 D6 FLAT", diameter);
  p.raw("(FACE)\n");
  p.face(0, 0, 74, 54, 0, -2, 2, 4);
  p.raw("(OUTSIDE)\n");
  p.outside(moved(rim, 5, 5), -2, -14, 1.5, 2.4, 8);
  p.raw("(POCKET)\n");
  p.pocket(moved(front_pocket, 5, 5), -2, -2 - (high - web_high), 1.5, 2.4);
  return p.done();
}

// Turned about x. Zero: lower left corner of what the front left of the rim, the blank's back.
inline std::string back(double drilled_to = -15) {
  Posted p("BRACKET, BACK", 0, {1100, 300, 18000});
  p.tool(1, "T1 D6 FLAT", 6);
  p.raw("(FACE)\n");
  p.face(-5, -5, 69, 49, 0, -2, 2, 4);
  p.raw("(OUTSIDE)\n");
  p.outside(rim.turned_about_x(44), -2, -8.3, 1.5, 2.4, 8);
  p.raw("(POCKET)\n");
  p.pocket(back_pocket.turned_about_x(44), -2, -2 - web_low, 1.5, 2.4);
  p.tool(2, "T2 D8 DRILL", 8);
  p.raw("S6000 M3\n(HOLE)\n");
  p.drill(30, 22, -8, drilled_to, 360);
  return p.done();
}

inline Files good() {
  Files f;
  const std::string limits = "limits = { axial_depth = 2.2, plunge_feed = 400 }";
  f.job = std::string("name = \"bracket\"\n") + machine +
          "[stock]\nsize = [74, 54, 22]\nmaterial = \"6061-T6\"\n"
          "[part]\nmesh = \"part.stl\"\norigin = [5, 5, 2]\n"
          "tolerance = { gouge = 0.08, excess = 0.2 }\n" +
          flat_tool(1, 6, 3, limits) +
          "[[tools]]\nnumber = 2\nname = \"drill\"\nshape = \"drill\"\ndiameter = 8\nflutes = 2\n"
          "flute_length = 30\nstickout = 40\nshank_diameter = 8\ntip_angle = 118\n"
          "[[setups]]\nname = \"front\"\nprogram = \"front.nc\"\n"
          "zero = { on = \"blank\", x = \"min\", y = \"min\", z = \"top\" }\n"
          "[[setups]]\nname = \"back\"\nprogram = \"back.nc\"\n"
          "turn = [{ about = \"x\", degrees = 180 }]\n"
          "zero = { on = \"milled\", x = \"min\", y = \"min\", z = \"top\", band = [3, 10] }\n";
  f.files = {{"front.nc", front()}, {"back.nc", back()}, {"part.stl", mesh()}};
  return f;
}

}  // namespace bracket

// ---- A ring: flange of 56 mm, 6 high, on it a wall drafted by 6 degrees from 44 mm; bore 24 mm
// with a counterbore of 30 mm, 3 deep. Cut from one side out of a sheet of MDF, 72 x 72 x 16, held
// by four tabs; the sheet's faces are the ring's.
namespace ring {

constexpr double high = 16, flange = 6, seat = 3;
constexpr double flange_radius = 28, wall_foot = 22, bore = 12, seat_radius = 15;
constexpr double tab_half = 4, tab_top = 3;
inline double wall_at(double z) { return wall_foot - (z - flange) * std::tan(6 * M_PI / 180); }
inline Outline circle(double r) { return Outline::circle(0, 0, r); }

inline std::string mesh() {
  return closed_surface({{circle(bore), 0},
                         {circle(bore), high - seat},
                         {circle(seat_radius), high - seat},
                         {circle(seat_radius), high},
                         {circle(wall_at(high)), high},
                         {circle(wall_foot), flange},
                         {circle(flange_radius), flange},
                         {circle(flange_radius), 0}});
}

struct Tabs {
  double half = tab_half, top = tab_top;  // mm; 0: none
};

// Zero: middle of the sheet, its top; 0.2 mm into the spoil board.
inline std::string program(Tabs tabs = {}, const std::string& comments = "") {
  Posted p("RING, ONE SIDE", 0, {3000, 900, 18000});
  p.raw(comments);
  p.tool(1, "T1 D6 FLAT", 6);
  p.raw("(SEAT AND BORE)\n");
  p.pocket(circle(seat_radius), 0, -seat, 4, 2.4);
  p.pocket(circle(bore), -seat, -high - 0.2, 4, 2.4);
  p.raw("(WALL)\n");
  constexpr int steps = 20;
  double before = high;
  for (int k = 1; k <= steps; ++k) {
    const double z = high - (high - flange) * k / steps;
    // A flat tool touches the cone at the upper end of each step.
    p.outside(circle(wall_at(z)), before - high, z - high, 20, 3.9, flange_radius + 3 - wall_at(z),
              true);
    before = z;
  }
  p.raw("(OUTLINE, TABS LEFT)\n");
  p.profile(circle(flange_radius), flange - high, -high - 0.2, 3.5, tabs.half,
            tabs.half > 0 ? tabs.top - high : 0);
  return p.done();
}

inline Files good() {
  Files f;
  f.job = std::string("name = \"ring\"\n") + machine +
          "[stock]\nsize = [72, 72, 16]\nmaterial = \"mdf\"\n"
          "[part]\nmesh = \"part.stl\"\norigin = [36, 36, 0]\n"
          "tolerance = { gouge = 0.1, excess = 0.25 }\n";
  for (const auto& [x, y] : {std::pair{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
    const double near = 27.5, far = 34.5, half = tab_half + 2;  // with the rounds at its foot
    const double x0 = 36 + (x != 0 ? (x > 0 ? near : -far) : -half),
                 x1 = x != 0 ? x0 + far - near : 36 + half;
    const double y0 = 36 + (y != 0 ? (y > 0 ? near : -far) : -half),
                 y1 = y != 0 ? y0 + far - near : 36 + half;
    f.job += fmt::format("[[part.supports]]\nbox = [[{}, {}, -0.5], [{}, {}, {}]]\n", x0, y0, x1,
                         y1, tab_top + 0.3);
  }
  f.job += flat_tool(1, 6, 2, "limits = { axial_depth = 4.5, plunge_feed = 1000 }") +
           "[[setups]]\nname = \"top\"\nprogram = \"top.nc\"\n"
           "zero = { on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\" }\n";
  f.files = {{"top.nc", program()}, {"part.stl", mesh()}};
  return f;
}

}  // namespace ring

}  // namespace proveout::planted
