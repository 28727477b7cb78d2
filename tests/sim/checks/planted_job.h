// A small job in which a fault can be planted, with what it must be worth in closed form.
// Block 40 x 30 x 20, zero at the middle of its top. One slot along y at x = 0, cut by line 6.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>

#include "sim/pipeline/dry_run.h"

namespace proveout::checks {

struct Small {
  std::string tool = "diameter = 6\nflute_length = 15\nstickout = 30\n";
  std::string limits;  // of the tool, as a TOML table's inside
  std::string shape = "flat";
  std::string machine, materials, setup, part;
  std::string material = "6061-T6";
  std::string voxel = "voxel = 0.25\n";
  double depth = 2, feed = 900, speed = 10000;
  int flutes = 2;
  std::string program;  // instead of the slot

  std::string text() const {
    return "[simulation]\n" + voxel + "[machine]\n" + machine +
           "[stock]\nsize = [40, 30, 20]\nmaterial = \"" + material + "\"\n" + part +
           "[[tools]]\nnumber = 1\nshape = \"" + shape + fmt::format("\"\nflutes = {}\n", flutes) +
           tool + (limits.empty() ? "" : "limits = { " + limits + " }\n") +
           "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", "
           "z = \"top\" }\n" +
           setup + materials;
  }
  std::string nc() const {
    if (!program.empty()) return program;
    return fmt::format("G21 G90\nT1 M6\nS{} M3\nG0 X0 Y-25 Z5\nG0 Z-{}\nG1 Y25 F{}\nG0 Z5\nM30\n",
                       speed, depth, feed);
  }
};

struct Ran {
  std::optional<run::JobResult> result;
  Diagnostics diagnostics;
  const Finding* first(FindingKind kind, const std::string& detail = "") const {
    for (const Finding& f : result->findings) {
      if (f.kind == kind && (detail.empty() ? f.detail != "other-material" : f.detail == detail))
        return &f;
    }
    return nullptr;
  }
  bool has(FindingKind kind) const { return first(kind) != nullptr; }
  bool said(std::string_view code) const {
    return std::any_of(diagnostics.all().begin(), diagnostics.all().end(),
                       [&](const Diagnostic& d) { return d.code == code; });
  }
  // All findings and the slot's peaks in words, for what a failed check says.
  std::string words() const {
    std::string out;
    for (const Finding& f : result->findings)
      out += fmt::format("{} line {} value {} limit {}: {} [{}]\n", name(f.kind), f.line, f.value,
                         f.limit, f.text, f.detail);
    const run::SetupResult& setup = result->setups[0];
    for (std::size_t i = 0; i < setup.peaks.size(); ++i)
      out += fmt::format("line {}: {} deep, {} wide, {} degrees\n", setup.source->motions[i].line,
                         setup.peaks[i].axial_depth, setup.peaks[i].radial_width,
                         setup.peaks[i].engagement_deg);
    return out;
  }
  bool unchecked(FindingKind kind) const {
    return std::any_of(result->not_checked.begin(), result->not_checked.end(),
                       [&](const auto& n) { return n.what == name(kind); });
  }
};

// A closed box as a text STL file.
inline std::string box_stl(const Vec3& low, const Vec3& high) {
  std::string out = "solid box\n";
  for (const auto& face : std::array<std::array<int, 4>, 6>{
           {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}}) {
    for (const auto& corners : {std::array{0, 1, 2}, std::array{0, 2, 3}}) {
      out += "facet normal 0 0 0\nouter loop\n";
      for (const int corner : corners) {
        const int c = face[static_cast<std::size_t>(corner)];
        out += fmt::format("vertex {} {} {}\n", c & 1 ? high.x() : low.x(),
                           c & 2 ? high.y() : low.y(), c & 4 ? high.z() : low.z());
      }
      out += "endloop\nendfacet\n";
    }
  }
  return out + "endsolid box\n";
}

inline Ran run_small(const Small& small, const std::string& stl = "") {
  std::string folder = (std::filesystem::temp_directory_path() / "proveout-fault-XXXXXX").string();
  EXPECT_NE(::mkdtemp(folder.data()), nullptr);
  std::ofstream(std::filesystem::path(folder) / "a.nc") << small.nc();
  std::ofstream(std::filesystem::path(folder) / "job.toml") << small.text();
  if (!stl.empty()) std::ofstream(std::filesystem::path(folder) / "part.stl") << stl;
  Ran ran;
  const auto job = job::read_job(std::filesystem::path(folder) / "job.toml", ran.diagnostics);
  EXPECT_TRUE(job) << (ran.diagnostics.all().empty() ? "" : to_text(ran.diagnostics.all()[0]))
                   << small.text();
  if (job) ran.result = pipeline::dry_run(*job, {}, ran.diagnostics);
  std::filesystem::remove_all(folder);
  return ran;
}

}  // namespace proveout::checks
