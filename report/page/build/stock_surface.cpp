#include "report/page/build/stock_surface.h"

#include <tbb/parallel_for.h>

#include <cmath>

#include "report/page/build/crisp.h"
#include "report/page/build/surface_nets.h"
#include "sim/stock/distance_reader.h"

namespace proveout::page {
namespace {

// Reads the distance field anywhere; one per thread.
class Field {
 public:
  explicit Field(const stock::Stock::Fields& fields) : fields_(fields), distance_(fields) {}
  float at(const Vec3& p) { return static_cast<float>(distance_(p)); }
  Vec3 gradient(const Vec3& p) {
    Vec3 slope;
    for (int a = 0; a < 3; ++a) {
      const Vec3 h = 0.5 * fields_.voxel * Vec3::Unit(a);
      slope[a] = (at(p + h) - at(p - h)) / fields_.voxel;
    }
    return slope;
  }

 private:
  const stock::Stock::Fields& fields_;
  stock::FieldSampler distance_;
};

Box3 box_of(const stock::Stock::Fields& fields) {
  const openvdb::CoordBBox cells = fields.steps->evalActiveVoxelBoundingBox();
  return Box3(fields.corner(cells.min()), fields.corner(cells.max().offsetBy(1)));
}

// The band of active voxels is about 2 * band_voxels thick, so their number tells the area.
double cell_size(const stock::Stock::Fields& fields, std::size_t most_vertices) {
  const double voxel = fields.voxel;
  const double area =
      fields.steps->activeVoxelCount() * voxel * voxel / (2 * stock::Stock::Fields::band_voxels);
  return std::max(voxel, std::sqrt(area / static_cast<double>(most_vertices)));
}

Vec3 vertex(const Surface& surface, std::size_t i) {
  return {surface.vertices[3 * i], surface.vertices[3 * i + 1], surface.vertices[3 * i + 2]};
}

Vec3 moved_onto(Field& field, const Vec3& start, double reach) {
  Vec3 p = start;
  for (int round = 0; round < 3; ++round) {
    const Vec3 slope = field.gradient(p);
    const double steep = slope.squaredNorm();
    if (steep < 0.05) break;
    const Vec3 next = p - field.at(p) / steep * slope;
    if ((next - start).cwiseAbs().maxCoeff() > reach) break;
    p = next;
  }
  return p;
}

// The surface lies between voxels: of the eight about it the one nearest to the surface speaks for
// it, and one that knows its motion before one that does not.
std::uint32_t maker(const stock::Stock::Fields& fields,
                    openvdb::Int32Grid::ConstAccessor& provenance,
                    const stock::DistanceReader& distance, const Vec3& p) {
  const Vec3 q = fields.index(p);
  const openvdb::Coord base(static_cast<int>(std::floor(q[0])), static_cast<int>(std::floor(q[1])),
                            static_cast<int>(std::floor(q[2])));
  std::uint32_t best = 0;
  float nearest = 1e30f;
  for (int c = 0; c < 8; ++c) {
    const openvdb::Coord at = base.offsetBy(c & 1, c >> 1 & 1, c >> 2);
    const auto id = static_cast<std::uint32_t>(provenance.getValue(at));
    const float away = std::abs(distance.at(at));
    if (away < nearest - 1e-6f || (away < nearest + 1e-6f && id > best)) {
      nearest = std::min(nearest, away);
      best = id;
    }
  }
  return best;
}

}  // namespace

Surface stock_surface(const stock::Stock& stock, const solid::PartDistance* part,
                      std::size_t most_vertices, const stock::ExactStock* exact) {
  const stock::Stock::Fields& fields = stock.fields();
  if (fields.steps->activeVoxelCount() == 0) return {};
  Lattice lattice = lattice_over(box_of(fields), cell_size(fields, most_vertices));
  tbb::parallel_for(0, lattice.count[2], [&](int k) {
    Field field(fields);
    for (int j = 0; j < lattice.count[1]; ++j)
      for (int i = 0; i < lattice.count[0]; ++i)
        lattice.values[lattice.index(i, j, k)] = field.at(lattice.place(i, j, k));
  });
  if (exact != nullptr) make_exact(*exact, stock, lattice);
  SurfaceNet net = surface_nets(lattice);
  std::vector<char> placed(net.cells.size(), 0);
  if (exact != nullptr) placed = sharpen(*exact, stock, lattice, net);
  Surface surface = std::move(net.surface);

  const std::size_t count = surface.vertices.size() / 3;
  surface.made_by.resize(count);
  if (part != nullptr) surface.deviation.resize(count);
  const std::size_t piece = 4096;
  tbb::parallel_for(std::size_t{0}, (count + piece - 1) / piece, [&](std::size_t block) {
    Field field(fields);
    auto provenance = fields.provenance->getConstAccessor();
    const stock::DistanceReader distance(fields);
    for (std::size_t i = block * piece; i < std::min(count, (block + 1) * piece); ++i) {
      Vec3 p = vertex(surface, i);
      if (placed[i] == 0) p = moved_onto(field, p, lattice.step / 2);
      for (int a = 0; a < 3; ++a) surface.vertices[3 * i + a] = static_cast<float>(p[a]);
      surface.made_by[i] = maker(fields, provenance, distance, p);
      if (part != nullptr) surface.deviation[i] = static_cast<float>(part->at(p));
    }
  });
  return surface;
}

}  // namespace proveout::page
