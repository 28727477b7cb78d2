// EngagementSampler for chains. What the chain as a whole takes is looked at once; each point goes
// to the first of its motions that touches it, points on the tool's surface to the motion that made
// it.
#include <algorithm>
#include <cmath>

#include "sim/stock/engagement_sampler.h"

namespace proveout::stock {

// Points in order of their motions, those of -1 left out: grouped_, order_ and runs_.
void EngagementSampler::group(std::span<const LocalSweep> sweeps, const Points& points,
                              const std::int32_t* motion) {
  runs_.fill(0);
  for (int i = 0; i < points.count; ++i) {
    PROVEOUT_ASSERT(motion[i] < static_cast<int>(sweeps.size()), i, motion[i], sweeps.size());
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
void EngagementSampler::touch_groups(std::span<const LocalSweep> sweeps, const Points& points,
                                     const std::int32_t* motion, Each each) {
  group(sweeps, points, motion);
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    const int from = runs_[m], count = runs_[m + 1] - from;
    if (count == 0) continue;
    Touches to{along_.data() + from, height_.data() + from, left_.data() + from,
               bearing_.data() + from};
    kernels_.touches(sweeps[m], grouped_.x.data() + from, grouped_.y.data() + from,
                     grouped_.z.data() + from, count, to);
    place_on_face(sweeps[m], grouped_.x.data() + from, grouped_.y.data() + from, from, count);
  }
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    for (int i = runs_[m]; i < runs_[m + 1]; ++i) each(order_[i], static_cast<int>(m), i);
  }
}

// Volume whose middle the chain frees belongs to the first motion that does; what is only grazed to
// the deepest.
void EngagementSampler::chain_volume(std::span<const LocalSweep> sweeps, const TileFrame& f,
                                     const VolumeAttribution& attribution) {
  const auto& t = f.turn;
  for (int n = 0; n < attribution.count; ++n) {
    const int index = attribution.index[n];
    const float x = (static_cast<float>(tile_x(index)) - 15.5f) * f.voxel;
    const float y = (static_cast<float>(tile_y(index)) - 15.5f) * f.voxel;
    const float z = (static_cast<float>(tile_z(index)) - 15.5f) * f.voxel;
    trial_.x[n] = t[0] * x + t[1] * y + t[2] * z;
    trial_.y[n] = t[3] * x + t[4] * y + t[5] * z;
    trial_.z[n] = t[6] * x + t[7] * y + t[8] * z;
  }
  kernels_.first(sweeps.data(), static_cast<int>(sweeps.size()), trial_.x.data(), trial_.y.data(),
                 trial_.z.data(), attribution.count, 0.f, attribution.earliest.data(),
                 motion_.data());
  for (int n = 0; n < attribution.count; ++n) {
    const bool freed = attribution.earliest[n] != attribution.owner[n] && motion_[n] >= 0;
    gathered(freed ? motion_[n] : attribution.owner[n]).volume += attribution.taken[n];
  }
}

// The motions that free the middles of the engaged voxels, into first_.
void EngagementSampler::chain_first(std::span<const LocalSweep> sweeps,
                                    const EngagedVoxels& engaged) {
  trial_.count = 0;
  for (int n = 0; n < engaged.count; ++n) {
    first_[n] = engaged.owner[n];
    if (engaged.owner[n] == engaged.earliest[n] || !(engaged.old[n] < 0 && engaged.swept[n] < 0))
      continue;
    from_[trial_.count] = static_cast<std::uint16_t>(n);
    earliest_[trial_.count] = engaged.earliest[n];
    trial_.add(x_[n], y_[n], z_[n]);
  }
  kernels_.first(sweeps.data(), static_cast<int>(sweeps.size()), trial_.x.data(), trial_.y.data(),
                 trial_.z.data(), trial_.count, 0.f, earliest_.data(), motion_.data());
  for (int i = 0; i < trial_.count; ++i) {
    if (motion_[i] >= 0) first_[from_[i]] = motion_[i];
  }
}

void EngagementSampler::chain_own_points(std::span<const LocalSweep> sweeps,
                                         const EngagedVoxels& engaged) {
  trial_.count = 0;
  for (int n = 0; n < engaged.count; ++n) {
    if ((engaged.what[n] & engaged_own) == 0) continue;
    motion_[trial_.count] = first_[n];
    trial_.add(x_[n], y_[n], z_[n]);
  }
  touch_groups(sweeps, trial_, motion_.data(),
               [&](int, int m, int t) { add_touch(gathered(static_cast<std::uint32_t>(m)), t); });
}

// Chosen voxels in the order of the motions that made the surface there.
void EngagementSampler::chain_faces(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                    const float* stored, const EngagedVoxels& engaged) {
  int count = 0, rest = 0;
  for (int n = 0; n < engaged.count; ++n)
    rest_[count] = static_cast<std::uint16_t>(n), count += engaged.what[n] >> 1 & 1;
  const auto by_owner = [&] {
    std::array<int, ChainWork::most_motions + 1> next{};
    for (int c = 0; c < chosen_count_; ++c) ++next[engaged.owner[chosen_[c]] + 1];
    for (std::size_t m = 0; m < sweeps.size(); ++m) next[m + 1] += next[m];
    std::copy_n(chosen_.begin(), chosen_count_, unsorted_.begin());
    for (int c = 0; c < chosen_count_; ++c) {
      chosen_[next[engaged.owner[unsorted_[c]]]++] = unsorted_[c];
    }
    chain_face_points(sweeps, frame, stored, engaged);
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
    if (!adds_nothing(gathered_[m], *sweeps[m].profile, away_of(engaged, n), t)) {
      chosen_[chosen_count_++] = static_cast<std::uint16_t>(n);
    }
  });
  by_owner();
}

void EngagementSampler::chain_face_points(std::span<const LocalSweep> sweeps,
                                          const TileFrame& frame, const float* stored,
                                          const EngagedVoxels& engaged) {
  if (chosen_count_ == 0) return;
  slopes(frame, stored, engaged);
  found_.count = 0;
  chain_points_on_stock(sweeps, frame, stored, engaged);
  chain_points_on_tool(sweeps, frame, stored, engaged);
  touch_groups(sweeps, found_, found_motion_.data(),
               [&](int, int m, int t) { add_touch(gathered(static_cast<std::uint32_t>(m)), t); });
}

void EngagementSampler::chain_points_on_stock(std::span<const LocalSweep> sweeps,
                                              const TileFrame& frame, const float* stored,
                                              const EngagedVoxels& engaged) {
  trial_.count = 0;
  for (int n = 0; n < face_count_; ++n) {
    const Face& f = faces_[n];
    const float old = engaged.old[f.voxel];
    if ((engaged.what[f.voxel] & engaged_near_old) == 0 || !f.sloped || !(old <= 0 || f.one_face))
      continue;
    const float qx = f.x - old * f.ux, qy = f.y - old * f.uy, qz = f.z - old * f.uz;
    if (old > 0 && !(std::abs(between(frame, stored, qx, qy, qz)) < skin())) continue;
    earliest_[trial_.count] = std::max(0, engaged.earliest[f.voxel] - 1);
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

void EngagementSampler::chain_points_on_tool(std::span<const LocalSweep> sweeps,
                                             const TileFrame& frame, const float* stored,
                                             const EngagedVoxels& engaged) {
  // Faces come in the order of their owners: a run each.
  for (int begin = 0; begin < face_count_;) {
    const int owner = engaged.owner[faces_[begin].voxel];
    int end = begin;
    trial_.count = 0;
    for (; end < face_count_ && engaged.owner[faces_[end].voxel] == owner; ++end) {
      if ((engaged.what[faces_[end].voxel] & engaged_near_tool) == 0) continue;
      from_[trial_.count] = static_cast<std::uint16_t>(end);
      trial_.add(faces_[end].x, faces_[end].y, faces_[end].z);
    }
    const int before = found_.count;
    points_on_tool_at(sweeps[owner], frame, stored, engaged);
    for (int i = before; i < found_.count; ++i) found_motion_[i] = owner;
    begin = end;
  }
}

void EngagementSampler::gather_chain(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                     const float* stored, const EngagedVoxels& engaged,
                                     const VolumeAttribution& attribution) {
  plunging_ = false;
  chain_volume(sweeps, frame, attribution);
  if (engaged.count == 0) return;
  place(frame, engaged);
  chain_first(sweeps, engaged);
  chain_own_points(sweeps, engaged);
  chain_faces(sweeps, frame, stored, engaged);
}

}  // namespace proveout::stock
