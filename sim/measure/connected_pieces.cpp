#include "sim/measure/connected_pieces.h"

#include <tbb/parallel_for.h>

#include <algorithm>

namespace proveout::measure {
namespace {

using openvdb::Coord;
using Mask = std::array<std::uint64_t, 8>;

// A leaf's voxels: word x, bit 8 y + z.
constexpr std::uint64_t low_z = 0x0101010101010101, high_z = low_z << 7;

Mask material_of(const stock::DistanceLeaf& leaf) {
  const std::int16_t* steps = leaf.buffer().data();
  Mask mask{};
  for (std::size_t i = 0; i < 512; ++i)
    mask[i >> 6] |= static_cast<std::uint64_t>(steps[i] < 0) << (i & 63);
  return mask;
}

// What of `material` hangs together with its first voxel.
Mask grown_from_first(const Mask& material) {
  Mask grown{};
  for (std::size_t x = 0; x < 8; ++x) {
    if (material[x] == 0) continue;
    grown[x] = material[x] & (~material[x] + 1);
    break;
  }
  for (bool changed = true; changed;) {
    changed = false;
    for (std::size_t x = 0; x < 8; ++x) {
      const std::uint64_t at = grown[x];
      std::uint64_t more = at | at << 8 | at >> 8 | (at & ~high_z) << 1 | (at & ~low_z) >> 1;
      if (x > 0) more |= grown[x - 1];
      if (x < 7) more |= grown[x + 1];
      more &= material[x];
      changed = changed || more != at;
      grown[x] = more;
    }
  }
  return grown;
}

// The voxels on one side of a leaf, as 64 bits that lie alike on the side that meets it.
std::uint64_t side_of(const Mask& mask, int axis, bool high) {
  if (axis == 0) return mask[high ? 7 : 0];
  std::uint64_t side = 0;
  for (std::size_t x = 0; x < 8; ++x) {
    if (axis == 1) {
      side |= (mask[x] >> (high ? 56 : 0) & 0xFF) << (8 * x);
    } else {  // eight bits a byte apart, drawn together
      const std::uint64_t bits = mask[x] >> (high ? 7 : 0) & low_z;
      side |= (bits * 0x0102040810204080 >> 56) << (8 * x);
    }
  }
  return side;
}

}  // namespace

std::vector<ConnectedPieces::Part> ConnectedPieces::parts_of(const Mask& material) {
  std::vector<Part> parts;
  Mask left = material;
  const auto any = [&] { return std::any_of(left.begin(), left.end(), [](auto w) { return w; }); };
  while (any()) {
    parts.push_back({grown_from_first(left), 0});
    for (std::size_t x = 0; x < 8; ++x) left[x] &= ~parts.back().mask[x];
  }
  return parts;
}

ConnectedPieces::ConnectedPieces(const stock::Stock::Fields& fields) {
  const auto& tree = fields.steps->tree();
  const openvdb::tree::LeafManager<const stock::DistanceTree> leaves(tree);
  leaves_.resize(leaves.leafCount());
  tbb::parallel_for(std::size_t{0}, leaves_.size(),
                    [&](std::size_t n) { leaves_[n] = parts_of(material_of(leaves.leaf(n))); });
  int nodes = 1;  // a block's node is kept with a minus: none is 0
  for (std::size_t n = 0; n < leaves_.size(); ++n) {
    for (Part& part : leaves_[n]) part.node = nodes++;
    if (!leaves_[n].empty())
      numbers_.addTile(1, leaves.leaf(n).origin(), static_cast<int>(n) + 1, true);
  }
  stock::for_blocks_of_material(tree, [&](const auto& it) {
    numbers_.addTile(static_cast<openvdb::Index>(it.getLevel()), it.getCoord(), -nodes++, true);
  });
  sets_ = DisjointSets(static_cast<std::size_t>(nodes));
  join_blocks();
  number_pieces();
}

void ConnectedPieces::join_blocks() {
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> numbers(numbers_);
  // From every block over its high sides, in eights: so every pair of neighbours is met.
  const auto over = [&](int number, const Coord& beside, int axis) {
    const int other = numbers.getValue(beside);
    if (other == 0) return;
    if (number < 0 && other < 0) return join(-number, -other);
    if (number < 0) {
      for (const Part& part : leaves_[static_cast<std::size_t>(other - 1)]) {
        if (side_of(part.mask, axis, false) != 0) join(-number, part.node);
      }
      return;
    }
    for (const Part& part : leaves_[static_cast<std::size_t>(number - 1)]) {
      const std::uint64_t side = side_of(part.mask, axis, true);
      if (side == 0) continue;
      if (other < 0) {
        join(-other, part.node);
        continue;
      }
      for (const Part& met : leaves_[static_cast<std::size_t>(other - 1)]) {
        if ((side & side_of(met.mask, axis, false)) != 0) join(part.node, met.node);
      }
    }
  };
  for (auto it = numbers_.cbeginValueOn(); it; ++it) {
    openvdb::CoordBBox box;
    it.getBoundingBox(box);
    for (int axis = 0; axis < 3; ++axis) {
      const int p = (axis + 1) % 3, q = (axis + 2) % 3;
      Coord beside;
      beside[axis] = box.max()[axis] + 1;
      for (int i = box.min()[p]; i <= box.max()[p]; i += 8) {
        for (int j = box.min()[q]; j <= box.max()[q]; j += 8) {
          beside[p] = i;
          beside[q] = j;
          over(*it, beside, axis);
        }
      }
    }
  }
}

void ConnectedPieces::number_pieces() {
  piece_.assign(sets_.size(), none);
  count_ = 0;
  for (std::size_t node = 1; node < sets_.size(); ++node) {
    const std::size_t top = sets_.find(node);
    if (piece_[top] == none) piece_[top] = count_++;
    piece_[node] = piece_[top];
  }
}

// By piece: whether none of its voxels lies deeper than one voxel in material.
std::vector<char> ConnectedPieces::thin_pieces(const stock::Stock::Fields& fields) const {
  std::vector<char> thin(static_cast<std::size_t>(count_), 1);
  const Reader piece(*this);
  const auto& tree = fields.steps->tree();
  for (auto leaf = tree.cbeginLeaf(); leaf; ++leaf) {
    const std::int16_t* steps = leaf->buffer().data();
    for (openvdb::Index i = 0; i < 512; ++i) {
      if (steps[i] >= -stock::Stock::Fields::steps_a_voxel) continue;
      thin[static_cast<std::size_t>(piece.inside(leaf->offsetToGlobalCoord(i)))] = 0;
    }
  }
  stock::for_blocks_of_material(tree, [&](const auto& it) {
    thin[static_cast<std::size_t>(piece.inside(it.getCoord()))] = 0;
  });
  return thin;
}

void ConnectedPieces::join_thin_walls(const stock::Stock::Fields& fields) {
  if (count_ < 2) return;
  const std::vector<char> thin = thin_pieces(fields);
  std::vector<int> node_of(static_cast<std::size_t>(count_));
  for (std::size_t node = 1; node < piece_.size(); ++node)
    node_of[static_cast<std::size_t>(piece_[node])] = static_cast<int>(node);
  const Reader pieces(*this);
  const auto look_about = [&](const Coord& at, int here) {
    constexpr int ring = 2;
    for (int n = 0; n < 125; ++n) {
      const Coord way(n / 25 - ring, n / 5 % 5 - ring, n % 5 - ring);
      const bool touches = way.x() * way.x() + way.y() * way.y() + way.z() * way.z() <= 2;
      if (!touches && thin[static_cast<std::size_t>(here)] == 0) continue;
      const int there = pieces.inside(at + way);
      if (there == none || there == here) continue;
      join(node_of[static_cast<std::size_t>(here)], node_of[static_cast<std::size_t>(there)]);
    }
  };
  for (auto leaf = fields.steps->tree().cbeginLeaf(); leaf; ++leaf) {
    if (only_one_near(leaf->origin()) != none) continue;
    for (openvdb::Index i = 0; i < 512; ++i) {
      if (leaf->getValue(i) >= 0) continue;
      const Coord at = leaf->offsetToGlobalCoord(i);
      look_about(at, pieces.inside(at));
    }
  }
  number_pieces();
}

int ConnectedPieces::inside(const Coord& voxel, int number) const {
  if (number == 0) return none;
  if (number < 0) return piece_[static_cast<std::size_t>(-number)];
  const int bit = (voxel.y() & 7) << 3 | (voxel.z() & 7);
  for (const Part& part : leaves_[static_cast<std::size_t>(number - 1)]) {
    if ((part.mask[static_cast<std::size_t>(voxel.x() & 7)] >> bit & 1) != 0)
      return piece_[static_cast<std::size_t>(part.node)];
  }
  return none;
}

int ConnectedPieces::Reader::nearest(const Coord& voxel) const {
  const int here = inside(voxel);
  if (here != none) return here;
  // Ring after ring; within a ring the nearest by the way over the lattice, of equals the lowest.
  for (int ring = 1; ring <= 4; ++ring) {
    int best = none, least = 1 << 20;
    for (int x = -ring; x <= ring; ++x) {
      for (int y = -ring; y <= ring; ++y) {
        const bool rim = std::abs(x) == ring || std::abs(y) == ring;
        for (int z = -ring; z <= ring; z += rim ? 1 : 2 * ring) {
          const int away = x * x + y * y + z * z;
          if (away > least) continue;
          const int piece = inside(voxel.offsetBy(x, y, z));
          if (piece == none || (away == least && best <= piece)) continue;
          best = piece;
          least = away;
        }
      }
    }
    if (best != none) return best;
  }
  return none;
}

int ConnectedPieces::only_one_near(const Coord& leaf_origin) const {
  int only = none;
  const auto other = [&](int node) {
    const int piece = piece_[static_cast<std::size_t>(node)];
    if (only == none) only = piece;
    return only != piece;
  };
  for (int k = 0; k < 27; ++k) {
    const int number = numbers_.getValue(
        leaf_origin.offsetBy(8 * (k % 3 - 1), 8 * (k / 3 % 3 - 1), 8 * (k / 9 - 1)));
    if (number < 0 && other(-number)) return none;
    if (number <= 0) continue;
    for (const Part& part : leaves_[static_cast<std::size_t>(number - 1)]) {
      if (other(part.node)) return none;
    }
  }
  return only;
}

}  // namespace proveout::measure
