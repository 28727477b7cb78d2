// Random programs retimed for another material, rewritten and dry-run in it: no finding may say
// that a feed or a speed is beyond a limit of the material, the tool or the machine. The judge is
// the dry run, which does not know what the rewriting planned. 40 programs, 500 in
// the nightly tests; PROVEOUT_SOAK=N takes N.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <set>

#include "parser/job/program_reading.h"
#include "sim/after/retime.h"
#include "sim/after/rewrite.h"
#include "tests/sim/after/random_program.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::after {
namespace {

std::string job_text(const std::string& material, const std::string& program) {
  return "[simulation]\nvoxel = 0.8\n[machine]\nmax_feed = [4000, 3000, 1200]\nrapid = [6000, "
         "6000, "
         "3000]\nspindle = { min_rpm = 4000, max_rpm = 18000, power_w = 250 }\n[stock]\nsize = "
         "[30, "
         "30, 4]\nmaterial = \"" +
         material +
         "\"\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflutes = 2\nflute_length = "
         "15\nstickout = 30\nlimits = { plunge_feed = 350 }\n[[tools]]\nnumber = 2\nshape = "
         "\"flat\"\ndiameter = 4\nflutes = 2\nflute_length = 12\nstickout = 25\nlimits = { "
         "plunge_feed = 200 }\n[[setups]]\nname = \"A\"\nprogram = \"" +
         program + "\"\nzero = { x = \"centre\", y = \"centre\", z = \"top\" }\n";
}

// Findings of a feed or a speed beyond a limit.
int overruns(const run::JobResult& result) {
  static const std::set<FindingKind> limits = {
      FindingKind::plunge,     FindingKind::feed_clipped, FindingKind::speed_clipped,
      FindingKind::chip_thick, FindingKind::over_power,   FindingKind::over_bend};
  int count = 0;
  for (const Finding& f : result.findings) {
    if (!limits.contains(f.kind) || f.detail == "other-material") continue;
    ADD_FAILURE() << f.text << " at line " << f.line;
    ++count;
  }
  return count;
}

TEST(RewrittenRun, NoLimitIsOverrunInTheNewMaterial) {
  const char* const soak = std::getenv("PROVEOUT_SOAK");
  const unsigned count = soak != nullptr ? static_cast<unsigned>(std::atoi(soak)) : 40;
  unsigned written = 0, faster = 0, slower = 0;
  for (unsigned seed = 1; seed <= count; ++seed) {
    const char* const target = seed % 2 == 0 ? "brass" : "acetal";
    const pipeline::WorkFolder folder;
    const std::string text = random_nc(seed);
    SCOPED_TRACE(testing::Message() << "seed " << seed << "\n" << text);
    folder.file("a.nc", text);
    const run::JobResult was = folder.run(job_text("6061-T6", "a.nc"), 1);
    const auto material = cutting::find_material(target, was.job.materials);
    ASSERT_TRUE(material);
    const Retimed retimed = retime(was, *material);
    Diagnostics diagnostics;
    const auto made = rewrite(text, "a.nc", job::program_reading(was.job, &was.job.setups[0]),
                              *was.setups[0].source,
                              {retimed.setups[0].feed, retimed.setups[0].rpm}, diagnostics);
    if (!made) {
      for (const Diagnostic& d : diagnostics.all()) EXPECT_NE(d.code, "retime-disagrees");
      continue;
    }
    ++written;
    folder.file("b.nc", made->text);
    SCOPED_TRACE(made->text);
    const run::JobResult is = folder.run(job_text(target, "b.nc"), 1);
    EXPECT_EQ(overruns(is), 0);
    EXPECT_EQ(is.removed_mm3, was.removed_mm3);  // the same path cuts the same
    for (std::size_t i = 0; i < made->feed.size(); ++i) {
      const double old = was.setups[0].source->motions[i].feed;
      if (made->feed[i] > 1.01 * old) ++faster;
      if (made->feed[i] < 0.99 * old) ++slower;
    }
  }
  EXPECT_GT(written, 9 * count / 10);
  EXPECT_GT(faster, count);
  EXPECT_GT(slower, count);
}

}  // namespace
}  // namespace proveout::after
