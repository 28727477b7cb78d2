// Cells beyond tolerance as places that hang together. Needs OpenVDB; for the .cpp files of this
// room.
#pragma once

#include <unordered_map>
#include <vector>

#include "parser/base/disjoint_sets.h"
#include "sim/measure/two_way_cell.h"

namespace proveout::measure {

// Bins of one sort that touch over faces, edges or corners are one region: union-find. What lies
// inside, away from all surface, goes to the region it is reached from first, bin by bin.
class DeviationRegions {
 public:
  explicit DeviationRegions(std::vector<DeviationBin> bins);
  static constexpr std::size_t npos = ~std::size_t{0};
  // Number of the region, into regions(), of a voxel or, where its bin is none, of one beside it:
  // a place on a face between voxels may be counted to either. npos: none.
  std::size_t beside(const openvdb::Coord& voxel) const;
  std::vector<DeviationRegion>& regions() { return regions_; }
  // Those with a depth, deepest first.
  std::vector<DeviationRegion> deepest_first() const;

 private:
  std::size_t find(const openvdb::Coord& place, BinSort sort) const;
  void give_inside();

  std::vector<DeviationBin> bins_;
  DisjointSets sets_;                                     // of bins
  std::unordered_map<std::uint64_t, std::size_t> index_;  // by place and sort
  std::vector<std::size_t> region_;                       // by bin
  std::vector<DeviationRegion> regions_;
};

}  // namespace proveout::measure
