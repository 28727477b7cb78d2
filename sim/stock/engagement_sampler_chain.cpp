// EngagementSampler for chains. What the chain as a whole takes is looked at once; each point goes
// to the first of its motions that touches it, points on the tool's surface to the motion that made
// it.
#include <algorithm>
#include <cmath>

#include "sim/stock/engagement_sampler.h"

namespace proveout::stock {

// Points in order of their motions, those of -1 left out: grouped_ and runs_.
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
    grouped_.x[at] = points.x[i];
    grouped_.y[at] = points.y[i];
    grouped_.z[at] = points.z[i];
  }
  grouped_.count = runs_[sweeps.size()];
}

// The same as place_on_face, of all groups at once: a motion's own few points fill no register.
void EngagementSampler::place_groups(std::span<const LocalSweep> sweeps) {
  if (!areas_) return;
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    const LocalSweep& local = sweeps[m];
    // Behind the axis only a tool on its way down meets anything.
    const float least = local.rise < 0 ? -1e30f : 0.f;
    const float a_mm = local.length > 0 ? local.run / local.length : 0;
    for (int i = runs_[m]; i < runs_[m + 1]; ++i) {
      const float ahead = (grouped_.x[i] - local.ax) * local.ux +
                          (grouped_.y[i] - local.ay) * local.uy - along_[i] * a_mm;
      ahead_[i] = ahead > least ? ahead : least;
    }
  }
  kernels_.faces(*sweeps[0].profile, {true, false, voxel_}, grouped_.count,
                 {height_.data(), left_.data(), ahead_.data(), place_.data(), turn_.data(),
                  first_column_.data(), more_columns_.data(), extent_.data()});
}

// Adds each point to what its motion touches.
void EngagementSampler::touch_groups(std::span<const LocalSweep> sweeps, const Points& points,
                                     const std::int32_t* motion) {
  group(sweeps, points, motion);
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    const int from = runs_[m], count = runs_[m + 1] - from;
    if (count == 0) continue;
    Touches to{along_.data() + from, height_.data() + from, left_.data() + from,
               bearing_.data() + from};
    kernels_.touches(sweeps[m], grouped_.x.data() + from, grouped_.y.data() + from,
                     grouped_.z.data() + from, count, to);
  }
  place_groups(sweeps);
  for (std::size_t m = 0; m < sweeps.size(); ++m) {
    const int count = runs_[m + 1] - runs_[m];
    if (count != 0) add_touches(gathered(static_cast<std::uint32_t>(m)), runs_[m], count);
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
  touch_groups(sweeps, trial_, motion_.data());
}

// All voxels beside faces, in the order of the motions that made the surface there. Looking first
// which of them tell nothing new does not pay, as it does of one long motion: each of a chain's
// motions meets so little that nearly every point widens it (95 of 100 in tests/bench).
void EngagementSampler::chain_faces(std::span<const LocalSweep> sweeps, const TileFrame& frame,
                                    const float* stored, const EngagedVoxels& engaged) {
  std::array<int, ChainWork::most_motions + 1> next{};
  for (int n = 0; n < engaged.count; ++n)
    next[engaged.owner[n] + 1] += (engaged.what[n] & engaged_face) != 0;
  for (std::size_t m = 0; m < sweeps.size(); ++m) next[m + 1] += next[m];
  chosen_count_ = next[sweeps.size()];
  for (int n = 0; n < engaged.count; ++n) {
    if ((engaged.what[n] & engaged_face) != 0)
      chosen_[next[engaged.owner[n]]++] = static_cast<std::uint16_t>(n);
  }
  chain_face_points(sweeps, frame, stored, engaged);
}

void EngagementSampler::chain_face_points(std::span<const LocalSweep> sweeps,
                                          const TileFrame& frame, const float* stored,
                                          const EngagedVoxels& engaged) {
  if (chosen_count_ == 0) return;
  slopes(frame, stored, engaged);
  found_.count = 0;
  chain_points_on_stock(sweeps, frame, stored, engaged);
  chain_points_on_tool(sweeps, frame, stored, engaged);
  touch_groups(sweeps, found_, found_motion_.data());
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
