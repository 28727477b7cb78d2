// A fault planted in a small job each, with what it must be worth in closed form: the finding's
// kind, line, value and limit; and beside it the same job without the fault, which must be silent.
// Block 40 x 30 x 20, zero at the middle of its top. One slot along y at x = 0, cut by line 6.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <optional>
#include <tuple>

#include "sim/pipeline/dry_run.h"

namespace proveout::pipeline {
namespace {

namespace fs = std::filesystem;

struct Small {
  std::string tool = "diameter = 6\nflute_length = 15\nstickout = 30\n";
  std::string limits;  // of the tool, as a TOML table's inside
  std::string shape = "flat";
  std::string machine, materials, setup, part;
  std::string material = "6061-T6";
  std::string voxel = "voxel = 0.25\n";
  double depth = 2, feed = 900, speed = 10000;
  std::string program;  // instead of the slot

  std::string text() const {
    return "[simulation]\n" + voxel + "[machine]\n" + machine +
           "[stock]\nsize = [40, 30, 20]\nmaterial = \"" + material + "\"\n" + part +
           "[[tools]]\nnumber = 1\nshape = \"" + shape + "\"\nflutes = 2\n" + tool +
           (limits.empty() ? "" : "limits = { " + limits + " }\n") +
           "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", "
           "z = \"top\" }\n" +
           setup + materials;
  }
  std::string nc() const {
    if (!program.empty()) return program;
    return fmt::format("G21 G90\nT1 M6\nS{} M3\nG0 X0 Y-25 Z5\nG0 Z-{}\nG1 Y25 F{}\nG0 Z5\nM30\n",
                       speed, depth, feed);
  }
};

struct Ran {
  std::optional<run::JobResult> result;
  Diagnostics diagnostics;
  const Finding* first(FindingKind kind, const std::string& detail = "") const {
    for (const Finding& f : result->findings) {
      if (f.kind == kind && (detail.empty() ? f.detail != "other-material" : f.detail == detail))
        return &f;
    }
    return nullptr;
  }
  bool has(FindingKind kind) const { return first(kind) != nullptr; }
  bool said(std::string_view code) const {
    return std::any_of(diagnostics.all().begin(), diagnostics.all().end(),
                       [&](const Diagnostic& d) { return d.code == code; });
  }
  // All findings and the slot's peaks in words, for what a failed check says.
  std::string words() const {
    std::string out;
    for (const Finding& f : result->findings)
      out += fmt::format("{} line {} value {} limit {}: {} [{}]\n", name(f.kind), f.line, f.value,
                         f.limit, f.text, f.detail);
    const run::SetupResult& setup = result->setups[0];
    for (std::size_t i = 0; i < setup.peaks.size(); ++i)
      out += fmt::format("line {}: {} deep, {} wide, {} degrees\n", setup.source->motions[i].line,
                         setup.peaks[i].axial_depth, setup.peaks[i].radial_width,
                         setup.peaks[i].engagement_deg);
    return out;
  }
  bool unchecked(FindingKind kind) const {
    return std::any_of(result->not_checked.begin(), result->not_checked.end(),
                       [&](const auto& n) { return n.what == name(kind); });
  }
};

// A closed box as a text STL file.
std::string box_stl(const Vec3& low, const Vec3& high) {
  std::string out = "solid box\n";
  for (const auto& face : std::array<std::array<int, 4>, 6>{
           {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}}) {
    for (const auto& corners : {std::array{0, 1, 2}, std::array{0, 2, 3}}) {
      out += "facet normal 0 0 0\nouter loop\n";
      for (const int corner : corners) {
        const int c = face[static_cast<std::size_t>(corner)];
        out += fmt::format("vertex {} {} {}\n", c & 1 ? high.x() : low.x(),
                           c & 2 ? high.y() : low.y(), c & 4 ? high.z() : low.z());
      }
      out += "endloop\nendfacet\n";
    }
  }
  return out + "endsolid box\n";
}

Ran run(const Small& small, const std::string& stl = "") {
  std::string folder = (fs::temp_directory_path() / "proveout-fault-XXXXXX").string();
  EXPECT_NE(::mkdtemp(folder.data()), nullptr);
  std::ofstream(fs::path(folder) / "a.nc") << small.nc();
  std::ofstream(fs::path(folder) / "job.toml") << small.text();
  if (!stl.empty()) std::ofstream(fs::path(folder) / "part.stl") << stl;
  Ran ran;
  const auto job = job::read_job(fs::path(folder) / "job.toml", ran.diagnostics);
  EXPECT_TRUE(job) << (ran.diagnostics.all().empty() ? "" : to_text(ran.diagnostics.all()[0]))
                   << small.text();
  if (job) ran.result = dry_run(*job, {}, ran.diagnostics);
  fs::remove_all(folder);
  return ran;
}

TEST(PlantedFault, DeeperThanTheToolMayGo) {
  Small s;
  s.depth = 3;
  s.limits = "axial_depth = 2";
  const Ran deep = run(s);
  const Finding* f = deep.first(FindingKind::over_depth);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->tool, 1);
  EXPECT_NEAR(f->value, 3, 0.05);
  EXPECT_EQ(f->limit, 2);
  s.limits = "axial_depth = 3";
  EXPECT_FALSE(run(s).has(FindingKind::over_depth));
  // A limit of the tool's own in this material comes before the general one.
  s.limits = "axial_depth = 2";
  s.tool +=
      "limits_in = { \"6061-T6\" = { axial_depth = 3, radial_width = 6, plunge_feed = 9 } }\n";
  EXPECT_FALSE(run(s).has(FindingKind::over_depth));
}

TEST(PlantedFault, ATallSkinIsNoDeepCut) {
  Small s;
  s.limits = "axial_depth = 2";
  // 0.15 mm off the block's left side (x = -20), 10 mm deep.
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-22.85 Y-25 Z5\nG0 Z-10\nG1 Y25 F900\nG0 Z5\nM30\n";
  EXPECT_FALSE(run(s).has(FindingKind::over_depth));
  // 1.5 mm off it is one.
  s.program = "G21 G90\nT1 M6\nS10000 M3\nG0 X-21.5 Y-25 Z5\nG0 Z-10\nG1 Y25 F900\nG0 Z5\nM30\n";
  const Ran deep = run(s);
  ASSERT_TRUE(deep.has(FindingKind::over_depth));
  EXPECT_NEAR(deep.first(FindingKind::over_depth)->value, 10, 0.05);
}

// The material's own rule, half a diameter in a full slot, where the tool has no limit.
TEST(PlantedFault, AFullSlotBeyondTheMaterialsRule) {
  Small s;
  s.depth = 4;
  const Ran deep = run(s);
  const Finding* f = deep.first(FindingKind::over_depth);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_NEAR(f->value, 4, 0.05);
  EXPECT_NEAR(f->limit, 3, 1e-9);
  s.depth = 2.9;
  EXPECT_FALSE(run(s).has(FindingKind::over_depth));
}

// Flutes of 5 mm in a slot of 8: the shank, as thick as the tool, goes 3 mm into what they left.
TEST(PlantedFault, MaterialAboveTheFlutes) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 5\nstickout = 30\n";
  s.limits = "axial_depth = 10";
  s.depth = 8;
  const Ran one_pass = run(s);
  const Finding* shank = one_pass.first(FindingKind::shank_contact);
  ASSERT_NE(shank, nullptr) << one_pass.words();
  EXPECT_EQ(shank->line, 6u);
  EXPECT_NEAR(shank->value, 3, 0.25);
  // In two passes the shank meets nothing it should not.
  s.program =
      "G21 G90\nT1 M6\nS10000 M3\nG0 X0 Y-25 Z5\nG0 Z-4\nG1 Y25 F900\nG0 Z5\nG0 Y-25\nG0 Z-8\n"
      "G1 Y25\nG0 Z5\nM30\n";
  EXPECT_FALSE(run(s).has(FindingKind::shank_contact));
}

TEST(PlantedFault, WiderThanTheToolMayGo) {
  Small s;
  s.limits = "radial_width = 4";
  const Ran wide = run(s);
  const Finding* f = wide.first(FindingKind::over_width);
  ASSERT_NE(f, nullptr) << wide.words();
  EXPECT_NEAR(f->value, 6, 0.25 * 0.25 + 0.01);
  EXPECT_EQ(f->limit, 4);
  s.limits = "radial_width = 6";
  EXPECT_FALSE(run(s).has(FindingKind::over_width));
}

TEST(PlantedFault, PlungesByAngleAndByFeed) {
  Small s;
  const auto plunge = [](const char* way) {
    return fmt::format(
        "G21 G90\nT1 M6\nS10000 M3\nG0 X-10 Y0 Z5\nG1 Z0.5 F300\nG1 {} F400\nG0 Z5\nM30\n", way);
  };
  s.program = plunge("Z-2");
  s.tool += "centre_cutting = false\n";
  const Ran blunt = run(s);
  const Finding* f = blunt.first(FindingKind::plunge);
  ASSERT_NE(f, nullptr) << blunt.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->unit, "deg");
  EXPECT_NEAR(f->value, 90, 1e-6);
  EXPECT_NEAR(f->limit, 10, 1e-9);
  // 1.5 mm over 20 mm: 4.3 degrees, from 0.5 above to 1 below.
  s.program = plunge("X10 Z-1");
  EXPECT_FALSE(run(s).has(FindingKind::plunge));
  Small fast;
  fast.program = plunge("Z-2");
  fast.limits = "plunge_feed = 200";
  const Ran down = run(fast);
  ASSERT_TRUE(down.has(FindingKind::plunge));
  EXPECT_EQ(down.first(FindingKind::plunge)->unit, "mm/min");
  EXPECT_NEAR(down.first(FindingKind::plunge)->value, 400, 8);
  fast.limits = "plunge_feed = 400";
  EXPECT_FALSE(run(fast).has(FindingKind::plunge));
  // A drill goes straight down; its limit, where it has one, holds all the same.
  fast.tool = "diameter = 6\nflute_length = 15\nstickout = 30\ncentre_cutting = false\n";
  fast.shape = "drill";
  EXPECT_FALSE(run(fast).has(FindingKind::plunge));
  fast.limits = "plunge_feed = 200";
  ASSERT_TRUE(run(fast).has(FindingKind::plunge));
  EXPECT_EQ(run(fast).first(FindingKind::plunge)->limit, 200);
}

TEST(PlantedFault, SpindleOutsideItsRangeOrWithoutSpeed) {
  Small s;
  s.machine = "spindle = { min_rpm = 8000, max_rpm = 12000 }\n";
  EXPECT_FALSE(run(s).has(FindingKind::speed_clipped));
  EXPECT_FALSE(run(s).unchecked(FindingKind::speed_clipped));
  for (const auto& [speed, limit] : {std::pair{18000., 12000.}, std::pair{5000., 8000.}}) {
    s.speed = speed;
    const Ran clipped = run(s);
    const Finding* f = clipped.first(FindingKind::speed_clipped);
    ASSERT_NE(f, nullptr) << speed;
    EXPECT_EQ(f->value, speed);
    EXPECT_EQ(f->limit, limit);
    EXPECT_EQ(f->line, 6u);
  }
  s.speed = 0;
  const Ran still = run(s);
  const Finding* f = still.first(FindingKind::spindle_stopped);
  ASSERT_NE(f, nullptr) << still.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NE(f->text.find("has no speed"), std::string::npos);
  EXPECT_FALSE(still.has(FindingKind::speed_clipped));
}

TEST(PlantedFault, FeedTheAxesCannotDo) {
  Small s;
  s.machine = "max_feed = [1000, 1000, 1000]\naccel = [5000, 5000, 5000]\n";
  s.feed = 5000;
  const Ran fast = run(s);
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_EQ(f->value, 5000);
  EXPECT_NEAR(f->limit, 1000, 1e-3);  // speeds are kept in single precision
  s.feed = 1000;
  EXPECT_FALSE(run(s).has(FindingKind::feed_clipped));
}

// With a specific force of 1000 N/mm2 whatever the chip, a slot of 6 x 3 at 500 mm/min needs
// 6 * 3 * 500 / 60 s * 1 J/mm3 = 150 W. There is power * efficiency * speed / rated speed.
TEST(PlantedFault, MorePowerThanTheSpindleHas) {
  Small s;
  s.material = "test";
  s.materials = "[materials.\"test\"]\nkc11 = 1000\nmc = 0\ndensity_g_cm3 = 1\n";
  s.depth = 3;
  s.feed = 500;
  s.machine = "spindle = { power_w = 200, efficiency = 0.5, rated_rpm = 20000 }\n";
  const Ran weak = run(s);
  const Finding* f = weak.first(FindingKind::over_power);
  ASSERT_NE(f, nullptr) << weak.words();
  EXPECT_EQ(f->level, Severity::error);
  EXPECT_NEAR(f->value, 150, 3);
  EXPECT_NEAR(f->limit, 200 * 0.5 * 10000 / 20000, 1e-9);
  s.machine = "spindle = { power_w = 640, efficiency = 0.5, rated_rpm = 20000 }\n";  // 160 W there
  EXPECT_FALSE(run(s).has(FindingKind::over_power));
}

// In a full slot the thickest chip is the feed per tooth: F / (S * flutes). The material's rule for
// 6 mm is 0.03 to 0.09 mm; thick begins a quarter above it, thin at half of it.
TEST(PlantedFault, ChipsTooThickAndTooThin) {
  Small s;
  s.speed = 1000;
  s.feed = 500;
  const Ran thick = run(s);
  const Finding* f = thick.first(FindingKind::chip_thick);
  ASSERT_NE(f, nullptr) << thick.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 0.25, 0.01);
  EXPECT_NEAR(f->limit, 1.25 * 0.015 * 6, 1e-9);
  s.speed = 20000;
  s.feed = 100;
  const Ran thin = run(s);
  f = thin.first(FindingKind::chip_thin);
  ASSERT_NE(f, nullptr) << thin.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_NEAR(f->value, 0.0025, 1e-4);
  EXPECT_NEAR(f->limit, 0.5 * 0.005 * 6, 1e-9);
  s.speed = 10000;
  s.feed = 1200;  // 0.06 mm
  const Ran right = run(s);
  EXPECT_FALSE(right.has(FindingKind::chip_thick));
  EXPECT_FALSE(right.has(FindingKind::chip_thin));
}

// 0.15 mm a tooth and 4 mm deep is within what 6 mm may do in MDF (0.09 to 0.24, 9 mm), beyond both
// in the light alloy (0.09, 3 mm).
TEST(PlantedFault, AFileForAnotherMaterial) {
  Small s;
  s.depth = 4;
  s.speed = 10000;
  s.feed = 3000;
  s.machine = "accel = [20000, 20000, 20000]\nmax_feed = [9000, 9000, 9000]\n";
  const Ran wrong = run(s);
  const auto f = std::find_if(wrong.result->findings.begin(), wrong.result->findings.end(),
                              [](const Finding& g) { return g.detail == "other-material"; });
  ASSERT_NE(f, wrong.result->findings.end());
  EXPECT_NE(f->text.find("reads like a file for mdf, not 6061-T6"), std::string::npos) << f->text;
  s.material = "mdf";
  const Ran right = run(s);
  EXPECT_TRUE(std::none_of(right.result->findings.begin(), right.result->findings.end(),
                           [](const Finding& g) { return g.detail == "other-material"; }));
}

TEST(PlantedFault, ChatterOfALongThinTool) {
  Small s;
  s.tool = "diameter = 3\nflute_length = 10\nstickout = 45\n";
  s.limits = "axial_depth = 5";
  s.depth = 3;
  s.feed = 300;
  const Ran slender = run(s);
  const Finding* f = slender.first(FindingKind::chatter);
  ASSERT_NE(f, nullptr) << slender.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_NEAR(f->value, 3, 0.05);
  EXPECT_LT(f->limit, f->value);
  EXPECT_EQ(f->line, 6u);
  EXPECT_NE(f->text.find("calm"), std::string::npos);
  s.tool = "diameter = 12\nflute_length = 10\nstickout = 20\n";
  s.depth = 1.3;
  EXPECT_FALSE(run(s).has(FindingKind::chatter));
}

// Holder 20 mm across, its face 10 mm above the tip: at 12 mm deep it goes 2 mm into the block.
TEST(PlantedFault, HolderInTheBlock) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 10\nstickout = 10\nholder = [[20, 30]]\n";
  s.limits = "axial_depth = 30";
  s.depth = 12;
  const Ran low = run(s);
  const Finding* f = low.first(FindingKind::holder_contact);
  ASSERT_NE(f, nullptr) << low.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 2, 0.25);
  EXPECT_FALSE(low.unchecked(FindingKind::holder_contact));
  s.depth = 9;
  EXPECT_FALSE(run(s).has(FindingKind::holder_contact));
}

// The clamp stands 8 mm to the right of the slot and 10 mm above the top: the holder's radius of 10
// reaches 2 mm over it, its face, 12 - 3 = 9 mm above the top, 1 mm below it. The way out is 1 mm
// up.
TEST(PlantedFault, HolderInTheClamp) {
  Small s;
  s.tool = "diameter = 6\nflute_length = 10\nstickout = 12\nholder = [[20, 30]]\n";
  s.limits = "axial_depth = 30";
  s.depth = 3;
  s.setup = "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[8, -5, -20], [30, 5, 10]]\n";
  const Ran hit = run(s);
  const Finding* f = hit.first(FindingKind::fixture_contact);
  ASSERT_NE(f, nullptr) << hit.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_NEAR(f->value, 1, 1e-9);
  EXPECT_NE(f->text.find("the holder goes 1.00 mm into the fixture 'clamp'"), std::string::npos)
      << f->text;
  s.setup = "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[10.1, -5, -20], [30, 5, 10]]\n";
  EXPECT_FALSE(run(s).has(FindingKind::fixture_contact));
}

// The part is the block up to z = 17. A slot 3.5 deep cuts 0.5 into it; the top stays 3 mm too high
// where nothing cut; a slot 2 deep leaves 1 mm.
TEST(PlantedFault, GougesAndWhatIsLeft) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.1, excess = 0.1 }\n";
  s.depth = 3.5;
  s.limits = "axial_depth = 30";
  const std::string stl = box_stl(Vec3::Zero(), {40, 30, 17});
  const Ran deep = run(s, stl);
  ASSERT_TRUE(deep.result);
  EXPECT_TRUE(deep.result->part.compared);
  EXPECT_NEAR(deep.result->part.mesh_volume_mm3, 40 * 30 * 17, 1e-3);
  // A box's centre is its middle; its moment about x is m (b2 + c2) / 12.
  EXPECT_LT((deep.result->part.mesh_centre - Vec3(20, 15, 8.5)).norm(), 1e-6);
  const double mass = 40 * 30 * 17 * 2.70e-3;
  const Eigen::Matrix3d moments =
      Eigen::Vector3d(30 * 30 + 17 * 17, 40 * 40 + 17 * 17, 40 * 40 + 30 * 30).asDiagonal() *
      Eigen::Matrix3d::Identity() * (mass / 12);
  EXPECT_LT((deep.result->part.mesh_inertia_g_mm2 - moments).norm(), 1e-6 * moments.norm());
  EXPECT_NEAR(deep.result->part.volume_mm3, 40 * 30 * 20 - 6 * 30 * 3.5, 0.001 * 24000);
  EXPECT_NEAR(deep.result->part.mass_g, deep.result->part.volume_mm3 * 2.70e-3, 1e-6);
  const Finding* f = deep.first(FindingKind::gouge);
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->setup, "A");
  EXPECT_NEAR(f->value, 0.5, 0.03);
  EXPECT_EQ(f->limit, 0.1);
  EXPECT_NEAR(f->at.z(), -3.5, 0.3);
  f = deep.first(FindingKind::excess, "uncut");
  ASSERT_NE(f, nullptr) << deep.words();
  EXPECT_NEAR(f->value, 3, 0.03);
  EXPECT_EQ(f->line, 0u);
  s.depth = 2;
  const Ran shallow = run(s, stl);
  EXPECT_FALSE(shallow.has(FindingKind::gouge));
  const auto& all = shallow.result->findings;
  EXPECT_TRUE(std::any_of(all.begin(), all.end(), [](const Finding& g) {
    // The worst of the line counts: the floor is 1 mm too high, the slot's walls rise to 3 mm.
    return g.kind == FindingKind::excess && g.line == 6 && g.value > 1 && g.value <= 3;
  })) << shallow.words();
}

TEST(PlantedFault, PartOutsideTheBlank) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\norigin = [-1, 0, 0]\n";
  EXPECT_TRUE(run(s, box_stl(Vec3::Zero(), {40, 30, 17})).said("part-outside-blank"));
  s.part = "[part]\nmesh = \"part.stl\"\norigin = [1, 0, 0]\n";
  EXPECT_TRUE(run(s, box_stl(Vec3::Zero(), {40, 30, 17})).said("part-outside-blank"));
  s.part = "[part]\nmesh = \"part.stl\"\n";
  EXPECT_FALSE(run(s, box_stl(Vec3::Zero(), {40, 30, 17})).said("part-outside-blank"));
}

// A mesh in inches read as millimetres.
TEST(PlantedFault, PartInInches) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\n";
  const std::string inches = box_stl(Vec3::Zero(), Vec3(40, 30, 17) / 25.4);
  EXPECT_TRUE(run(s, inches).said("part-small"));
  s.part += "mesh_units = \"inch\"\n";
  EXPECT_FALSE(run(s, inches).said("part-small"));
}

// Small parts from a long bar: as inches this one would stand out of it.
TEST(PlantedFault, ASmallPartFromABarIsNoMistake) {
  Small s;
  s.part = "[part]\nmesh = \"part.stl\"\n";
  EXPECT_FALSE(run(s, box_stl(Vec3::Zero(), Vec3(1.5, 1.5, 0.9))).said("part-small"))
      << "0.9 inches are 22.9 mm, the block is 20 mm thick";
  EXPECT_TRUE(run(s, box_stl(Vec3::Zero(), Vec3(1.5, 1.1, 0.7))).said("part-small"));
}

// A fine cutter that stands in the rack and is not used makes no voxel coarse.
TEST(PlantedFault, AToolNobodyUsesIsNotTooFine) {
  Small s;
  s.setup = "[[tools]]\nnumber = 2\nshape = \"ball\"\ndiameter = 0.5\n";
  EXPECT_FALSE(run(s).said("voxel-coarse"));
  s.program =
      "G21 G90\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nT2 M6\nS9000 M3\nG0 X5 "
      "Y0\nG1 Z-1 F100\nG0 Z5\nM30\n";
  EXPECT_TRUE(run(s).said("voxel-coarse"));
}

// M4 with a right-hand cutter (common practice, no source): its edges rub backwards.
TEST(PlantedFault, SpindleTurningTheWrongWay) {
  Small s;
  EXPECT_FALSE(run(s).has(FindingKind::spindle_reversed));
  s.program =
      "G21 G90\nT1 M6\nS10000 M4\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG1 Y-25\nG0 Z5\nM30\n";
  const Ran r = run(s);
  const Finding* f = r.first(FindingKind::spindle_reversed);
  ASSERT_NE(f, nullptr) << r.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_EQ(f->line, 6u);
  EXPECT_EQ(f->count, 1u);  // a tool is told of once
  EXPECT_NEAR(f->value, 2, 0.1);
  EXPECT_FALSE(r.has(FindingKind::spindle_stopped));
}

TEST(PlantedFault, VoxelTooCoarse) {
  Small s;
  EXPECT_FALSE(run(s).said("voxel-coarse"));
  s.voxel = "voxel = 2.1\n";  // of a tool of 6 mm
  EXPECT_TRUE(run(s).said("voxel-coarse"));
  s.voxel = "voxel = 10.5\n";  // of a blank 20 mm thick
  const Ran coarse = run(s);
  EXPECT_FALSE(coarse.result);
  EXPECT_TRUE(coarse.said("voxel-too-coarse"));
}

TEST(PlantedFault, ToolsMaterialsAndOffsetsNobodyGave) {
  Small s;
  s.program = "G21 G90\nT7 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG1 Z-1 F300\nM30\n";
  const Ran unknown = run(s);
  EXPECT_FALSE(unknown.result);
  EXPECT_TRUE(unknown.said("unknown-tool"));
  s.program = "G21 G90\nS9000 M3\nG0 X0 Y-25 Z5\nG1 Z-1 F300\nM30\n";
  const Ran none = run(s);
  EXPECT_FALSE(none.result);
  EXPECT_TRUE(none.said("no-tool"));
  s.setup = "tool = 1\n";
  EXPECT_TRUE(run(s).result);
  s.program = "G21 G90 G55\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nM30\n";
  const Ran offset = run(s);
  EXPECT_FALSE(offset.result);
  EXPECT_TRUE(offset.said("work-offset-not-placed"));
  Small m;
  m.material = "tungsten";  // in the table, but nothing to cut with these tools
  const Ran hard = run(m);
  EXPECT_FALSE(hard.result);
  EXPECT_TRUE(hard.said("material-unknown"));
}

// What a bare job cannot be asked is listed, and no longer once it is given.
TEST(run::NotChecked, IsWhatWasNotGiven) {
  constexpr std::array kinds = {FindingKind::gouge,       FindingKind::excess,
                                FindingKind::over_depth,  FindingKind::over_width,
                                FindingKind::plunge,      FindingKind::holder_contact,
                                FindingKind::over_travel, FindingKind::fixture_contact,
                                FindingKind::over_power,  FindingKind::speed_clipped};
  Small s;
  const Ran bare = run(s);
  for (const FindingKind kind : kinds) EXPECT_TRUE(bare.unchecked(kind)) << name(kind);
  s.part = "[part]\nmesh = \"part.stl\"\n";
  s.tool += "holder = [[20, 30]]\n";
  s.limits = "axial_depth = 4, radial_width = 6";
  s.tool += "limits_in = { \"6061-T6\" = { plunge_feed = 300 } }\n";
  s.machine =
      "travel = [100, 100, 100]\nspindle = { min_rpm = 1000, max_rpm = 24000, power_w = 800 }\n";
  s.setup =
      "zero_in_machine = [50, 50, 60]\n[[setups.fixtures]]\nname = \"vice\"\n"
      "box = [[-40, -40, -40], [-30, 40, -10]]\n";
  const Ran full = run(s, box_stl(Vec3::Zero(), {40, 30, 17}));
  for (const FindingKind kind : kinds) EXPECT_FALSE(full.unchecked(kind)) << name(kind);
}

// Tools and setups are named where only some lack what is needed; tools that no program uses are
// not asked for, and another material's limits are no limits here.
TEST(run::NotChecked, NamesToolsAndSetups) {
  Small s;
  s.tool += "limits_in = { \"mdf\" = { axial_depth = 4, plunge_feed = 900 } }\n";
  const std::string next = "[[tools]]\nflutes = 2\nflute_length = 15\nstickout = 30\n";
  s.tool += next +
            "number = 2\nshape = \"flat\"\ndiameter = 8\nholder = [[20, 30]]\n"
            "centre_cutting = false\nlimits = { axial_depth = 3 }\n" +
            next + "number = 3\nshape = \"flat\"\ndiameter = 4\n" + next +
            "number = 4\nshape = \"drill\"\ndiameter = 5\n";
  s.machine = "travel = [100, 100, 100]\n";
  s.setup =
      "[[setups.fixtures]]\nname = \"vice\"\nbox = [[-40, -40, -40], [-30, 40, -10]]\n"
      "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nzero = { x = \"centre\", y = \"centre\", z = "
      "\"top\" }\nzero_in_machine = [50, 50, 60]\n";
  s.program =
      "G21 G90\nT1 M6\nS9000 M3\nG0 X0 Y-25 Z5\nG0 Z-2\nG1 Y25 F900\nG0 Z5\nT2 M6\nG0 X9 Y-25\n"
      "G0 Z-2\nG1 Y25\nG0 Z5\nT4 M6\nG0 X-9 Y0\nG1 Z-5 F100\nG0 Z5\nM30\n";
  const Ran ran = run(s);
  ASSERT_TRUE(ran.result);
  using Setups = std::vector<std::string>;
  const std::vector<std::tuple<FindingKind, std::string, bool, Setups>> expected = {
      {FindingKind::over_depth,
       "no limit axial_depth for T1: full slots alone are judged, by the material's rule; no limit "
       "axial_depth for T4",
       true,
       {}},
      {FindingKind::over_width, "no limit radial_width for T1, T2", false, {"A", "B"}},
      {FindingKind::plunge, "no limit plunge_feed for T1, T4", true, {}},
      {FindingKind::holder_contact, "no holder is given for T1, T4", true, {}},
      {FindingKind::fixture_contact, "no fixtures are given for B", true, {"B"}},
      {FindingKind::over_travel, "zero_in_machine is not given for A", true, {"A"}}};
  for (const auto& [kind, why, in_part, setups] : expected) {
    const auto at = std::find_if(ran.result->not_checked.begin(), ran.result->not_checked.end(),
                                 [&, kind = kind](const auto& n) { return n.what == name(kind); });
    ASSERT_NE(at, ran.result->not_checked.end()) << name(kind);
    EXPECT_EQ(at->why, why);
    EXPECT_EQ(at->in_part, in_part) << why;
    EXPECT_EQ(at->setups, setups) << why;
  }
}

// A thirtieth of the smallest tool, on a round step.
TEST(Voxel, ChosenFromTheSmallestTool) {
  Small s;
  s.voxel = "";
  EXPECT_NEAR(run(s).result->voxel, 0.2, 1e-12);
  s.tool = "diameter = 10\nflute_length = 15\nstickout = 30\n";
  EXPECT_NEAR(run(s).result->voxel, 0.4, 1e-12);
}

}  // namespace
}  // namespace proveout::pipeline
