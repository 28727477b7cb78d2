// A program far larger than the memory it may use: 300 MB are counted with 100 MB of data
// (RLIMIT_DATA, which counts what a process asks for, not files it maps).
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "tests/report/bad_input/child_process.h"

namespace proveout {
namespace {

namespace fs = std::filesystem;

TEST(LongProgram, IsCountedInLittleMemory) {
  const fs::path folder = fs::temp_directory_path() / fmt::format("proveout_long_{}", ::getpid());
  fs::create_directories(folder);
  const fs::path program = folder / "long.nc", out = folder / "out.txt";
  std::size_t lines = 0;
  {
    std::ofstream file(program, std::ios::binary);
    file << "G21 G90\nG1 F600 X0 Y0 Z0\n";
    std::string stroke;
    for (int i = 1; i <= 1000; ++i)
      stroke += fmt::format("X{:.3f} Y{:.3f} Z-0.125\n", i * 0.1, i % 7 * 0.01);
    const std::size_t times = (std::size_t{300} << 20) / stroke.size();
    for (std::size_t k = 0; k < times; ++k) file << stroke;
    file << "M30\n";
    lines = times * 1000 + 1;
    ASSERT_TRUE(file.good());
  }
  const std::string command =
      fmt::format("{}exec '{}' list --totals '{}' > '{}' 2>&1",
                  // The sanitizers' own memory does not fit under any such limit.
                  child::sanitized ? "" : "ulimit -d 102400; ", PROVEOUT_EXECUTABLE,
                  program.string(), out.string());
  const int status = std::system(("sh -c \"" + command + "\"").c_str());
  std::ifstream said(out);
  std::ostringstream text;
  text << said.rdbuf();
  fs::remove_all(folder);
  EXPECT_EQ(status, 0) << text.str();
  EXPECT_NE(text.str().find(fmt::format("lines     {:>9}\n", lines)), std::string::npos)
      << text.str();
}

}  // namespace
}  // namespace proveout
