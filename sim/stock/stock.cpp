#include "sim/stock/stock.h"

#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tools/Prune.h>
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "sim/stock/fields.h"

namespace proveout::stock {
namespace {

using openvdb::Coord;

void name_grids(Stock::Fields& fields) {
  fields.distance->setTransform(fields.transform());
  fields.distance->setGridClass(openvdb::GRID_LEVEL_SET);
  fields.distance->setName("distance");
  fields.provenance = openvdb::Int32Grid::create(0);
  fields.provenance->setTransform(fields.transform());
  fields.provenance->setName("provenance");
}

double box_distance(const Vec3& p, const Vec3& size) {
  const Vec3 q = (p - 0.5 * size).cwiseAbs() - 0.5 * size;
  return q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
}

std::unique_ptr<openvdb::FloatTree::LeafNodeType> box_leaf(const Coord& corner, const Vec3& size,
                                                           const Stock::Fields& fields,
                                                           float band) {
  auto leaf = std::make_unique<openvdb::FloatTree::LeafNodeType>(corner, band, false);
  bool near = false;
  for (openvdb::Index i = 0; i < 512; ++i) {
    const Coord at = leaf->offsetToGlobalCoord(i);
    const double d = box_distance(fields.middle(at), size);
    const auto value = static_cast<float>(std::clamp<double>(d, -band, band));
    leaf->setValueOnly(i, value);
    if (std::abs(value) < band) {
      leaf->setActiveState(i, true);
      near = true;
    }
  }
  if (!near) leaf.reset();
  return leaf;
}

}  // namespace

Stock::Stock(std::unique_ptr<Fields> fields) : fields_(std::move(fields)) {}
Stock Stock::of_fields(std::unique_ptr<Fields> fields) { return Stock(std::move(fields)); }
Stock::Stock(Stock&&) noexcept = default;
Stock& Stock::operator=(Stock&&) noexcept = default;
Stock::~Stock() = default;

double Stock::voxel() const { return fields_->voxel; }

Stock Stock::clone() const {
  auto copy = std::make_unique<Fields>();
  copy->distance = fields_->distance->deepCopy();
  copy->provenance = fields_->provenance->deepCopy();
  copy->voxel = fields_->voxel;
  return Stock(std::move(copy));
}

Stock Stock::box(const Vec3& size, double voxel) {
  auto fields = std::make_unique<Fields>();
  fields->voxel = voxel;
  const auto band = static_cast<float>(voxel * Fields::band_voxels);
  fields->distance = openvdb::FloatGrid::create(band);
  name_grids(*fields);
  auto& tree = fields->distance->tree();
  const auto last = [&](double length) {
    return static_cast<int>(std::floor(length / voxel - 0.5)) + Fields::first;
  };
  const Coord low(Fields::first), high(last(size.x()), last(size.y()), last(size.z()));
  // Whole leaves only: the faces' own are made below.
  const openvdb::CoordBBox inner((low + Coord(7)) & ~7, ((high + Coord(1)) & ~7) - Coord(1));
  if (!inner.empty()) tree.fill(inner, -band, false);
  // Leaves near the faces, one slab of leaves after another.
  const int margin = 4;
  const Coord from = ((low - Coord(margin)) & ~7), to = ((high + Coord(margin)) & ~7);
  const double reach = band + 3.5 * std::sqrt(3.0) * voxel;
  const int slabs = (to.x() - from.x()) / 8 + 1;
  std::vector<std::vector<std::unique_ptr<openvdb::FloatTree::LeafNodeType>>> made(slabs);
  tbb::parallel_for(0, slabs, [&](int slab) {
    for (int y = from.y(); y <= to.y(); y += 8) {
      for (int z = from.z(); z <= to.z(); z += 8) {
        const Coord corner(from.x() + 8 * slab, y, z);
        const Vec3 centre = fields->corner(corner.offsetBy(4));
        if (std::abs(box_distance(centre, size)) > reach) continue;
        if (auto leaf = box_leaf(corner, size, *fields, band))
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
  fields->distance = openvdb::tools::meshToLevelSet<openvdb::FloatGrid>(
      *fields->transform(), points, faces, static_cast<float>(Fields::band_voxels));
  name_grids(*fields);
  return Stock(std::move(fields));
}

}  // namespace proveout::stock
