#include "sim/stock/engagement_sampler.h"

#include <algorithm>
#include <cmath>

#include "sim/stock/planar_length.h"

namespace proveout::stock {

EngagementSampler::EngagementSampler(float voxel, bool areas)
    : kernels_(kernels()), voxel_(voxel), areas_(areas), gathered_(1) {}

void EngagementSampler::begin(std::uint32_t segments) {
  segments_ = segments;
  if (gathered_.size() < segments) gathered_.resize(segments);
}

void EngagementSampler::place(const TileFrame& f, const EngagedVoxels& engaged) {
  const float h = f.voxel;
  const auto& t = f.turn;
  for (int n = 0; n < engaged.count; ++n) {
    const int index = engaged.index[n];
    const float x = (static_cast<float>(tile_x(index)) - 15.5f) * h;
    const float y = (static_cast<float>(tile_y(index)) - 15.5f) * h;
    const float z = (static_cast<float>(tile_z(index)) - 15.5f) * h;
    x_[n] = t[0] * x + t[1] * y + t[2] * z;
    y_[n] = t[3] * x + t[4] * y + t[5] * z;
    z_[n] = t[6] * x + t[7] * y + t[8] * z;
  }
}

// First touches of points into along_, height_, left_, bearing_.
void EngagementSampler::touch(const Sweep& sweep, const LocalSweep& local, const Vec3& centre,
                              const Points& points) {
  const bool straight = sweep.kind != SweepKind::level_arc && sweep.kind != SweepKind::table;
  if (straight && local.run >= 1e-9f) {
    Touches to{along_.data(), height_.data(), left_.data(), bearing_.data()};
    kernels_.touches(local, points.x.data(), points.y.data(), points.z.data(), points.count, to);
    place_on_face(local, points.x.data(), points.y.data(), 0, points.count);
    return;
  }
  for (int i = 0; i < points.count; ++i) {
    const FirstTouch t = first_touch(sweep, centre + Vec3(points.x[i], points.y[i], points.z[i]));
    along_[i] = t.along;
    height_[i] = t.height;
    left_[i] = t.plunging ? planar_length(t.left, t.ahead) : t.left;
    bearing_[i] = bearing_of(t);
    plunging_ = t.plunging;
    ahead_[i] = t.ahead;
    across_[i] = t.left;
  }
  const nc::Motion& m = *sweep.motion;
  const bool descending = plunging_ || m.end.z() < m.start.z() ||
                          (m.kind == nc::PathKind::arc && m.plane != nc::Plane::xy);
  place_on_face(*sweep.profile, descending, 0, points.count);
}

// Behind the axis only a tool on its way down meets anything.
void EngagementSampler::place_on_face(const Profile& p, bool descending, int from, int count) {
  if (!areas_) return;
  kernels_.faces(p, {descending, plunging_, voxel_}, count,
                 {height_.data() + from, across_.data() + from, ahead_.data() + from,
                  place_.data() + from, turn_.data() + from, first_column_.data() + from,
                  more_columns_.data() + from, extent_.data() + from});
}

void EngagementSampler::place_on_face(const LocalSweep& local, const float* x, const float* y,
                                      int from, int count) {
  if (!areas_) return;
  const float a_mm = local.length > 0 ? local.run / local.length : 0;
  for (int i = 0; i < count; ++i) {
    ahead_[from + i] =
        (x[i] - local.ax) * local.ux + (y[i] - local.ay) * local.uy - along_[from + i] * a_mm;
    across_[from + i] = left_[from + i];
  }
  place_on_face(*local.profile, local.rise < 0, from, count);
}

// By runs of one segment.
void EngagementSampler::add_touches(const Sweep& sweep, int count) {
  for (int begin = 0, end = 0; begin < count; begin = end) {
    const std::uint32_t segment = segment_at(along_[begin], sweep);
    for (end = begin + 1; end < count && segment_at(along_[end], sweep) == segment;) ++end;
    add_touches(gathered(segment), begin, end - begin);
  }
}

void EngagementSampler::own_points(const Sweep& sweep, const LocalSweep& local, const Vec3& centre,
                                   const EngagedVoxels& engaged) {
  const bool several = segments_ > 1;
  trial_.count = 0;
  for (int n = 0; n < engaged.count; ++n) {
    if (!several && (engaged.what[n] & engaged_own) == 0) continue;
    from_[trial_.count] = static_cast<std::uint16_t>(n);
    trial_.add(x_[n], y_[n], z_[n]);
  }
  if (trial_.count == 0) return;
  touch(sweep, local, centre, trial_);
  for (int i = 0; i < trial_.count; ++i) {
    const int n = from_[i];
    LocalSegmentTotals& at = gathered(segment_at(along_[i], sweep));
    if (several) at.volume += engaged.taken[n];
    if (engaged.what[n] & engaged_own) add_touches(at, i, 1);
  }
}

// Slope of the stored distance, setup frame; one-sided at the tile's faces. Its length is 1 beside
// one face and less across an edge, where no one direction leads to the surface.
void EngagementSampler::slopes(const TileFrame& f, const float* stored,
                               const EngagedVoxels& engaged) {
  face_count_ = 0;
  const float per_step = 1.f / f.voxel;
  for (int c = 0; c < chosen_count_; ++c) {
    const int n = chosen_[c];
    Face& face = faces_[face_count_++];
    const int index = engaged.index[n];
    const auto slope = [&](int axis) {
      const bool first = (index & axis) == 0, last = (index & axis) == axis;
      const int ahead = last ? index : tile_ahead(index, axis);
      const int back = first ? index : tile_back(index, axis);
      return (stored[ahead] - stored[back]) * (first || last ? 1.f : 0.5f) * per_step;
    };
    const float gx = slope(tile_x_bits), gy = slope(tile_y_bits), gz = slope(tile_z_bits);
    const auto& t = f.turn;
    const float steepness = std::sqrt(gx * gx + gy * gy + gz * gz);
    face.voxel = n;
    face.x = x_[n];
    face.y = y_[n];
    face.z = z_[n];
    face.sloped = steepness > 0.2f;
    face.one_face = steepness > 0.985f;
    const float unit = face.sloped ? 1.f / steepness : 0.f;
    face.ux = (t[0] * gx + t[1] * gy + t[2] * gz) * unit;
    face.uy = (t[3] * gx + t[4] * gy + t[5] * gz) * unit;
    face.uz = (t[6] * gx + t[7] * gy + t[8] * gz) * unit;
  }
}

// Stored distance between voxels, at a place from the tile's middle, setup frame; clamped to the
// tile.
float EngagementSampler::between(const TileFrame& f, const float* stored, float x, float y,
                                 float z) const {
  const auto& t = f.turn;
  const float at[3] = {(t[0] * x + t[3] * y + t[6] * z) / f.voxel + 15.5f,
                       (t[1] * x + t[4] * y + t[7] * z) / f.voxel + 15.5f,
                       (t[2] * x + t[5] * y + t[8] * z) / f.voxel + 15.5f};
  int low[3];
  float share[3];
  for (int k = 0; k < 3; ++k) {
    const float c = std::clamp(at[k], 0.f, 30.999f);
    low[k] = static_cast<int>(c);
    share[k] = c - static_cast<float>(low[k]);
  }
  const int first = tile_index(low[0], low[1], low[2]);
  float sum = 0;
  for (int corner = 0; corner < 8; ++corner) {
    const bool dx = corner & 1, dy = corner >> 1 & 1, dz = corner >> 2;
    int index = dx ? tile_ahead(first, tile_x_bits) : first;
    index = dy ? tile_ahead(index, tile_y_bits) : index;
    index = dz ? tile_ahead(index, tile_z_bits) : index;
    sum += (dx ? share[0] : 1 - share[0]) * (dy ? share[1] : 1 - share[1]) *
           (dz ? share[2] : 1 - share[2]) * stored[index];
  }
  return sum;
}

void EngagementSampler::points_on_stock(const LocalSweep& local, const TileFrame& frame,
                                        const float* stored, const EngagedVoxels& engaged) {
  const float skin = this->skin();
  trial_.count = 0;
  for (int n = 0; n < face_count_; ++n) {
    const Face& f = faces_[n];
    const float old = engaged.old[f.voxel];
    if ((engaged.what[f.voxel] & engaged_near_old) == 0 || !f.sloped || !(old <= 0 || f.one_face))
      continue;
    const float qx = f.x - old * f.ux, qy = f.y - old * f.uy, qz = f.z - old * f.uz;
    if (old > 0 && !(std::abs(between(frame, stored, qx, qy, qz)) < skin)) continue;
    trial_.add(qx, qy, qz);
  }
  kernels_.points(local, trial_.x.data(), trial_.y.data(), trial_.z.data(), trial_.count,
                  value_.data());
  for (int i = 0; i < trial_.count; ++i) {
    if (value_[i] <= -skin) found_.add(trial_.x[i], trial_.y[i], trial_.z[i]);
  }
}

void EngagementSampler::points_on_tool(const LocalSweep& local, const TileFrame& frame,
                                       const float* stored, const EngagedVoxels& engaged) {
  trial_.count = 0;
  for (int n = 0; n < face_count_; ++n) {
    if ((engaged.what[faces_[n].voxel] & engaged_near_tool) == 0) continue;
    from_[trial_.count] = static_cast<std::uint16_t>(n);
    trial_.add(faces_[n].x, faces_[n].y, faces_[n].z);
  }
  points_on_tool_at(local, frame, stored, engaged);
}

// Of the voxels in trial_, faces from_: the points on the tool beside them.
void EngagementSampler::points_on_tool_at(const LocalSweep& local, const TileFrame& frame,
                                          const float* stored, const EngagedVoxels& engaged) {
  const float skin = this->skin();
  const int count = trial_.count;
  if (count == 0) return;
  kernels_.slopes(local, trial_.x.data(), trial_.y.data(), trial_.z.data(), count, 0.25f * voxel_,
                  sx_.data(), sy_.data(), sz_.data());
  // Two trials each: on the tool, and on the edge where the tool leaves the old surface, by both
  // tangent planes.
  trial_.count = 0;
  const int first_edge = most;
  int edges = 0;
  for (int i = 0; i < count; ++i) {
    const int n = from_[i];
    const Face& f = faces_[n];
    const float old = engaged.old[f.voxel], swept = engaged.swept[f.voxel];
    const float norm = std::sqrt(sx_[i] * sx_[i] + sy_[i] * sy_[i] + sz_[i] * sz_[i]);
    if (!(norm > 0.1f)) continue;
    const float ox = sx_[i] / norm, oy = sy_[i] / norm, oz = sz_[i] / norm;
    const float across = f.ux * ox + f.uy * oy + f.uz * oz;
    const float px = f.x - swept * ox, py = f.y - swept * oy, pz = f.z - swept * oz;
    // Outside a rim the nearest face's plane runs on past the rim: of the tool's, the point is not
    // on the tool there, of the stock's, not in it.
    if ((old <= 0 || f.one_face) && (old < -1.6f * voxel_ || old - swept * across <= -skin) &&
        (old <= 0 || between(frame, stored, px, py, pz) < 0)) {
      from_[most + trial_.count] = swept > 0;
      trial_.add(px, py, pz);
    }
    if ((engaged.what[f.voxel] & engaged_near_old) == 0 || !f.one_face) continue;
    const float det = 1 - across * across;
    if (det < 0.05f) continue;
    const float a = (-old + across * swept) / det, b = (-swept + across * old) / det;
    const float ex = a * f.ux + b * ox, ey = a * f.uy + b * oy, ez = a * f.uz + b * oz;
    if (!(ex * ex + ey * ey + ez * ez < 2.25f * voxel_ * voxel_)) continue;
    trial_.x[first_edge + edges] = f.x + ex;
    trial_.y[first_edge + edges] = f.y + ey;
    trial_.z[first_edge + edges++] = f.z + ez;
  }
  kernels_.points(local, trial_.x.data(), trial_.y.data(), trial_.z.data(), trial_.count,
                  value_.data());
  for (int i = 0; i < trial_.count; ++i) {
    if (from_[most + i] != 0 && !(std::abs(value_[i]) < skin)) continue;
    found_.add(trial_.x[i], trial_.y[i], trial_.z[i]);
  }
  const float *ex = trial_.x.data() + first_edge, *ey = trial_.y.data() + first_edge,
              *ez = trial_.z.data() + first_edge;
  kernels_.points(local, ex, ey, ez, edges, value_.data());
  for (int i = 0; i < edges; ++i) {
    // Planes are only a guess at the faces: both must really pass there.
    if (!(std::abs(value_[i]) < skin)) continue;
    if (std::abs(between(frame, stored, ex[i], ey[i], ez[i])) < 0.1f * voxel_) {
      found_.add(ex[i], ey[i], ez[i]);
    }
  }
}

// How far from a voxel the points it stands for can be.
float EngagementSampler::away_of(const EngagedVoxels& engaged, int n) const {
  const bool near_old = (engaged.what[n] & engaged_near_old) != 0,
             near_tool = (engaged.what[n] & engaged_near_tool) != 0;
  if (near_old && near_tool) return 1.5f * voxel_;
  return std::abs(near_old ? engaged.old[n] : engaged.swept[n]) + 0.01f * voxel_;
}

// Whether points as near to a voxel as away can add nothing: its own first touch lies within
// what has been gathered by more than that, to first order.
bool EngagementSampler::adds_nothing(const LocalSegmentTotals& at, const Profile& p, float away,
                                     int touch) const {
  const float height = height_[touch], left = left_[touch], bearing = bearing_[touch];
  if (height - away < at.height_min || height + away > at.height_max || left - away < at.left_min ||
      left + away > at.left_max || (areas_ && !at.holds({place_[touch], turn_[touch]}, away))) {
    return false;
  }
  // left / bearing = |left| + ahead; ahead changes with left and with the radius at this height.
  const float sum = std::abs(bearing) > 0.01f ? left / bearing : p.largest_radius;
  const float ahead = std::max(sum - std::abs(left), away);
  const float widening = p.shape == ProfileShape::sharp     ? 0.f
                         : p.shape == ProfileShape::rounded ? std::max(p.corner - height, 0.f)
                                                            : p.largest_radius;
  const float turn = away * (2 + (std::abs(left) + widening) / ahead) / sum;
  const int bin = static_cast<int>(bearing * 32.f + 32.f);
  const std::uint64_t bins = bin < 1    ? 3
                             : bin > 62 ? std::uint64_t{3} << 62
                                        : std::uint64_t{7} << (bin - 1);
  return std::max(bearing - turn, -1.f) >= at.bearing_min &&
         std::min(bearing + turn, 1.f) <= at.bearing_max && (at.arc & bins) == bins;
}

bool EngagementSampler::settled(const Sweep& sweep, const EngagedVoxels& engaged, int n,
                                int touch) const {
  const float away = away_of(engaged, n);
  const auto within = [&](float along) {
    return adds_nothing(gathered_[segment_at(along, sweep)], *sweep.profile, away, touch);
  };
  return within(along_[touch] - away) && (segments_ == 1 || within(along_[touch] + away));
}

// Every eighth voxel beside a face, then of the others those that may add to what these gave.
void EngagementSampler::choose_faces(const Sweep& sweep, const LocalSweep& local,
                                     const TileFrame& frame, const Vec3& centre,
                                     const float* stored, const EngagedVoxels& engaged) {
  int count = 0, rest = 0;
  for (int n = 0; n < engaged.count; ++n)
    rest_[count] = static_cast<std::uint16_t>(n), count += engaged.what[n] >> 1 & 1;
  constexpr int few = 48;
  if (count <= few || plunging_) {
    std::copy_n(rest_.begin(), count, chosen_.begin());
    chosen_count_ = count;
    return face_points(sweep, local, frame, centre, stored, engaged);
  }
  chosen_count_ = 0;
  for (int c = 0; c < count; ++c) {
    if (c % 8 == 0)
      chosen_[chosen_count_++] = rest_[c];
    else
      rest_[rest++] = rest_[c];
  }
  face_points(sweep, local, frame, centre, stored, engaged);
  trial_.count = 0;
  for (int c = 0; c < rest; ++c) trial_.add(x_[rest_[c]], y_[rest_[c]], z_[rest_[c]]);
  touch(sweep, local, centre, trial_);
  chosen_count_ = 0;
  for (int c = 0; c < rest; ++c) {
    if (!settled(sweep, engaged, rest_[c], c)) chosen_[chosen_count_++] = rest_[c];
  }
  face_points(sweep, local, frame, centre, stored, engaged);
}

void EngagementSampler::face_points(const Sweep& sweep, const LocalSweep& local,
                                    const TileFrame& frame, const Vec3& centre, const float* stored,
                                    const EngagedVoxels& engaged) {
  if (chosen_count_ == 0) return;
  slopes(frame, stored, engaged);
  found_.count = 0;
  points_on_stock(local, frame, stored, engaged);
  points_on_tool(local, frame, stored, engaged);
  if (found_.count == 0) return;
  touch(sweep, local, centre, found_);
  add_touches(sweep, found_.count);
}

void EngagementSampler::gather(const Sweep& sweep, const LocalSweep& local, const TileFrame& frame,
                               const Vec3& centre, const float* stored,
                               const EngagedVoxels& engaged) {
  const nc::Motion& m = *sweep.motion;
  plunging_ = sweep.kind != SweepKind::level_arc && sweep.kind != SweepKind::table &&
              local.run < 1e-9f && m.kind != nc::PathKind::arc;
  place(frame, engaged);
  own_points(sweep, local, centre, engaged);
  choose_faces(sweep, local, frame, centre, stored, engaged);
}

}  // namespace proveout::stock
