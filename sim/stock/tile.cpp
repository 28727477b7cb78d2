#include "sim/stock/tile.h"

#include <algorithm>
#include <cmath>

#include "parser/base/assert.h"

namespace proveout::stock {
namespace {

using openvdb::Coord;

// Half the diagonal of the box through the tile's outermost samples, in voxels.
constexpr float tile_half_diagonal = 26.8468f;  // 15.5 * sqrt(3), rounded up

constexpr int account_cells = EngagedVoxels::cells_at_once;

// Length of motions in voxels: those shorter in plan are taken one by one; below the others, in
// space, a chain's volume is attributed finer (AttributionDetail).
constexpr float shortest_chained = 1, fine_below = 4, middle_below = 8;

// Of the voxels beside faces so many sevenths sample engagement: all at 16 voxels a radius, fewer
// where the grid is finer, so that the tool's surface is sampled as densely at any voxel size.
int sevenths_for(float radius_voxels) {
  const float share = 16.f / std::max(radius_voxels, 16.f);
  return static_cast<int>(std::ceil(7 * share * share));
}

Coord block_corner(int b) { return Coord((b & 3) * 8, (b >> 2 & 3) * 8, (b >> 4) * 8); }

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

void decide_if_chained(MotionSweeps& m, double voxel) {
  const SweepKind kind = m.flutes.kind;
  const bool straight =
      kind == SweepKind::level_line || kind == SweepKind::ball_ramp || kind == SweepKind::ramp;
  const Vec3 step = m.flutes.motion->end - m.flutes.motion->start;
  const Eigen::Vector2d plan(step.x(), step.y());
  m.chains = straight && m.segments == 1 && plan.norm() > shortest_chained * voxel;
  if (m.chains) m.heading = plan.normalized().cast<float>();
}

Tile::Tile(ReplayShared& shared)
    : shared_(shared),
      kernels_(kernels()),
      voxel_(static_cast<float>(shared.fields.voxel)),
      band_(shared.fields.band()),
      mm_a_step_(shared.fields.mm_a_step()),
      in_steps_(shared.fields.rounding()),
      chain_(ChainWork::most_motions),
      owner_(cells * cell_voxels),
      distance_(std::make_unique<Field>()),
      swept_(std::make_unique<Field>()),
      made_by_(cells * cell_voxels),
      engaged_(std::make_unique<EngagedVoxels>()),
      attribution_(std::make_unique<VolumeAttribution>()),
      sampler_(std::make_unique<EngagementSampler>(voxel_, shared.areas)) {
  frame_.voxel = voxel_;
  frame_.mm_a_step = mm_a_step_;
  frame_.steps_a_mm = in_steps_.steps_a_mm;
  frame_.aligned = shared.orientation.aligned;
  if (!frame_.aligned) {
    for (int i = 0; i < 9; ++i) {
      frame_.turn[i] =
          static_cast<float>(shared.orientation.setup_from_stock.linear()(i / 3, i % 3));
    }
  }
  origin_ = Coord(0);
  for (int i = 0; i < block_voxels; ++i) {
    const Coord at = stock_index(tile_x(i), tile_y(i), tile_z(i));
    leaf_offset_[i] =
        static_cast<std::uint16_t>((at.x() & 7) << 6 | (at.y() & 7) << 3 | (at.z() & 7));
  }
}

Coord Tile::stock_index(int x, int y, int z) const {
  const std::array<int, 3> local{x, y, z};
  Coord index;
  for (int k = 0; k < 3; ++k) {
    const int axis = shared_.orientation.stock_axis[k];
    index[axis] =
        origin_[axis] + (shared_.orientation.direction[k] > 0 ? local[k] : edge - 1 - local[k]);
  }
  return index;
}

void Tile::load(const Coord& origin) {
  origin_ = origin;
  centre_ = shared_.orientation.setup_from_stock * shared_.fields.corner(origin.offsetBy(edge / 2));
  any_change_ = false;
  changed_.fill(false);
  {
    const std::lock_guard lock(shared_.tree);
    auto& tree = shared_.fields.steps->tree();
    auto& ids = shared_.fields.provenance->tree();
    for (int b = 0; b < blocks; ++b) {
      const Coord low = block_corner(b);
      const Coord corner = stock_index(low.x(), low.y(), low.z()) & ~7;
      Sources& source = sources_[b];
      source.leaf = tree.probeLeaf(corner);
      if (source.leaf == nullptr)
        source.constant = mm_a_step_ * static_cast<float>(tree.getValue(corner));
      source.ids = ids.probeLeaf(corner);
      source.id_constant = source.ids == nullptr ? ids.getValue(corner) : 0;
    }
  }
  const bool empty = std::all_of(sources_.begin(), sources_.end(), [&](const Sources& s) {
    return s.leaf == nullptr && s.constant >= band_;
  });
  if (empty) {
    least_ = band_;
    return;
  }
  for (int b = 0; b < blocks; ++b) {
    const Sources& source = sources_[b];
    float* to = distance_->value.data() + b * block_voxels;
    std::int32_t* made = made_by_.data() + b * block_voxels;
    if (source.leaf == nullptr) {
      std::fill_n(to, block_voxels, source.constant);
    } else {
      const std::int16_t* from = source.leaf->buffer().data();
      for (int i = 0; i < block_voxels; ++i)
        to[i] = mm_a_step_ * static_cast<float>(from[leaf_offset_[i]]);
    }
    if (source.ids == nullptr) {
      std::fill_n(made, block_voxels, source.id_constant);
    } else {
      const openvdb::Int32* from = source.ids->buffer().data();
      for (int i = 0; i < block_voxels; ++i) made[i] = from[leaf_offset_[i]];
    }
    kernels_.bound(frame_, distance_->value.data(), 8 * b, 8, bounds_);
  }
  update_bounds();
}

void Tile::update_bounds() {
  least_ = band_;
  for (int b = 0; b < blocks; ++b) {
    const float* cell = bounds_.least + 8 * b;
    bounds_.block_least[b] = *std::min_element(cell, cell + 8);
    least_ = std::min(least_, bounds_.block_least[b]);
  }
}

// Writes a block's distances into its leaf; a leaf not yet in the tree goes there with the others.
void Tile::store_block(int b) {
  const Coord low = block_corner(b);
  const Coord corner = stock_index(low.x(), low.y(), low.z()) & ~7;
  const bool air = bounds_.block_least[b] >= band_;
  StoredBlock& block = stored_.emplace_back();
  block.corner = corner;
  block.air = block.one_number = air;
  if (air) return;
  Leaf* leaf = sources_[b].leaf;
  if (leaf == nullptr) {
    block.leaf = std::make_unique<Leaf>(corner, Stock::Fields::band_steps, false);
    leaf = block.leaf.get();
  }
  std::int16_t* values = leaf->buffer().data();
  const float* from = distance_->value.data() + b * block_voxels;
  std::array<std::uint64_t, 8> near{};
  for (int i = 0; i < block_voxels; ++i) {
    const int at = leaf_offset_[i];
    values[at] = in_steps_(from[i]);
    near[at >> 6] |= static_cast<std::uint64_t>(std::abs(values[at]) < Stock::Fields::band_steps)
                     << (at & 63);
  }
  for (openvdb::Index w = 0; w < 8; ++w) {
    leaf->getValueMask().getWord<openvdb::Index64>(w) = near[w];
  }
  store_numbers(b, block);
}

// Who made the surface in a block. Mostly that is one motion: then a single number stands for all
// its voxels, also for those away from the surface, of which nobody asks. Where it is several,
// those have none: what they held hangs on how the cut was divided, which the bytes of a stock must
// not.
void Tile::store_numbers(int b, StoredBlock& block) {
  const float* distance = distance_->value.data() + b * block_voxels;
  const std::int32_t* made = made_by_.data() + b * block_voxels;
  int first = 0;
  while (first < block_voxels && std::abs(distance[first]) >= band_) ++first;
  block.one_number = true;
  for (int i = first; i < block_voxels && block.one_number; ++i) {
    block.one_number = std::abs(distance[i]) >= band_ || made[i] == made[first];
  }
  if (block.one_number) {
    block.number = first < block_voxels ? made[first] : 0;
    return;
  }
  IdLeaf* ids = sources_[b].ids;
  if (ids == nullptr) {
    block.ids = std::make_unique<IdLeaf>(block.corner, 0, false);
    ids = block.ids.get();
  }
  openvdb::Int32* numbers = ids->buffer().data();
  std::array<std::uint64_t, 8> numbered{};
  for (int i = 0; i < block_voxels; ++i) {
    const int at = leaf_offset_[i];
    numbers[at] = std::abs(distance[i]) < band_ ? made[i] : 0;
    numbered[at >> 6] |= static_cast<std::uint64_t>(numbers[at] != 0) << (at & 63);
  }
  for (openvdb::Index w = 0; w < 8; ++w) {
    ids->getValueMask().getWord<openvdb::Index64>(w) = numbered[w];
  }
}

// All a tile has for the trees goes into them in one go: their lock is taken once, not for every
// block.
void Tile::store() {
  if (!any_change_) return;
  stored_.clear();
  for (int b = 0; b < blocks; ++b) {
    if (changed_[b]) store_block(b);
  }
  const std::lock_guard lock(shared_.tree);
  auto& tree = shared_.fields.steps->tree();
  auto& ids = shared_.fields.provenance->tree();
  for (StoredBlock& block : stored_) {
    if (block.air) tree.addTile(1, block.corner, Stock::Fields::band_steps, false);
    if (block.leaf != nullptr) tree.addLeaf(block.leaf.release());
    if (block.one_number) ids.addTile(1, block.corner, block.number, block.number != 0);
    if (block.ids != nullptr) ids.addLeaf(block.ids.release());
  }
}

// Whether the sweep comes within the tile's reach of bound.
bool Tile::reaches(const LocalSweep& sweep, float bound) const {
  alignas(64) const float zero[kernel_lanes] = {};
  alignas(64) float at_centre[kernel_lanes];
  kernels_.points(sweep, zero, zero, zero, 1, at_centre);
  return at_centre[0] - tile_half_diagonal * voxel_ < bound;
}

void Tile::cut(const MotionSweeps& m) {
  localise(m.flutes, centre_, shared_.fields.voxel, local_);
  if (least_ >= band_ || !reaches(local_, -least_)) return;
  const float no_cap = 1e30f;
  const int listed = kernels_.candidates(local_, frame_, bounds_, band_, no_cap, listed_.data(),
                                         at_middle_.data());
  distances_ += static_cast<std::uint64_t>(listed) * cell_voxels;
  float* stored = distance_->value.data();
  const float* swept = swept_->value.data();
  const int won = kernels_.evaluate(local_, frame_, listed_.data(), at_middle_.data(), listed,
                                    stored, band_, swept_->value.data(), winners_.data());
  PROVEOUT_ASSERT(0 <= won && won <= listed && listed <= cells, won, listed);
  if (won == 0) return;
  any_change_ = true;
  // First everything is measured on the stock before this motion, then the motion is written.
  sampler_->begin(m.segments);
  const bool several = m.segments > 1;
  std::int64_t volume = 0;
  for (int from = 0; from < won; from += account_cells) {
    const int count = std::min(account_cells, won - from);
    engaged_->count = 0;
    volume += kernels_.account(frame_, winners_.data() + from, count, stored,
                               swept + from * cell_voxels, band_, several,
                               sevenths_for(m.flutes.profile->largest_radius / voxel_), *engaged_);
    if (engaged_->count != 0)
      sampler_->gather(m.flutes, local_, frame_, centre_, stored, *engaged_);
  }
  if (!several && volume != 0) sampler_->add_volume(volume);
  sampler_->end([&](std::uint32_t s, const LocalSegmentTotals& some) {
    shared_.segments.add(m.first_segment + s, some);
  });
  kernels_.write(frame_, winners_.data(), won, swept, band_, static_cast<std::int32_t>(m.id),
                 stored, made_by_.data(), bounds_);
  for (int n = 0; n < won; ++n) {
    const int b = winners_[n] >> 3;
    changed_[b] = true;
    const float* cell = bounds_.least + 8 * b;
    bounds_.block_least[b] = *std::min_element(cell, cell + 8);
  }
}

// How many entries from the first on make a chain: short straight motions of one body and kind,
// each going on in about the direction of the first.
int Tile::chain_length(std::span<const std::uint32_t> entries) const {
  const MotionSweeps& first = shared_.motions[entries[0] >> 1];
  if (!first.chains) return 1;
  const ProfileShape shape = first.flutes.profile->shape;
  const bool any_kind =  // one formula for level and ramp
      shape == ProfileShape::sharp ||
      (shape == ProfileShape::rounded && first.flutes.profile->core == 0);
  int length = 1;
  for (; length < ChainWork::most_motions && length < static_cast<int>(entries.size()); ++length) {
    if ((entries[length] & 1) != 0) break;
    const MotionSweeps& m = shared_.motions[entries[length] >> 1];
    if (m.body != first.body || !m.chains || (!any_kind && m.flutes.kind != first.flutes.kind))
      break;
    if (m.heading.dot(first.heading) < 0.5f) break;
  }
  return length;
}

void Tile::cut_chain(int motions) {
  // Motions that reach the tile, in the form their common kernel takes.
  int count = 0;
  for (int n = 0; n < motions; ++n) {
    const MotionSweeps& m = *chained_[n];
    LocalSweep& local = chain_[count];
    localise(m.flutes, centre_, shared_.fields.voxel, local);
    if (m.flutes.profile->shape == ProfileShape::sharp)
      local.kind = SweepKind::ramp;
    else if (m.flutes.profile->shape == ProfileShape::rounded && m.flutes.profile->core == 0) {
      local.kind = SweepKind::ball_ramp;
    }
    PROVEOUT_ASSERT(local.kind != SweepKind::level_arc && local.kind != SweepKind::table,
                    static_cast<int>(local.kind));  // chain kernels know no curves
    if (reaches(local, -least_)) chained_[count++] = &m;
  }
  if (count == 0) return;
  work_.swept = swept_->value.data();
  work_.owner = owner_.data();
  work_.evaluated = 0;
  float* stored = distance_->value.data();
  const int won = kernels_.chain(chain_.data(), count, frame_, bounds_, band_, stored, work_);
  distances_ += work_.evaluated * cell_voxels;
  if (won == 0) return;
  any_change_ = true;
  sampler_->begin(static_cast<std::uint32_t>(count));
  // The shorter the motions, the finer volume must be attributed.
  float shortest = 1e30f;
  for (int n = 0; n < count; ++n) shortest = std::min(shortest, chain_[n].length);
  const AttributionDetail detail = shortest < fine_below * voxel_     ? AttributionDetail::fine
                                   : shortest < middle_below * voxel_ ? AttributionDetail::middle
                                                                      : AttributionDetail::coarse;
  const int sevenths = sevenths_for(chain_[0].profile->largest_radius / voxel_);
  engaged_->count = 0;
  attribution_->count = 0;
  attribution_->whole.fill(0);
  for (int from = 0; from < won; from += account_cells) {
    kernels_.account_chain(chain_.data(), count, frame_, work_, from,
                           std::min(account_cells, won - from), stored, band_, sevenths, detail,
                           *engaged_, *attribution_);
    PROVEOUT_ASSERT(std::max(engaged_->count, attribution_->count) <= EngagedVoxels::most,
                    engaged_->count, attribution_->count);
    // Many together: a motion's own few points fill no register.
    const bool room = std::max(engaged_->count, attribution_->count) <= EngagedVoxels::most / 2;
    if (room && from + account_cells < won) continue;
    if (attribution_->count != 0 || engaged_->count != 0) {
      sampler_->gather_chain({chain_.data(), static_cast<std::size_t>(count)}, frame_, stored,
                             *engaged_, *attribution_);
    }
    engaged_->count = 0;
    attribution_->count = 0;
  }
  sampler_->add_whole(*attribution_);
  sampler_->end([&](std::uint32_t s, const LocalSegmentTotals& some) {
    shared_.segments.add(chained_[s]->first_segment, some);
  });
  // Numbers of a tile's motions need not follow each other, but mostly do.
  const auto first_id = static_cast<std::int32_t>(chained_[0]->id);
  bool in_a_row = true;
  for (int n = 1; n < count; ++n) in_a_row = in_a_row && chained_[n]->id == chained_[0]->id + n;
  if (!in_a_row) {
    for (int i = 0; i < won * cell_voxels; ++i) {
      if (owner_[i] >= 0) owner_[i] = static_cast<std::int32_t>(chained_[owner_[i]]->id);
    }
  }
  kernels_.write_chain(frame_, work_, won, band_, in_a_row ? first_id : 0, stored, made_by_.data(),
                       bounds_);
  for (int n = 0; n < won; ++n) changed_[work_.winners[n] >> 3] = true;
  update_bounds();
}

void Tile::touch(const MotionSweeps& m, std::size_t index) {
  DeepestContact found;
  for (std::size_t k = 0; k < m.body->others.size(); ++k) {
    DeepestPlace& deepest = m.body->roles[k] == solid::Role::holder ? found.holder : found.shank;
    deepest = std::max(deepest, deepest_of(make_sweep(*m.flutes.motion, m.body->others[k])));
  }
  if (found.shank.depth_rank == 0 && found.holder.depth_rank == 0) return;
  const std::lock_guard lock(shared_.contact);
  PROVEOUT_ASSERT(index < shared_.contacts.size(), index, shared_.contacts.size());
  shared_.contacts[index].add(found);
}

// Where in this tile a body goes deepest into the stock.
DeepestPlace Tile::deepest_of(const Sweep& sweep) {
  DeepestPlace deepest;
  const float half = 0.5f * voxel_;
  localise(sweep, centre_, shared_.fields.voxel, local_);
  if (!reaches(local_, half)) return deepest;
  // Only where sweep and stock overlap: sweep < -stored.
  const int listed =
      kernels_.candidates(local_, frame_, bounds_, half, half, listed_.data(), at_middle_.data());
  const float no_band = 1e30f;
  distances_ += static_cast<std::uint64_t>(listed) * cell_voxels;
  const int won =
      kernels_.evaluate(local_, frame_, listed_.data(), at_middle_.data(), listed,
                        distance_->value.data(), no_band, swept_->value.data(), winners_.data());
  for (int n = 0; n < won; ++n) {
    for (int i = 0; i < cell_voxels; ++i) {
      const int at = winners_[n] * cell_voxels + i;
      const float stored = distance_->value[at], swept = swept_->value[n * cell_voxels + i];
      const float overlap = -stored - swept;
      if (!(overlap > 0) || swept > half || stored > half) continue;
      const auto rank =
          1 + static_cast<std::uint32_t>(overlap / voxel_ * DeepestPlace::steps_a_voxel);
      if (rank < deepest.depth_rank) continue;
      const Coord place = stock_index(tile_x(at), tile_y(at), tile_z(at));
      deepest = std::max(deepest, DeepestPlace{rank, place.x(), place.y(), place.z()});
    }
  }
  return deepest;
}

void Tile::replay(const Coord& origin, std::span<const std::span<const std::uint32_t>> bins) {
  load(origin);
  if (least_ >= band_) return;
  distances_ = 0;
  for (const std::span<const std::uint32_t> bin : bins) {
    for (std::size_t at = 0; at < bin.size() && least_ < band_;) {
      // The lowest bit is the body: 0 the flutes, 1 shank and holder.
      PROVEOUT_ASSERT(bin[at] >> 1 < shared_.motions.size(), bin[at], shared_.motions.size());
      const MotionSweeps& m = shared_.motions[bin[at] >> 1];
      if ((bin[at] & 1) != 0) {
        touch(m, bin[at++] >> 1);
        continue;
      }
      const int length = chain_length(bin.subspan(at));
      if (length == 1) {
        cut(m);
      } else {
        for (int n = 0; n < length; ++n) chained_[n] = &shared_.motions[bin[at + n] >> 1];
        cut_chain(length);
      }
      at += length;
    }
    update_bounds();
  }
  store();
  shared_.distances.fetch_add(distances_, std::memory_order_relaxed);
}

}  // namespace proveout::stock
