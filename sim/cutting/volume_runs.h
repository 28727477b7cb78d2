// How much of what an engaged area would take was really taken, from runs of like stretches. A
// stretch's own volume is too noisy, and its area's columns lie a fraction of a voxel off; over a
// radius of path that takes alike, volume is known far better than either.
#pragma once

#include <vector>

namespace proveout::cutting {

class VolumeRuns {
 public:
  // full_length: mm of path a run must have to be believed wholly; a shorter one in proportion.
  explicit VolumeRuns(double full_length) : full_length_(full_length) {}

  // The next stretch in the program's order. stretch: mm of path; of_area: mm3 its area would take
  // over that; removed: mm3 it took; number: index into the scales, which grow as needed.
  void add(std::size_t number, double stretch, double of_area, double removed,
           std::vector<float>& scales);
  // Ends the run, as at another tool or after a gap.
  void end(std::vector<float>& scales);

  // A scale stays between these: an area is not trusted to be wrong by more, and a volume above
  // what the area can take belongs to something else (a wall's skin, a neighbour's rim).
  static constexpr double least = 0.7, most = 1.1;

 private:
  double full_length_;
  std::vector<std::size_t> run_;
  double length_ = 0, of_area_ = 0, removed_ = 0;
};

}  // namespace proveout::cutting
