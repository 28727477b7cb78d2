// Which voxels hang together, against a flood through a dense copy of the same voxels; volumes by
// closed form.
#include "sim/measure/connected_pieces.h"

#include <gtest/gtest.h>

#include <map>
#include <random>

#include "sim/measure/measure.h"
#include "tests/sim/measure/box_mesh.h"
#include "tests/sim/measure/solids.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;

// The twin: labels of a dense cube of voxels, by flooding.
class Flood {
 public:
  Flood(const Coord& low, int edge, const stock::DistanceReader& distance)
      : low_(low), edge_(edge), label_(static_cast<std::size_t>(edge * edge * edge), none) {
    for (std::size_t i = 0; i < label_.size(); ++i)
      if (distance.inside(voxel(i))) label_[i] = unseen;
    for (std::size_t i = 0; i < label_.size(); ++i)
      if (label_[i] == unseen) flood(i, count_++);
  }
  static constexpr int none = -1, unseen = -2;
  int count() const { return count_; }
  std::size_t voxels() const { return label_.size(); }
  int at(std::size_t i) const { return label_[i]; }
  Coord voxel(std::size_t i) const {
    const int n = static_cast<int>(i);
    return low_ + Coord(n / edge_ / edge_, n / edge_ % edge_, n % edge_);
  }

 private:
  void flood(std::size_t from, int label) {
    std::vector<std::size_t> open{from};
    label_[from] = label;
    while (!open.empty()) {
      const Coord at = voxel(open.back()) - low_;
      open.pop_back();
      for (int k = 0; k < 6; ++k) {
        Coord next = at;
        next[k / 2] += k % 2 == 0 ? 1 : -1;
        if (next.x() < 0 || next.y() < 0 || next.z() < 0 || next.x() >= edge_ ||
            next.y() >= edge_ || next.z() >= edge_)
          continue;
        const int place = (next.x() * edge_ + next.y()) * edge_ + next.z();
        const auto i = static_cast<std::size_t>(place);
        if (label_[i] != unseen) continue;
        label_[i] = label;
        open.push_back(i);
      }
    }
  }
  Coord low_;
  int edge_;
  std::vector<int> label_;
  int count_ = 0;
};

// Voxels by chance, as dense as asked; in between blocks of 8^3 of material throughout, some of
// them one by one, some as one block of 16^3 that lies across leaves.
stock::Stock crumbs(std::mt19937& random, const Coord& low, int edge, double density) {
  auto fields = std::make_unique<stock::Stock::Fields>();
  fields->voxel = 0.1;
  fields->steps = fields->air();
  fields->provenance = openvdb::Int32Grid::create(0);
  auto& tree = fields->steps->tree();
  std::uniform_real_distribution<double> u(0, 1);
  for (int x = 0; x < edge; ++x)
    for (int y = 0; y < edge; ++y)
      for (int z = 0; z < edge; ++z)
        tree.setValueOn(low.offsetBy(x, y, z), u(random) < density ? -1000 : 1000);
  for (int n = 0; n < 3; ++n) {
    Coord corner = low;
    for (int k = 0; k < 3; ++k) corner[k] += 8 * static_cast<int>(u(random) * (0.125 * edge - 1));
    const int across = n == 0 ? 15 : 7;
    tree.fill(openvdb::CoordBBox(corner, corner.offsetBy(across)),
              -stock::Stock::Fields::band_steps, false);
  }
  return stock::Stock::of_fields(std::move(fields));
}

TEST(ConnectedPieces, AreThoseOfAFloodThroughEveryVoxel) {
  for (unsigned seed = 1; seed <= 40; ++seed) {
    std::mt19937 random(seed);
    // About a third of material is where pieces just begin to span such a cube: the most winding.
    const double density = 0.15 + 0.01 * seed;
    const int edge = 32;
    const Coord low(-16, 8 * (static_cast<int>(seed) % 5 - 2),
                    120 - 8 * (static_cast<int>(seed) % 3));
    const stock::Stock stock = crumbs(random, low, edge, density);
    const Flood twin(low, edge, stock::DistanceReader(stock.fields()));
    const ConnectedPieces found(stock.fields());
    const ConnectedPieces::Reader reader(found);
    EXPECT_EQ(found.count(), twin.count()) << "seed " << seed << " density " << density;
    std::map<int, int> piece_of, label_of;
    for (std::size_t i = 0; i < twin.voxels(); ++i) {
      const int piece = reader.inside(twin.voxel(i));
      ASSERT_EQ(piece == ConnectedPieces::none, twin.at(i) == Flood::none)
          << "seed " << seed << " at " << twin.voxel(i);
      if (piece == ConnectedPieces::none) continue;
      ASSERT_EQ(piece_of.emplace(twin.at(i), piece).first->second, piece)
          << "seed " << seed << " at " << twin.voxel(i);
      ASSERT_EQ(label_of.emplace(piece, twin.at(i)).first->second, twin.at(i))
          << "seed " << seed << " at " << twin.voxel(i);
    }
  }
}

TEST(ConnectedPieces, BlocksOfAnySizeAreJoined) {
  // Material throughout, in blocks of 8 and of 128 voxels in the tree, and a saw cut across.
  for (const double gap : {0.0, 0.5}) {
    stock::Stock stock = stock::Stock::box({80, 30, 30}, 0.1);
    if (gap > 0)
      remove_boxes(stock, std::vector<Box3>{Box3(Vec3(40, -1, -1), Vec3(40 + gap, 31, 31))});
    EXPECT_EQ(ConnectedPieces(stock.fields()).count(), gap > 0 ? 2 : 1);
    EXPECT_EQ(hang_together(stock, Vec3(5, 5, 5), Vec3(75, 25, 25)), gap == 0);
    EXPECT_TRUE(hang_together(stock, Vec3(45, 5, 5), Vec3(75, 25, 25)));
  }
}

// A hollow within is no piece of its own: there is one shell.
TEST(Pieces, AHollowBodyIsOnePiece) {
  const double h = 0.2;
  const Solid shell = [](const Vec3& p) {
    const double away = (p - Vec3(6, 6, 6)).norm();
    return std::max(away - 5, 3 - away);
  };
  const stock::Stock stock = stock_of(shell, Box3(Vec3(0, 0, 0), Vec3(12, 12, 12)), h);
  const auto found = pieces(stock);
  ASSERT_EQ(found.size(), 1u);
  const double exact = 4 * pi / 3 * (125 - 27);
  EXPECT_NEAR(found[0].volume, exact, 1e-3 * exact);
}

// Pieces close beside each other, nearer than the band is wide: each voxel of their surfaces goes
// to one of them, nothing is lost or counted twice, and what is kept weighs what was told of it.
TEST(Pieces, ShareOutAllTheMaterialBetweenThem) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> u(0, 1);
    const double h = 0.2, gap = (1.5 + 3 * u(random)) * h, radius = 2 + u(random);
    const Vec3 first(4, 4, 4);
    const Vec3 way = Vec3(1, u(random), u(random)).normalized();
    const Vec3 second = first + (2 * radius + gap) * way;
    const Solid two = [&](const Vec3& p) {
      return std::min((p - first).norm(), (p - second).norm()) - radius;
    };
    Box3 around(first);
    around.extend(second);
    const Vec3 margin = Vec3::Constant(radius + 1);
    stock::Stock stock = stock_of(two, Box3(around.min() - margin, around.max() + margin), h);
    const double whole = volume(stock), exact = 4 * pi / 3 * std::pow(radius, 3);
    const auto found = keep_one_piece(stock, nullptr);
    ASSERT_EQ(found.size(), 2u) << "seed " << seed << " gap " << gap << " radius " << radius;
    EXPECT_NEAR(found[0].volume + found[1].volume, whole, 1e-9 * whole) << "seed " << seed;
    EXPECT_NEAR(found[0].volume, exact, 3e-3 * exact) << "seed " << seed;
    EXPECT_NEAR(found[1].volume, exact, 3e-3 * exact) << "seed " << seed;
    EXPECT_NEAR(volume(stock), found[0].volume, 1e-3 * exact) << "seed " << seed;
    EXPECT_NEAR(volume(stock), exact, 3e-3 * exact) << "seed " << seed;
    EXPECT_EQ(pieces(stock).size(), 1u) << "seed " << seed;
  }
}

// Slabs a voxel apart, the surfaces between middles: the one that stays keeps its face, whichever
// it is.
TEST(Pieces, TheOneThatStaysKeepsItsFaceBesideAnother) {
  const double h = 0.2, gap = 5 * h;  // from one voxel to the next but one
  for (const bool upper : {false, true}) {
    const Solid slabs = [&](const Vec3& p) {
      const double low = box_distance(p - Vec3(4, 4, gap / 2), Vec3(3, 3, gap / 2));
      const double high = box_distance(p - Vec3(4, 4, gap + h + 1), Vec3(3, 3, 1));
      return std::min(low, high);
    };
    stock::Stock stock = stock_of(slabs, Box3(Vec3(0, 0, -1), Vec3(8, 8, 6)), h);
    const solid::PartDistance part(upper ? box_mesh({2, 2, gap + h}, {6, 6, gap + 2})
                                         : box_mesh({2, 2, -0.5}, {6, 6, gap}));
    const auto found = keep_one_piece(stock, &part);
    ASSERT_EQ(found.size(), 2u);
    const double exact = 36 * (upper ? 2 : gap);
    EXPECT_NEAR(volume(stock), exact, 2e-3 * exact) << upper;
    // What was told before gave the air between them to one of the two.
    EXPECT_NEAR(found[0].volume, exact, 0.01 * exact) << upper;
    const Box3 box = extent(stock, Eigen::Matrix3d::Identity(), std::nullopt);
    EXPECT_NEAR(upper ? box.min().z() : box.max().z(), upper ? gap + h : gap, 0.05 * h) << upper;
  }
}

// A wall as thin as a voxel, turned any way, falls apart over faces; it stays one piece with its
// foot. What lies a cutter's width off does not.
TEST(Pieces, AThinWallHangsTogether) {
  for (unsigned seed = 1; seed <= 12; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> u(-1, 1);
    const double h = 0.25, thick = (1 + 0.5 * std::abs(u(random))) * h, off = 5 * h;
    const RigidMotion turn(
        Eigen::AngleAxisd(u(random), Vec3(u(random), u(random), u(random)).normalized()));
    const Solid wall_and_offcut = [&](const Vec3& p) {
      const Vec3 q = turn.inverse() * (p - Vec3(6, 6, 6));
      const double foot = box_distance(q - Vec3(0, 0, -3), Vec3(3, 3, 1));
      const double wall = box_distance(q - Vec3(0, 0, -0.5), Vec3(thick / 2, 3, 2));
      const double offcut = box_distance(q - Vec3(3 + off + 0.5, 0, -3), Vec3(0.5, 2, 1));
      return std::min({foot, wall, offcut});
    };
    stock::Stock stock = stock_of(wall_and_offcut, Box3(Vec3(-1, -1, -1), Vec3(13, 13, 13)), h);
    const auto found = keep_one_piece(stock, nullptr);
    EXPECT_EQ(found.size(), 2u) << "seed " << seed << " thick " << thick;
    const double exact = 6 * 6 * 2 + thick * 6 * 3.5;
    EXPECT_NEAR(found[0].volume, exact, 0.03 * exact) << "seed " << seed << " thick " << thick;
  }
}

}  // namespace
}  // namespace proveout::measure
