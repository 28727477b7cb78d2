// Material as upright columns over the cells of a grid, setup frame, with a tree of highest heights
// over it. Whatever lies under material counts as material, and a cell counts as full up to the
// highest point over it: distances to it are never too large.
#pragma once

#include <vector>

#include "parser/base/geometry.h"
#include "parser/mesh/mesh.h"
#include "sim/clearance/outline.h"
#include "sim/measure/height_map.h"

namespace proveout::clearance {

class ColumnMap {
 public:
  static constexpr float nothing = -1e9f;

  // Empty. box: x and y of the grid (mm, setup frame); cell: mm, > 0; margin: mm, >= 0: by so much
  // every column is taken wider to all sides than its cell.
  ColumnMap(const Box3& box, double cell, double margin);
  // Over a map of the stock's column tops, tree and all.
  ColumnMap(const measure::HeightMap& tops, double margin);

  // The cell over (x, y) is at least this high; outside of the grid: the nearest cell.
  void raise(double x, double y, double height);
  // The upper side of a closed mesh (mm, setup frame): over each cell its exact highest point.
  void raise(const mesh::Mesh& mesh);
  void build_tree();  // to be called after the last raise

  // Whether a cutter on the straight way from a to b (tip, mm, setup frame) may take anything away.
  bool meets(const Envelope& cutter, const Vec3& a, const Vec3& b) const;
  // Takes away what a cutter takes on the straight way from a to b (tip, mm, setup frame): cells
  // wholly within its reach only. narrower: mm by which the reach is taken smaller.
  void cut(const Envelope& cutter, const Vec3& a, const Vec3& b, double narrower);

  // Smallest distance, mm, of a body on the straight level way from a to b, both at the height of
  // the lower, to the columns; best where it is no smaller than that. at: middle of the column that
  // is nearest and its height, where one was found below best.
  double nearest(const Outline& body, const Vec3& a, const Vec3& b, double best,
                 Vec3* at = nullptr) const;

  // Whether some column over the box's x and y stands above z (mm).
  bool anything_above(double z, const Box3& box) const;
  double highest() const;  // mm; nothing where the map is empty
  // mm, of the columns that reach into a circle, seen from above; nothing where there is none.
  double highest_within(double x, double y, double radius) const;
  double cell() const { return cell_; }
  double margin() const { return margin_; }
  int columns() const { return levels_.front().columns; }
  int rows() const { return levels_.front().rows; }
  float at(int i, int j) const { return levels_.front().at(i, j); }
  Vec3 middle(int i, int j) const;  // of a cell, at its height

 private:
  struct Level {
    double cell = 0;
    int columns = 0, rows = 0;
    std::vector<float> height;
    float& at(int i, int j) { return height[static_cast<std::size_t>(j) * columns + i]; }
    float at(int i, int j) const { return height[static_cast<std::size_t>(j) * columns + i]; }
  };
  struct Query;

  void lay_out(int columns, int rows);
  void refresh(int i0, int j0, int i1, int j1);
  bool anything_above(double z, const Box3& box, std::size_t level, int i, int j) const;
  void search(Query& query, std::size_t level, int i, int j) const;
  double bound(const Query& query, std::size_t level, int i, int j) const;
  double farthest_corner(int i, int j, const Vec3& a, const Vec3& b, double radius) const;
  void raise_triangle(const Vec3& a, const Vec3& b, const Vec3& c);
  int column(double x) const;
  int row(double y) const;

  double x0_ = 0, y0_ = 0, cell_ = 1, margin_ = 0;
  std::vector<Level> levels_;  // the first is the grid itself, the last has one cell
};

// Distance in the plane between a straight way and an upright rectangle, mm; 0: they meet.
double way_to_rectangle(const Vec3& a, const Vec3& b, double x_low, double y_low, double x_high,
                        double y_high);

}  // namespace proveout::clearance
