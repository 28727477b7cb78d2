#include "sim/measure/deviation_regions.h"

#include <algorithm>

namespace proveout::measure {
namespace {

using openvdb::Coord;

constexpr double tie = 1e-6;  // mm: depths nearer than this are the same

Coord neighbour(const Coord& place, int n) {  // n: 0 to 26; the first 13 are half of them
  return place.offsetBy(n % 3 - 1, n / 3 % 3 - 1, n / 9 - 1);
}

std::uint64_t key(const Coord& c, BinSort sort) {
  const auto part = [](int v) { return static_cast<std::uint64_t>(v + (1 << 19)) & 0xFFFFF; };
  return static_cast<std::uint64_t>(sort) << 60 | part(c.x()) << 40 | part(c.y()) << 20 |
         part(c.z());
}

}  // namespace

DeviationRegions::DeviationRegions(std::vector<DeviationBin> bins)
    : bins_(std::move(bins)), sets_(bins_.size()), region_(bins_.size(), npos) {
  for (std::size_t i = 0; i < bins_.size(); ++i)
    index_.emplace(key(bins_[i].place, bins_[i].sort), i);
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    if (bins_[i].sort >= BinSort::inside) continue;
    for (int n = 0; n < 13; ++n) {
      const std::size_t other = find(neighbour(bins_[i].place, n), bins_[i].sort);
      if (other != npos) sets_.join(i, other);
    }
  }
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    const DeviationBin& b = bins_[i];
    if (b.sort >= BinSort::inside) continue;
    const std::size_t first = sets_.find(i);
    if (first == i) {
      region_[i] = regions_.size();
      regions_.emplace_back();
    }
    region_[i] = region_[first];
    DeviationRegion& r = regions_[region_[i]];
    r.volume_mm3 += b.volume_mm3;
    r.area_mm2 += b.area_mm2;
    if (b.depth <= r.depth + tie) continue;
    r.depth = b.depth;
    r.at = b.at;
    r.by = b.by;
    r.passed = b.passed;
  }
  give_inside();
}

std::size_t DeviationRegions::find(const Coord& place, BinSort sort) const {
  const auto found = index_.find(key(place, sort));
  return found == index_.end() ? npos : found->second;
}

void DeviationRegions::give_inside() {
  std::vector<std::size_t> queue;
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    if (region_[i] != npos) queue.push_back(i);
  }
  for (std::size_t at = 0; at < queue.size(); ++at) {
    const std::size_t from = queue[at];
    for (int n = 0; n < 27; ++n) {
      const std::size_t i = find(neighbour(bins_[from].place, n), BinSort::inside);
      if (i == npos || region_[i] != npos) continue;
      region_[i] = region_[from];
      regions_[region_[i]].volume_mm3 += bins_[i].volume_mm3;
      queue.push_back(i);
    }
  }
  for (std::size_t i = 0; i < bins_.size(); ++i) {
    if (bins_[i].sort != BinSort::beside) continue;
    const Coord& place = bins_[i].place;
    const std::size_t r = beside(Coord(place.x() * 4, place.y() * 4, place.z() * 4));
    if (r != npos) regions_[r].volume_mm3 += bins_[i].volume_mm3;
  }
}

std::size_t DeviationRegions::beside(const Coord& voxel) const {
  const auto at = [&](const Coord& v) {
    const Coord place(v.x() >> 2, v.y() >> 2, v.z() >> 2);
    for (const BinSort sort : {BinSort::cut, BinSort::uncut, BinSort::inside}) {
      const std::size_t i = find(place, sort);
      if (i != npos && region_[i] != npos) return region_[i];
    }
    return npos;
  };
  std::size_t found = at(voxel);
  for (int n = 0; n < 27 && found == npos; ++n) found = at(neighbour(voxel, n));
  return found;
}

std::vector<DeviationRegion> DeviationRegions::deepest_first() const {
  std::vector<DeviationRegion> all;
  for (const DeviationRegion& r : regions_) {
    if (r.depth > 0) all.push_back(r);
  }
  std::stable_sort(all.begin(), all.end(), [](const DeviationRegion& a, const DeviationRegion& b) {
    return a.depth > b.depth;
  });
  return all;
}

}  // namespace proveout::measure
