#include "sim/measure/bridges.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <optional>
#include <tuple>
#include <utility>

#include "sim/measure/plane_section.h"
#include "sim/stock/occupancy.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;

constexpr double cells_wanted = 1.2e6;    // of the grid in which bridges are told apart
constexpr double most_compact_mm2 = 400;  // beyond that a section is no bar's: no planes are tried
constexpr double half_diagonal = 0.87;    // of a cell, in cells: sqrt(3) / 2
constexpr int nobody = -1;

// Cells of one, two, four or eight voxels around the part, with how full each is and how far from
// the part.
struct Cells {
  double size = 1;             // mm
  int voxels = 1;              // a cell's edge in voxels
  Vec3 origin = Vec3::Zero();  // lowest corner of voxel (0, 0, 0), mm
  Coord low;                   // of the first cell, in cells from there
  int n[3] = {0, 0, 0};
  std::vector<float> fill;  // share of the cell that is material, smeared
  std::vector<char> solid;  // some voxel's centre lies in material
  std::vector<float> away;  // mm from the part, negative inside; only where fill is not 0
  std::size_t count() const { return fill.size(); }
  std::size_t index(int x, int y, int z) const {
    return (static_cast<std::size_t>(x) * static_cast<std::size_t>(n[1]) +
            static_cast<std::size_t>(y)) *
               static_cast<std::size_t>(n[2]) +
           static_cast<std::size_t>(z);
  }
  Coord cell(std::size_t i) const {
    const auto nz = static_cast<std::size_t>(n[2]), ny = static_cast<std::size_t>(n[1]);
    return {static_cast<int>(i / nz / ny), static_cast<int>(i / nz % ny), static_cast<int>(i % nz)};
  }
  Vec3 middle(std::size_t i) const {
    const Coord c = cell(i);
    return origin +
           size * Vec3(low.x() + c.x() + 0.5, low.y() + c.y() + 0.5, low.z() + c.z() + 0.5);
  }
  bool on_rim(std::size_t i) const {
    const Coord c = cell(i);
    for (int k = 0; k < 3; ++k)
      if (c[k] == 0 || c[k] == n[k] - 1) return true;
    return false;
  }
  // Calls each(index) for the neighbours that exist: by faces, or by corners too.
  template <class Each>
  void around(std::size_t i, bool corners, Each each) const {
    const Coord c = cell(i);
    for (int dx = -1; dx <= 1; ++dx) {
      for (int dy = -1; dy <= 1; ++dy) {
        for (int dz = -1; dz <= 1; ++dz) {
          const int steps = std::abs(dx) + std::abs(dy) + std::abs(dz);
          if (steps == 0 || (steps > 1 && !corners)) continue;
          const int x = c.x() + dx, y = c.y() + dy, z = c.z() + dz;
          if (x < 0 || y < 0 || z < 0 || x >= n[0] || y >= n[1] || z >= n[2]) continue;
          each(index(x, y, z));
        }
      }
    }
  }
};

Box3 material_box(const stock::Stock::Fields& f) {
  const openvdb::CoordBBox active = f.steps->evalActiveVoxelBoundingBox();
  Box3 box;
  if (active.empty()) return box;
  const Vec3 rim = Vec3::Constant(stock::Stock::Fields::band_voxels * f.voxel);
  box.min() = f.corner(active.min()) + rim;
  box.max() = f.corner(active.max().offsetBy(1)) - rim;
  return box;
}

Cells empty_cells(const stock::Stock::Fields& f, const Box3& box) {
  Cells cells;
  const double volume = box.sizes().prod();
  while (cells.voxels < 8 && volume / std::pow(f.voxel * cells.voxels, 3) > cells_wanted)
    cells.voxels *= 2;
  cells.size = f.voxel * cells.voxels;
  cells.origin = f.corner(Coord(0));
  const Vec3 lowest = (box.min() - cells.origin) / cells.size,
             highest = (box.max() - cells.origin) / cells.size;
  for (int k = 0; k < 3; ++k) {
    cells.low[k] = static_cast<int>(std::floor(lowest[k])) - 2;
    cells.n[k] = static_cast<int>(std::ceil(highest[k])) + 2 - cells.low[k];
  }
  const std::size_t all = static_cast<std::size_t>(cells.n[0]) *
                          static_cast<std::size_t>(cells.n[1]) *
                          static_cast<std::size_t>(cells.n[2]);
  cells.fill.assign(all, 0);
  cells.solid.assign(all, 0);
  cells.away.assign(all, std::numeric_limits<float>::max());
  return cells;
}

Cells cells_of(const stock::Stock::Fields& f, const solid::PartDistance& part, const Box3& box) {
  Cells cells = empty_cells(f, box);
  const stock::Occupancy occupancy(f.voxel);
  const float share = 1 / static_cast<float>(cells.voxels * cells.voxels * cells.voxels);
  tbb::parallel_for(0, cells.n[0], [&](int x) {
    const stock::DistanceReader value(f);
    for (int y = 0; y < cells.n[1]; ++y) {
      // No nearer or further than the cell before by more than a cell: that spares most of the
      // search.
      double reach = 1e30;
      for (int z = 0; z < cells.n[2]; ++z, reach += 1.001 * cells.size) {
        const std::size_t i = cells.index(x, y, z);
        const Coord first((cells.low.x() + x) * cells.voxels, (cells.low.y() + y) * cells.voxels,
                          (cells.low.z() + z) * cells.voxels);
        // A cell never straddles two leaves; where there is no leaf all of it is alike.
        if (value.leaf(first) == nullptr) {
          if (!value.inside(first)) continue;
          cells.fill[i] = 1;
          cells.solid[i] = 1;
        } else {
          for (int k = 0; k < cells.voxels * cells.voxels * cells.voxels; ++k) {
            const float d =
                value.at(first.offsetBy(k % cells.voxels, k / cells.voxels % cells.voxels,
                                        k / cells.voxels / cells.voxels));
            cells.fill[i] += share * occupancy(d);
            if (d < 0) cells.solid[i] = 1;
          }
        }
        if (cells.fill[i] == 0) continue;
        const double away = part.at(cells.middle(i), reach);
        cells.away[i] = static_cast<float>(away);
        reach = std::abs(away);
      }
    }
  });
  return cells;
}

bool outside_part(const Cells& c, std::size_t i) {
  return c.solid[i] != 0 && c.away[i] > half_diagonal * c.size;
}

// Which cells of the material outside the part hang together with the rest: what lies beyond reach
// of the part's box.
std::vector<char> tied_to_rest(const Cells& c, const Box3& part_box, double reach) {
  std::vector<char> tied(c.count(), 0);
  std::deque<std::size_t> open;
  const Box3 near(part_box.min() - Vec3::Constant(reach), part_box.max() + Vec3::Constant(reach));
  for (std::size_t i = 0; i < c.count(); ++i) {
    if (!outside_part(c, i) || near.contains(c.middle(i))) continue;
    tied[i] = 1;
    open.push_back(i);
  }
  while (!open.empty()) {
    const std::size_t i = open.front();
    open.pop_front();
    c.around(i, false, [&](std::size_t k) {
      if (tied[k] != 0 || !outside_part(c, k)) return;
      tied[k] = 1;
      open.push_back(k);
    });
  }
  return tied;
}

// Material beside the part, by patch: where each bridge begins; then outwards from there.
struct Labels {
  std::vector<int> of;  // by cell
  std::vector<double>
      end;  // by label, mm from the part: where it meets another, or the rest begins
};

Labels label(const Cells& c, const std::vector<char>& tied, double kerf) {
  Labels out;
  out.of.assign(c.count(), nobody);
  std::deque<std::size_t> front;
  const auto beside = [&](std::size_t i) { return tied[i] != 0 && c.away[i] <= 2 * c.size; };
  for (std::size_t i = 0; i < c.count(); ++i) {
    if (!beside(i) || out.of[i] != nobody) continue;
    const int number = static_cast<int>(out.end.size());
    out.end.push_back(kerf);
    std::deque<std::size_t> open{i};
    out.of[i] = number;
    while (!open.empty()) {
      const std::size_t at = open.front();
      open.pop_front();
      front.push_back(at);
      c.around(at, true, [&](std::size_t k) {
        if (!beside(k) || out.of[k] != nobody) return;
        out.of[k] = number;
        open.push_back(k);
      });
    }
  }
  while (!front.empty()) {
    const std::size_t at = front.front();
    front.pop_front();
    c.around(at, false, [&](std::size_t k) {
      if (tied[k] == 0 || c.away[k] > kerf + c.size) return;
      if (out.of[k] == nobody) {
        out.of[k] = out.of[at];
        front.push_back(k);
      } else if (out.of[k] != out.of[at]) {
        const double met = std::min(c.away[k], c.away[at]);
        for (int n : {out.of[k], out.of[at]}) {
          double& end = out.end[static_cast<std::size_t>(n)];
          end = std::min(end, met);
        }
      }
    });
  }
  return out;
}

double surface_of(const mesh::Mesh& part) {
  double twice = 0;
  for (const auto& t : part.triangles) {
    const Vec3& a = part.vertices[t[0]];
    twice += (part.vertices[t[1]] - a).cross(part.vertices[t[2]] - a).norm();
  }
  return twice / 2;
}

// Which bridges lead to stubs (bridges.h), with the volume they share; 0: not to one. The cells end
// just beyond the gap's far side: material on their rim goes on past it, and is no stub.
std::vector<double> stubs(const Cells& c, const std::vector<char>& tied, const Labels& labels,
                          const std::vector<double>& areas, double reach, double part_mm2) {
  constexpr double of_the_part = 0.05, of_the_bridges = 2;
  std::vector<double> out(areas.size(), 0);
  std::vector<char> seen(c.count(), 0);
  for (std::size_t first = 0; first < c.count(); ++first) {
    if (tied[first] == 0 || seen[first] != 0) continue;
    double volume = 0;
    bool goes_on = false;
    std::vector<char> leads(areas.size(), 0);
    std::deque<std::size_t> open{first};
    seen[first] = 1;
    while (!open.empty()) {
      const std::size_t at = open.front();
      open.pop_front();
      volume += static_cast<double>(c.fill[at]) * std::pow(c.size, 3);
      goes_on = goes_on || c.on_rim(at);
      if (labels.of[at] != nobody) leads[static_cast<std::size_t>(labels.of[at])] = 1;
      c.around(at, false, [&](std::size_t k) {
        if (tied[k] == 0 || seen[k] != 0) return;
        seen[k] = 1;
        open.push_back(k);
      });
    }
    double area = 0;
    for (std::size_t n = 0; n < areas.size(); ++n)
      if (leads[n] != 0) area += areas[n];
    if (goes_on || area > of_the_part * part_mm2 || volume > of_the_bridges * area * reach)
      continue;
    for (std::size_t n = 0; n < areas.size(); ++n)
      if (leads[n] != 0) out[n] = volume;
  }
  return out;
}

// The smeared edge reaches into cells of air: they count with the material beside them. Not those
// before the face of the rest, where it dips below 0 a little: over a whole face that is much.
void label_rims(const Cells& c, Labels& labels) {
  for (int round = 0; round < (c.voxels == 1 ? 3 : 1); ++round) {
    const std::vector<int> before = labels.of;
    for (std::size_t i = 0; i < c.count(); ++i) {
      if (before[i] != nobody || c.solid[i] != 0 || c.fill[i] == 0) continue;
      int least = std::numeric_limits<int>::max();
      c.around(i, true, [&](std::size_t k) {
        if (before[k] == nobody || c.away[k] > labels.end[static_cast<std::size_t>(before[k])])
          return;
        least = std::min(least, before[k]);
      });
      if (least < std::numeric_limits<int>::max()) labels.of[i] = least;
    }
  }
}

struct Layer {      // the section of one bridge at a constant distance from the part
  double away = 0;  // mm
  double area = 0;  // mm2
  Vec3 middle = Vec3::Zero();
};

// Sections at steps of half a cell. Co-area formula: where the gradient of the distance is 1, the
// volume of a thin shell over its thickness is the section's area; a raised cosine of half width
// one cell stands for the shell, whose samples a cell apart add up to one at any offset.
std::vector<Layer> layers_of(const Cells& c, const std::vector<std::size_t>& cells, double end) {
  std::vector<Layer> out;
  const double first = (half_diagonal + 1.03) * c.size;
  // The last stays a cell short of the end, since its shell takes in cells that far beyond it.
  const int count = std::max(1, static_cast<int>((end - c.size - first) / (c.size / 2)));
  for (int n = 0; n < count; ++n) out.push_back({first + n * c.size / 2, 0, Vec3::Zero()});
  for (std::size_t i : cells) {
    for (Layer& layer : out) {
      const double x = (c.away[i] - layer.away) / c.size;
      if (std::abs(x) >= 1) continue;
      const double weight = c.fill[i] * (1 + std::cos(pi * x)) / 2 * c.size * c.size;
      layer.area += weight;
      layer.middle += weight * c.middle(i);
    }
  }
  std::erase_if(out, [&](const Layer& l) { return !(l.area > 1e-3 * c.size * c.size); });
  for (Layer& layer : out) layer.middle /= layer.area;
  return out;
}

// The smallest plane section of a bar, by pattern search over shift along the axis and two tilts.
class PlaneSearch {
 public:
  PlaneSearch(const FieldSampler& field, const solid::PartDistance& part, const Vec3& from,
              const Vec3& axis, double length, double most_mm2)
      : field_(field),
        part_(part),
        from_(from),
        axis_(axis),
        length_(length),
        best_area_(most_mm2) {
    std::tie(u_, v_) = across(axis);
  }

  // The section and its normal; nullopt: no plane does better than most_mm2.
  std::optional<std::pair<PlaneSection, Vec3>> go() {
    constexpr int places = 12;
    for (int k = 0; k <= places; ++k) attempt({length_ * k / places, 0, 0});
    Vec3 step(length_ / places / 2, 0.2, 0.2);
    for (int halving = 0; best_ && halving < 6; ++halving, step /= 2) {
      bool better = true;
      for (int moves = 0; better && moves < 6; ++moves) {
        better = false;
        const Vec3 around = at_;
        for (int k = 0; k < 6; ++k) {
          Vec3 next = around;
          next[k / 2] += (k % 2 ? -1 : 1) * step[k / 2];
          better = attempt(next) || better;
        }
      }
    }
    // The search finds the least of figures that scatter by their samples: the section found is
    // measured again with sixteen times as many.
    if (best_) {
      if (const auto fine = plane_section(field_, best_->first.middle, best_->second,
                                          1.2 * best_area_, field_.voxel() / 4)) {
        best_->first.area_mm2 = fine->area_mm2;
        best_->first.middle = fine->middle;
      }
    }
    return best_;
  }

 private:
  bool attempt(const Vec3& p) {
    if (p.x() < 0 || p.x() > length_ || p.tail<2>().norm() > 1.2) return false;
    const Vec3 normal = (axis_ + p.y() * u_ + p.z() * v_).normalized();
    const auto s = plane_section(field_, from_ + p.x() * axis_, normal, best_area_, field_.voxel());
    if (!s || s->area_mm2 >= best_area_) return false;
    // A section that runs into the part does not cut it off.
    for (const Vec3& place : s->places) {
      if (part_.at(place, 4 * field_.voxel()) < -0.5 * field_.voxel()) return false;
    }
    best_area_ = s->area_mm2;
    best_ = {*s, normal};
    at_ = p;
    return true;
  }

  const FieldSampler& field_;
  const solid::PartDistance& part_;
  Vec3 from_, axis_, u_, v_;
  double length_, best_area_;
  Vec3 at_ = Vec3::Zero();
  std::optional<std::pair<PlaneSection, Vec3>> best_;
};

double thickness_of(const FieldSampler& field, const std::vector<Vec3>& places,
                    const std::vector<Vec3>& normals, double area) {
  constexpr double reach = 30;  // mm
  std::vector<double> ways;
  for (std::size_t k = 0; k < places.size(); ++k) {
    if (field(places[k]) < 0) ways.push_back(narrowest_way(field, places[k], normals[k], reach));
  }
  if (ways.empty()) return 0;
  std::sort(ways.begin(), ways.end());
  // Of a compact section its inscribed width; of a long thin one, which is never even, a low tenth.
  const double most = ways.back();
  return area > 25 * most * most ? ways[ways.size() / 10] : most;
}

std::vector<Vec3> some_of(const std::vector<Vec3>& all, std::size_t most) {
  if (all.size() <= most) return all;
  std::vector<Vec3> out;
  for (std::size_t k = 0; k < most; ++k) out.push_back(all[k * all.size() / most]);
  return out;
}

Vec3 slope_of(const solid::PartDistance& part, const Vec3& at, double step) {
  Vec3 slope;
  for (int k = 0; k < 3; ++k)
    slope[k] = part.at(at + step * Vec3::Unit(k)) - part.at(at - step * Vec3::Unit(k));
  return slope.norm() > 0 ? slope.normalized() : Vec3(Vec3::UnitZ());
}

stock::MotionId last_cut(const stock::Stock::Fields& f, const Vec3& middle, double around,
                         const std::vector<Vec3>& places) {
  const stock::DistanceReader value(f);
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> made(f.provenance->tree());
  stock::MotionId last = 0;
  const auto look = [&](const Vec3& p) {
    const Coord at = f.holding(p);
    for (int k = 0; k < 27; ++k) {
      const Coord c = at.offsetBy(k % 3 - 1, k / 3 % 3 - 1, k / 9 - 1);
      if (std::abs(value.at(c)) < 1.5 * f.voxel)
        last = std::max(last, static_cast<stock::MotionId>(made.getValue(c)));
    }
  };
  for (const Vec3& p : places) {
    if ((p - middle).norm() <= around) look(p);
  }
  return last;
}

class BridgeMeasure {
 public:
  BridgeMeasure(const stock::Stock::Fields& fields, const solid::PartDistance& part,
                const Cells& cells)
      : fields_(fields), field_(fields), part_(part), cells_(cells) {}

  Bridge of(const std::vector<std::size_t>& cells, double end) const {
    Bridge out;
    std::vector<Layer> layers = layers_of(cells_, cells, end);
    if (layers.empty()) return out;
    const auto least =
        std::min_element(layers.begin(), layers.end(),
                         [](const Layer& a, const Layer& b) { return a.area < b.area; });
    out.area_mm2 = least->area;
    out.at = least->middle;
    std::vector<Vec3> places = places_at(cells, least->away), normals;
    if (least->area < most_compact_mm2 && field_(least->middle) < 0) {
      // Both are cuts; sampling tells them apart to a few hundredths, and the plane is the better
      // told.
      if (auto plane = by_planes(layers, *least);
          plane && plane->first.area_mm2 < 1.03 * least->area) {
        out.area_mm2 = plane->first.area_mm2;
        out.at = plane->first.middle;
        out.axis = plane->second;
        places = std::move(plane->first.places);
      }
    }
    out.left_by = last_cut(fields_, out.at, std::numeric_limits<double>::max(), places);
    places = some_of(places, 120);
    for (const Vec3& p : places)
      normals.push_back(out.axis.norm() > 0 ? out.axis : slope_of(part_, p, fields_.voxel / 2));
    if (out.axis.norm() == 0 && field_(out.at) < 0)
      out.axis = slope_of(part_, out.at, fields_.voxel / 2);
    if (out.area_mm2 < 100 * most_compact_mm2)
      out.thickness = thickness_of(field_, places, normals, out.area_mm2);
    return out;
  }

 private:
  std::vector<Vec3> places_at(const std::vector<std::size_t>& cells, double away) const {
    std::vector<Vec3> out;
    for (std::size_t i : cells) {
      if (cells_.solid[i] != 0 && std::abs(cells_.away[i] - away) <= 0.5 * cells_.size)
        out.push_back(cells_.middle(i));
    }
    return out;
  }

  std::optional<std::pair<PlaneSection, Vec3>> by_planes(const std::vector<Layer>& layers,
                                                         const Layer& least) const {
    // The bar's axis: from the first to the last of its sections that are about as small.
    const Layer *first = &least, *last = &least;
    for (const Layer& l : layers) {
      if (l.area > 1.5 * least.area) continue;
      if (l.away < first->away) first = &l;
      if (l.away > last->away) last = &l;
    }
    Vec3 axis = last->middle - first->middle;
    const double length = axis.norm();
    axis = length > 0.5 * cells_.size ? Vec3(axis / length)
                                      : slope_of(part_, least.middle, fields_.voxel / 2);
    // Back towards the part, where no section at a constant distance was taken.
    const double slant = std::max(0.3, axis.dot(slope_of(part_, first->middle, fields_.voxel / 2)));
    const double back = (first->away - fields_.voxel) / slant;
    return PlaneSearch(field_, part_, first->middle - back * axis, axis,
                       back + std::max(length, cells_.size), 1.2 * least.area)
        .go();
  }

  const stock::Stock::Fields& fields_;
  FieldSampler field_;
  const solid::PartDistance& part_;
  const Cells& cells_;
};

}  // namespace

std::vector<Bridge> bridges(const stock::Stock& stock, const solid::PartDistance& part,
                            double kerf) {
  const auto& f = stock.fields();
  const Box3 material = material_box(f), part_box = mesh::bounds(part.mesh());
  std::vector<Bridge> out;
  if (material.isEmpty()) return out;
  // Where the stock is hardly larger than the part, what stands out furthest is the rest.
  const double margin = std::max((part_box.min() - material.min()).maxCoeff(),
                                 (material.max() - part_box.max()).maxCoeff());
  const double reach = std::min(kerf, 0.75 * margin);
  Box3 near(part_box.min() - Vec3::Constant(kerf), part_box.max() + Vec3::Constant(kerf));
  near = near.intersection(material);
  if (near.isEmpty()) return out;
  const Cells cells = cells_of(f, part, near);
  if (reach < 2 * cells.size) return out;
  const std::vector<char> tied = tied_to_rest(cells, part_box, reach);
  Labels labels = label(cells, tied, reach);
  label_rims(cells, labels);
  std::vector<std::vector<std::size_t>> by_label(labels.end.size());
  for (std::size_t i = 0; i < cells.count(); ++i) {
    if (labels.of[i] != nobody) by_label[static_cast<std::size_t>(labels.of[i])].push_back(i);
  }
  const BridgeMeasure measure(f, part, cells);
  std::vector<Bridge> found;
  std::vector<double> areas;
  for (std::size_t n = 0; n < by_label.size(); ++n) {
    found.push_back(measure.of(by_label[n], labels.end[n]));
    areas.push_back(found.back().area_mm2);
  }
  const std::vector<double> ends =
      stubs(cells, tied, labels, areas, reach, surface_of(part.mesh()));
  for (std::size_t n = 0; n < found.size(); ++n) {
    if (!(found[n].area_mm2 > 0.01 * f.voxel * f.voxel)) continue;
    found[n].stub_mm3 = ends[n];
    out.push_back(found[n]);
  }
  return out;
}

}  // namespace proveout::measure
