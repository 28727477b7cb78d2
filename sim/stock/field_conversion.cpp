#include "sim/stock/field_conversion.h"

#include <openvdb/tree/LeafManager.h>
#include <tbb/parallel_for.h>

#include <cmath>
#include <memory>
#include <vector>

namespace proveout::stock {
namespace {

// A tree with `value_of` each value of another. Its leaves are filled by all threads, then hung in.
template <class To, class From, class ValueOf>
void convert(const From& from, To& to, ValueOf value_of) {
  using Leaf = typename To::LeafNodeType;
  for_blocks_of_material(from, [&](const auto& it) {  // outside is the background
    to.addTile(static_cast<openvdb::Index>(it.getLevel()), it.getCoord(), value_of(*it), false);
  });
  const openvdb::tree::LeafManager<const From> leaves(from);
  std::vector<std::unique_ptr<Leaf>> made(leaves.leafCount());
  tbb::parallel_for(std::size_t{0}, made.size(), [&](std::size_t n) {
    const auto& leaf = leaves.leaf(n);
    made[n] = std::make_unique<Leaf>(leaf.origin(), to.background(), false);
    auto* values = made[n]->buffer().data();
    for (openvdb::Index i = 0; i < 512; ++i) {
      values[i] = value_of(leaf.getValue(i));
      const auto background = to.background();
      if (values[i] > -background && values[i] < background) made[n]->setValueOn(i);
    }
  });
  for (auto& leaf : made) to.addLeaf(leaf.release());
}

}  // namespace

openvdb::FloatGrid::Ptr in_mm(const Stock::Fields& fields) {
  auto grid = openvdb::FloatGrid::create(fields.band());
  grid->setTransform(fields.steps->transform().copy());
  grid->setGridClass(openvdb::GRID_LEVEL_SET);
  grid->setName("distance");
  const float mm_a_step = fields.mm_a_step();
  convert(fields.steps->tree(), grid->tree(),
          [&](std::int16_t steps) { return mm_a_step * static_cast<float>(steps); });
  return grid;
}

DistanceGrid::Ptr in_steps(const openvdb::FloatTree& mm, const Stock::Fields& fields) {
  auto grid = fields.air();
  const Stock::Fields::Rounding rounding = fields.rounding();
  // What is no number at all counts as air.
  convert(mm, grid->tree(),
          [&](float d) { return std::isnan(d) ? Stock::Fields::band_steps : rounding(d); });
  return grid;
}

}  // namespace proveout::stock
