// Pictures against geometry known in closed form: a block's outline and section in pixels, colours
// by motion, and mesh files that close and hold the block's volume.
#include "report/picture/picture.h"

#include <gtest/gtest.h>
#include <tbb/global_control.h>

#include <fstream>

#include "parser/mesh/mesh.h"
#include "report/mesh/mesh_files.h"
#include "report/page/build/stock_surface.h"
#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::picture {
namespace {

using stock::cut_box;
using stock::Cutting;
using stock::line;
using stock::tool_of;

constexpr Rgb red{255, 0, 0}, green{0, 255, 0};

// A block of 40 x 20 x 10 with a slot 6 wide and 4 deep along y at x = 20.
Cutting slotted() {
  return cut_box({40, 20, 10}, 0.25, tool_of(job::ToolShape::flat, 6),
                 {line({20, -5, 6}, {20, 25, 6})});
}

PictureOptions plain_view(double raised) {
  PictureOptions options;
  options.width = 400;
  options.height = 300;
  options.turned_deg = 0;
  options.raised_deg = raised;
  options.zero_mark = false;
  options.colour_of = [](stock::MotionId id) { return id == stock::from_blank ? red : green; };
  return options;
}

bool is_mostly(Rgb seen, Rgb of) {
  const auto strong = [](int a, int b, int c) { return a > 2 * b && a > 2 * c; };
  return of == red ? strong(seen.red, seen.green, seen.blue)
                   : strong(seen.green, seen.red, seen.blue);
}

// Pixels of a colour in one row.
int count_in_row(const Picture& picture, int y, Rgb of) {
  int count = 0;
  for (int x = 0; x < picture.width; ++x) count += is_mostly(picture.at(x, y), of);
  return count;
}

TEST(Picture, SlotSeenFromAboveIsAsWideAsTheTool) {
  const Cutting c = slotted();
  const Picture picture = draw(c.stock, plain_view(90));
  // The block's 40 mm and a voxel either side fill 0.84 of the width.
  const double mm_per_pixel = 40.5 / (0.84 * 400);
  const int y = picture.height / 2;
  // Edge lines take up to two pixels from either side of each boundary.
  EXPECT_NEAR(count_in_row(picture, y, green) * mm_per_pixel, 6, 4 * mm_per_pixel);
  EXPECT_NEAR(count_in_row(picture, y, red) * mm_per_pixel, 34, 8 * mm_per_pixel);
  EXPECT_TRUE(is_mostly(picture.at(picture.width / 2, y), green));
}

TEST(Picture, SectionShowsTheSlotAsAGapInTheCutFace) {
  const Cutting c = slotted();
  PictureOptions options = plain_view(0);
  options.section = SectionPlane{{20, 10, 5}, -Vec3::UnitY()};
  const Picture picture = draw(c.stock, options);
  const double mm_per_pixel = 40.5 / (0.84 * 400);
  const auto cut_face = [&](int y) {  // the section's sand colour: red over blue by a margin
    int count = 0;
    for (int x = 0; x < picture.width; ++x) {
      const Rgb p = picture.at(x, y);
      count += p.red > p.blue + 25 && p.red < 2 * p.blue && p.green > p.blue;
    }
    return count * mm_per_pixel;
  };
  // z = 5 is the picture's middle; the slot reaches from z = 6 up.
  const auto row = [&](double z) { return static_cast<int>(150 - (z - 5) / mm_per_pixel); };
  EXPECT_NEAR(cut_face(row(3)), 40, 4 * mm_per_pixel);
  EXPECT_NEAR(cut_face(row(8)), 34, 8 * mm_per_pixel);
}

// Purple and orange as ColorBrewer's PuOr has them, the same way round as the page (docs/page.md).
TEST(Picture, WhatIsLeftOnIsOrangeAndWhatIsCutIntoThePartIsPurple) {
  EXPECT_EQ(deviation_colour(-1), (Rgb{84, 39, 136}));
  EXPECT_EQ(deviation_colour(0), (Rgb{247, 247, 247}));
  EXPECT_EQ(deviation_colour(1), (Rgb{179, 88, 6}));
  // The part ends 0.2 mm below the block's top; the slot's floor lies 3.8 mm inside it, far beyond
  // the scale's end: the deepest gouge is no frame, which is grey.
  const Cutting c = slotted();
  const solid::PartDistance part(measure::box_mesh({0, 0, 0}, {40, 20, 9.8}));
  PictureOptions options = plain_view(90);
  options.part = &part;
  const Picture picture = draw(c.stock, options);
  const double mm_per_pixel = 40.5 / (0.84 * 400);
  const auto seen = [&](double x) {
    return picture.at(static_cast<int>(200 + (x - 20) / mm_per_pixel), 150);
  };
  for (const double x : {6.0, 12.0, 28.0, 34.0}) {
    const Rgb p = seen(x);
    EXPECT_TRUE(p.red > 1.2 * p.green && p.green > 1.2 * p.blue) << x;
  }
  const Rgb floor = seen(20);
  EXPECT_TRUE(floor.blue > 1.2 * floor.red && floor.red > 1.2 * floor.green);
}

// One scale for page and pictures: docs/measuring.md.
TEST(Picture, TheDeviationsScaleEndsAtTwiceTheWiderTolerance) {
  job::Part part;
  part.gouge_tolerance = 0.05;
  part.excess_tolerance = 0.2;
  EXPECT_DOUBLE_EQ(deviation_end(part), 0.4);
  part.gouge_tolerance = 0.3;
  EXPECT_DOUBLE_EQ(deviation_end(part), 0.6);
  part.gouge_tolerance = part.excess_tolerance = 0;
  EXPECT_GT(deviation_end(part), 0);
}

TEST(Picture, SameBytesForAnyNumberOfThreads) {
  const Cutting c = slotted();
  PictureOptions options = plain_view(35);
  options.zero_mark = true;
  const std::string all = png(draw(c.stock, options));
  const tbb::global_control one(tbb::global_control::max_allowed_parallelism, 1);
  EXPECT_EQ(png(draw(c.stock, options)), all);
}

TEST(MeshFiles, CloseAndHoldTheVolume) {
  const Cutting c = slotted();
  const page::Surface surface = page::stock_surface(c.stock, nullptr, 1'000'000);
  const double expected = 40 * 20 * 10 - 6 * 4 * 20;
  for (const auto& [name, bytes] :
       {std::pair<std::string, std::string>{"stock.stl", mesh_files::stl(surface)},
        {"stock.ply", mesh_files::ply(surface)}}) {
    const std::filesystem::path path = std::filesystem::path(testing::TempDir()) / name;
    std::ofstream(path, std::ios::binary) << bytes;
    Diagnostics diagnostics;
    // read_mesh refuses a mesh with an open edge and warns of one that is inside out.
    const auto read = mesh::read_mesh(path, 1, Vec3::Zero(), "stock", diagnostics);
    ASSERT_TRUE(read) << name;
    EXPECT_FALSE(diagnostics.has_errors()) << name;
    for (const Diagnostic& d : diagnostics.all()) EXPECT_NE(d.code, "mesh-inside-out") << name;
    EXPECT_NEAR(mesh::mass_of(*read).volume, expected, 0.005 * expected) << name;
    std::filesystem::remove(path);
  }
}

// A close-up shows what it is about in the middle, in a ring, larger than the whole picture does.
TEST(Focus, RingStandsRoundThePlace) {
  const stock::Stock stock = stock::Stock::box(Vec3(40, 30, 20), 0.5);
  PictureOptions options;
  options.width = 400;
  options.height = 300;
  options.zero_mark = false;
  options.focus = PictureOptions::Focus{Vec3(30, 10, 20), 5};
  const Picture close = draw(stock, options);
  // The ring's radius is a twentieth of the smaller side; its colour is vermilion.
  int vermilion = 0;
  for (int k = 0; k < 360; ++k) {
    const double a = 2 * pi * k / 360;
    const Rgb c = close.at(static_cast<int>(200 + 15 * std::cos(a)),
                           static_cast<int>(150 + 15 * std::sin(a)));
    vermilion += c.red > 150 && c.green < 190 && c.blue < 150 ? 1 : 0;
  }
  EXPECT_GT(vermilion, 250);
  options.focus.reset();
  const Picture whole = draw(stock, options);
  int ringed = 0;
  for (int k = 0; k < 360; ++k) {
    const double a = 2 * pi * k / 360;
    const Rgb c = whole.at(static_cast<int>(200 + 15 * std::cos(a)),
                           static_cast<int>(150 + 15 * std::sin(a)));
    ringed += c.red > 150 && c.green < 190 && c.blue < 150 ? 1 : 0;
  }
  EXPECT_EQ(ringed, 0);
}

}  // namespace
}  // namespace proveout::picture
