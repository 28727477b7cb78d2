// Asking the motions' own distances at many places, tile by tile. Needs OpenVDB.
#pragma once

#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

#include "sim/stock/distance_reader.h"
#include "sim/stock/exact_stock.h"

namespace proveout::page {

inline constexpr double root3 = 1.7320508075688772;

// Slope of the grid's field over a voxel about a place (mm, stock coordinates).
inline Vec3 slope_of(const stock::FieldSampler& field, const Vec3& at) {
  const double half = 0.5 * field.voxel();
  Vec3 slope;
  for (int a = 0; a < 3; ++a) {
    const Vec3 h = half * Vec3::Unit(a);
    slope[a] = (field(at + h) - field(at - h)) / (2 * half);
  }
  return slope;
}

// Beside one face the field grows at a slope of 1; at less an edge is near (choice).
inline constexpr double steep = 0.97;

// One smooth face of the stock: of a motion's swept body, or of the blank.
struct Sheet {
  std::uint32_t motion = stock::NearMotions::none;
  int face = -1;   // of a body with edges: SweptDistance::faces_near
  int blank = -1;  // face of the blank's box, 6: the blank's mesh
};

// The motions about one place after the other; one per thread.
class ExactPlace {
 public:
  explicit ExactPlace(const stock::ExactStock& exact) : exact_(exact), near_(exact) {}
  void load(const Box3& tile) { near_.load(tile); }
  void block(const Vec3& middle, double reach) {
    near_.cull(near_.all(), middle, reach, in_block_);
  }
  void about(const Vec3& middle, double reach) { near_.cull(in_block_, middle, reach, list_); }
  // f of ExactStock, mm, negative in material, within reach of the place last set.
  double value(const Vec3& at, std::uint32_t* by = nullptr) { return near_.value(list_, at, by); }
  // The face that makes the surface at a place on it.
  Sheet sheet_at(const Vec3& at);
  // Of one face alone: mm, and its slope, out of the material.
  double value_of(const Sheet& sheet, const Vec3& at, Vec3& slope);

 private:
  Sheet blank_sheet(const Vec3& at) const;

  const stock::ExactStock& exact_;
  stock::NearMotions near_;
  std::vector<stock::Candidate> in_block_, list_;
  std::vector<stock::Nearness> faces_;
};

// look(place, i) for each of the places (mm, stock coordinates) whose motions within reach (mm) of
// it are ready, in parallel; a thread has whole tiles. step: mm, the places' usual distance.
template <class Look>
void for_places(const stock::ExactStock& exact, const std::vector<Vec3>& places, double step,
                double reach, Look look) {
  constexpr double tile_steps = 32, block_steps = 8;
  struct Item {
    std::array<int, 3> tile, block;
    std::uint32_t place;
  };
  const auto cell = [](const Vec3& at, double size) {
    return std::array<int, 3>{static_cast<int>(std::floor(at.x() / size)),
                              static_cast<int>(std::floor(at.y() / size)),
                              static_cast<int>(std::floor(at.z() / size))};
  };
  std::vector<Item> items;
  items.reserve(places.size());
  for (std::uint32_t i = 0; i < places.size(); ++i)
    items.push_back({cell(places[i], tile_steps * step), cell(places[i], block_steps * step), i});
  std::sort(items.begin(), items.end(), [](const Item& a, const Item& b) {
    return std::tie(a.tile, a.block, a.place) < std::tie(b.tile, b.block, b.place);
  });
  std::vector<std::size_t> first;  // of each tile's items
  for (std::size_t n = 0; n < items.size(); ++n) {
    if (n == 0 || items[n].tile != items[n - 1].tile) first.push_back(n);
  }
  const auto box_of = [](const std::array<int, 3>& number, double size) {
    const Vec3 low = size * Vec3(number[0], number[1], number[2]);
    return Box3(low, low + Vec3::Constant(size));
  };
  tbb::enumerable_thread_specific<ExactPlace> askers([&] { return ExactPlace(exact); });
  tbb::parallel_for(std::size_t{0}, first.size(), [&](std::size_t t) {
    ExactPlace& asker = askers.local();
    Box3 tile = box_of(items[first[t]].tile, tile_steps * step);
    tile.min().array() -= 2 * reach;
    tile.max().array() += 2 * reach;
    asker.load(tile);
    const std::size_t end = t + 1 < first.size() ? first[t + 1] : items.size();
    for (std::size_t n = first[t]; n < end; ++n) {
      if (n == first[t] || items[n].block != items[n - 1].block) {
        const Box3 block = box_of(items[n].block, block_steps * step);
        asker.block(block.center(), 0.5 * root3 * block_steps * step + reach);
      }
      asker.about(places[items[n].place], reach);
      look(asker, items[n].place);
    }
  });
}

}  // namespace proveout::page
