// The same cut by every instruction set of this processor: not a byte of the stock, of what each
// motion took or of what it met may differ (DEVELOPERS.md, determinism). The program starts itself
// again for each, as a set is picked once for good.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "sim/stock/kernel.h"
#include "sim/stock/stock_file.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

namespace fs = std::filesystem;

// Straight moves level, sloping and upright, arcs of all three planes, a helix, and a path broken
// into short motions; seeded.
std::vector<nc::Motion> many_motions(const Vec3& block, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> share(0, 1);
  const auto place = [&] {
    return Vec3(block.x() * share(random), block.y() * share(random),
                block.z() * (0.4 + 0.6 * share(random)));
  };
  std::vector<nc::Motion> out;
  for (int k = 0; k < 4; ++k) {
    const Vec3 from = place();
    out.push_back(line(from, place()));
    Vec3 to = place();
    to.z() = from.z();
    out.push_back(line(from, to));
    out.push_back(line(Vec3(from.x(), from.y(), block.z() + 1), from));
  }
  for (const nc::Plane plane : {nc::Plane::xy, nc::Plane::zx, nc::Plane::yz}) {
    const Vec3 from = place();
    out.push_back(arc(from, from + Vec3(2, 1.5, 2), 0.6 + share(random), 0, plane));
  }
  const Vec3 from = place();
  out.push_back(arc(from, from + Vec3(2, 0, 0), -4 * pi, -1.5));
  const Vec3 first = place(), last = place();
  for (int k = 0; k < 40; ++k)
    out.push_back(line(first + (last - first) * k / 40, first + (last - first) * (k + 1) / 40));
  return out;
}

job::Tool of_shape(job::ToolShape shape) {
  job::Tool t = tool_of(shape, 3);
  t.flute_length = 4;
  t.stickout = 5;
  t.holder = {{6, 10}};
  if (shape == job::ToolShape::bull) t.corner_radius = 0.7;
  if (shape == job::ToolShape::vee) t.tip_angle = 60;
  return t;
}

// All that came of it, as text with every digit.
std::string outcome() {
  const Vec3 block(18, 14, 8);
  std::string out;
  for (const job::ToolShape shape :
       {job::ToolShape::flat, job::ToolShape::ball, job::ToolShape::bull, job::ToolShape::vee}) {
    const unsigned seed = 11 + static_cast<unsigned>(shape);
    const Cutting c = cut_box(block, 0.25, of_shape(shape), many_motions(block, seed));
    for (const MotionOutcome& m : c.cut.motions)
      out += fmt::format("{:a} {} {:a} {:a} {}\n", m.removed_mm3, m.contact, m.shank_depth,
                         m.holder_depth, m.sample_count);
    for (const EngagementSample& s : c.cut.samples)
      out += fmt::format("{:a} {:a} {:a} {:a} {:a} {:a} {:a} {:a} {:a}\n", s.along, s.length,
                         s.removed_mm3, s.axial_depth, s.bottom, s.radial_width, s.arc_from,
                         s.arc_to, s.arc);
    out += vdb_bytes(c.stock, {}, Packing::quick);
  }
  return out;
}

// Not a test: what this program does when it was started for one instruction set.
TEST(InstructionSets, DISABLED_WriteWhatComesOfOne) {
  const char* file = std::getenv("PROVEOUT_TEST_OUTCOME");
  ASSERT_NE(file, nullptr);
  std::ofstream(file, std::ios::binary) << kernels().instruction_set << '\n' << outcome();
}

TEST(InstructionSets, GiveTheSameBytes) {
  std::string name = (fs::temp_directory_path() / "proveout-test-XXXXXX").string();
  const fs::path folder = ::mkdtemp(name.data());
  const std::string program = fs::read_symlink("/proc/self/exe").string();
  std::string by_base;
  std::vector<std::string> sets;
  for (const char* wanted : {"base", "avx2", "avx512"}) {
    const fs::path file = folder / wanted;
    const std::string command = fmt::format(
        "PROVEOUT_INSTRUCTIONS={} PROVEOUT_TEST_OUTCOME={} '{}' --gtest_also_run_disabled_tests "
        "--gtest_filter='*WriteWhatComesOfOne' > {}.log 2>&1",
        wanted, file.string(), program, file.string());
    ASSERT_EQ(std::system(command.c_str()), 0) << command;
    std::ifstream in(file, std::ios::binary);
    std::string set;
    std::getline(in, set);
    std::ostringstream rest;
    rest << in.rdbuf();
    ASSERT_GT(rest.str().size(), 10'000u);
    if (sets.empty()) by_base = rest.str();
    sets.push_back(set);
    EXPECT_TRUE(rest.str() == by_base) << set << " is not " << sets.front();
  }
  fs::remove_all(folder);
  EXPECT_EQ(sets.front(), "base");
  if (sets.back() == sets.front()) GTEST_SKIP() << "this processor runs one set only";
}

}  // namespace
}  // namespace proveout::stock
