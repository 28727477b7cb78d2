#include "sim/measure/finish.h"

#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <unordered_map>
#include <utility>

#include "parser/base/disjoint_sets.h"
#include "sim/measure/finish_tile.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;

// Tiles of 32 voxels that hold any surface, by their lowest voxels.
std::vector<Coord> tiles_of(const stock::Stock& stock) {
  std::vector<Coord> tiles;
  for (auto leaf = stock.fields().steps->tree().cbeginLeaf(); leaf; ++leaf) {
    const Coord o = leaf->origin();
    tiles.emplace_back(o.x() >> 5, o.y() >> 5, o.z() >> 5);
  }
  std::sort(tiles.begin(), tiles.end());
  tiles.erase(std::unique(tiles.begin(), tiles.end()), tiles.end());
  for (Coord& t : tiles) t = Coord(t.x() * 32, t.y() * 32, t.z() * 32);
  return tiles;
}

// Whether one edge goes on in the other: by the same motions, or straight on.
bool goes_on(const FinishEdge& a, const FinishEdge& b, double voxel) {
  if (a.between != b.between) return false;
  if (a.first == b.first && a.second == b.second) return true;
  const double alike = a.along.dot(b.along);
  if (std::abs(alike) < 0.9) return false;  // choice: 25 degrees
  const Vec3 mean = (a.along + (alike > 0 ? 1 : -1) * b.along).normalized();
  const Vec3 way = b.at - a.at;
  return (way - way.dot(mean) * mean).norm() < 0.35 * voxel;
}

// Edges of voxels that touch over faces, edges or corners and go on in each other are one line.
DisjointSets chained(const std::vector<FinishEdge>& edges, double voxel) {
  struct Hash {
    std::size_t operator()(const Coord& c) const { return c.hash<20>(); }
  };
  std::unordered_map<Coord, std::pair<std::size_t, std::size_t>, Hash> by_voxel;
  for (std::size_t i = 0; i < edges.size(); ++i)
    by_voxel.try_emplace(edges[i].voxel, i, i).first->second.second = i + 1;
  DisjointSets lines(edges.size());
  for (std::size_t i = 0; i < edges.size(); ++i) {
    for (int n = 13; n < 27; ++n) {  // itself and those after it
      const auto there =
          by_voxel.find(edges[i].voxel.offsetBy(n / 9 - 1, n / 3 % 3 - 1, n % 3 - 1));
      if (there == by_voxel.end()) continue;
      for (std::size_t j = there->second.first; j < there->second.second; ++j) {
        if (j != i && goes_on(edges[i], edges[j], voxel)) lines.join(i, j);
      }
    }
  }
  return lines;
}

// Without a part: lines that rise too high somewhere are meant, their low ends as well.
void leave_out_meant(std::vector<FinishEdge>& edges, double voxel) {
  DisjointSets sets = chained(edges, voxel);
  std::vector<double> highest(edges.size(), 0.0);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    double& height = highest[sets.find(i)];
    height = std::max(height, edges[i].height);
  }
  std::vector<FinishEdge> left;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (highest[sets.find(i)] <= finish_most_without_part) left.push_back(edges[i]);
  }
  edges = std::move(left);
}

// What two motions made of a line: how long, and where it is highest.
struct Pair {
  double length = 0;
  const FinishEdge* highest = nullptr;
};

// Of a line that stands nearly equally high all along, the pair that made most of it is named.
void tell(FinishLine& line, const std::map<std::pair<stock::MotionId, stock::MotionId>, Pair>& of) {
  for (const auto& [motions, pair] : of) {
    line.length += pair.length;
    line.height = std::max(line.height, pair.highest->height);
  }
  const double nearly = line.height - std::max(0.0005, 0.02 * line.height);  // choice
  const Pair* most = nullptr;
  for (const auto& [motions, pair] : of) {
    if (pair.highest->height < nearly) continue;
    if (most == nullptr || pair.length > most->length) most = &pair;
  }
  const FinishEdge& e = *most->highest;
  line.at = e.at;
  line.between = e.between;
  line.step = e.step;
  line.first = e.first;
  line.second = e.second;
}

}  // namespace

std::vector<std::size_t> finish_lines_to_show(const Finish& f, std::size_t most) {
  std::vector<std::size_t> shown;
  for (std::size_t i = 0; i < std::min(f.lines.size(), most); ++i) shown.push_back(i);
  const auto highest = std::max_element(
      f.lines.begin(), f.lines.end(),
      [](const FinishLine& a, const FinishLine& b) { return a.height < b.height; });
  const auto number = static_cast<std::size_t>(highest - f.lines.begin());
  if (number < f.lines.size() && number >= most) shown.push_back(number);
  return shown;
}

Finish look_at_finish(const FinishInput& in) {
  const std::vector<Coord> tiles = tiles_of(in.kept);
  std::vector<std::vector<FinishEdge>> found(tiles.size());
  tbb::enumerable_thread_specific<FinishTile> lookers([&] { return FinishTile(in); });
  tbb::parallel_for(tbb::blocked_range<std::size_t>(0, tiles.size(), 1), [&](const auto& range) {
    for (std::size_t n = range.begin(); n != range.end(); ++n)
      found[n] = lookers.local().look(tiles[n]);
  });
  std::vector<FinishEdge> edges;  // in the tiles' order, whoever did them
  for (auto& of_tile : found) edges.insert(edges.end(), of_tile.begin(), of_tile.end());

  Finish out;
  if (in.part == nullptr) leave_out_meant(edges, in.kept.voxel());
  DisjointSets sets = chained(edges, in.kept.voxel());
  std::vector<FinishLine> lines;
  std::unordered_map<std::size_t, std::size_t> number;  // by the set's lowest edge
  std::vector<std::size_t> line_of(edges.size());
  std::vector<std::map<std::pair<stock::MotionId, stock::MotionId>, Pair>> made;  // by line
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const FinishEdge& e = edges[i];
    const auto [at, added] = number.try_emplace(sets.find(i), lines.size());
    if (added) lines.emplace_back();
    line_of[i] = at->second;
    if (added) made.emplace_back();
    Pair& pair = made[at->second][{e.first, e.second}];
    pair.length += e.length;
    if (pair.highest == nullptr || e.height > pair.highest->height) pair.highest = &e;
    out.length += e.length;
    out.highest = std::max(out.highest, e.height);
    for (std::size_t k = 0; k < e.area.size(); ++k) out.area_mm2[k] += e.area[k];
  }
  for (std::size_t i = 0; i < lines.size(); ++i) tell(lines[i], made[i]);
  std::vector<std::size_t> order(lines.size()), place(lines.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return lines[a].length > lines[b].length; });
  for (std::size_t i = 0; i < order.size(); ++i) {
    place[order[i]] = i;
    out.lines.push_back(lines[order[i]]);
  }
  for (std::size_t i = 0; i < edges.size(); ++i) {
    out.places.push_back({edges[i].at.cast<float>(), static_cast<float>(edges[i].height),
                          static_cast<std::uint32_t>(place[line_of[i]])});
  }
  return out;
}

}  // namespace proveout::measure
