#include "sim/cutting/volume_runs.h"

#include <algorithm>
#include <cmath>

namespace proveout::cutting {
namespace {

constexpr double alike = 0.15;  // of the run's mean volume a mm

}  // namespace

void VolumeRuns::add(std::size_t number, double stretch, double of_area, double removed,
                     std::vector<float>& scales) {
  if (scales.size() <= number) scales.resize(number + 1, 1.f);
  scales[number] = 1;
  if (!(stretch > 0) || !(of_area > 0)) return end(scales);
  if (length_ > 0) {
    const double mean = of_area_ / length_, here = of_area / stretch;
    if (std::abs(here - mean) > alike * mean) end(scales);
  }
  run_.push_back(number);
  length_ += stretch;
  of_area_ += of_area;
  removed_ += removed;
}

void VolumeRuns::end(std::vector<float>& scales) {
  if (of_area_ > 0) {
    const double believed = std::min(1.0, length_ / full_length_);
    const double share = std::clamp(removed_ / of_area_, least, most);
    const auto scale = static_cast<float>(1 + believed * (share - 1));
    for (const std::size_t n : run_) scales[n] = scale;
  }
  run_.clear();
  length_ = of_area_ = removed_ = 0;
}

}  // namespace proveout::cutting
