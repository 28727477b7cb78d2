// Mistakes planted in the demo, fixtures/door-pull.
#pragma once

#include <regex>

#include "tests/report/causes/mistakes.h"

namespace proveout::planted::door_pull {

inline Files good() {
  const std::string from = std::string(PROVEOUT_FIXTURES) + "/door-pull/";
  return {cli::read(from + "good.toml"),
          {{"good-a.nc", cli::read(from + "good-a.nc")},
           {"good-b.nc", cli::read(from + "good-b.nc")},
           {"door-pull.stl", cli::read(from + "door-pull.stl")}}};
}

inline std::vector<Mistake> mistakes() {
  const std::string part = "door pull";
  const std::string zero_a = "{ on = \"blank\", x = \"centre\", y = \"centre\", z = \"top\" }";
  return {
      {part, "side A zeroed 3 mm too low", "zero", "A", "zero lies off by 3.00 mm in z", 1,
       [=](Files& f) { f.replace("", zero_a, "{ at = [80, 30, 29] }"); }},
      {part, "[part] origin left out", "origin", "-", "lies off by 20.00 mm in x", 1,
       [](Files& f) { f.replace("", "origin = [20, 13, 3]\n", ""); }},
      {part, "8 mm in the job, 6 posted", "tool", "-", "names a tool of 6 for T1", 1,
       [](Files& f) {
         f.replace("", "name = \"6 mm flat, 3 flutes\"\nshape = \"flat\"\ndiameter = 6",
                   "name = \"8 mm flat, 3 flutes\"\nshape = \"flat\"\ndiameter = 8");
       }},
      {part, "side B zeroed on the right edge", "zero", "B", "setup B's zero lies off by", 1,
       [](Files& f) {
         f.replace("", "on = \"milled\", x = \"min\"", "on = \"milled\", x = \"max\"");
       }},
      {part, "no length offset anywhere", "offset", "A", "calls no length offset (G43 H)", 0,
       [](Files& f) {
         for (const char* name : {"good-a.nc", "good-b.nc"})
           f.files.at(name) = std::regex_replace(f.files.at(name), std::regex("G43 H\\d"), "");
       }},
      {part, "G91 left on after a tool change", "mode", "A", "left in G91 after line", 1,
       [](Files& f) { f.replace("good-a.nc", "T2 M6", "T2 M6\nG28 G91 Z0."); }},
      {part, "feeds in mm a second", "units", "-", "feeds read like mm a second", 0,
       [](Files& f) { f.feeds("good-a.nc", 1 / 60.0).feeds("good-b.nc", 1 / 60.0); }},
      {part, "the files of the MDF proxy", "material", "-", "mdf", 1,
       [](Files& f) {
         const std::string from = std::string(PROVEOUT_FIXTURES) + "/door-pull/";
         f.files.at("good-a.nc") = cli::read(from + "mdf-a.nc");
         f.files.at("good-b.nc") = cli::read(from + "mdf-b.nc");
       }},
      {part, "turned about \"Y\"", "", "", "", 0,
       [](Files& f) { f.replace("", "about = \"y\"", "about = \"Y\""); }},
      {part, "blank laid in with its sides swapped", "blank", "", "the blank's x and y are swapped",
       1, [](Files& f) { f.replace("", "size = [160, 60, 32]", "size = [60, 160, 32]"); }},
  };
}

}  // namespace proveout::planted::door_pull
