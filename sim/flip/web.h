// What stands between the cuts of two sides, and how thin it gets when the later one lies off.
#pragma once

#include <utility>
#include <vector>

#include "sim/flip/stretch.h"
#include "sim/measure/height_map.h"

namespace proveout::flip {

// How far the later side's cut lies off the earlier one's, in plan: shift + with_place * (place -
// middle), mm.
struct Off {
  Vec3 shift = Vec3::Zero();
  Eigen::Matrix2d with_place = Eigen::Matrix2d::Zero();
  Vec2 at(const Vec2& from_middle) const { return shift.head<2>() + with_place * from_middle; }
  void add(const Off& o, double times) {
    shift += times * o.shift;
    with_place += times * o.with_place;
  }
};

// Floors that both sides have cut over one another, and walls that stand with a cut of one side
// before them and a cut of the other behind; away from where the sides cut through on purpose.
class Web {
 public:
  // left: the stock after the earlier side, reached: the highest the later side's tools come, both
  // over the same cells, plan, mm; they must outlive this. middle: plan, mm.
  Web(const measure::HeightMap& left, const measure::HeightMap& reached, const Vec2& middle);

  bool empty() const { return floors_.empty() && walls_.empty(); }

  // The least of them with the later cut moved, mm; 0 or less: cut through. A floor's is of height
  // and interpolated; a wall's is across it, to half a cell on each side. Walls more than 2 mm
  // thicker than the thinnest are not looked at.
  double least(const Off& off) const;

 private:
  struct Wall {  // the nearest cell of the later side's cut, from one of the earlier's
    Vec2 from, to;
  };
  std::size_t index(int i, int j) const;
  Vec2 centre(int i, int j) const;
  double reached_at(const Vec2& place) const;  // linear between cell centres
  std::vector<char> cut_through() const;
  void find_walls(const std::vector<char>& through, float blank_top);

  const measure::HeightMap& left_;
  const measure::HeightMap& reached_;
  Vec2 middle_;
  std::vector<std::pair<int, int>> floors_;
  std::vector<Wall> walls_;
};

}  // namespace proveout::flip
