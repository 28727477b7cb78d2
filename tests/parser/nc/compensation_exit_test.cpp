// The end of cutter compensation: the tool stands beside the contour by its radius, and an axis no
// word names does not move (NISTIR 6556 3.5.1), so that it lifts off where it stands. The contour
// goes along +x with the tool of 6 mm on its left: y 3.
#include <gtest/gtest.h>

#include "reading.h"

namespace proveout::nc {
namespace {

const std::string cut = "G21 G90 F100\nT1 M6\nS900 M3\nG1 X-20 Y10 Z-1\nG41 D1 X0 Y0\nX20\n";

Reading behind(const std::string& blocks) {
  ReadOptions options = reading({});
  options.zero_in_machine = Vec3(-100, -100, -50);
  return read(cut + blocks + "\nM30\n", options);
}

TEST(CompensationExit, WithoutXAndYTheToolLiftsWhereItStands) {
  for (const char* blocks :
       {"G40\nG0 Z5", "G40 G0 Z5", "G40\nG1 Z5", "G40\nG91 G0 Z6\nG90", "G40\nG28 Z5",
        "G40\nG53 G0 Z-45", "G40 G91 G28 Z6\nG90", "G91 G28 Z6\nG90", "G40\nG0 Z2\nZ5",
        "G40\nM9\nG0 Z5", "G40\nG81 X60 Y9 Z-1 R5"}) {
    for (const bool quick : {true, false}) {
      ReadOptions options = reading({});
      options.zero_in_machine = Vec3(-100, -100, -50);
      options.quick = quick;
      const Reading r = read(cut + blocks + "\nG0 X60 Y9\nM30\n", options);
      ASSERT_TRUE(r.ok) << blocks << r.said();
      bool up = false;
      for (const Motion& m : r.moves()) {
        if (!(m.end.z() > m.start.z())) continue;
        up = true;
        EXPECT_LT((m.start - Vec3(20, 3, m.start.z())).norm(), 1e-9) << blocks;
        EXPECT_LT((m.end - Vec3(20, 3, m.end.z())).norm(), 1e-9) << blocks;
        if (m.end.z() >= 5) break;
      }
      EXPECT_TRUE(up) << blocks;
      EXPECT_LT((r.moves().back().end - Vec3(60, 9, r.moves().back().end.z())).norm(), 1e-9)
          << blocks;
    }
  }
}

// What comes next goes on from there, and to the programmed places.
TEST(CompensationExit, TheFirstMoveInThePlaneComesBackToThePath) {
  const Reading r = behind("G40\nG0 Z5\nX40 Y9\nZ1\nG1 X50");
  ASSERT_TRUE(r.ok) << r.said();
  const auto m = r.moves();
  ASSERT_GE(m.size(), 4u);
  EXPECT_LT((m[m.size() - 3].start - Vec3(20, 3, 5)).norm(), 1e-9);
  EXPECT_LT((m[m.size() - 3].end - Vec3(40, 9, 5)).norm(), 1e-9);
  EXPECT_LT((m.back().end - Vec3(50, 9, 1)).norm(), 1e-9);
  EXPECT_FALSE(behind("G40\nG0 Z5\nG81 Z-1 R2").ok);
}

// X alone: y comes back to the path with it here, and stays beside it on some controls.
TEST(CompensationExit, OneOfXAndYIsTold) {
  for (const auto& [blocks, column] : {std::pair{"G40 X40", 5u},
                                       {"G40\nX40", 1u},
                                       {"G40\nG0 Z5\nX40", 1u},
                                       {"G40 Y10", 0u},
                                       {"G40 X40 Y10", 0u},
                                       {"G40\nG0 Z5\nX40 Y10", 0u}}) {
    const Reading r = behind(blocks);
    ASSERT_TRUE(r.ok) << blocks << r.said();
    const Diagnostic* const d = r.of("compensation-half-left");
    ASSERT_EQ(d != nullptr, column != 0) << blocks << r.said();
    if (d == nullptr) continue;
    EXPECT_EQ(d->place.column, column) << blocks;
    EXPECT_NE(d->what.find("Y goes 3 mm"), std::string::npos) << d->what;
  }
}

// Neither may stand between two compensated moves: the first of them would not be given out yet.
TEST(CompensationExit, MachineCoordinatesAndProbesWhileItIsOnAreRefused) {
  for (const char* blocks : {"G53 G0 Z-45\nG1 Y20\nG40 X40 Y20", "G38.2 Y20\nG40 X40 Y20"}) {
    const Reading r = behind(blocks);
    EXPECT_FALSE(r.ok) << blocks;
    ASSERT_NE(r.of("compensation"), nullptr) << blocks << r.said();
    EXPECT_EQ(r.of("compensation")->place.line, 7u);
  }
  EXPECT_TRUE(behind("G40 X40 Y10\nG53 G0 Z-45").ok);
}

}  // namespace
}  // namespace proveout::nc
