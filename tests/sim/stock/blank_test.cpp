// Blanks: of one given as a mesh its volume, and what a slot takes from it, in closed form; a box
// given as a mesh is the box; a box's faces in the tree.
#include <gtest/gtest.h>

#include <array>
#include <vector>

#include "sim/measure/measure.h"
#include "sim/stock/fields.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

struct Triangles {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> faces;
};

// A prism along z from 0 to height over a convex polygon, counter-clockwise.
Triangles prism(const std::vector<Eigen::Vector2d>& base, double height) {
  Triangles out;
  const auto n = static_cast<std::uint32_t>(base.size());
  for (const double z : {0.0, height}) {
    for (const auto& p : base) out.vertices.emplace_back(p.x(), p.y(), z);
  }
  for (std::uint32_t i = 0; i < n; ++i) {
    const std::uint32_t k = (i + 1) % n;
    out.faces.push_back({i, k, n + k});
    out.faces.push_back({i, n + k, n + i});
    if (i == 0 || k == 0) continue;
    out.faces.push_back({0, k, i});
    out.faces.push_back({n, n + i, n + k});
  }
  return out;
}

Cut slot(Stock& stock, const nc::Motion& m) {
  const solid::ToolBody body = solid::make_tool_body(tool_of(job::ToolShape::flat, 4));
  const ToolRun use{0, 1, &body};
  return stock.cut(std::span(&m, 1), std::span(&use, 1), RigidMotion::Identity(), 1, {});
}

TEST(MeshBlank, ABoxIsTheBox) {
  const Vec3 size(18, 12, 8);
  const double voxel = 0.25;
  const Triangles t = prism({{0, 0}, {18, 0}, {18, 12}, {0, 12}}, 8);
  Stock of_mesh = Stock::mesh(t.vertices, t.faces, voxel), of_box = Stock::box(size, voxel);
  EXPECT_EQ(of_mesh.voxel(), voxel);
  EXPECT_NEAR(measure::mass_properties(of_mesh).volume, size.prod(), 0.002 * size.prod());
  EXPECT_LT((measure::mass_properties(of_mesh).centre - 0.5 * size).norm(), 0.01);
  const nc::Motion m = line(Vec3(9, -5, 5.3), Vec3(9, 17, 5.3));
  const double exact = 4 * 12 * 2.7;
  EXPECT_NEAR(removed(slot(of_mesh, m)), exact, 0.005 * exact);
  EXPECT_NEAR(removed(slot(of_box, m)), exact, 0.005 * exact);
  EXPECT_NEAR(measure::mass_properties(of_mesh).volume, size.prod() - exact, 0.002 * size.prod());
}

// A wedge 20 x 15 (right-angled) and 6 high: area 150. A slot 4 wide along x, its middle at y = 5:
// between y = 3 and y = 7 the wedge reaches to x = 20 (1 - y / 15), on the mean 20 (1 - 5 / 15).
TEST(MeshBlank, ASlotInAWedge) {
  const Triangles t = prism({{0, 0}, {20, 0}, {0, 15}}, 6);
  Stock stock = Stock::mesh(t.vertices, t.faces, 0.2);
  EXPECT_NEAR(measure::mass_properties(stock).volume, 900, 0.003 * 900);
  // A triangle's centre lies a third of the way from each side.
  EXPECT_LT((measure::mass_properties(stock).centre - Vec3(20 / 3.0, 5, 3)).norm(), 0.02);
  const double exact = 4 * 20 * (1 - 5 / 15.0) * 2;
  EXPECT_NEAR(removed(slot(stock, line(Vec3(-5, 5, 4), Vec3(25, 5, 4)))), exact, 0.01 * exact);
}

// A face between two leaves of the tree would take the memory twice (docs/engine.md).
TEST(BoxBlank, FacesOfWholeEightsTakeOneLeafEach) {
  const double h = 0.25;
  const int across[3] = {5, 4, 3};  // in leaves
  const Stock stock = Stock::box(8 * h * Vec3(across[0], across[1], across[2]), h);
  int all = 1, inner = 1;
  for (const int n : across) {
    all *= n + 1;
    inner *= n - 1;
  }
  EXPECT_EQ(stock.fields().steps->tree().leafCount(), static_cast<unsigned>(all - inner));
}

}  // namespace
}  // namespace proveout::stock
