// Meeting for chains. What the chain as a whole takes is told once; each point goes to the first of
// its motions that touches it, points on the tool's surface to the motion that made it.
#include <algorithm>
#include <cmath>

#include "sim/stock/meeting.h"

namespace proveout::stock {

// Points in order of their motions, those of -1 left out: grouped_, order_ and runs_.
void Meeting::group(std::span<const LocalSweep> sweeps, const Points& points,
                    const std::int32_t* motion) {
  runs_.fill(0);
  for (int i = 0; i < points.count; ++i) {
    if (motion[i] >= 0) ++runs_[motion[i] + 1];
  }
  for (std::size_t m = 0; m < sweeps.size(); ++m) runs_[m + 1] += runs_[m];
  std::array<int, ChainWork::most_motions + 1> next = runs_;
  for (int i = 0; i < points.count; ++i) {
    if (motion[i] < 0) continue;
    const int at = next[motion[i]]++;
    order_[at] = static_cast<std::uint16_t>(i);
    grouped_.x[at] = points.x[i];
    grouped_.y[at] = points.y[i];
    grouped_.z[at] = points.z[i];
  }
  grouped_.count = runs_[sweeps.size()];
}

// Calls each(number of the point, motion, number of its touch).
template <class Each>
void Meeting::touch_groups(std::span<const LocalSweep> sweeps, const Points& points,
                           const std::int32_t* motion, Each each) {
  group(sweeps, points, motion);
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    const int from = runs_[m], count = runs_[m + 1] - from;
    if (count == 0) continue;
    Touches to{along_.data() + from, height_.data() + from, left_.data() + from,
               bearing_.data() + from};
    kernels_.touches(sweeps[m], grouped_.x.data() + from, grouped_.y.data() + from,
                     grouped_.z.data() + from, count, to);
  }
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    for (int i = runs_[m]; i < runs_[m + 1]; ++i) each(order_[i], static_cast<int>(m), i);
  }
}

// Volume whose middle the chain frees belongs to the first motion that does; what is only grazed to
// the deepest.
void Meeting::chain_volume(std::span<const LocalSweep> sweeps, const TileFrame& f,
                           const VolumeShares& shares) {
  const auto& t = f.turn;
  for (int n = 0; n < shares.count; ++n) {
    const int index = shares.index[n];
    const float x = (static_cast<float>(tile_x(index)) - 15.5f) * f.voxel;
    const float y = (static_cast<float>(tile_y(index)) - 15.5f) * f.voxel;
    const float z = (static_cast<float>(tile_z(index)) - 15.5f) * f.voxel;
    trial_.x[n] = t[0] * x + t[1] * y + t[2] * z;
    trial_.y[n] = t[3] * x + t[4] * y + t[5] * z;
    trial_.z[n] = t[6] * x + t[7] * y + t[8] * z;
  }
  kernels_.first(sweeps.data(), static_cast<int>(sweeps.size()), trial_.x.data(), trial_.y.data(),
                 trial_.z.data(), shares.count, 0.f, shares.earliest.data(), motion_.data());
  for (int n = 0; n < shares.count; ++n) {
    const bool freed = shares.earliest[n] != shares.owner[n] && motion_[n] >= 0;
    gathered(freed ? motion_[n] : shares.owner[n]).volume += shares.taken[n];
  }
}

// The motions that free the middles of the met voxels, into first_.
void Meeting::chain_first(std::span<const LocalSweep> sweeps, const MetVoxels& met) {
  trial_.count = 0;
  for (int n = 0; n < met.count; ++n) {
    first_[n] = met.owner[n];
    if (met.owner[n] == met.earliest[n] || !(met.old[n] < 0 && met.swept[n] < 0)) continue;
    from_[trial_.count] = static_cast<std::uint16_t>(n);
    earliest_[trial_.count] = met.earliest[n];
    trial_.add(x_[n], y_[n], z_[n]);
  }
  kernels_.first(sweeps.data(), static_cast<int>(sweeps.size()), trial_.x.data(), trial_.y.data(),
                 trial_.z.data(), trial_.count, 0.f, earliest_.data(), motion_.data());
  for (int i = 0; i < trial_.count; ++i) {
    if (motion_[i] >= 0) first_[from_[i]] = motion_[i];
  }
}

void Meeting::chain_own_points(std::span<const LocalSweep> sweeps, const MetVoxels& met) {
  trial_.count = 0;
  for (int n = 0; n < met.count; ++n) {
    if ((met.what[n] & met_own) == 0) continue;
    motion_[trial_.count] = first_[n];
    trial_.add(x_[n], y_[n], z_[n]);
  }
  touch_groups(sweeps, trial_, motion_.data(), [&](int, int m, int t) {
    gathered(m).add_point(height_[t], left_[t], bearing_[t], false);
  });
}

// Chosen voxels in the order of the motions that made the surface there.
void Meeting::chain_faces(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                          const float* stored, const MetVoxels& met) {
  int count = 0, rest = 0;
  for (int n = 0; n < met.count; ++n)
    rest_[count] = static_cast<std::uint16_t>(n), count += met.what[n] >> 1 & 1;
  const auto by_owner = [&] {
    std::array<int, ChainWork::most_motions + 1> next{};
    for (int c = 0; c < chosen_count_; ++c) ++next[met.owner[chosen_[c]] + 1];
    for (std::size_t m = 0; m < sweeps.size(); ++m) next[m + 1] += next[m];
    std::copy_n(chosen_.begin(), chosen_count_, unsorted_.begin());
    for (int c = 0; c < chosen_count_; ++c) {
      chosen_[next[met.owner[unsorted_[c]]]++] = unsorted_[c];
    }
    chain_face_points(sweeps, frame, stored, met);
  };
  const int seeds = count <= 48 ? 1 : 4;
  chosen_count_ = 0;
  for (int c = 0; c < count; ++c) {
    if (c % seeds == 0)
      chosen_[chosen_count_++] = rest_[c];
    else
      rest_[rest++] = rest_[c];
  }
  by_owner();
  if (rest == 0) return;
  trial_.count = 0;
  for (int c = 0; c < rest; ++c) {
    motion_[c] = first_[rest_[c]];
    trial_.add(x_[rest_[c]], y_[rest_[c]], z_[rest_[c]]);
  }
  chosen_count_ = 0;
  touch_groups(sweeps, trial_, motion_.data(), [&](int c, int m, int t) {
    const int n = rest_[c];
    if (!told(gathered_[m], *sweeps[m].profile, away_of(met, n), t)) {
      chosen_[chosen_count_++] = static_cast<std::uint16_t>(n);
    }
  });
  by_owner();
}

void Meeting::chain_face_points(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                const float* stored, const MetVoxels& met) {
  if (chosen_count_ == 0) return;
  slopes(frame, stored, met);
  found_.count = 0;
  chain_points_on_stock(sweeps, frame, stored, met);
  chain_points_on_tool(sweeps, frame, stored, met);
  touch_groups(sweeps, found_, found_motion_.data(), [&](int, int m, int t) {
    gathered(m).add_point(height_[t], left_[t], bearing_[t], false);
  });
}

void Meeting::chain_points_on_stock(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                    const float* stored, const MetVoxels& met) {
  trial_.count = 0;
  for (int n = 0; n < face_count_; ++n) {
    const Face& f = faces_[n];
    const float old = met.old[f.met];
    if ((met.what[f.met] & met_near_old) == 0 || !f.sloped || !(old <= 0 || f.one_face)) continue;
    const float qx = f.x - old * f.ux, qy = f.y - old * f.uy, qz = f.z - old * f.uz;
    if (old > 0 && !(std::abs(between(frame, stored, qx, qy, qz)) < skin())) continue;
    earliest_[trial_.count] = std::max(0, met.earliest[f.met] - 1);
    trial_.add(qx, qy, qz);
  }
  kernels_.first(sweeps.data(), static_cast<int>(sweeps.size()), trial_.x.data(), trial_.y.data(),
                 trial_.z.data(), trial_.count, -skin(), earliest_.data(), motion_.data());
  for (int i = 0; i < trial_.count; ++i) {
    if (motion_[i] < 0) continue;
    found_motion_[found_.count] = motion_[i];
    found_.add(trial_.x[i], trial_.y[i], trial_.z[i]);
  }
}

void Meeting::chain_points_on_tool(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                   const float* stored, const MetVoxels& met) {
  // Faces come in the order of their owners: a run each.
  for (int begin = 0; begin < face_count_;) {
    const int owner = met.owner[faces_[begin].met];
    int end = begin;
    trial_.count = 0;
    for (; end < face_count_ && met.owner[faces_[end].met] == owner; ++end) {
      if ((met.what[faces_[end].met] & met_near_tool) == 0) continue;
      from_[trial_.count] = static_cast<std::uint16_t>(end);
      trial_.add(faces_[end].x, faces_[end].y, faces_[end].z);
    }
    const int before = found_.count;
    points_on_tool_at(sweeps[owner], frame, stored, met);
    for (int i = before; i < found_.count; ++i) found_motion_[i] = owner;
    begin = end;
  }
}

void Meeting::gather_chain(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                           const float* stored, const MetVoxels& met, const VolumeShares& shares) {
  plunging_ = false;
  chain_volume(sweeps, frame, shares);
  if (met.count == 0) return;
  place(frame, met);
  chain_first(sweeps, met);
  chain_own_points(sweeps, met);
  chain_faces(sweeps, frame, stored, met);
}

}  // namespace proveout::stock
