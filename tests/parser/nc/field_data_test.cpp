// Real programs of NIST's Smart Manufacturing Systems Test Bed (technical data packages): lengths
// of feed as published beside them. The published figures leave canned cycles out; plate_13 drills
// four holes of 0.27 inch.
#include <gtest/gtest.h>

#include <filesystem>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

TEST(FieldData, PublishedFeedLengths) {
  const std::string folder = PROVEOUT_FIELD_DATA;
  if (folder.empty()) GTEST_SKIP() << "PROVEOUT_FIELD_DATA is not there";
  struct Row {
    const char* name;
    double feed_inch, cycles_inch, feed_s;
  };
  for (const Row& row : {Row{"cover.nc", 24.007, 0, 36.0}, Row{"box_op3.nc", 155.379, 0, 307.1},
                         Row{"box_op1.nc", 3346.69, 0, 1338.1},
                         Row{"plate_13.nc", 563.65, 4 * 0.27, 615.0 + 4 * 0.27 / 2 * 60}}) {
    Diagnostics diagnostics;
    ReadOptions options;
    options.start = Vec3(0, 0, 50);
    const auto program =
        read_program(std::filesystem::path(folder) / row.name, options, diagnostics);
    ASSERT_TRUE(program) << row.name
                         << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
    double feed = 0, seconds = 0;
    for (const Motion& m : program->motions) {
      if (m.kind == PathKind::rapid) continue;
      feed += length(m);
      seconds += length(m) / m.feed * 60;
    }
    EXPECT_NEAR(feed / mm_per_inch, row.feed_inch + row.cycles_inch, 0.006) << row.name;
    EXPECT_NEAR(seconds, row.feed_s, 0.1) << row.name;
  }
}

}  // namespace
}  // namespace proveout::nc
