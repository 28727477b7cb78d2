// Colours that pictures and page share; the page's copy is report/page/src/palette.ts.
#pragma once

#include <cstdint>

#include "parser/job/job.h"

namespace proveout::picture {

struct Rgb {
  std::uint8_t red = 0, green = 0, blue = 0;
  bool operator==(const Rgb&) const = default;
};

// Eight colours that colour-blind readers tell apart: Okabe and Ito, "Color Universal Design"
// (2008). number: any; repeats after seven.
Rgb distinct_colour(int number);

// Cut into the part (negative) purple, left on (positive) orange, as given near white:
// ColorBrewer 'PuOr', Harrower and Brewer, The Cartographic Journal 40 (2003) 27-37.
// share: deviation over the scale's end, -1..1.
Rgb deviation_colour(double share);

// mm at either end of that scale, > 0: twice the wider tolerance, so that what is just within it
// can be told from what is as given.
double deviation_end(const job::Part& part);

// From so many ends on it is frame or bridge, no surface of the part's, and grey.
inline constexpr double deviation_grey_ends = 4;

}  // namespace proveout::picture
