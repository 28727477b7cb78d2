// The comparison of stock and part against an exact solid kernel (Open CASCADE 7.6): random parts
// with slots, fins and drafted walls drawn along x, random level passes of flat, ball and vee tools
// from two sides; part less stock and stock less part by Boolean operations.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepBuilderAPI_MakePolygon.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakePrism.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <GProp_GProps.hxx>
#include <TopoDS_Shape.hxx>
#include <cstdlib>
#include <gp_Ax2.hxx>
#include <random>

#include "tests/sim/measure/compared_scene.h"
#include "tests/sim/measure/extruded_mesh.h"

namespace proveout::measure {
namespace {

using job::ToolShape;

constexpr double length = 24, width = 16, height = 9, tall = 40;

gp_Pnt point(const Vec3& p) { return {p.x(), p.y(), p.z()}; }
gp_Dir direction(const Vec3& v) { return {v.x(), v.y(), v.z()}; }
TopoDS_Shape fuse(const TopoDS_Shape& a, const TopoDS_Shape& b) {
  return BRepAlgoAPI_Fuse(a, b).Shape();
}
double volume_of(const TopoDS_Shape& s) {
  GProp_GProps p;
  BRepGProp::VolumeProperties(s, p, 1e-7);
  return p.Mass();
}

TopoDS_Shape upright(const Vec3& at, const Vec3& up, double r) {
  return BRepPrimAPI_MakeCylinder(gp_Ax2(point(at), direction(up)), r, tall).Shape();
}

// A polygon square to along, drawn along it.
TopoDS_Shape prism(const std::vector<Vec3>& corners, const Vec3& along) {
  BRepBuilderAPI_MakePolygon polygon;
  for (const Vec3& c : corners) polygon.Add(point(c));
  polygon.Close();
  return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(polygon.Wire()).Face(),
                               gp_Vec(along.x(), along.y(), along.z()))
      .Shape();
}

// The body a tool sweeps level from a to b (tips), its axis up.
TopoDS_Shape swept(const job::Tool& t, const Vec3& a, const Vec3& b, const Vec3& up) {
  const double r = t.diameter / 2;
  const Vec3 along = (b - a).normalized(), left = up.cross(along);
  const auto section = [&](const std::vector<std::pair<double, double>>& rh) {
    std::vector<Vec3> corners;
    for (const auto& [rho, h] : rh) corners.push_back(a + rho * left + h * up);
    for (auto it = rh.rbegin(); it != rh.rend(); ++it) {
      if (it->first > 0) corners.push_back(a - it->first * left + it->second * up);
    }
    return prism(corners, b - a);
  };
  if (t.shape == ToolShape::flat)
    return fuse(fuse(upright(a, up, r), upright(b, up, r)), section({{r, 0}, {r, tall}}));
  if (t.shape == ToolShape::ball) {
    const Vec3 lift = r * up;
    TopoDS_Shape s = fuse(BRepPrimAPI_MakeSphere(point(a + lift), r).Shape(),
                          BRepPrimAPI_MakeSphere(point(b + lift), r).Shape());
    s = fuse(s,
             BRepPrimAPI_MakeCylinder(gp_Ax2(point(a + lift), direction(along)), r, (b - a).norm())
                 .Shape());
    s = fuse(s, fuse(upright(a + lift, up, r), upright(b + lift, up, r)));
    return fuse(s, section({{r, r}, {r, tall}}));
  }
  const double cone = r / std::tan(t.tip_angle / 2 / deg_per_rad);
  const auto end = [&](const Vec3& at) {
    return fuse(BRepPrimAPI_MakeCone(gp_Ax2(point(at), direction(up)), 0, r, cone).Shape(),
                upright(at + cone * up, up, r));
  };
  return fuse(fuse(end(a), end(b)), section({{0, 0}, {r, cone}, {r, tall}}));
}

struct Drawn {
  std::vector<Eigen::Vector2d> outline;  // y, z
};

// From left to right over the top: steps, slots, fins, drafted walls.
Drawn random_part(std::mt19937& random) {
  std::uniform_real_distribution<double> u(0, 1);
  Drawn d;
  d.outline = {{1, 1}, {width - 1, 1}};
  const double base = 4 + 2 * u(random);
  double y = width - 1;
  d.outline.push_back({y, base});
  while (y > 5.5) {
    const double wide = 0.3 + 2.5 * u(random), high = 0.3 + 1.8 * u(random);
    const double draft = u(random) < 0.4 ? 0.3 * u(random) : 0;
    const bool slot = u(random) < 0.5;
    const double z = slot ? base - high : base + high;
    const double gap = 0.4 + 1.2 * u(random);
    if (wide < 2 * draft + 0.15 || y - gap - wide < 1.5) break;
    d.outline.push_back({y - gap, base});
    d.outline.push_back({y - gap - draft, z});
    d.outline.push_back({y - gap - wide + draft, z});
    d.outline.push_back({y - gap - wide, base});
    y -= gap + wide;
  }
  d.outline.push_back({1, base});
  return d;
}

job::Tool random_tool(std::mt19937& random) {
  std::uniform_real_distribution<double> u(0, 1);
  const double pick = u(random);
  job::Tool t = stock::tool_of(pick < 0.4   ? ToolShape::flat
                               : pick < 0.7 ? ToolShape::ball
                                            : ToolShape::vee,
                               2 + 4 * u(random));
  if (t.shape == ToolShape::vee) t.tip_angle = u(random) < 0.5 ? 60 : 90;
  return t;
}

void one_case(unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(0, 1);
  const Drawn part = random_part(random);
  Scene s{{0, 0, 0}, {length, width, height}, extruded(part.outline, 1, length - 1), {}, 0.2};
  s.gouge_tolerance = s.excess_tolerance = 0.02;
  std::vector<Vec3> corners;
  for (const auto& p : part.outline) corners.emplace_back(1, p.x(), p.y());
  const TopoDS_Shape meant = prism(corners, Vec3(length - 2, 0, 0));
  TopoDS_Shape left = BRepPrimAPI_MakeBox(length, width, height).Shape();
  const int passes = 2 + static_cast<int>(4 * u(random));
  std::string what;
  for (int k = 0; k < passes; ++k) {
    const job::Tool tool = random_tool(random);
    const double z = height - 1 - 5 * u(random);
    const Vec3 a(length * u(random), width * u(random), z);
    Vec3 b(length * u(random), width * u(random), z);
    if ((b - a).norm() < 1) b = a + Vec3(1.5, 0.3, 0);
    s.passes.push_back({tool, {stock::line(a, b)}});
    left = BRepAlgoAPI_Cut(left, swept(tool, a, b, Vec3::UnitZ())).Shape();
    what += fmt::format("shape {} D{:.3f} ({:.3f},{:.3f},{:.3f})-({:.3f},{:.3f}); ",
                        static_cast<int>(tool.shape), tool.diameter, a.x(), a.y(), z, b.x(), b.y());
  }
  const Compared c = compare_scene(s);
  const double missing = volume_of(BRepAlgoAPI_Cut(meant, left).Shape());
  const double on = volume_of(BRepAlgoAPI_Cut(left, meant).Shape());
  EXPECT_NEAR(c.found.gouge_mm3, missing, 0.003 * missing + 0.02)
      << "seed " << seed << ": " << what;
  EXPECT_NEAR(c.found.excess_mm3, on, 0.003 * on + 0.02) << "seed " << seed << ": " << what;
  EXPECT_EQ(c.found.gouges.empty(), missing < 1e-4) << "seed " << seed << ": " << what;
  EXPECT_EQ(c.found.contradicted_mm3, 0) << "seed " << seed << ": " << what;
  EXPECT_NEAR(c.volume - c.mesh_volume, c.found.excess_mm3 - c.found.gouge_mm3,
              cross_check_bound(c.found, s.voxel))
      << "seed " << seed << ": " << what;
}

// A few in every run; PROVEOUT_PARTS asks for more (200 of a night).
TEST(TwoWayKernel, RandomPartsAndPasses) {
  const char* asked = std::getenv("PROVEOUT_PARTS");
  const unsigned count = asked != nullptr ? static_cast<unsigned>(std::atoi(asked)) : 12;
  for (unsigned seed = 1; seed <= count; ++seed) one_case(seed);
}

}  // namespace
}  // namespace proveout::measure
