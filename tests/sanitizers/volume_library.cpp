// Whether what the thread sanitizer says of the volume library's division into pieces is about its
// code or about its packaged library, which is not instrumented: the same templates once for a tree
// that the library holds compiled (FloatTree) and once for a tree of its own sizes, compiled here.
// With Debian 12's OpenVDB 10.0.1 and an instrumented TBB: some seventy reports and none. By hand,
// with and without -DOWN_TREE:
//   g++ -std=c++20 -O1 -g -fsanitize=thread -DOWN_TREE FILE -lopenvdb -ltbb -lImath-3_1
//   LD_LIBRARY_PATH=$(sh tests/sanitizers/tsan_tbb.sh DIR) ./a.out
#include <openvdb/openvdb.h>
#include <openvdb/tools/LevelSetUtil.h>
#include <openvdb/tools/SignedFloodFill.h>

#include <cmath>
#include <cstdio>
#include <vector>

#ifdef OWN_TREE
using Grid = openvdb::Grid<openvdb::tree::Tree4<float, 4, 4, 3>::Type>;
#else
using Grid = openvdb::FloatGrid;
#endif

// Two balls of 20 mm, 50 mm apart, in a band of 1.5 mm.
Grid::Ptr two_balls() {
  const double voxel = 0.5, band = 1.5;
  const Grid::Ptr grid = Grid::create(static_cast<float>(band));
  grid->setTransform(openvdb::math::Transform::createLinearTransform(voxel));
  grid->setGridClass(openvdb::GRID_LEVEL_SET);
  auto values = grid->getAccessor();
  for (int i = -45; i <= 45; ++i) {
    for (int j = -45; j <= 45; ++j) {
      for (int k = -45; k <= 45; ++k) {
        const double distance = voxel * std::sqrt(i * i + j * j + k * k) - 20;
        if (std::abs(distance) >= band) continue;
        values.setValue({i, j, k}, static_cast<float>(distance));
        values.setValue({i + 100, j, k}, static_cast<float>(distance));
      }
    }
  }
  openvdb::tools::signedFloodFill(grid->tree());
  return grid;
}

int main() {
  openvdb::initialize();
  for (int round = 0; round < 5; ++round) {
    std::vector<Grid::Ptr> pieces;
    openvdb::tools::segmentSDF(*two_balls(), pieces);
    if (pieces.size() != 2) return 1;
  }
  std::puts("two pieces, five times");
}
