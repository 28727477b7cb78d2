// Stock::cut: motions are binned by the tiles they may change, then every tile replays its own bin.
// max() does not care for order between tiles, and what a motion takes at a voxel depends only on the
// motions before it there, so tiles need nothing of each other.
#include <openvdb/tools/Prune.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <unordered_map>

#include "sim/stock/fields.h"
#include "sim/stock/stock.h"
#include "sim/stock/tile.h"

namespace proveout::stock {
namespace {

using openvdb::Coord;
using openvdb::CoordBBox;

// A batch ends when its bins hold this many entries: bounds memory for programs of any length.
constexpr std::size_t most_entries = 24'000'000;

struct BodyProfiles {
  Profile flutes;
  std::vector<Profile> others;
  std::vector<tool::Role> roles;
};

BodyProfiles profiles_of(const tool::ToolBody& body) {
  BodyProfiles p;
  p.flutes = make_profile(body.flutes);
  for (const auto& b : body.shank) {
    p.others.push_back(make_profile(b));
    p.roles.push_back(tool::Role::shank);
  }
  for (const auto& b : body.holder) {
    p.others.push_back(make_profile(b));
    p.roles.push_back(tool::Role::holder);
  }
  return p;
}

// Tiles of the stock's own box, numbered, each with its bin.
class Bins {
 public:
  Bins(const CoordBBox& box) {
    low_ = Coord(box.min().x() >> 5, box.min().y() >> 5, box.min().z() >> 5);
    high_ = Coord(box.max().x() >> 5, box.max().y() >> 5, box.max().z() >> 5);
    across_ = high_ - low_ + Coord(1);
    bins_.resize(static_cast<std::size_t>(across_.x()) * across_.y() * across_.z());
  }
  // Calls what(tile number) for the tiles the index box meets.
  template <class F>
  void for_tiles(const CoordBBox& box, F what) const {
    const Coord a(std::max(box.min().x() >> 5, low_.x()), std::max(box.min().y() >> 5, low_.y()),
                  std::max(box.min().z() >> 5, low_.z()));
    const Coord b(std::min(box.max().x() >> 5, high_.x()), std::min(box.max().y() >> 5, high_.y()),
                  std::min(box.max().z() >> 5, high_.z()));
    for (int x = a.x(); x <= b.x(); ++x) {
      for (int y = a.y(); y <= b.y(); ++y) {
        for (int z = a.z(); z <= b.z(); ++z) {
          what((static_cast<std::size_t>(x - low_.x()) * across_.y() + (y - low_.y())) * across_.z() +
               (z - low_.z()));
        }
      }
    }
  }
  std::vector<std::uint32_t>& bin(std::size_t tile) { return bins_[tile]; }
  std::size_t count() const { return bins_.size(); }
  Coord origin(std::size_t tile) const {
    const int z = static_cast<int>(tile % across_.z());
    const int y = static_cast<int>(tile / across_.z() % across_.y());
    const int x = static_cast<int>(tile / across_.z() / across_.y());
    return Coord((x + low_.x()) * 32, (y + low_.y()) * 32, (z + low_.z()) * 32);
  }
  void clear() {
    for (auto& b : bins_) b.clear();
  }

 private:
  Coord low_, high_, across_;
  std::vector<std::vector<std::uint32_t>> bins_;
};

CoordBBox index_box(const Box3& setup_box, const RigidMotion& stock_from_setup, double voxel,
                    double margin) {
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    box.extend(stock_from_setup * setup_box.corner(static_cast<Box3::CornerType>(corner)));
  }
  const auto low = [&](double v) {
    return static_cast<int>(std::floor(std::clamp((v - margin) / voxel - 0.5, -1e9, 1e9)));
  };
  const auto high = [&](double v) {
    return static_cast<int>(std::ceil(std::clamp((v + margin) / voxel - 0.5, -1e9, 1e9)));
  };
  return CoordBBox(Coord(low(box.min().x()), low(box.min().y()), low(box.min().z())),
                   Coord(high(box.max().x()), high(box.max().y()), high(box.max().z())));
}

class Cutter {
 public:
  Cutter(Stock::Fields& fields, std::span<const nc::Motion> motions,
         std::span<const ToolUse> tools, const RigidMotion& stock_from_setup, MotionId first_id,
         const CutOptions& options)
      : fields_(fields), motions_(motions), tools_(tools), stock_from_setup_(stock_from_setup),
        first_id_(first_id), options_(options), orientation_(orientation_of(stock_from_setup)) {
    CoordBBox extent = fields.distance->evalActiveVoxelBoundingBox();
    if (extent.empty()) extent = CoordBBox(Coord(0), Coord(0));
    bins_ = std::make_unique<Bins>(extent);
    for (const ToolUse& use : tools_) {
      if (use.body != nullptr && !profiles_.contains(use.body)) {
        profiles_.emplace(use.body, profiles_of(*use.body));
      }
    }
  }

  Cut run() {
    cut_.motions.resize(motions_.size());
    std::size_t next = 0;
    while (next < motions_.size() && !cut_.stopped) next = batch(next);
    openvdb::tools::pruneLevelSet(fields_.distance->tree());
    return std::move(cut_);
  }

 private:
  const tool::ToolBody* body_of(std::size_t i) {
    while (use_ < tools_.size() && i >= tools_[use_].last) ++use_;
    return use_ < tools_.size() && i >= tools_[use_].first ? tools_[use_].body : nullptr;
  }

  // Bins and replays motions from `first` on; returns the first one left.
  std::size_t batch(std::size_t first) {
    bins_->clear();
    sweeps_.clear();
    indices_.clear();
    std::size_t entries = 0, stretches = 0, i = first;
    for (; i < motions_.size() && entries < most_entries && stretches < most_entries / 4; ++i) {
      const tool::ToolBody* body = body_of(i);
      if (body == nullptr) continue;
      entries += add(i, profiles_.at(body), stretches);
    }
    replay(stretches);
    gather();
    done_ = i;
    return i;
  }

  std::size_t add(std::size_t i, const BodyProfiles& p, std::size_t& stretches) {
    MotionSweeps m;
    m.flutes = make_sweep(motions_[i], p.flutes);
    m.id = first_id_ + static_cast<MotionId>(i);
    m.first_stretch = static_cast<std::uint32_t>(stretches);
    m.stretches = static_cast<std::uint32_t>(stretch_count(m.flutes.length, p.flutes.largest_radius));
    const auto number = static_cast<std::uint32_t>(sweeps_.size());
    std::size_t entries = 0;
    const double band = fields_.voxel * Stock::Fields::band_voxels;
    bins_->for_tiles(index_box(m.flutes.box, stock_from_setup_, fields_.voxel, band),
                     [&](std::size_t tile) {
                       bins_->bin(tile).push_back(number << 1);
                       ++entries;
                     });
    if (options_.shank_and_holder) {
      for (std::size_t k = 0; k < p.others.size(); ++k) {
        Sweep sweep = make_sweep(motions_[i], p.others[k]);
        bins_->for_tiles(index_box(sweep.box, stock_from_setup_, fields_.voxel, 0),
                         [&](std::size_t tile) {
                           auto& bin = bins_->bin(tile);
                           if (!bin.empty() && bin.back() == (number << 1 | 1)) return;
                           bin.push_back(number << 1 | 1);
                           ++entries;
                         });
        m.others.push_back(std::move(sweep));
        m.other_roles.push_back(p.roles[k]);
      }
    }
    stretches += m.stretches;
    sweeps_.push_back(std::move(m));
    indices_.push_back(i);
    return entries;
  }

  void replay(std::size_t stretches) {
    stretches_ = std::vector<Stretch>(stretches);
    contacts_ = std::vector<ContactCell>(options_.shank_and_holder ? sweeps_.size() : 0);
    std::vector<std::size_t> order;
    std::size_t all = 0;
    for (std::size_t t = 0; t < bins_->count(); ++t) {
      if (bins_->bin(t).empty()) continue;
      order.push_back(t);
      all += bins_->bin(t).size();
    }
    // Longest bins first, so that the last ones to finish are short.
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return bins_->bin(a).size() > bins_->bin(b).size();
    });
    ReplayShared shared{fields_, orientation_, sweeps_, stretches_, contacts_, {}};
    tbb::enumerable_thread_specific<Tile> tiles([&] { return Tile(shared); });
    std::atomic<std::size_t> finished{0};
    std::atomic<bool> stop{false};
    std::mutex talk;
    const auto one = [&](std::size_t k) {
      if (stop.load(std::memory_order_relaxed)) return;
      const auto& bin = bins_->bin(order[k]);
      tiles.local().replay(bins_->origin(order[k]), bin);
      const std::size_t so_far = finished.fetch_add(bin.size()) + bin.size();
      if (!options_.progress) return;
      const std::unique_lock lock(talk, std::try_to_lock);
      if (!lock.owns_lock()) return;
      const double share = (double(done_) + double(so_far) / double(all) * double(indices_.size())) /
                           double(motions_.size());
      if (!options_.progress(std::min(share, 1.0))) stop = true;
    };
    const auto loop = [&] {
      tbb::parallel_for(tbb::blocked_range<std::size_t>(0, order.size(), 1),
                        [&](const auto& range) {
                          for (std::size_t k = range.begin(); k != range.end(); ++k) one(k);
                        },
                        tbb::simple_partitioner());
    };
    if (options_.threads > 0) {
      tbb::task_arena arena(options_.threads);
      arena.execute(loop);
    } else {
      loop();
    }
    cut_.stopped = stop;
  }

  void gather() {
    for (std::size_t n = 0; n < sweeps_.size(); ++n) {
      const MotionSweeps& m = sweeps_[n];
      MotionOutcome& out = cut_.motions[indices_[n]];
      out.first_sample = static_cast<std::uint32_t>(cut_.samples.size());
      const bool plunging = std::hypot(m.flutes.motion->end.x() - m.flutes.motion->start.x(),
                                       m.flutes.motion->end.y() - m.flutes.motion->start.y()) < 1e-9 &&
                            m.flutes.motion->kind != nc::PathKind::arc;
      std::int64_t volume = 0;
      for (std::uint32_t s = 0; s < m.stretches; ++s) {
        const Stretch& stretch = stretches_[m.first_stretch + s];
        volume += stretch.volume.load();
        if (stretch.volume.load() == 0 && stretch.arc.load() == 0) continue;
        EngagementSample sample = finish(stretch, fields_.voxel, plunging);
        sample.stretch = static_cast<float>(m.flutes.length / m.stretches);
        sample.along = (static_cast<float>(s) + 0.5f) * sample.stretch;
        cut_.samples.push_back(sample);
      }
      out.sample_count = static_cast<std::uint32_t>(cut_.samples.size()) - out.first_sample;
      out.removed_mm3 = double(volume) / Stretch::volume_scale * std::pow(fields_.voxel, 3);
      if (out.sample_count != 0) out.contact |= contact_flutes;
      if (!contacts_.empty()) contact(contacts_[n], out);
    }
  }

  void contact(const ContactCell& cell, MotionOutcome& out) const {
    const std::uint64_t shank = cell.shank.load(), holder = cell.holder.load();
    const auto depth = [&](std::uint64_t key) {
      return static_cast<float>(double(key >> 48) / 256.0 * fields_.voxel);
    };
    if (shank != 0) out.contact |= contact_shank;
    if (holder != 0) out.contact |= contact_holder;
    out.shank_depth = depth(shank);
    out.holder_depth = depth(holder);
    const std::uint64_t worst = std::max(shank, holder);
    if (worst == 0) return;
    const auto part = [&](int shift) {
      return (static_cast<double>(static_cast<int>(worst >> shift & 0xFFFF) - 32768) + 0.5) *
             fields_.voxel;
    };
    out.contact_at = orientation_.setup_from_stock * Vec3(part(32), part(16), part(0));
  }

  Stock::Fields& fields_;
  std::span<const nc::Motion> motions_;
  std::span<const ToolUse> tools_;
  RigidMotion stock_from_setup_;
  MotionId first_id_;
  const CutOptions& options_;
  Orientation orientation_;
  std::unique_ptr<Bins> bins_;
  std::map<const tool::ToolBody*, BodyProfiles> profiles_;
  std::vector<MotionSweeps> sweeps_;
  std::vector<std::size_t> indices_;  // motion of each sweep
  std::vector<Stretch> stretches_;
  std::vector<ContactCell> contacts_;
  Cut cut_;
  std::size_t use_ = 0, done_ = 0;
};

}  // namespace

Cut Stock::cut(std::span<const nc::Motion> motions, std::span<const ToolUse> tools,
               const RigidMotion& stock_from_setup, MotionId first_id, const CutOptions& options) {
  return Cutter(*fields_, motions, tools, stock_from_setup, first_id, options).run();
}

}  // namespace proveout::stock
