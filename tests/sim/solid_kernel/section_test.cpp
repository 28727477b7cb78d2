// Sections of a slotted block by level and slanted planes against an exact solid kernel (Open
// CASCADE 7.6): the plane's face in common with the solid, its area and outline.
#include "sim/measure/section.h"

#include <gtest/gtest.h>

#include <BRepAlgoAPI_Common.hxx>
#include <BRepAlgoAPI_Cut.hxx>
#include <BRepBuilderAPI_MakeFace.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <GProp_GProps.hxx>
#include <TopoDS_Shape.hxx>
#include <gp_Ax2.hxx>
#include <gp_Pln.hxx>
#include <random>

#include "tests/sim/stock/cutting_case.h"

namespace proveout::measure {
namespace {

TEST(SolidKernelSection, SlottedBlockByManyPlanes) {
  const Vec3 block(40, 30, 14), a(8, 9.3, 6.2), b(31, 9.3, 6.2), bore(24.7, 20.4, 3.1);
  const double r = 3, voxel = 0.2;
  const auto cut = stock::cut_box(block, voxel, stock::tool_of(job::ToolShape::flat, 2 * r),
                                  {stock::line(a, b), stock::line(bore + Vec3(0, 0, 20), bore)});
  const auto upright = [&](const Vec3& foot) {
    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(foot.x(), foot.y(), foot.z()), gp_Dir(0, 0, 1)),
                                    r, 30)
        .Shape();
  };
  TopoDS_Shape solid = BRepPrimAPI_MakeBox(block.x(), block.y(), block.z()).Shape();
  solid = BRepAlgoAPI_Cut(solid, upright(a)).Shape();
  solid = BRepAlgoAPI_Cut(solid, upright(b)).Shape();
  solid = BRepAlgoAPI_Cut(solid, upright(bore)).Shape();
  solid =
      BRepAlgoAPI_Cut(
          solid,
          BRepPrimAPI_MakeBox(gp_Pnt(a.x(), a.y() - r, a.z()), b.x() - a.x(), 2 * r, 30).Shape())
          .Shape();
  std::mt19937 random(4);
  std::uniform_real_distribution<double> tilt(-0.6, 0.6), turn(0, 2 * pi), height(4, 11);
  for (int round = 0; round < 15; ++round) {
    const double t = round < 5 ? 0 : tilt(random), u = turn(random), z = height(random);
    const RigidMotion plane = Eigen::Translation3d(20, 15, z) *
                              Eigen::AngleAxisd(u, Vec3::UnitZ()) *
                              Eigen::AngleAxisd(t, Vec3::UnitX());
    const Vec3 n = plane.linear().col(2), x = plane.linear().col(0), o = plane.translation();
    const gp_Ax3 frame(gp_Pnt(o.x(), o.y(), o.z()), gp_Dir(n.x(), n.y(), n.z()),
                       gp_Dir(x.x(), x.y(), x.z()));
    const TopoDS_Shape face = BRepBuilderAPI_MakeFace(gp_Pln(frame), -90, 90, -90, 90).Shape();
    const TopoDS_Shape common = BRepAlgoAPI_Common(face, solid).Shape();
    GProp_GProps area, outline;
    BRepGProp::SurfaceProperties(common, area);
    BRepGProp::LinearProperties(common, outline, true);  // shared edges once
    const Section s = section(cut.stock, plane);
    EXPECT_NEAR(s.area_mm2, area.Mass(), 0.002 * area.Mass()) << t << " " << u << " " << z;
    EXPECT_NEAR(s.perimeter_mm, outline.Mass(), 0.01 * outline.Mass()) << t << " " << u << " " << z;
  }
}

}  // namespace
}  // namespace proveout::measure
