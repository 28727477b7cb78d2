// Where along its path a motion comes nearest, by search: of distances with no closed form.
#pragma once

#include <algorithm>

namespace proveout::stock {

// The least of a distance over the share of a path: so many places, then golden section about the
// best. at: distance, mm, at a share of the path, 0..1; share: where the least was found.
template <class Distance>
double least_share(int places, Distance at, double& share) {
  double best = 1e60;
  int nearest = 0;
  for (int i = 0; i <= places; ++i) {
    const double d = at(double(i) / places);
    if (d < best) {
      best = d;
      nearest = i;
    }
  }
  share = double(nearest) / places;
  double lo = std::max(0.0, double(nearest - 1) / places);
  double hi = std::min(1.0, double(nearest + 1) / places);
  const double shrink = 0.6180339887498949;
  double t1 = hi - shrink * (hi - lo), t2 = lo + shrink * (hi - lo);
  double f1 = at(t1), f2 = at(t2);
  for (int i = 0; i < 60 && hi - lo > 1e-12; ++i) {
    if (f1 < f2) {
      hi = t2;
      t2 = t1;
      f2 = f1;
      f1 = at(t1 = hi - shrink * (hi - lo));
    } else {
      lo = t1;
      t1 = t2;
      f1 = f2;
      f2 = at(t2 = lo + shrink * (hi - lo));
    }
  }
  const double found = std::min(f1, f2);
  if (found < best) share = f1 < f2 ? t1 : t2;
  return std::min(best, found);
}

}  // namespace proveout::stock
