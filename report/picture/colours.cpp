#include "report/picture/colours.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace proveout::picture {

Rgb distinct_colour(int number) {
  static constexpr std::array<Rgb, 7> colours = {{{230, 159, 0},
                                                  {86, 180, 233},
                                                  {0, 158, 115},
                                                  {240, 228, 66},
                                                  {0, 114, 178},
                                                  {213, 94, 0},
                                                  {204, 121, 167}}};
  return colours[static_cast<std::size_t>(((number % 7) + 7) % 7)];
}

Rgb deviation_colour(double share) {
  static constexpr std::array<Rgb, 9> colours = {{{84, 39, 136},
                                                  {128, 115, 172},
                                                  {178, 171, 210},
                                                  {216, 218, 235},
                                                  {247, 247, 247},
                                                  {254, 224, 182},
                                                  {253, 184, 99},
                                                  {224, 130, 20},
                                                  {179, 88, 6}}};
  const double at = 4 * (std::clamp(share, -1.0, 1.0) + 1);
  const int i = std::min(7, static_cast<int>(at));
  const double f = at - i;
  const Rgb &a = colours[i], &b = colours[i + 1];
  const auto mixed = [&](std::uint8_t from, std::uint8_t to) {
    return static_cast<std::uint8_t>(std::lround(from + f * (to - from)));
  };
  return {mixed(a.red, b.red), mixed(a.green, b.green), mixed(a.blue, b.blue)};
}

double deviation_end(const job::Part& part) {
  return 2 * std::max({part.gouge_tolerance, part.excess_tolerance, 0.05});
}

}  // namespace proveout::picture
