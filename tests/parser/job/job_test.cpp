// Job files: values, units, every mistake located; and the reference in docs/job-file.md is the
// code's own.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "parser/job/sections.h"

namespace proveout::job {
namespace {

std::optional<Job> read_text(const std::string& text, Diagnostics& diagnostics) {
  std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
  const std::filesystem::path folder = ::mkdtemp(name.data());
  std::ofstream(folder / "job.toml") << text;
  auto job = read_job(folder / "job.toml", diagnostics);
  std::filesystem::remove_all(folder);
  return job;
}

const std::string base =
    "[stock]\nsize = [4, 2, 1]\n[[tools]]\nnumber = 3\nshape = \"ball\"\ndiameter = 0.25\n"
    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n";

TEST(Job, InchesBecomeMillimetres) {
  Diagnostics d;
  const auto job = read_text("units = \"inch\"\n[machine]\nmax_feed = [100, 100, 40]\n" + base, d);
  ASSERT_TRUE(job) << to_text(d.all().at(0));
  EXPECT_NEAR(job->stock.size.x(), 101.6, 1e-12);
  EXPECT_NEAR(job->tools[0].diameter, 6.35, 1e-12);
  EXPECT_NEAR(job->machine.max_feed.x(), 2540, 1e-9);
}

TEST(Job, DefaultsAreTheContracts) {
  Diagnostics d;
  const auto job = read_text(base, d);
  ASSERT_TRUE(job);
  EXPECT_EQ(job->machine.lookahead, 32);
  EXPECT_EQ(job->machine.path_tolerance, 0.02);
  EXPECT_EQ(job->machine.tool_change_s, 60);
  EXPECT_EQ(job->stock.material, "6061-T6");
  EXPECT_EQ(job->setups[0].zero.z, ZeroEdge::max);
}

TEST(Job, AllMistakesAtOnce) {
  Diagnostics d;
  EXPECT_FALSE(read_text("nmae = \"x\"\n" + base +
                             "turn = [{ about = \"w\", degrees = 90 }]\n[part]\norigin = [1, 2]\n",
                         d));
  EXPECT_GE(d.errors(), 4u);
}

TEST(Job, EditDistanceCountsSwapsOnce) {
  EXPECT_EQ(edit_distance("stickout", "stikcout"), 1u);
  EXPECT_EQ(edit_distance("", "abc"), 3u);
  EXPECT_EQ(nearest_word("diametre", {"number", "diameter"}), "diameter");
  EXPECT_EQ(nearest_word("zzzzzz", {"number", "diameter"}), "");
}

TEST(Job, ReferenceInDocsIsTheCodesOwn) {
  std::ifstream file(std::string(PROVEOUT_FIXTURES) + "/../docs/job-file.md");
  std::stringstream text;
  text << file.rdbuf();
  EXPECT_NE(text.str().find(job_reference_markdown()), std::string::npos)
      << "docs/job-file.md lacks this table:\n"
      << job_reference_markdown();
}

}  // namespace
}  // namespace proveout::job
