// Which voxels of material hang together. Needs OpenVDB; for the .cpp files of this room.
#pragma once

#include <openvdb/tree/LeafManager.h>

#include <array>
#include <cstdint>
#include <vector>

#include "parser/base/disjoint_sets.h"
#include "sim/stock/distance_reader.h"

namespace proveout::measure {

// Two voxels of material (distance below 0) are of one piece where a way over faces leads from one
// to the other through material. Blocks of the tree that are material throughout count as a whole,
// so that the inside of a large stock costs nothing.
// Method: connected components by union-find over the pieces of each leaf (Rosenfeld and Pfaltz
// 1966, general method).
class ConnectedPieces {
 public:
  explicit ConnectedPieces(const stock::Stock::Fields& fields);

  static constexpr int none = -1;
  int count() const { return count_; }
  // Takes pieces for one that touch over an edge of voxels, and thin ones (nowhere deeper than a
  // voxel) with what lies within two voxels of them: what joins a wall about as thin as a voxel
  // falls between the voxels' middles. Pieces a cutter's width apart stay apart.
  void join_thin_walls(const stock::Stock::Fields& fields);
  // Asks for the pieces of voxels. Remembers where it was: one per thread.
  class Reader {
   public:
    explicit Reader(const ConnectedPieces& found) : found_(found), numbers_(found.numbers_) {}
    // The piece a voxel of material is of; none: air.
    int inside(const openvdb::Coord& voxel) const {
      return found_.inside(voxel, numbers_.getValue(voxel));
    }
    // The piece that a voxel of material or beside it (up to 4 voxels off) is nearest to.
    int nearest(const openvdb::Coord& voxel) const;

   private:
    const ConnectedPieces& found_;
    openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> numbers_;
  };
  // The one piece that is all there is of material in a leaf and the 26 about it; none: several, or
  // no material.
  int only_one_near(const openvdb::Coord& leaf_origin) const;

 private:
  using Mask = std::array<std::uint64_t, 8>;  // of a leaf's voxels, a word for each x
  struct Part {                               // of a leaf's material, what hangs together within it
    Mask mask;
    int node;
  };
  static std::vector<Part> parts_of(const Mask& material);
  int inside(const openvdb::Coord& voxel, int number) const;
  void join_blocks();
  void join(int a, int b) { sets_.join(static_cast<std::size_t>(a), static_cast<std::size_t>(b)); }
  void number_pieces();
  std::vector<char> thin_pieces(const stock::Stock::Fields& fields) const;

  // By block: 1 + its leaf's number, or minus the node of a block of material throughout; 0: air.
  openvdb::Int32Tree numbers_{0};
  std::vector<std::vector<Part>> leaves_;
  DisjointSets sets_;       // of nodes
  std::vector<int> piece_;  // by node
  int count_ = 0;
};

}  // namespace proveout::measure
