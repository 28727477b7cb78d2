#include "report/page/build/part_field.h"

#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "parser/mesh/mesh.h"

namespace proveout::page {

Lattice part_field(const solid::PartDistance& part, double reach, std::size_t most_points) {
  Box3 box = mesh::bounds(part.mesh());
  box.min() -= Vec3::Constant(reach);
  box.max() += Vec3::Constant(reach);
  Lattice field = lattice_over(box, std::cbrt(box.volume() / static_cast<double>(most_points)));
  const double near = reach + 2 * field.step;
  tbb::parallel_for(0, field.count[2], [&](int k) {
    for (int j = 0; j < field.count[1]; ++j) {
      double before = near;
      for (int i = 0; i < field.count[0]; ++i) {
        // Far away the distance comes without its sign. It is the neighbour's: with the surface in
        // between both would lie within a step of it.
        const double found = part.at(field.place(i, j, k), near);
        before = found < near ? found : std::copysign(near, before);
        field.values[field.index(i, j, k)] = static_cast<float>(std::clamp(before, -near, near));
      }
    }
  });
  return field;
}

}  // namespace proveout::page
