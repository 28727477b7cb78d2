// The planted mistakes: what is changed in a job that is right, and what a run must name first.
#pragma once

#include <functional>
#include <vector>

#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {

struct Mistake {
  std::string part, what;
  std::string kind;   // of the cause that must stand first; empty: none, the finding itself says it
  std::string setup;  // the cause's; "-": any
  std::string says;   // must stand in the verdict
  int status = 1;     // -1: as it comes
  std::function<void(Files&)> plant;
};

namespace bracket {

inline Files swapped(Files f) {
  std::swap(f.files.at("front.nc"), f.files.at("back.nc"));
  return f;
}

inline std::vector<Mistake> mistakes() {
  const std::string part = "bracket";
  const std::string front_zero = "zero = { on = \"blank\", x = \"min\", y = \"min\", z = \"top\" }";
  return {
      {part, "front zeroed 2 mm off in x, 1.3 in y", "zero", "front",
       "zero lies off by 2.00 mm in x and 1.30 mm in y", 1,
       [=](Files& f) {
         f.replace("", front_zero, "zero = { at = [2, 1.3, 22] }")
             .replace("",
                      "on = \"milled\", x = \"min\", y = \"min\", z = \"top\", "
                      "band = [3, 10]",
                      "at = [5, 49, 0]");
       }},
      {part, "back zeroed at the right edge", "zero", "back", "setup back's zero lies off by 64", 1,
       [](Files& f) {
         f.replace("", "on = \"milled\", x = \"min\"", "on = \"milled\", x = \"max\"");
       }},
      {part, "back zeroed on the blank's corner, not the milled one", "zero", "back",
       "setup back's zero lies off by 5.00 mm in x and 5.00 mm in y", 1,
       [](Files& f) {
         f.replace("", "on = \"milled\", x = \"min\", y = \"min\", z = \"top\", band = [3, 10]",
                   "on = \"blank\", x = \"min\", y = \"min\", z = \"top\"");
       }},
      {part, "back zeroed on milled without a band", "zero", "back",
       "setup back's zero lies off by 5.00 mm in x and 5.00 mm in y", 1,
       [](Files& f) { f.replace("", ", band = [3, 10]", ""); }},
      {part, "turned about y where x was posted", "turn", "back",
       "program fits the work turned about x", 1,
       [](Files& f) { f.replace("", "about = \"x\"", "about = \"y\""); }},
      {part, "front laid in the other way round", "turn", "front",
       "program fits the work turned half round about the tool's axis", 1,
       [](Files& f) {
         f.replace("", "program = \"front.nc\"\n",
                   "program = \"front.nc\"\nturn = [{ about = \"z\", degrees = 180 }]\n");
       }},
      {part, "5 mm cutter in the holder, 6 posted", "tool", "-",
       "names a tool of 6 for T1, the job declares 5 mm", 1,
       [](Files& f) { f.replace("", "diameter = 6\nflutes = 3", "diameter = 5\nflutes = 3"); }},
      {part, "spindle never started in front", "spindle", "front",
       "setup front never starts the spindle", 1,
       [](Files& f) { f.replace("front.nc", "S18000 M3", "S18000"); }},
      {part, "M4 for M3", "spindle", "-", "counter-clockwise (M4)", 0,
       [](Files& f) {
         f.replace("front.nc", " M3\n", " M4\n").replace("back.nc", " M3\n", " M4\n");
       }},
      {part, "G20 for G21 in front", "units", "front", "lengths are read in inches", 1,
       [](Files& f) { f.replace("front.nc", "G21", "G20"); }},
      {part, "the programs swapped", "", "", "errors, the worst", 1,
       [](Files& f) { f = swapped(f); }},
      {part, "no length offset in back", "offset", "back", "calls no length offset (G43 H)", 0,
       [](Files& f) { f.replace("back.nc", "G43 H1\n", "").replace("back.nc", "G43 H2\n", ""); }},
      {part, "drilled 9 mm into the table", "", "", "below the bottom of the blank", 1,
       [](Files& f) { f.files.at("back.nc") = back(-31); }},
      {part, "a clamp where the face is milled", "", "", "into the fixture 'clamp'", 1,
       [](Files& f) {
         f.replace("", "[[setups]]\nname = \"back\"",
                   "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[20, -30, -22], [54, 2, 9]]\n"
                   "[[setups]]\nname = \"back\"");
       }},
      {part, "a rapid through a clamp beside the blank", "", "",
       "into the fixture 'clamp' on a rapid", 1,
       [](Files& f) {
         f.replace("front.nc", "(OUTSIDE)\n", "G0 X95 Y20\n(OUTSIDE)\n")
             .replace("", "[[setups]]\nname = \"back\"",
                      "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[86, 10, -22], [110, 30, "
                      "9]]\n[[setups]]\nname = \"back\"");
       }},
  };
}

}  // namespace bracket

namespace ring {

inline std::vector<Mistake> mistakes() {
  const std::string part = "ring";
  const auto undeclared = [](Files& f) {
    const std::size_t from = f.job.find("[[part.supports]]"), to = f.job.find("[[tools]]");
    f.job.erase(from, to - from);
  };
  return {
      {part, "the part laid 5 mm off in the sheet", "origin", "-", "lies off by 5.00 mm in x", 1,
       [](Files& f) { f.replace("", "origin = [36, 36, 0]", "origin = [31, 36, 0]"); }},
      {part, "zeroed 2 mm too low", "zero", "top", "zero lies off by 2.00 mm in z", 1,
       [](Files& f) {
         f.replace("", "on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\"",
                   "at = [36, 36, 14]");
       }},
      {part, "feeds in inches a minute", "units", "top", "feeds read like inches a minute", 0,
       [](Files& f) { f.feeds("top.nc", 1 / 25.4); }},
      {part, "posted for MDF, steel clamped", "material", "top", "reads like a file for", -1,
       [](Files& f) { f.replace("", "material = \"mdf\"", "material = \"mild steel\""); }},
      {part, "no tabs left, the job declares four", "support", "top", "none of them holds the part",
       1,
       [](Files& f) {
         f.files.at("top.nc") = program({0, 0});
       }},
      {part, "tabs of 20 mm where the job declares 8", "support", "top", "declared supports", 1,
       [](Files& f) {
         f.files.at("top.nc") = program({10, tab_top});
       }},
      {part, "tabs the job does not declare", "support", "top", "declares no support", 1,
       undeclared},
      {part, "ball end in the holder, flat posted", "tool", "-", "names a flat tool for T1", 1,
       [](Files& f) { f.replace("", "shape = \"flat\"", "shape = \"ball\""); }},
      {part, "sheet of 19 mm in the job, 16 posted", "blank", "", "blank of 72 x 72 x 16", 1,
       [](Files& f) {
         f.files.at("top.nc") = program({}, "(SHEET STOCK 72 X 72 X 16 MM)\n");
         f.replace("", "size = [72, 72, 16]", "size = [72, 72, 19]");
       }},
      {part, "G91 left on after a return home", "mode", "top", "left in G91 after line", 1,
       [](Files& f) { f.replace("top.nc", "(WALL)", "G91 G28 Z0"); }},
  };
}

}  // namespace ring

}  // namespace proveout::planted
