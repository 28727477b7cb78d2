#include "sim/stock/tile.h"

#include <algorithm>
#include <cmath>

namespace proveout::stock {
namespace {

using openvdb::Coord;

// Half the diagonal of the box through the outermost samples, in voxels.
constexpr float block_half_diagonal = 6.0622f;   // 3.5 * sqrt(3), rounded up
constexpr float tile_half_diagonal = 26.8468f;   // 15.5 * sqrt(3), rounded up

}  // namespace

Orientation orientation_of(const RigidMotion& stock_from_setup) {
  Orientation o;
  o.setup_from_stock = stock_from_setup.inverse();
  for (int k = 0; k < 3; ++k) {
    // Row k of setup_from_stock: setup axis k seen in stock axes.
    const Vec3 row = o.setup_from_stock.linear().row(k).transpose();
    int axis = 0;
    row.cwiseAbs().maxCoeff(&axis);
    o.stock_axis[k] = axis;
    o.direction[k] = row[axis] > 0 ? 1 : -1;
    Vec3 exact = Vec3::Zero();
    exact[axis] = o.direction[k];
    if ((row - exact).norm() > 1e-9) o.aligned = false;
  }
  if (!o.aligned) {
    o.stock_axis = {0, 1, 2};
    o.direction = {1, 1, 1};
  }
  return o;
}

Tile::Tile(ReplayShared& shared)
    : shared_(shared),
      kernels_(kernels()),
      occupancy_(shared.fields.voxel),
      voxel_(static_cast<float>(shared.fields.voxel)),
      band_(static_cast<float>(shared.fields.voxel * Stock::Fields::band_voxels)),
      distance_(blocks),
      made_by_(blocks),
      swept_(blocks) {
  if (!shared.orientation.aligned) setup_from_tile_ = shared.orientation.setup_from_stock.linear();
}

Coord Tile::stock_index(int x, int y, int z) const {
  const std::array<int, 3> local{x, y, z};
  Coord index;
  for (int k = 0; k < 3; ++k) {
    const int axis = shared_.orientation.stock_axis[k];
    index[axis] = origin_[axis] +
                  (shared_.orientation.direction[k] > 0 ? local[k] : edge - 1 - local[k]);
  }
  return index;
}

void Tile::place(const Coord& origin) {
  origin_ = origin;
  const Coord first = stock_index(0, 0, 0);
  const double h = shared_.fields.voxel;
  first_ = shared_.orientation.setup_from_stock *
           Vec3((first.x() + 0.5) * h, (first.y() + 0.5) * h, (first.z() + 0.5) * h);
  centre_ = first_ + setup_from_tile_ * Vec3::Constant(15.5 * h);
}

Vec3 Tile::setup_point(int x, int y, int z) const {
  const double h = shared_.fields.voxel;
  if (shared_.orientation.aligned) return first_ + Vec3(x * h, y * h, z * h);
  return first_ + setup_from_tile_ * Vec3(x * h, y * h, z * h);
}

void Tile::load(const Coord& origin) {
  place(origin);
  loaded_ = true;
  any_change_ = false;
  all_outside_ = true;
  struct Source {
    const float* values = nullptr;
    const openvdb::Int32* ids = nullptr;
    float constant = 0;
  };
  std::array<Source, blocks> sources;
  {
    const std::lock_guard lock(shared_.tree);
    auto& tree = shared_.fields.distance->tree();
    auto& ids = shared_.fields.provenance->tree();
    for (int b = 0; b < blocks; ++b) {
      const Coord corner = stock_index((b & 3) * 8, (b >> 2 & 3) * 8, (b >> 4) * 8) & ~7;
      if (const auto* leaf = tree.probeConstLeaf(corner)) {
        sources[b].values = leaf->buffer().data();
      } else {
        sources[b].constant = tree.getValue(corner);
      }
      if (const auto* leaf = ids.probeConstLeaf(corner)) sources[b].ids = leaf->buffer().data();
    }
  }
  for (int b = 0; b < blocks; ++b) {
    Block& block = state_[b];
    block.changed = false;
    float* to = distance_[b].data();
    std::int32_t* made = made_by_[b].data();
    if (sources[b].values == nullptr) {
      std::fill_n(to, block_voxels, sources[b].constant);
      block.least = block.most = sources[b].constant;
    }
    if (sources[b].ids == nullptr) std::fill_n(made, block_voxels, 0);
    if (sources[b].values != nullptr || sources[b].ids != nullptr) {
      const int bx = (b & 3) * 8, by = (b >> 2 & 3) * 8, bz = (b >> 4) * 8;
      for (int i = 0; i < block_voxels; ++i) {
        const Coord at = stock_index(bx + (i & 7), by + (i >> 3 & 7), bz + (i >> 6));
        const int leaf_offset = (at.x() & 7) << 6 | (at.y() & 7) << 3 | (at.z() & 7);
        if (sources[b].values != nullptr) to[i] = sources[b].values[leaf_offset];
        if (sources[b].ids != nullptr) made[i] = sources[b].ids[leaf_offset];
      }
      if (sources[b].values != nullptr) {
        const auto [least, most] = std::minmax_element(to, to + block_voxels);
        block.least = *least;
        block.most = *most;
      }
    }
    if (block.least < band_) all_outside_ = false;
  }
}

void Tile::store() {
  if (!any_change_) return;
  using Leaf = openvdb::FloatTree::LeafNodeType;
  using IdLeaf = openvdb::Int32Tree::LeafNodeType;
  for (int b = 0; b < blocks; ++b) {
    if (!state_[b].changed) continue;
    const int bx = (b & 3) * 8, by = (b >> 2 & 3) * 8, bz = (b >> 4) * 8;
    const Coord corner = stock_index(bx, by, bz) & ~7;
    const bool outside = state_[b].least >= band_;
    auto leaf = std::make_unique<Leaf>(corner, band_, false);
    auto ids = std::make_unique<IdLeaf>(corner, 0, false);
    if (!outside) {
      for (int i = 0; i < block_voxels; ++i) {
        const Coord at = stock_index(bx + (i & 7), by + (i >> 3 & 7), bz + (i >> 6));
        const int offset = (at.x() & 7) << 6 | (at.y() & 7) << 3 | (at.z() & 7);
        const float d = distance_[b][i];
        leaf->setValueOnly(offset, d);
        if (std::abs(d) < band_) leaf->setActiveState(offset, true);
        if (made_by_[b][i] != 0) ids->setValueOn(offset, made_by_[b][i]);
      }
    }
    const std::lock_guard lock(shared_.tree);
    auto& tree = shared_.fields.distance->tree();
    auto& id_tree = shared_.fields.provenance->tree();
    if (outside) {
      tree.addTile(1, corner, band_, false);
      id_tree.addTile(1, corner, 0, false);
    } else {
      tree.addLeaf(leaf.release());
      id_tree.addLeaf(ids.release());
    }
  }
}

void Tile::distances(int b, float* out) const {
  const int bx = (b & 3) * 8, by = (b >> 2 & 3) * 8, bz = (b >> 4) * 8;
  if (shared_.orientation.aligned) {
    float x[64], y[64], z[8];
    for (int c = 0; c < 64; ++c) {
      x[c] = (static_cast<float>(bx + (c & 7)) - 15.5f) * voxel_;
      y[c] = (static_cast<float>(by + (c >> 3)) - 15.5f) * voxel_;
    }
    for (int k = 0; k < 8; ++k) z[k] = (static_cast<float>(bz + k) - 15.5f) * voxel_;
    kernels_.columns(local_, x, y, 64, z, 8, out);
    return;
  }
  float x[block_voxels], y[block_voxels], z[block_voxels];
  for (int i = 0; i < block_voxels; ++i) {
    const Vec3 p = setup_point(bx + (i & 7), by + (i >> 3 & 7), bz + (i >> 6)) - centre_;
    x[i] = static_cast<float>(p.x());
    y[i] = static_cast<float>(p.y());
    z[i] = static_cast<float>(p.z());
  }
  kernels_.points(local_, x, y, z, block_voxels, out);
}

// Fills centre_distance_ for all blocks; false where the whole tile is out of the sweep's reach.
bool Tile::reaches(const LocalSweep& sweep, float margin, const float**) {
  const float zero = 0;
  float at_centre = 0;
  kernels_.points(sweep, &zero, &zero, &zero, 1, &at_centre);
  if (at_centre > margin + tile_half_diagonal * voxel_) return false;
  if (shared_.orientation.aligned) {
    float x[16], y[16], z[4];
    for (int c = 0; c < 16; ++c) {
      x[c] = (static_cast<float>((c & 3) * 8) + 3.5f - 15.5f) * voxel_;
      y[c] = (static_cast<float>((c >> 2) * 8) + 3.5f - 15.5f) * voxel_;
    }
    for (int k = 0; k < 4; ++k) z[k] = (static_cast<float>(k * 8) + 3.5f - 15.5f) * voxel_;
    kernels_.columns(sweep, x, y, 16, z, 4, centre_distance_.data());
  } else {
    float x[blocks], y[blocks], z[blocks];
    for (int b = 0; b < blocks; ++b) {
      const double h = shared_.fields.voxel;
      const Vec3 p = setup_from_tile_ * Vec3(((b & 3) * 8 + 3.5 - 15.5) * h,
                                             ((b >> 2 & 3) * 8 + 3.5 - 15.5) * h,
                                             ((b >> 4) * 8 + 3.5 - 15.5) * h);
      x[b] = static_cast<float>(p.x());
      y[b] = static_cast<float>(p.y());
      z[b] = static_cast<float>(p.z());
    }
    kernels_.points(sweep, x, y, z, blocks, centre_distance_.data());
  }
  return true;
}

// Gradient of the stored distance, setup frame; one-sided at the tile's faces. Its length is 1 beside
// one face and less across an edge, where no one direction leads to the surface.
Vec3 Tile::gradient(int x, int y, int z) const {
  const auto slope = [&](int dx, int dy, int dz, int at) {
    const int back = at > 0 ? 1 : 0, ahead = at < edge - 1 ? 1 : 0;
    return (value(x + ahead * dx, y + ahead * dy, z + ahead * dz) -
            value(x - back * dx, y - back * dy, z - back * dz)) /
           static_cast<float>(back + ahead);
  };
  const Vec3 g(slope(1, 0, 0, x), slope(0, 1, 0, y), slope(0, 0, 1, z));
  return setup_from_tile_ * (g / voxel_);
}

void Tile::point(const MotionSweeps& m, int x, int y, int z, float old, float swept, float taken) {
  const Vec3 p = setup_point(x, y, z);
  const bool near_old = old > -voxel_ && old < 0.5f * voxel_;
  const bool near_tool = swept > -voxel_ && swept < 0.5f * voxel_;
  const bool several = m.stretches > 1;
  std::uint32_t stretch = 0;
  const auto gather = [&](const FirstTouch& t) -> StretchLocal& {
    stretch = 0;
    if (several) {
      const double share = m.flutes.length > 0 ? t.along / m.flutes.length : 0;
      stretch = static_cast<std::uint32_t>(
          std::clamp<double>(std::floor(share * m.stretches), 0, m.stretches - 1));
    }
    if (gathered_[stretch].volume == 0 && gathered_[stretch].arc == 0) {
      gathered_used_.push_back(stretch);
    }
    return gathered_[stretch];
  };
  const bool sparse = ((x | y | z) & 3) == 0;
  // A surface the tool only runs along is not met: what counts lies this deep.
  const float skin = 0.05f * voxel_;
  const bool inside_both = old < -skin && swept < -skin;
  const bool own_point = inside_both && (sparse || (near_old && near_tool));
  FirstTouch own;
  if (several || own_point) own = first_touch(m.flutes, p);
  StretchLocal& at = gather(own);
  at.volume += static_cast<std::int64_t>(static_cast<double>(taken) * Stretch::volume_scale);
  if (own_point) at.add_point(own);
  // What a motion only grazes, by rounding or along a wall it made before, says nothing.
  if ((!near_old && !near_tool) || std::min(-swept, band_) - old < 0.05f * voxel_) return;

  const Vec3 slope = gradient(x, y, z);
  const double steepness = slope.norm();
  const Vec3 uphill = steepness > 0.2 ? Vec3(slope / steepness) : Vec3(Vec3::Zero());
  const bool one_face = steepness > 0.985;
  const auto swept_at = [&](const Vec3& q) {
    const Vec3 local = q - centre_;
    const float lx = static_cast<float>(local.x()), ly = static_cast<float>(local.y()),
                lz = static_cast<float>(local.z());
    float d = 0;
    kernels_.points(local_, &lx, &ly, &lz, 1, &d);
    return d;
  };
  const auto add = [&](const Vec3& q) {
    const FirstTouch t = first_touch(m.flutes, q);
    gather(t).add_point(t);
  };
  if (near_old && steepness > 0.2 && (old <= 0 || one_face)) {
    const Vec3 q = p - old * uphill;
    const bool on_face = old <= 0 || std::abs(between(tile_place(q))) < 0.05f * voxel_;
    if (on_face && swept_at(q) <= -skin) add(q);
  }
  if (!near_tool) return;
  const Vec3 out = swept_slope(p);
  if (out.isZero()) return;
  const Vec3 q = p - swept * out;
  // Outside a rim the nearest face's plane runs on past the rim: there q is not on the tool.
  const bool on_tool = (swept <= 0 || std::abs(swept_at(q)) < skin) && (old <= 0 || one_face);
  if (on_tool && (old < -1.6f * voxel_ || old + uphill.dot(q - p) <= -skin)) add(q);
  if (!near_old || !one_face) return;
  // The edge where the tool's surface leaves the material: both tangent planes at once.
  const double across = uphill.dot(out);
  const double det = 1 - across * across;
  if (det < 0.05) return;
  const double a = (-old + across * swept) / det, b = (-swept + across * old) / det;
  const Vec3 to_edge = a * uphill + b * out;
  if (!(to_edge.norm() < 1.5 * voxel_)) return;
  // Planes are only a guess at the faces: both must really pass there.
  const Vec3 q_edge = p + to_edge;
  if (std::abs(swept_at(q_edge)) < 0.05f * voxel_ &&
      std::abs(between(tile_place(q_edge))) < 0.1f * voxel_) {
    add(q_edge);
  }
}

Vec3 Tile::tile_place(const Vec3& q) const {
  return setup_from_tile_.transpose() * (q - first_) / voxel_;
}

// Stored distance between voxels, at a place in voxels from voxel 0,0,0; clamped to the tile.
float Tile::between(const Vec3& at) const {
  int low[3];
  float share[3];
  for (int k = 0; k < 3; ++k) {
    const double c = std::clamp(at[k], 0.0, edge - 1.001);
    low[k] = static_cast<int>(c);
    share[k] = static_cast<float>(c - low[k]);
  }
  float sum = 0;
  for (int corner = 0; corner < 8; ++corner) {
    const int dx = corner & 1, dy = corner >> 1 & 1, dz = corner >> 2;
    sum += (dx ? share[0] : 1 - share[0]) * (dy ? share[1] : 1 - share[1]) *
           (dz ? share[2] : 1 - share[2]) * value(low[0] + dx, low[1] + dy, low[2] + dz);
  }
  return sum;
}

// Unit slope of the swept distance, setup frame, by central differences of the kernel itself.
Vec3 Tile::swept_slope(const Vec3& p) const {
  const float step = 0.25f * voxel_;
  float px[6], py[6], pz[6], d[6];
  const Vec3 local = p - centre_;
  for (int i = 0; i < 6; ++i) {
    const float side = i & 1 ? -step : step;
    px[i] = static_cast<float>(local.x()) + (i / 2 == 0 ? side : 0);
    py[i] = static_cast<float>(local.y()) + (i / 2 == 1 ? side : 0);
    pz[i] = static_cast<float>(local.z()) + (i / 2 == 2 ? side : 0);
  }
  kernels_.points(local_, px, py, pz, 6, d);
  const Vec3 slope(d[0] - d[1], d[2] - d[3], d[4] - d[5]);
  const double norm = slope.norm();
  return norm > 0.2 * step ? Vec3(slope / norm) : Vec3(Vec3::Zero());
}

void Tile::account(const MotionSweeps& m, int b, const float* swept) {
  const int bx = (b & 3) * 8, by = (b >> 2 & 3) * 8, bz = (b >> 4) * 8;
  const float* stored = distance_[b].data();
  for (int i = 0; i < block_voxels; ++i) {
    const float now = std::min(-swept[i], band_);
    if (!(now > stored[i])) continue;
    const float taken = occupancy_(stored[i]) - occupancy_(now);
    if (taken != 0) {
      point(m, bx + (i & 7), by + (i >> 3 & 7), bz + (i >> 6), stored[i], swept[i], taken);
    }
  }
}

void Tile::cut(const MotionSweeps& m) {
  localise(m.flutes, centre_, shared_.fields.voxel, local_);
  if (!reaches(local_, band_, nullptr)) return;
  const float half = block_half_diagonal * voxel_;
  int changed[blocks];
  int count = 0;
  for (int b = 0; b < blocks; ++b) {
    const Block& block = state_[b];
    if (block.least >= band_) continue;               // nothing left here
    if (centre_distance_[b] - half >= -block.least) continue;  // max() cannot change anything
    float* swept = swept_[count].data();
    const float* stored = distance_[b].data();
    bool any = true;
    if (centre_distance_[b] + half <= -band_) {
      std::fill_n(swept, block_voxels, -band_);
    } else {
      distances(b, swept);
      int wins = 0;
      for (int i = 0; i < block_voxels; ++i) wins += std::min(-swept[i], band_) > stored[i] ? 1 : 0;
      any = wins != 0;
    }
    if (any) changed[count++] = b;
  }
  if (count == 0) return;
  any_change_ = true;
  if (gathered_.size() < m.stretches) gathered_.resize(m.stretches);
  // First everything is measured on the stock before this motion, then the motion is written.
  for (int c = 0; c < count; ++c) account(m, changed[c], swept_[c].data());
  for (std::uint32_t s : gathered_used_) {
    gathered_[s].flush(shared_.stretches[m.first_stretch + s]);
    gathered_[s] = {};
  }
  gathered_used_.clear();
  const auto id = static_cast<std::int32_t>(m.id);
  for (int c = 0; c < count; ++c) {
    Block& block = state_[changed[c]];
    float* stored = distance_[changed[c]].data();
    std::int32_t* made = made_by_[changed[c]].data();
    const float* swept = swept_[c].data();
    float least = band_;
    for (int i = 0; i < block_voxels; ++i) {
      const float now = std::min(-swept[i], band_);
      made[i] = now > stored[i] ? id : made[i];
      stored[i] = now > stored[i] ? now : stored[i];
      least = std::min(least, stored[i]);
    }
    block.least = least;
    block.changed = true;
  }
}

void Tile::touch(const MotionSweeps& m, std::size_t index) {
  ContactCell& cell = shared_.contacts[index];
  float swept[block_voxels];
  for (std::size_t k = 0; k < m.others.size(); ++k) {
    localise(m.others[k], centre_, shared_.fields.voxel, local_);
    if (!reaches(local_, 0, nullptr)) continue;
    const float half = block_half_diagonal * voxel_;
    for (int b = 0; b < blocks; ++b) {
      if (state_[b].least >= 0.5f * voxel_ || centre_distance_[b] - half >= 0.5f * voxel_) continue;
      distances(b, swept);
      for (int i = 0; i < block_voxels; ++i) {
        const float overlap = -distance_[b][i] - swept[i];
        if (!(overlap > 0) || swept[i] > 0.5f * voxel_ || distance_[b][i] > 0.5f * voxel_) continue;
        const Coord at = stock_index((b & 3) * 8 + (i & 7), (b >> 2 & 3) * 8 + (i >> 3 & 7),
                                     (b >> 4) * 8 + (i >> 6));
        const std::uint64_t key = pack_contact(overlap / voxel_, at.x(), at.y(), at.z());
        auto& most = m.other_roles[k] == tool::Role::holder ? cell.holder : cell.shank;
        std::uint64_t seen = most.load(std::memory_order_relaxed);
        while (key > seen && !most.compare_exchange_weak(seen, key, std::memory_order_relaxed)) {
        }
      }
    }
  }
}

void Tile::replay(const Coord& origin, std::span<const std::uint32_t> bin) {
  load(origin);
  if (all_outside_) return;
  for (std::uint32_t entry : bin) {
    // The lowest bit tells the body: 0 the flutes, 1 shank and holder.
    const MotionSweeps& m = shared_.motions[entry >> 1];
    if ((entry & 1) == 0) cut(m);
    else touch(m, entry >> 1);
  }
  store();
}

}  // namespace proveout::stock
