// Removed volume against an exact solid kernel: the swept tool built of cylinders, boxes, spheres,
// cones and rings, united and taken from the block by Boolean operations (Open CASCADE 7.6).
#include <gtest/gtest.h>

#include <BRepAlgoAPI_Cut.hxx>
#include <BRepAlgoAPI_Fuse.hxx>
#include <BRepGProp.hxx>
#include <BRepPrimAPI_MakeBox.hxx>
#include <BRepPrimAPI_MakeCone.hxx>
#include <BRepPrimAPI_MakeCylinder.hxx>
#include <BRepPrimAPI_MakeSphere.hxx>
#include <GProp_GProps.hxx>
#include <TopoDS_Shape.hxx>
#include <gp_Ax2.hxx>
#include <gp_Mat.hxx>

#include "sim/measure/measure.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

const Vec3 block(40, 30, 14);
constexpr double radius = 3, tall = 40;

gp_Pnt point(const Vec3& p) { return {p.x(), p.y(), p.z()}; }

TopoDS_Shape cylinder(const Vec3& foot, const Vec3& axis, double r, double length) {
  const Vec3 n = axis.normalized();
  return BRepPrimAPI_MakeCylinder(gp_Ax2(point(foot), gp_Dir(n.x(), n.y(), n.z())), r, length)
      .Shape();
}

TopoDS_Shape fuse(const TopoDS_Shape& a, const TopoDS_Shape& b) {
  return BRepAlgoAPI_Fuse(a, b).Shape();
}

// Upright slab of a slot between two places at one height, from the height up.
TopoDS_Shape slab(const Vec3& a, const Vec3& b, double half_width) {
  const Vec3 d = b - a, u = d.normalized(), left(-u.y(), u.x(), 0);
  const Vec3 corner = a - half_width * left;
  const gp_Ax2 frame(point(corner), gp_Dir(0, 0, 1), gp_Dir(u.x(), u.y(), 0));
  return BRepPrimAPI_MakeBox(frame, d.norm(), 2 * half_width, tall).Shape();
}

TopoDS_Shape flat_slot(const Vec3& a, const Vec3& b) {
  return fuse(
      fuse(cylinder(a, Vec3::UnitZ(), radius, tall), cylinder(b, Vec3::UnitZ(), radius, tall)),
      slab(a, b, radius));
}

// A ball at level height: tips at a and b.
TopoDS_Shape ball_slot(const Vec3& a, const Vec3& b) {
  const Vec3 up(0, 0, radius), ca = a + up, cb = b + up;
  TopoDS_Shape s = BRepPrimAPI_MakeSphere(point(ca), radius).Shape();
  s = fuse(s, BRepPrimAPI_MakeSphere(point(cb), radius).Shape());
  s = fuse(s, cylinder(ca, cb - ca, radius, (cb - ca).norm()));
  return fuse(s, flat_slot(ca, cb));
}

double volume(const TopoDS_Shape& s) {
  GProp_GProps p;
  BRepGProp::VolumeProperties(s, p, 1e-6);
  return p.Mass();
}

void agree(const std::string& name, job::ToolShape shape, const std::vector<nc::Motion>& motions,
           const TopoDS_Shape& swept, job::Tool tool = {}) {
  const TopoDS_Shape box = BRepPrimAPI_MakeBox(block.x(), block.y(), block.z()).Shape();
  const double exact = volume(box) - volume(BRepAlgoAPI_Cut(box, swept).Shape());
  ASSERT_GT(exact, 1) << name;
  if (tool.diameter == 0) tool = tool_of(shape, 2 * radius);
  const double ours = removed(cut_box(block, 0.2, tool, motions).cut);
  EXPECT_NEAR(ours, exact, 0.002 * exact) << name;
}

// Centre and inertia of what is left, a block with a slot across one corner of it.
TEST(SolidKernel, CentreAndInertiaOfWhatIsLeft) {
  const Vec3 a(-6, 21.3, 5.7), b(27, 9.9, 5.7);
  const TopoDS_Shape left =
      BRepAlgoAPI_Cut(BRepPrimAPI_MakeBox(block.x(), block.y(), block.z()).Shape(), flat_slot(a, b))
          .Shape();
  GProp_GProps exact;
  BRepGProp::VolumeProperties(left, exact, 1e-6);
  GProp_GProps about(exact.CentreOfMass());  // moments about the centre of mass
  BRepGProp::VolumeProperties(left, about, 1e-6);
  const Cutting cutting =
      cut_box(block, 0.2, tool_of(job::ToolShape::flat, 2 * radius), {line(a, b)});
  const measure::MassProperties ours = measure::mass_properties(cutting.stock);
  EXPECT_NEAR(ours.volume, exact.Mass(), 0.0005 * exact.Mass());
  const gp_Pnt centre = exact.CentreOfMass();
  EXPECT_LT((ours.centre - Vec3(centre.X(), centre.Y(), centre.Z())).norm(), 0.01);
  const gp_Mat inertia = about.MatrixOfInertia();
  for (int i = 0; i < 3; ++i) {
    for (int k = 0; k < 3; ++k) {
      // Of the products, as a share of the moments: they may be nought.
      EXPECT_NEAR(ours.inertia(i, k), inertia(i + 1, k + 1), 0.002 * inertia(1, 1)) << i << k;
    }
  }
}

TEST(SolidKernel, FlatSlotsAtFourAngles) {
  for (double angle : {0.0, 17.0, 45.0, 101.0}) {
    const Vec3 u(std::cos(angle / deg_per_rad), std::sin(angle / deg_per_rad), 0),
        c(20.1, 15.2, 11.3);
    const Vec3 a = c - 6 * u, b = c + 6 * u;
    agree("flat slot " + std::to_string(angle), job::ToolShape::flat, {line(a, b)},
          flat_slot(a, b));
  }
}

TEST(SolidKernel, BallGroovesAtThreeAngles) {
  for (double angle : {0.0, 33.0, 80.0}) {
    const Vec3 u(std::cos(angle / deg_per_rad), std::sin(angle / deg_per_rad), 0),
        c(19.9, 14.8, 12.1);
    const Vec3 a = c - 6 * u, b = c + 6 * u;
    agree("ball groove " + std::to_string(angle), job::ToolShape::ball, {line(a, b)},
          ball_slot(a, b));
  }
}

TEST(SolidKernel, SlotThatLeavesTheBlock) {
  const Vec3 a(-6, 12.3, 9.7), b(46, 17.9, 9.7);
  agree("slot across", job::ToolShape::flat, {line(a, b)}, flat_slot(a, b));
}

TEST(SolidKernel, TwoSlotsCrossing) {
  const Vec3 a(8, 8, 10.4), b(30, 21, 10.4), c(10, 22, 11.6), d(31, 9, 11.6);
  agree("crossing", job::ToolShape::flat, {line(a, b), line(c, d)},
        fuse(flat_slot(a, b), flat_slot(c, d)));
}

TEST(SolidKernel, BallSlotsCrossing) {
  const Vec3 a(9, 15, 11.2), b(31, 15, 11.2), c(20, 5, 11.7), d(20, 25, 11.7);
  agree("ball crossing", job::ToolShape::ball, {line(a, b), line(c, d)},
        fuse(ball_slot(a, b), ball_slot(c, d)));
}

TEST(SolidKernel, ConePlungedOverTheEdge) {
  job::Tool vee = tool_of(job::ToolShape::vee, 12);
  vee.tip_angle = 90;
  const Vec3 tip(2.2, 15.1, 9.3);
  const TopoDS_Shape cone =
      BRepPrimAPI_MakeCone(gp_Ax2(point(tip), gp_Dir(0, 0, 1)), 0, 6, 6).Shape();
  agree("cone", job::ToolShape::vee, {line(tip + Vec3(0, 0, 9), tip)}, cone, vee);
}

TEST(SolidKernel, RingByAFullCircle) {
  const Vec3 centre(20.3, 14.9, 11.1);
  const TopoDS_Shape ring = BRepAlgoAPI_Cut(cylinder(centre, Vec3::UnitZ(), 7 + radius, tall),
                                            cylinder(centre, Vec3::UnitZ(), 7 - radius, tall))
                                .Shape();
  agree("ring", job::ToolShape::flat, {arc(centre + Vec3(7, 0, 0), centre, 2 * pi)}, ring);
}

TEST(SolidKernel, BallRampIsACapsuleAndWhatLiesAbove) {
  // Only the lower half matters while the ball's centre stays above the block's top: then the swept
  // solid within the block is the capsule's.
  const Vec3 a(10, 14, 12.5), b(30, 16, 11.1), up(0, 0, radius);
  TopoDS_Shape s = BRepPrimAPI_MakeSphere(point(a + up), radius).Shape();
  s = fuse(s, BRepPrimAPI_MakeSphere(point(b + up), radius).Shape());
  s = fuse(s, cylinder(a + up, b - a, radius, (b - a).norm()));
  agree("ball ramp", job::ToolShape::ball, {line(a, b)}, s);
}

}  // namespace
}  // namespace proveout::stock
