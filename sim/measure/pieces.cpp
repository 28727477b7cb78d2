// What hangs together of the material, and what is left when the rest is gone.
#include <openvdb/tools/Prune.h>

#include <algorithm>
#include <cmath>

#include "sim/measure/connected_pieces.h"
#include "sim/measure/measure.h"
#include "sim/measure/moments.h"
#include "sim/stock/occupancy.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;

// Of each piece, the volume within the part. A sample of every fourth voxel each way is enough to
// tell pieces apart.
std::vector<double> shared_volumes(const ConnectedPieces& found, const stock::Stock::Fields& fields,
                                   const solid::PartDistance& part) {
  const double h = fields.voxel;
  const Box3 box = mesh::bounds(part.mesh());
  constexpr int step = 4;
  const Coord low = fields.holding(box.min()), high = fields.holding(box.max());
  const auto pieces = static_cast<std::size_t>(found.count());
  const int slices = std::max(0, (high.x() - low.x()) / step + 1);
  std::vector<std::vector<int>> samples(static_cast<std::size_t>(slices));
  tbb::parallel_for(0, slices, [&](int slice) {
    const ConnectedPieces::Reader piece(found);
    std::vector<int>& count = samples[static_cast<std::size_t>(slice)];
    count.assign(pieces, 0);
    for (int y = low.y(); y <= high.y(); y += step) {
      double reach =
          1e30;  // the distance changes by no more than the step from one place to the next
      for (int z = low.z(); z <= high.z(); z += step, reach += 1.001 * step * h) {
        const Coord c(low.x() + slice * step, y, z);
        const int here = piece.inside(c);
        if (here == ConnectedPieces::none) continue;
        const double away = part.at(fields.middle(c), reach);
        reach = std::abs(away);
        if (away < 0) ++count[static_cast<std::size_t>(here)];
      }
    }
  });
  std::vector<double> volumes(pieces, 0.0);
  for (const std::vector<int>& count : samples) {
    for (std::size_t p = 0; p < pieces; ++p) volumes[p] += count[p] * std::pow(step * h, 3);
  }
  return volumes;
}

// What a leaf holds of one piece.
struct Share {
  int piece = ConnectedPieces::none;
  Moments moments;
  std::int16_t deepest = 0;  // steps
  Coord at;
  openvdb::CoordBBox box;
};

// Voxels at the surface count in part, also those whose middle lies in the air: to the piece they
// are nearest to.
std::vector<Share> shares_of(const stock::DistanceLeaf& leaf, const ConnectedPieces& found,
                             const stock::DistanceReader& distance,
                             const stock::Occupancy& occupancy) {
  const int only = found.only_one_near(leaf.origin());
  const ConnectedPieces::Reader pieces(found);
  const std::int16_t* steps = leaf.buffer().data();
  std::vector<Share> shares;
  for (openvdb::Index i = 0; i < 512; ++i) {
    const double share = occupancy(distance.mm(steps[i]));
    if (share == 0) continue;
    const Coord at = leaf.offsetToGlobalCoord(i);
    const int piece = only != ConnectedPieces::none ? only : pieces.nearest(at);
    if (piece == ConnectedPieces::none) continue;
    auto to = std::find_if(shares.begin(), shares.end(),
                           [&](const Share& s) { return s.piece == piece; });
    if (to == shares.end()) {
      to = shares.insert(to, Share{});
      to->piece = piece;
    }
    to->moments.add(at, share);
    to->box.expand(at);
    if (steps[i] >= to->deepest) continue;
    to->deepest = steps[i];
    to->at = at;
  }
  return shares;
}

// By the numbers of `found`.
std::vector<Piece> pieces_of(const stock::Stock::Fields& fields, const ConnectedPieces& found) {
  const openvdb::tree::LeafManager<const stock::DistanceTree> leaves(fields.steps->tree());
  std::vector<std::vector<Share>> by_leaf(leaves.leafCount());
  const stock::Occupancy occupancy(fields.voxel);
  const stock::DistanceReader distance(fields);
  tbb::parallel_for(std::size_t{0}, by_leaf.size(), [&](std::size_t n) {
    by_leaf[n] = shares_of(leaves.leaf(n), found, distance, occupancy);
  });
  std::vector<Share> sums(static_cast<std::size_t>(found.count()));
  for (const auto& shares : by_leaf) {
    for (const Share& s : shares) {
      Share& sum = sums[static_cast<std::size_t>(s.piece)];
      sum.moments.add(s.moments);
      sum.box.expand(s.box);
      if (s.deepest >= sum.deepest) continue;
      sum.deepest = s.deepest;
      sum.at = s.at;
    }
  }
  const ConnectedPieces::Reader piece(found);
  stock::for_blocks_of_material(fields.steps->tree(), [&](const auto& it) {
    openvdb::CoordBBox box;
    it.getBoundingBox(box);
    Share& sum = sums[static_cast<std::size_t>(piece.inside(box.min()))];
    sum.moments.add(box_moments(box));
    sum.box.expand(box);
  });
  std::vector<Piece> pieces;
  for (const Share& sum : sums) {
    Piece p;
    p.volume = sum.moments.zero * std::pow(fields.voxel, 3);
    if (sum.moments.zero > 0)
      p.centre = fields.middle(Coord(0)) + sum.moments.one / sum.moments.zero * fields.voxel;
    if (sum.deepest < 0) p.inside = fields.middle(sum.at);
    if (!sum.box.empty()) {
      const Vec3 half = Vec3::Constant(0.5 * fields.voxel);
      p.box = Box3(fields.middle(sum.box.min()) - half, fields.middle(sum.box.max()) + half);
    }
    pieces.push_back(p);
  }
  return pieces;
}

// How far a voxel outside a piece is from it, by the piece's voxels up to four away: never less
// than it is.
std::int16_t steps_to(int piece, const Coord& voxel, const ConnectedPieces::Reader& pieces,
                      const stock::DistanceTree& tree) {
  openvdb::tree::ValueAccessor<const stock::DistanceTree, false> steps(tree);
  int least = stock::Stock::Fields::band_steps;
  constexpr int ring = 4;
  for (int x = -ring; x <= ring; ++x) {
    for (int y = -ring; y <= ring; ++y) {
      for (int z = -ring; z <= ring; ++z) {
        const Coord at = voxel.offsetBy(x, y, z);
        if (pieces.inside(at) != piece) continue;
        const double way = std::sqrt(x * x + y * y + z * z) * stock::Stock::Fields::steps_a_voxel;
        least = std::min(least, steps.getValue(at) + static_cast<int>(std::ceil(way)));
      }
    }
  }
  return static_cast<std::int16_t>(std::max(least, 0));
}

// Takes away all but one piece. What was nearest to another then lies as far from this one as it
// does.
void keep_only(stock::Stock::Fields& fields, const ConnectedPieces& found, int kept) {
  auto& tree = fields.steps->tree();
  std::vector<openvdb::CoordBBox> blocks;
  const ConnectedPieces::Reader piece(found);
  stock::for_blocks_of_material(tree, [&](const auto& it) {
    openvdb::CoordBBox box;
    it.getBoundingBox(box);
    if (piece.inside(box.min()) != kept) blocks.push_back(box);
  });
  openvdb::tree::LeafManager<stock::DistanceTree> leaves(tree);
  constexpr std::int16_t air = stock::Stock::Fields::band_steps;
  tbb::parallel_for(std::size_t{0}, leaves.leafCount(), [&](std::size_t n) {
    auto& leaf = leaves.leaf(n);
    const int only = found.only_one_near(leaf.origin());
    if (only == kept) return;
    if (only != ConnectedPieces::none) {
      leaf.fill(air, false);
      return;
    }
    // Neighbours read from this leaf only what of it stays: the piece's own voxels.
    const ConnectedPieces::Reader pieces(found);
    for (openvdb::Index i = 0; i < 512; ++i) {
      const Coord at = leaf.offsetToGlobalCoord(i);
      if (leaf.getValue(i) >= air || pieces.nearest(at) == kept) continue;
      const std::int16_t away = steps_to(kept, at, pieces, tree);
      if (away < air)
        leaf.setValueOn(i, away);
      else
        leaf.setValueOff(i, air);
    }
  });
  for (const openvdb::CoordBBox& box : blocks) tree.fill(box, air, false);
  openvdb::tools::pruneLevelSet(tree);
}

}  // namespace

std::vector<Piece> pieces(const stock::Stock& stock) {
  const auto& f = stock.fields();
  std::vector<Piece> out = pieces_of(f, ConnectedPieces(f));
  std::stable_sort(out.begin(), out.end(),
                   [](const Piece& a, const Piece& b) { return a.volume > b.volume; });
  return out;
}

bool hang_together(const stock::Stock& stock, const Vec3& a, const Vec3& b) {
  const auto& f = stock.fields();
  const ConnectedPieces found(f);
  const ConnectedPieces::Reader pieces(found);
  const int piece = pieces.inside(f.holding(a));
  return piece != ConnectedPieces::none && piece == pieces.inside(f.holding(b));
}

std::vector<Piece> keep_one_piece(stock::Stock& stock, const solid::PartDistance* part) {
  const auto& f = stock.fields();
  ConnectedPieces all(f);
  all.join_thin_walls(f);
  std::vector<std::pair<Piece, int>> found;
  std::vector<double> shared;
  if (part != nullptr && all.count() > 1) shared = shared_volumes(all, f, *part);
  for (const Piece& p : pieces_of(f, all)) {
    const std::size_t number = found.size();
    found.emplace_back(p, static_cast<int>(number));
    if (!shared.empty()) found.back().first.shared = shared[number];
  }
  std::stable_sort(found.begin(), found.end(), [&](const auto& a, const auto& b) {
    if (part != nullptr && a.first.shared != b.first.shared) return a.first.shared > b.first.shared;
    return a.first.volume > b.first.volume;
  });
  std::vector<Piece> out;
  for (const auto& p : found) out.push_back(p.first);
  if (out.empty()) out.emplace_back();
  if (found.size() > 1) {
    auto fields = std::move(stock).take_fields();
    keep_only(*fields, all, found.front().second);
    stock = stock::Stock::of_fields(std::move(fields));
  }
  return out;
}

}  // namespace proveout::measure
