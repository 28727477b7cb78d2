// Cusps and steps on the surface that is left: what will have to be filed and sanded. From the
// motions' own distances; the grid only says which motions are near.
//
// Where two motions' swept bodies meet on the stock's surface, the material between them stands up
// in an edge: a line. Both tools stand there as they touch it, and the plane laid against them from
// below touches both in their valleys. A line's height at a place is
//   - with a part: how much further the edge stands off the part than the lower valley does;
//   - without: how far the edge stands above that plane, which is its depth within the convex hull
//     of the two tools. Balls of radius R, s apart: R - sqrt(R^2 - s^2 / 4), about s^2 / (8 R)
//     (the circle's sagitta), on slopes too, s measured along the slope. Flat steps w wide and
//     d high on a slope: w d / sqrt(w^2 + d^2), the height of the right-angled triangle.
//   - a step: where one of the two surfaces is nearly parallel to that plane and the other falls
//     away from it, a riser: without a part the height is that of the upper face above the lower.
// An edge of the part itself is no line: one where the part's faces turn as the motions' do.
// Without a part, lines that are somewhere higher than finish_most_without_part, and corners
// between straight moves that follow one another, are taken as meant.
//
// Area above a height: of the surface between each cusp's edge and its two valleys, where it
// stands so far above the plane. Steps have none: how far one would be blended is not known.
//
// Not seen: lines nearer to each other than a voxel where no motion between them is found (what
// stands between passes a voxel s apart is about s^2 / 8R high); marks within one motion; tool
// marks, runout, deflection, chatter and burr, none of which is in a motion's path; edges against
// the blank's own surface, which nothing has cut; what stands more than finish_most_with_part off
// the part, which is material left on. Lines are told voxel by voxel, their ends to a voxel.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/solid/face_tree.h"
#include "sim/stock/exact_stock.h"
#include "sim/stock/stock.h"

namespace proveout::measure {

// mm: heights areas are told above; the first is also the least a line stands up.
inline constexpr std::array<double, 4> finish_heights{0.01, 0.02, 0.05, 0.1};
// mm, choices: higher ones are edges that are meant, or material left on.
inline constexpr double finish_most_without_part = 0.2;
inline constexpr double finish_most_with_part = 1.0;

// What the two motions are to each other, in this order: of different setups, of different tools,
// at different levels (a step), or else two passes.
enum class FinishBetween : std::uint8_t { sides, tools, levels, passes };
inline const char* word(FinishBetween between) {
  static constexpr const char* words[] = {"sides", "tools", "levels", "passes"};
  return words[static_cast<std::size_t>(between)];
}

// Edges that go on from voxel to voxel.
struct FinishLine {
  double length = 0;       // mm
  double height = 0;       // mm, at its highest place
  Vec3 at = Vec3::Zero();  // mm, stock coordinates: that place
  FinishBetween between = FinishBetween::passes;
  bool step = false;
  stock::MotionId first = 0, second = 0;  // that made it there, first < second
};

struct FinishPlace {                             // one a voxel and edge
  Eigen::Vector3f at = Eigen::Vector3f::Zero();  // mm, stock coordinates, on the edge
  float height = 0;                              // mm
  std::uint32_t line = 0;                        // into lines
};

struct Finish {
  std::array<double, finish_heights.size()> area_mm2{};  // above finish_heights
  double length = 0;                                     // mm, of all lines
  double highest = 0;                                    // mm
  std::vector<FinishLine> lines;                         // longest first
  std::vector<FinishPlace> places;                       // by voxel
};

struct FinishInput {
  const stock::ExactStock& exact;
  const stock::Stock& kept;               // the piece that goes on
  const solid::FaceTree* part = nullptr;  // nullptr: no part was given
  std::span<const Box3> sawn{};           // supports taken off: nothing is told in them; mm, stock
};

// The longest lines, and behind them the highest where it is not among them: at most `most` + 1.
std::vector<std::size_t> finish_lines_to_show(const Finish& finish, std::size_t most);

// Same result for any number of threads.
Finish look_at_finish(const FinishInput& input);

}  // namespace proveout::measure
