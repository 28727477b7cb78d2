// Keys of the job file that loads go by: force laws in bands, the machine's stiffness, cuts heard
// at it; what is wrong in them is said at its line.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "parser/job/job.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

const char* const rest =
    "[stock]\nsize = [30, 20, 10]\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\n"
    "flutes = 2\nstickout = 20\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n";

std::optional<Job> read(const std::string& text, Diagnostics& diagnostics) {
  const fs::path file = fs::temp_directory_path() / "proveout-load-keys.toml";
  std::ofstream(file) << text << rest;
  std::ofstream(fs::temp_directory_path() / "a.nc") << "G21\nM30\n";
  auto job = read_job(file, diagnostics);
  fs::remove(file);
  return job;
}

bool says(const Diagnostics& d, const char* code, std::uint32_t line) {
  return std::any_of(d.all().begin(), d.all().end(),
                     [&](const Diagnostic& x) { return x.code == code && x.place.line == line; });
}

TEST(LoadKeys, BandsAreOneNumberOrThree) {
  Diagnostics d;
  const auto job = read("[materials.\"bone\"]\nktc = [40, 60, 90]\nkte = 2\n", d);
  ASSERT_TRUE(job);
  const Material& m = job->materials.at("bone");
  EXPECT_EQ(m.ktc->low, 40);
  EXPECT_EQ(m.ktc->likely, 60);
  EXPECT_EQ(m.ktc->high, 90);
  EXPECT_EQ(m.kte->low, 2);
  EXPECT_EQ(m.kte->high, 2);
  EXPECT_FALSE(m.krc);
}

TEST(LoadKeys, WrongBandsAreRefusedAtTheirLine) {
  for (const char* value : {"[90, 60, 40]", "[1, 2]", "\"much\"", "-3", "0", "nan"}) {
    Diagnostics d;
    EXPECT_FALSE(read(std::string("[materials.\"bone\"]\nktc = ") + value + "\n", d)) << value;
    EXPECT_TRUE(std::any_of(d.all().begin(), d.all().end(), [](const Diagnostic& x) {
      return x.place.line == 2;
    })) << value;
  }
  Diagnostics both, bare;
  EXPECT_FALSE(read("[materials.\"bone\"]\nktc = 5\nkc11 = 40\n", both));
  EXPECT_TRUE(says(both, "job-contradiction", 3));
  EXPECT_FALSE(read("[materials.\"bone\"]\nmc = 0.2\n", bare));
  EXPECT_TRUE(says(bare, "job-contradiction", 2));
}

TEST(LoadKeys, StiffnessAndKnownCuts) {
  Diagnostics d;
  const auto job = read(
      "units = \"inch\"\n[machine]\nstiffness = [1.25, 1.0, 2.45]\n[[machine.known_cuts]]\ntool = "
      "1\n"
      "rpm = 18000\ndepth = 0.05\nwidth = 0.1\nheard = \"sings\"\npitch_hz = 4210\n"
      "[[machine.known_cuts]]\ntool = 2\nstickout = 1\nmaterial = \"brass\"\nrpm = 9000\ndepth = "
      "0.1\n"
      "heard = \"quiet\"\n",
      d);
  ASSERT_TRUE(job) << (d.all().empty() ? "" : to_text(d.all()[0]));
  EXPECT_EQ(*job->machine.stiffness, Vec3(1.25, 1.0, 2.45));  // N/um whatever the file's lengths
  ASSERT_EQ(job->machine.known_cuts.size(), 2u);
  const KnownCut &a = job->machine.known_cuts[0], &b = job->machine.known_cuts[1];
  EXPECT_NEAR(a.depth, 1.27, 1e-12);
  EXPECT_NEAR(a.width, 2.54, 1e-12);
  EXPECT_TRUE(a.sings);
  EXPECT_EQ(a.pitch_hz, 4210);
  EXPECT_FALSE(b.sings);
  EXPECT_NEAR(b.stickout, 25.4, 1e-12);
  EXPECT_EQ(b.material, "brass");
  // The job's blank and tool are as many inches here as they are mm above, and that is told of
  // both.
  ASSERT_EQ(d.all().size(), 2u);
  for (const Diagnostic& x : d.all()) EXPECT_EQ(x.code, "job-unit-doubtful") << to_text(x);
}

TEST(LoadKeys, KnownCutsThatSayTooLittleOrHeardTheCutItself) {
  Diagnostics less, multiple;
  EXPECT_FALSE(read("[[machine.known_cuts]]\ntool = 1\nrpm = 18000\nheard = \"quiet\"\n", less));
  EXPECT_TRUE(std::any_of(less.all().begin(), less.all().end(),
                          [](const Diagnostic& x) { return x.code == "job-key-missing"; }));
  EXPECT_TRUE(
      read("[[machine.known_cuts]]\ntool = 1\nrpm = 18000\ndepth = 1\nheard = \"sings\"\n"
           "pitch_hz = 1800\n",
           multiple));
  EXPECT_TRUE(says(multiple, "job-known-pitch", 6));
}

}  // namespace
}  // namespace proveout::job
