#include "sim/stock/stock.h"

#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tools/Prune.h>
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/stock/field_conversion.h"
#include "sim/stock/fields.h"

namespace proveout::stock {
namespace {

using openvdb::Coord;

openvdb::Int32Grid::Ptr made_by_none(const Stock::Fields& fields) {
  auto grid = openvdb::Int32Grid::create(0);
  grid->setTransform(fields.transform());
  grid->setName("provenance");
  return grid;
}

// How far places lie outside a box along each axis (mm, negative inside), by index; its distance is
// put together from them.
class BoxDistance {
 public:
  BoxDistance(const Vec3& size, const Stock::Fields& fields, const Coord& from, const Coord& to)
      : from_(from) {
    for (int k = 0; k < 3; ++k) {
      for (int i = from[k]; i <= to[k]; ++i) {
        const double at = fields.middle(Coord(i))[k];
        outside_[k].push_back(std::max(-at, at - size[k]));
      }
      for (std::size_t i = 0; i + 8 <= outside_[k].size(); i += 8) {
        const auto ends = std::minmax_element(&outside_[k][i], &outside_[k][i] + 8);
        nearest_[k].push_back(*ends.first);
        furthest_[k].push_back(*ends.second);
      }
    }
  }
  // Eight in a row along an axis from an index on.
  const double* along(int axis, int first) const {
    return outside_[axis].data() + (first - from_[axis]);
  }
  // Whether a leaf holds distances between -band and band: mostly that says no at once.
  bool near(const Coord& corner, double band) const {
    const Coord leaf((corner.x() - from_.x()) / 8, (corner.y() - from_.y()) / 8,
                     (corner.z() - from_.z()) / 8);
    const auto at = [&](const std::array<std::vector<double>, 3>& ends) {
      return of(ends[0][leaf.x()], ends[1][leaf.y()], ends[2][leaf.z()]);
    };
    return at(furthest_) > -band && at(nearest_) < band;
  }
  static double of(double x, double y, double z) {
    const double most = std::max({x, y, z});
    const int beyond = (x > 0) + (y > 0) + (z > 0);
    if (beyond <= 1) return most;
    const auto square = [](double v) { return v > 0 ? v * v : 0; };
    return std::sqrt(square(x) + square(y) + square(z));
  }

 private:
  Coord from_;
  std::array<std::vector<double>, 3> outside_, nearest_, furthest_;
};

// nullptr where no face comes near.
std::unique_ptr<DistanceLeaf> box_leaf(const Coord& corner, const BoxDistance& box, float band,
                                       const Stock::Fields::Rounding& rounding) {
  if (!box.near(corner, band)) return nullptr;
  const double *xs = box.along(0, corner.x()), *ys = box.along(1, corner.y()),
               *zs = box.along(2, corner.z());
  auto leaf = std::make_unique<DistanceLeaf>(corner, Stock::Fields::band_steps, false);
  std::int16_t* values = leaf->buffer().data();
  bool near = false;
  for (openvdb::Index i = 0; i < 512; ++i) {
    const double d = BoxDistance::of(xs[i >> 6], ys[i >> 3 & 7], zs[i & 7]);
    values[i] = rounding(static_cast<float>(std::clamp<double>(d, -band, band)));
    if (std::abs(values[i]) < Stock::Fields::band_steps) {
      leaf->setActiveState(i, true);
      near = true;
    }
  }
  if (!near) leaf.reset();
  return leaf;
}

}  // namespace

Stock::Stock(std::unique_ptr<Fields> fields) : fields_(std::move(fields)) {}
std::unique_ptr<Stock::Fields> Stock::take_fields() && { return std::move(fields_); }
Stock Stock::of_fields(std::unique_ptr<Fields> fields) { return Stock(std::move(fields)); }
Stock::Stock(Stock&&) noexcept = default;
Stock& Stock::operator=(Stock&&) noexcept = default;
Stock::~Stock() = default;

double Stock::voxel() const { return fields_->voxel; }

Stock Stock::clone() const {
  auto copy = std::make_unique<Fields>();
  copy->steps = fields_->steps->deepCopy();
  copy->provenance = fields_->provenance->deepCopy();
  copy->voxel = fields_->voxel;
  return Stock(std::move(copy));
}

Stock Stock::box(const Vec3& size, double voxel) {
  auto fields = std::make_unique<Fields>();
  fields->voxel = voxel;
  const float band = fields->band();
  const Fields::Rounding rounding = fields->rounding();
  fields->steps = fields->air();
  fields->provenance = made_by_none(*fields);
  auto& tree = fields->steps->tree();
  const auto last = [&](double length) {
    return static_cast<int>(std::floor(length / voxel - 0.5)) + Fields::first;
  };
  const Coord low(Fields::first), high(last(size.x()), last(size.y()), last(size.z()));
  // Whole leaves only: the faces' own are made below.
  const openvdb::CoordBBox inner((low + Coord(7)) & ~7, ((high + Coord(1)) & ~7) - Coord(1));
  if (!inner.empty()) tree.fill(inner, -Fields::band_steps, false);
  // Leaves near the faces, one slab of leaves after another.
  const int margin = 4;
  const Coord from = ((low - Coord(margin)) & ~7), to = ((high + Coord(margin)) & ~7);
  const BoxDistance box(size, *fields, from, to.offsetBy(7));
  const int slabs = (to.x() - from.x()) / 8 + 1;
  std::vector<std::vector<std::unique_ptr<DistanceLeaf>>> made(slabs);
  tbb::parallel_for(0, slabs, [&](int slab) {
    for (int y = from.y(); y <= to.y(); y += 8) {
      for (int z = from.z(); z <= to.z(); z += 8) {
        if (auto leaf = box_leaf(Coord(from.x() + 8 * slab, y, z), box, band, rounding))
          made[slab].push_back(std::move(leaf));
      }
    }
  });
  for (auto& slab : made) {
    for (auto& leaf : slab) tree.addLeaf(leaf.release());
  }
  return Stock(std::move(fields));
}

Stock Stock::mesh(std::span<const Vec3> vertices,
                  std::span<const std::array<std::uint32_t, 3>> triangles, double voxel) {
  auto fields = std::make_unique<Fields>();
  fields->voxel = voxel;
  std::vector<openvdb::Vec3s> points;
  points.reserve(vertices.size());
  for (const Vec3& v : vertices) points.emplace_back(v.x(), v.y(), v.z());
  std::vector<openvdb::Vec3I> faces;
  faces.reserve(triangles.size());
  for (const auto& t : triangles) faces.emplace_back(t[0], t[1], t[2]);
  const auto mm = openvdb::tools::meshToLevelSet<openvdb::FloatGrid>(
      *fields->transform(), points, faces, static_cast<float>(Fields::band_voxels));
  fields->steps = in_steps(mm->tree(), *fields);
  fields->provenance = made_by_none(*fields);
  return Stock(std::move(fields));
}

}  // namespace proveout::stock
