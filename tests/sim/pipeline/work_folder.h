// A folder of its own for a test's job, programs and meshes, and a closed prism as an STL file.
#pragma once

#include <gtest/gtest.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "parser/base/geometry.h"
#include "parser/job/job.h"
#include "sim/pipeline/dry_run.h"

namespace proveout::pipeline {

class WorkFolder {
 public:
  WorkFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
    folder_ = ::mkdtemp(name.data());
  }
  WorkFolder(const WorkFolder&) = delete;
  WorkFolder& operator=(const WorkFolder&) = delete;
  ~WorkFolder() { std::filesystem::remove_all(folder_); }
  std::filesystem::path file(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name) << text;
    return path(name);
  }
  std::filesystem::path path(const std::string& name) const { return folder_ / name; }
  // Reads and runs a job given as text; its programs and meshes must stand in the folder already.
  run::JobResult run(const std::string& text, int threads = -1) const {
    Diagnostics diagnostics;
    const auto read = job::read_job(file("job.toml", text), diagnostics);
    EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
    RunOptions options;
    options.threads = threads;
    auto result = dry_run(*read, options, diagnostics);
    EXPECT_TRUE(result) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
    return std::move(*result);
  }

 private:
  std::filesystem::path folder_;
};

// A prism along y from 0 to length as ASCII STL: corners of its section in x and z,
// counter-clockwise, and the triangles that fill the section, clockwise.
inline std::string prism_stl(const std::vector<std::pair<double, double>>& section,
                             const std::vector<std::array<std::size_t, 3>>& fill, double from,
                             double to) {
  std::ostringstream out;
  out << "solid prism\n";
  const auto corner = [&](std::size_t k, double y) {
    return Vec3(section[k].first, y, section[k].second);
  };
  const auto triangle = [&](const Vec3& a, const Vec3& b, const Vec3& c) {
    out << "facet normal 0 0 0\nouter loop\n";
    for (const Vec3& p : {a, b, c})
      out << "vertex " << p.x() << ' ' << p.y() << ' ' << p.z() << '\n';
    out << "endloop\nendfacet\n";
  };
  for (const auto& t : fill) {
    triangle(corner(t[0], from), corner(t[1], from), corner(t[2], from));
    triangle(corner(t[0], to), corner(t[2], to), corner(t[1], to));
  }
  for (std::size_t k = 0; k < section.size(); ++k) {
    const std::size_t next = (k + 1) % section.size();
    triangle(corner(k, from), corner(next, to), corner(k, to));
    triangle(corner(k, from), corner(next, from), corner(next, to));
  }
  out << "endsolid prism\n";
  return out.str();
}

}  // namespace proveout::pipeline
