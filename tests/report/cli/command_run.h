// Runs a command line in this process and catches what it prints.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "report/cli/command_line.h"

namespace proveout::cli {

struct CommandRun {
  int status = -1;
  std::string out, err;
};

inline CommandRun command(std::vector<std::string> words) {
  words.insert(words.begin(), "proveout");
  std::vector<char*> arguments;
  for (auto& w : words) arguments.push_back(w.data());
  arguments.push_back(nullptr);
  testing::internal::CaptureStdout();
  testing::internal::CaptureStderr();
  CommandRun r;
  r.status = run(static_cast<int>(words.size()), arguments.data());
  r.err = testing::internal::GetCapturedStderr();
  r.out = testing::internal::GetCapturedStdout();
  return r;
}

// A folder of its own, gone at the end.
class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no folder for the test";
    path_ = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  std::string file(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
    return (path_ / name).string();
  }
  std::vector<std::string> names() const {
    std::vector<std::string> out;
    for (const auto& e : std::filesystem::directory_iterator(path_))
      out.push_back(e.path().filename().string());
    return out;
  }

 private:
  std::filesystem::path path_;
};

inline std::string read(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

// A small job that runs; parts of it are replaced by the tests.
inline const char* small_job =
    "name = \"small\"\n[simulation]\nvoxel = 0.5\n[stock]\nsize = [30, 20, 10]\n"
    "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 10\nstickout = 20\n"
    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"min\", y = \"min\", z = \"top\" "
    "}\n";
inline const char* small_program =
    "%\nG21 G90\nT1 M6\nS12000 M3\nG0 X-5 Y10 Z5\nG1 Z-1 F300\nX35 F600\nG0 Z5\nM30\n%\n";

}  // namespace proveout::cli
