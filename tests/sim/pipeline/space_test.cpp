// Fixtures as boxes and meshes, first moves from nowhere, rapids by axis, and clearances of a whole
// job, against plane geometry worked out beside each case.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>

#include "sim/checks/clearance_check.h"
#include "sim/clearance/fixture_mesh.h"
#include "sim/pipeline/dry_run.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::pipeline {
namespace {

// A box, or any hexahedron with corners in the order of Box3::corner, as text STL.
using Corners = std::array<Vec3, 8>;
Corners corners_of(const Box3& box) {
  Corners out;
  for (int c = 0; c < 8; ++c) out[c] = box.corner(static_cast<Box3::CornerType>(c));
  return out;
}
const std::vector<std::array<std::uint32_t, 3>> faces = {
    {0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
    {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
std::string stl(const Corners& p, std::size_t triangles = 12) {
  std::string out = "solid clamp\n";
  for (std::size_t t = 0; t < triangles; ++t) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const std::uint32_t v : faces[t])
      out += fmt::format("vertex {:.9g} {:.9g} {:.9g}\n", p[v].x(), p[v].y(), p[v].z());
    out += "endloop\nendfacet\n";
  }
  return out + "endsolid clamp\n";
}
mesh::Mesh mesh_of(const Corners& p) {
  mesh::Mesh mesh;
  mesh.vertices.assign(p.begin(), p.end());
  mesh.triangles = faces;
  return mesh;
}

// Block 40 x 30 x 20, zero on the middle of its top: x -20..20, y -15..15, z -20..0.
std::string job_text(const std::string& fixtures, const std::string& machine = "") {
  return "[simulation]\nvoxel = 0.25\n[machine]\n" + machine +
         "\n[stock]\nsize = [40, 30, 20]\n"
         "[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\nflute_length = 12\nstickout = 20\n"
         "shank_diameter = 8\nholder = [[30, 25]]\n"
         "[[tools]]\nnumber = 2\nshape = \"ball\"\ndiameter = 4\nflute_length = 12\nstickout = 25\n"
         "holder = [[30, 25]]\n"
         "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
         "zero = { x = \"centre\", y = \"centre\", z = \"top\" }\n" +
         fixtures;
}

std::optional<run::JobResult> run_text(const WorkFolder& work, const std::string& job_file,
                                       const std::string& program, Diagnostics& diagnostics) {
  work.file("a.nc", program);
  const auto job = job::read_job(work.file("job.toml", job_file), diagnostics);
  if (!job) return std::nullopt;
  return dry_run(*job, {}, diagnostics);
}

std::vector<Finding> found(const run::JobResult& result, FindingKind kind,
                           const std::string& detail = "") {
  std::vector<Finding> out;
  for (const Finding& f : result.findings)
    if (f.kind == kind && (detail.empty() || f.detail == detail)) out.push_back(f);
  return out;
}

std::vector<Finding> findings_of(const std::string& job_file, const std::string& program,
                                 FindingKind kind, const std::string& detail = "") {
  const WorkFolder work;
  Diagnostics diagnostics;
  const auto result = run_text(work, job_file, program, diagnostics);
  EXPECT_TRUE(result) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  return result ? found(*result, kind, detail) : std::vector<Finding>{};
}

const std::string begin = "G21 G90\nT1 M6\nS18000 M3\n";

TEST(Fixtures, AMeshBoxIsTheBox) {
  const Box3 box(Vec3(-40, -10, -20), Vec3(-22, 12, 9));
  // Cutter, shank (wider than the cutter) and holder each come near it in turn.
  const std::string program = begin +
                              "G0 X-30 Y-30 Z60\nG0 Z8\nG1 X-30 Y30 F600\nG0 Z30\nG0 X-18.5 Y-30\n"
                              "G0 Z-4\nG1 Y30 F600\nG0 Z-14\nG1 Y-30\nG0 Z40\nG0 X0 Y0\nM30\n";
  const WorkFolder work;
  work.file("clamp.stl", stl(corners_of(Box3(box.min() / 25.4, box.max() / 25.4))));
  Diagnostics diagnostics;
  const auto boxed =
      run_text(work,
               job_text("[[setups.fixtures]]\nname = \"clamp\"\nbox = [[-40, -10, -20], [-22, 12, "
                        "9]]\n"),
               program, diagnostics);
  const auto meshed = run_text(work,
                               job_text("[[setups.fixtures]]\nname = \"clamp\"\nmesh = "
                                        "\"clamp.stl\"\nmesh_units = \"inch\"\n"),
                               program, diagnostics);
  ASSERT_TRUE(boxed && meshed);
  const auto a = found(*boxed, FindingKind::fixture_contact),
             b = found(*meshed, FindingKind::fixture_contact);
  ASSERT_GE(a.size(), 3u);
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t k = 0; k < a.size(); ++k) {
    EXPECT_EQ(a[k].line, b[k].line);
    EXPECT_EQ(a[k].text, b[k].text);
    EXPECT_NEAR(a[k].value, b[k].value, 1e-4);
  }
  for (const auto& n : meshed->not_checked) EXPECT_NE(n.what, "fixture-contact");
}

TEST(Fixtures, MeshDepthAgainstTheBoxFormula) {
  std::mt19937 random(9);
  const auto draw = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(random);
  };
  const Box3 box(Vec3(-7, 3, -5), Vec3(12, 21, 6));
  const clearance::FixtureMesh mesh(mesh_of(corners_of(box)));
  int touching = 0;
  for (int k = 0; k < 2000; ++k) {
    const double x = draw(-15, 20), y = draw(-5, 29), r = draw(0.5, 8), low = draw(-9, 8),
                 high = low + draw(0.5, 20);
    const double side = std::hypot(std::max({-7 - x, 0.0, x - 12}), std::max({3 - y, 0.0, y - 21}));
    const bool apart = side >= r || low >= 6 || high <= -5;
    const double truth = apart ? 0 : std::min(r - side, 6 - low);
    touching += truth > 0;
    ASSERT_NEAR(mesh.depth(x, y, r, low, high), truth, 1e-6) << k << ": " << x << " " << y;
  }
  EXPECT_GT(touching, 400);
}

// A wedge: box of 20 x 20 whose top rises from 0 at x = 0 to 10 at x = 20.
TEST(Fixtures, SlantedMesh) {
  Corners p = corners_of(Box3(Vec3(0, 0, -10), Vec3(20, 20, 0)));
  for (Vec3& v : p)
    if (v.z() == 0 && v.x() == 20) v.z() = 10;
  const clearance::FixtureMesh wedge(mesh_of(p));
  // Radius 2 at x = 10: the top within reach is highest at x = 12, z = 6.
  EXPECT_NEAR(wedge.depth(10, 10, 2, 5, 30), 1, 1e-9);
  EXPECT_NEAR(wedge.depth(10, 10, 2, 5.999, 30), 0.001, 1e-9);
  EXPECT_EQ(wedge.depth(10, 10, 2, 6.001, 30), 0);
  // Deep enough the way out is sideways: the slope is at height 4.5 and more from x = 9 on.
  EXPECT_NEAR(wedge.depth(8, 10, 2, 4.5, 30), std::min(2 - 1.0, 5 - 4.5), 1e-9);
  // Wholly inside: radius is the way out.
  EXPECT_NEAR(wedge.depth(15, 10, 1, -8, -5), 1, 1e-9);
  // A quarter turn in plan, half-way: a slanted wall x + y = 20 sqrt 2 / 2 seen along z.
  const Eigen::AngleAxisd turn(pi / 4, Vec3::UnitZ());
  for (Vec3& v : p) v = turn * v;
  const clearance::FixtureMesh turned(mesh_of(p));
  const Vec3 outside = turn * Vec3(10, -1.5, 0);
  EXPECT_NEAR(turned.depth(outside.x(), outside.y(), 4, -5, 30), 2.5, 1e-9);
}

TEST(Fixtures, ABrokenMeshIsALocatedError) {
  const WorkFolder work;
  const Corners p = corners_of(Box3(Vec3(-40, -10, -20), Vec3(-22, 12, 9)));
  const std::string job_file =
      job_text("[[setups.fixtures]]\nname = \"clamp\"\nmesh = \"clamp.stl\"\n");
  for (const auto& [text, code] :
       {std::pair{stl(p, 11), "mesh-open"}, std::pair{std::string("no mesh"), "mesh-unreadable"}}) {
    work.file("clamp.stl", text);
    Diagnostics diagnostics;
    EXPECT_FALSE(run_text(work, job_file, begin + "G0 X0 Y0 Z5\nM30\n", diagnostics));
    ASSERT_TRUE(diagnostics.has_errors()) << code;
    EXPECT_EQ(diagnostics.all()[0].code, code);
    EXPECT_EQ(diagnostics.all()[0].place.file, work.path("clamp.stl").string());
  }
  std::filesystem::remove(work.path("clamp.stl"));
  Diagnostics diagnostics;
  EXPECT_FALSE(run_text(work, job_file, begin + "G0 X0 Y0 Z5\nM30\n", diagnostics));
  EXPECT_TRUE(diagnostics.has_errors());
}

const std::string clamp =
    "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[24, -10, -20], [40, 12, 8]]\n";

TEST(FirstMove, SidewaysBelowAClampOrTheStock) {
  const auto warned = [](const std::string& fixtures, const std::string& moves) {
    return findings_of(job_text(fixtures), begin + moves + "G0 Z40\nM30\n",
                       FindingKind::rapid_contact, "first-move");
  };
  // All three axes at once to a height under the clamp's top: warned, with the height above.
  auto f = warned(clamp, "G0 X-30 Y0 Z5\n");
  ASSERT_EQ(f.size(), 1u);
  EXPECT_EQ(f[0].level, Severity::warning);
  EXPECT_EQ(f[0].line, 4u);
  EXPECT_NEAR(f[0].value, 3, 1e-9);
  EXPECT_NE(f[0].text.find("clamp"), std::string::npos);
  EXPECT_EQ(f[0].text.find("the stock"), std::string::npos);
  // Above everything, or X and Y before Z, or without the clamp: nothing to say.
  EXPECT_TRUE(warned(clamp, "G0 X-30 Y0 Z9\n").empty());
  EXPECT_TRUE(warned(clamp, "G0 X-30 Y0\nG0 Z5\n").empty());
  EXPECT_TRUE(warned("", "G0 X-30 Y0 Z5\n").empty());
  // To a height below the stock's top, beside it.
  f = warned("", "G0 X-30 Y0 Z-8\n");
  ASSERT_EQ(f.size(), 1u);
  EXPECT_NEAR(f[0].value, 8, 0.05);
  EXPECT_NE(f[0].text.find("the stock"), std::string::npos);
}

TEST(FirstMove, LoweredOntoAClamp) {
  // Z first from below the clamp's top, then over it: the program's own way is straight down from
  // Z60, and onto the clamp's top at 8 it goes 3 mm.
  const auto f = findings_of(job_text(clamp), begin + "G0 X30 Y0\nG0 Z5\nG0 Z40\nM30\n",
                             FindingKind::rapid_contact, "first-move");
  ASSERT_EQ(f.size(), 1u);
  EXPECT_EQ(f[0].line, 5u);
  EXPECT_NEAR(f[0].value, 3, 0.01);
}

TEST(FirstMove, AfterAToolChange) {
  const auto f = findings_of(
      job_text(clamp),
      begin + "G0 X-30 Y0\nG0 Z10\nG0 X-25\nG0 Z40\nT2 M6\nG0 X-30 Y-5 Z6\nG0 Z40\nM30\n",
      FindingKind::rapid_contact, "first-move");
  ASSERT_EQ(f.size(), 1u);
  EXPECT_EQ(f[0].line, 9u);
  EXPECT_EQ(f[0].tool, 2);
  EXPECT_NE(f[0].text.find("tool change"), std::string::npos);
}

// From -30, -30 to 40, 5 with equal rates: 45 degrees until y is done at x = 5, then along x. A
// post about 0, 0 stands on the bent way and 11 mm off the straight one.
const std::string post =
    "[[setups.fixtures]]\nname = \"post\"\nbox = [[-2, -3, -20], [2, 3, 12]]\n";
const std::string across = begin + "G0 X-30 Y-30\nG0 Z5\nG0 X40 Y5\nG0 Z60\nM30\n";
const std::string rates = "rapid = [5000, 5000, 5000]\naccel = [5000, 5000, 5000]\n";

TEST(ByAxis, ABentRapidMeetsAPost) {
  auto f = findings_of(job_text(post, rates), across, FindingKind::rapid_contact, "by-axis");
  ASSERT_FALSE(f.empty());
  EXPECT_EQ(f[0].line, 6u);
  EXPECT_EQ(f[0].level, Severity::warning);
  EXPECT_NEAR(f[0].value, 3, 0.3);  // through its middle: the cutter's radius
  EXPECT_NE(f[0].text.find("cutter"), std::string::npos);
  EXPECT_TRUE(findings_of(job_text(post, rates), across, FindingKind::fixture_contact).empty());
  f = findings_of(job_text(post, rates + "rapid_path = \"by-axis\"\n"), across,
                  FindingKind::rapid_contact, "by-axis");
  ASSERT_FALSE(f.empty());
  EXPECT_EQ(f[0].level, Severity::error);
  // One axis at a time there is no bend.
  EXPECT_TRUE(findings_of(job_text(post, rates),
                          begin + "G0 X-30 Y-30\nG0 Z5\nG0 X40\nG0 Y5\n"
                                  "G0 Z60\nM30\n",
                          FindingKind::rapid_contact, "by-axis")
                  .empty());
}

TEST(ByAxis, TheBentWay) {
  nc::Motion m;
  m.start = Vec3(-30, -30, 5);
  m.end = Vec3(40, 5, 5);
  job::Machine machine;
  machine.rapid = Vec3(6000, 6000, 1500);
  machine.accel = Vec3(1e9, 1e9, 1e9);
  std::vector<Vec3> way = checks::bent_way(m, machine, 0.1);
  double to_corner = 1e9;
  for (std::size_t k = 0; k < way.size(); ++k) {
    to_corner = std::min(to_corner, (way[k] - Vec3(5, 5, 5)).norm());
    EXPECT_LE((way[k] - way[k > 0 ? k - 1 : 0]).norm(), 0.1 + 1e-9);
  }
  EXPECT_LT(to_corner, 0.1);
  EXPECT_EQ(way.front(), m.start);
  EXPECT_EQ(way.back(), m.end);
  // With ramps: 100 mm/s, 1000 mm/s2. Y does 35 mm: ramps of 5 mm, 0.1 s each, 0.25 s steady; X is
  // then 40 mm on: still 45 degrees but for Y's last ramp, which leaves X 5 mm ahead at its end.
  machine.accel = Vec3(1000, 1000, 1000);
  way = checks::bent_way(m, machine, 0.01);
  const auto done =
      std::find_if(way.begin(), way.end(), [](const Vec3& p) { return p.y() >= 5 - 1e-6; });
  ASSERT_NE(done, way.end());
  EXPECT_NEAR(done->x(), -30 + 40, 0.05);
}

TEST(JobClearance, HolderOverTheBlockAndTheNose) {
  const WorkFolder work;
  Diagnostics diagnostics;
  const auto result =
      run_text(work, job_text("", "spindle = { nose = [[90, 30]] }"),
               begin + "G0 X-30 Y0\nG0 Z5\nG0 Z-8\nG1 X30 F600\nG0 Z40\nM30\n", diagnostics);
  ASSERT_TRUE(result);
  const auto& t = result->setups[0].tools[0];
  using clearance::Mover;
  using clearance::Obstacle;
  EXPECT_NEAR(t.clearance.of(Mover::holder, Obstacle::stock, false).mm, 20 - 8, 0.02);
  EXPECT_EQ(t.clearance.of(Mover::holder, Obstacle::stock, false).line, 7u);
  EXPECT_NEAR(t.clearance.of(Mover::nose, Obstacle::stock, false).mm, 45 - 8, 0.02);
  // The shank is 1 mm wider to each side than the slot the cutter mills; its foot is 12 above the
  // tip, so 4 above the block.
  EXPECT_NEAR(t.clearance.of(Mover::shank, Obstacle::stock, false).mm, 4, 0.02);
  EXPECT_FALSE(t.clearance.of(Mover::holder, Obstacle::part, false).found());
  EXPECT_FALSE(t.clearance.of(Mover::cutter, Obstacle::fixture, false).found());
}

TEST(JobClearance, TheSameForAnyNumberOfThreads) {
  const WorkFolder work;
  Diagnostics diagnostics;
  work.file("a.nc",
            begin + "G0 X-30 Y0\nG0 Z5\nG0 Z-3\nG1 X30 F600\nG2 X2 Y-12 I-20 J8\nG0 Z40\nM30\n");
  const auto job = job::read_job(work.file("job.toml", job_text(clamp)), diagnostics);
  ASSERT_TRUE(job);
  std::string first;
  for (const int threads : {1, 2, 3, 7}) {
    RunOptions options;
    options.threads = threads;
    const auto result = dry_run(*job, options, diagnostics);
    ASSERT_TRUE(result);
    std::string all;
    for (const auto& row : result->setups[0].tools[0].clearance.nearest)
      for (const auto& obstacle : row)
        for (const auto& n : obstacle) all += fmt::format("{} {} {}\n", n.mm, n.line, n.tip.x());
    if (first.empty()) first = all;
    EXPECT_EQ(all, first) << threads;
  }
}

}  // namespace
}  // namespace proveout::pipeline
