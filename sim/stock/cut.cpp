// Stock::cut: motions are binned by the tiles they may change, then every tile replays its own bin.
// max() does not care for order between tiles, and what a motion takes at a voxel depends only on
// the motions before it there, so tiles need nothing of each other.
#include <openvdb/tools/Prune.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/global_control.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <thread>
#include <utility>

#include "parser/base/assert.h"
#include "sim/stock/cut_without_areas.h"
#include "sim/stock/fields.h"
#include "sim/stock/on_threads.h"
#include "sim/stock/stock.h"
#include "sim/stock/tile.h"

namespace proveout::stock {
namespace {

using openvdb::Coord;
using openvdb::CoordBBox;

// A batch ends when its bins hold this many entries: bounds memory for programs of any length.
constexpr std::size_t most_entries = 24'000'000;
constexpr std::size_t most_reserved = 1 << 20;  // sweeps; a batch mostly has no more
constexpr std::size_t chunk_motions = 1024;     // binned by one task
constexpr std::size_t group_chunks = 16;        // binned before the batch's size is looked at

BodyProfiles profiles_of(const solid::ToolBody& body) {
  BodyProfiles p;
  p.flutes = make_profile(body.flutes);
  for (const auto& b : body.shank) {
    p.others.push_back(make_profile(b));
    p.roles.push_back(solid::Role::shank);
  }
  for (const auto& b : body.holder) {
    p.others.push_back(make_profile(b));
    p.roles.push_back(solid::Role::holder);
  }
  return p;
}

// Tiles of the stock's own box, numbered.
class TileGrid {
 public:
  explicit TileGrid(const CoordBBox& box) {
    low_ = Coord(box.min().x() >> 5, box.min().y() >> 5, box.min().z() >> 5);
    high_ = Coord(box.max().x() >> 5, box.max().y() >> 5, box.max().z() >> 5);
    across_ = high_ - low_ + Coord(1);
  }
  // Calls what(tile number) for the tiles the index box meets.
  template <class F>
  void for_tiles(const CoordBBox& box, F what) const {
    const Coord a = Coord::maxComponent(
        Coord(box.min().x() >> 5, box.min().y() >> 5, box.min().z() >> 5), low_);
    const Coord b = Coord::minComponent(
        Coord(box.max().x() >> 5, box.max().y() >> 5, box.max().z() >> 5), high_);
    for (int x = a.x(); x <= b.x(); ++x) {
      for (int y = a.y(); y <= b.y(); ++y) {
        for (int z = a.z(); z <= b.z(); ++z) {
          what((static_cast<std::size_t>(x - low_.x()) * across_.y() + (y - low_.y())) *
                   across_.z() +
               (z - low_.z()));
        }
      }
    }
  }
  std::size_t count() const {
    return static_cast<std::size_t>(across_.x()) * across_.y() * across_.z();
  }
  Coord origin(std::size_t tile) const {
    const int z = static_cast<int>(tile % across_.z());
    const int y = static_cast<int>(tile / across_.z() % across_.y());
    const int x = static_cast<int>(tile / across_.z() / across_.y());
    return Coord((x + low_.x()) * 32, (y + low_.y()) * 32, (z + low_.z()) * 32);
  }

 private:
  Coord low_, high_, across_;
};

// The bins of some motions in a row: entries by tile, in the motions' order.
struct Chunk {
  struct Bin {
    std::uint32_t tile, first, count;
  };
  std::vector<Bin> bins;
  std::vector<std::uint32_t> entries;
};

// One task's workplace.
struct Binner {
  std::vector<std::pair<std::uint32_t, std::uint32_t>> found;  // tile, entry
  std::vector<std::uint32_t> last;                             // by tile: the last entry, plus one
  std::vector<std::uint32_t> place;  // by tile: how many entries, then the number of its bin
  std::vector<std::uint32_t> tiles;  // that have any
};

CoordBBox index_box(const Box3& setup_box, const RigidMotion& stock_from_setup,
                    const Stock::Fields& fields, double margin) {
  Box3 box;
  for (int corner = 0; corner < 8; ++corner) {
    box.extend(stock_from_setup * setup_box.corner(static_cast<Box3::CornerType>(corner)));
  }
  // Programs may run far off: an index stays a number.
  const auto held = [](const Vec3& index) { return index.cwiseMax(-1e9).cwiseMin(1e9); };
  const Vec3 low = held(fields.index(box.min() - Vec3::Constant(margin))).array().floor();
  const Vec3 high = held(fields.index(box.max() + Vec3::Constant(margin))).array().ceil();
  const auto coord = [](const Vec3& v) {
    return Coord(static_cast<int>(v.x()), static_cast<int>(v.y()), static_cast<int>(v.z()));
  };
  return CoordBBox(coord(low), coord(high));
}

// Where the stock's surface is, to the blocks: finer is not asked for, and takes a look at every
// voxel. Surface is never a constant block, so leaves hold all of it.
CoordBBox box_of_leaves(const Stock::Fields& fields) {
  CoordBBox box;
  if (!fields.steps->tree().evalLeafBoundingBox(box)) return CoordBBox(Coord(0), Coord(0));
  return box;
}

class Cutter {
 public:
  Cutter(Stock::Fields& fields, std::span<const nc::Motion> motions, std::span<const ToolRun> tools,
         const RigidMotion& stock_from_setup, MotionId first_id, const CutOptions& options,
         bool areas)
      : fields_(fields),
        motions_(motions),
        tools_(tools),
        stock_from_setup_(stock_from_setup),
        first_id_(first_id),
        options_(options),
        areas_(areas),
        orientation_(orientation_of(stock_from_setup)) {
    grid_ = std::make_unique<TileGrid>(box_of_leaves(fields));
    // A tile's number is kept in 32 bits, a motion's in 31 (provenance grids hold signed numbers).
    PROVEOUT_ASSERT(grid_->count() <= UINT32_MAX, grid_->count());
    PROVEOUT_ASSERT(motions.size() + first_id <= INT32_MAX, motions.size(), first_id);
    for (const ToolRun& use : tools_) {
      if (use.body != nullptr && !profiles_.contains(use.body)) {
        profiles_.emplace(use.body, profiles_of(*use.body));
      }
    }
  }

  Cut run() {
    cut_.motions.resize(motions_.size());
    std::size_t next = 0;
    while (next < motions_.size() && !cut_.stopped) {
      on_threads(options_.threads, [&] { next = batch(next); });
    }
    openvdb::tools::pruneLevelSet(fields_.steps->tree());
    return std::move(cut_);
  }

 private:
  const BodyProfiles* body_of(std::size_t i) const {
    const auto use = std::upper_bound(tools_.begin(), tools_.end(), i,
                                      [](std::size_t at, const ToolRun& u) { return at < u.last; });
    if (use == tools_.end() || i < use->first || use->body == nullptr) return nullptr;
    return &profiles_.at(use->body);
  }

  // Bins and replays motions from `first` on; returns the first one left.
  std::size_t batch(std::size_t first) {
    sweeps_.clear();
    sweeps_.reserve(std::min(motions_.size() - first, most_reserved));
    chunks_.clear();
    std::size_t entries = 0, next = first;
    while (next < motions_.size() && entries < most_entries) {
      const std::size_t last = std::min(motions_.size(), next + chunk_motions * group_chunks);
      sweeps_.resize(last - first);
      const std::size_t chunks_before = chunks_.size();
      chunks_.resize(chunks_before + (last - next + chunk_motions - 1) / chunk_motions);
      tbb::parallel_for(chunks_before, chunks_.size(), [&](std::size_t c) {
        const std::size_t from = next + (c - chunks_before) * chunk_motions;
        bin(first, from, std::min(last, from + chunk_motions), chunks_[c]);
      });
      for (std::size_t c = chunks_before; c < chunks_.size(); ++c)
        entries += chunks_[c].entries.size();
      next = last;
    }
    std::size_t segments = 0;
    for (MotionSweeps& m : sweeps_) {
      m.first_segment = static_cast<std::uint32_t>(segments);
      segments += m.segments;
    }
    PROVEOUT_ASSERT(segments <= UINT32_MAX, segments);
    replay(segments);
    gather(first);
    done_ = next;
    return next;
  }

  // Motions [from, to) into a chunk; `first` is the batch's.
  void bin(std::size_t first, std::size_t from, std::size_t to, Chunk& chunk) {
    Binner& b = binners_.local();
    b.found.clear();
    if (b.last.size() != grid_->count()) {
      b.last.assign(grid_->count(), 0);
      b.place.assign(grid_->count(), 0);
    }
    const double band = fields_.voxel * Stock::Fields::band_voxels;
    for (std::size_t i = from; i < to; ++i) {
      const BodyProfiles* body = body_of(i);
      const auto number = static_cast<std::uint32_t>(i - first);
      PROVEOUT_ASSERT(i - first < std::size_t{1} << 31, i, first);  // a bit more says which body
      MotionSweeps& m = sweeps_[number];
      m.id = first_id_ + static_cast<MotionId>(i);
      m.segments = 0;
      if (body == nullptr) continue;
      m.body = body;
      m.flutes = make_sweep(motions_[i], body->flutes);
      m.segments =
          static_cast<std::uint32_t>(segment_count(m.flutes.length, body->flutes.largest_radius));
      decide_if_chained(m, fields_.voxel);
      bin_body(b, motions_[i], body->flutes, number << 1, band);
      if (!options_.shank_and_holder) continue;
      for (const Profile& other : body->others) bin_body(b, motions_[i], other, number << 1 | 1, 0);
    }
    sort_into(b, chunk);
  }

  // Entries found, in the order they were found in, by tiles.
  static void sort_into(Binner& b, Chunk& chunk) {
    b.tiles.clear();
    for (const auto& [tile, entry] : b.found) {
      b.last[tile] = 0;
      if (b.place[tile]++ == 0) b.tiles.push_back(tile);
    }
    std::sort(b.tiles.begin(), b.tiles.end());
    chunk.bins.reserve(b.tiles.size());
    std::uint32_t first = 0;
    for (const std::uint32_t tile : b.tiles) {
      const auto number = static_cast<std::uint32_t>(chunk.bins.size());
      chunk.bins.push_back({tile, first, 0});
      first += std::exchange(b.place[tile], number);
    }
    chunk.entries.resize(b.found.size());
    for (const auto& [tile, entry] : b.found) {
      Chunk::Bin& bin = chunk.bins[b.place[tile]];
      chunk.entries[bin.first + bin.count++] = entry;
    }
    for (const std::uint32_t tile : b.tiles) b.place[tile] = 0;
  }

  // Long straight motions go part by part, so that a diagonal does not fill its whole box.
  void bin_body(Binner& b, const nc::Motion& motion, const Profile& profile, std::uint32_t entry,
                double margin) const {
    const double r = profile.largest_radius;
    const auto add = [&](Box3 box) {
      box.min() += Vec3(-r, -r, profile.base);
      box.max() += Vec3(r, r, static_cast<double>(profile.base) + profile.top);
      grid_->for_tiles(index_box(box, stock_from_setup_, fields_, margin), [&](std::size_t tile) {
        if (b.last[tile] == entry + 1) return;
        b.last[tile] = entry + 1;
        b.found.emplace_back(static_cast<std::uint32_t>(tile), entry);
      });
    };
    const bool straight = motion.kind != nc::PathKind::arc;
    const double length = (motion.end - motion.start).norm();
    const int parts =
        straight ? std::clamp(static_cast<int>(length / (64 * fields_.voxel)), 1, 100000) : 1;
    if (parts == 1) return add(nc::bounds(motion));
    for (int k = 0; k < parts; ++k) {
      const Vec3 step = motion.end - motion.start;
      Box3 box(Vec3(motion.start + step * (double(k) / parts)));
      box.extend(Vec3(motion.start + step * (double(k + 1) / parts)));
      add(box);
    }
  }

  struct TileWork {
    std::vector<std::span<const std::uint32_t>> bins;
    std::size_t entries = 0;
  };

  void replay(std::size_t segments) {
    segments_.emplace(segments, areas_);
    contacts_ = std::vector<DeepestContact>(options_.shank_and_holder ? sweeps_.size() : 0);
    std::vector<TileWork> work(grid_->count());
    std::vector<std::uint32_t> order;
    std::size_t all = 0;
    for (const Chunk& chunk : chunks_) {
      for (const Chunk::Bin& bin : chunk.bins) {
        TileWork& tile = work[bin.tile];
        if (tile.bins.empty()) order.push_back(bin.tile);
        tile.bins.emplace_back(chunk.entries.data() + bin.first, bin.count);
        tile.entries += bin.count;
        all += bin.count;
      }
    }
    // Longest first, so that the last ones to finish are short.
    std::sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) {
      return work[a].entries != work[b].entries ? work[a].entries > work[b].entries : a < b;
    });
    ReplayShared shared{fields_, orientation_, sweeps_, *segments_, areas_, contacts_, {}, {}};
    tbb::enumerable_thread_specific<Tile> tiles([&] { return Tile(shared); });
    std::atomic<std::size_t> finished{0};
    std::atomic<bool> stop{false};
    const auto one = [&](std::size_t k) {
      if (stop.load(std::memory_order_relaxed)) return;
      const TileWork& tile = work[order[k]];
      tiles.local().replay(grid_->origin(order[k]), tile.bins);
      const std::size_t so_far = finished.fetch_add(tile.entries) + tile.entries;
      // Whoever asks for progress may draw on a terminal or a window: only its own thread calls.
      if (!options_.progress || std::this_thread::get_id() != caller_) return;
      const double share = (double(done_) + double(so_far) / double(all) * double(sweeps_.size())) /
                           double(motions_.size());
      if (!options_.progress(std::min(share, 1.0))) stop = true;
    };
    tbb::parallel_for(
        tbb::blocked_range<std::size_t>(0, order.size(), 1),
        [&](const auto& range) {
          for (std::size_t k = range.begin(); k != range.end(); ++k) one(k);
        },
        tbb::simple_partitioner());
    cut_.stopped = stop;
    cut_.distances += shared.distances.load();
  }

  // What the batch's motions did, from `first` on: by chunks, then put in a row.
  void gather(std::size_t first) {
    const std::size_t chunks = (sweeps_.size() + chunk_motions - 1) / chunk_motions;
    struct Told {
      std::vector<EngagementSample> samples;
      std::vector<ColumnExtent> extents;
    };
    std::vector<Told> told(chunks);
    const auto over_chunk = [&](std::size_t c, auto what) {
      const std::size_t last = std::min(sweeps_.size(), (c + 1) * chunk_motions);
      for (std::size_t n = c * chunk_motions; n < last; ++n) {
        if (sweeps_[n].body != nullptr) what(n, cut_.motions[first + n]);
      }
    };
    tbb::parallel_for(std::size_t{0}, chunks, [&](std::size_t c) {
      over_chunk(c, [&](std::size_t n, MotionOutcome& out) {
        outcome(n, out, told[c].samples, told[c].extents);
      });
    });
    const auto make_room = [&](auto& to, auto of) {
      std::size_t count = to.size();
      for (const Told& some : told) count += (some.*of).size();
      PROVEOUT_ASSERT(count <= UINT32_MAX, count);
      if (count > to.capacity()) to.reserve(std::max(count, 2 * to.capacity()));
    };
    make_room(cut_.samples, &Told::samples);
    make_room(cut_.extents, &Told::extents);
    for (std::size_t c = 0; c < chunks; ++c) {
      const auto before = static_cast<std::uint32_t>(cut_.samples.size());
      const auto extents_before = static_cast<std::uint32_t>(cut_.extents.size());
      over_chunk(c, [&](std::size_t, MotionOutcome& out) { out.first_sample += before; });
      for (EngagementSample& s : told[c].samples) s.first_extent += extents_before;
      cut_.samples.insert(cut_.samples.end(), told[c].samples.begin(), told[c].samples.end());
      cut_.extents.insert(cut_.extents.end(), told[c].extents.begin(), told[c].extents.end());
      told[c] = {};
    }
  }

  // Of sweep n; its samples go behind `samples`, in which it counts first_sample, and what their
  // columns hold behind `extents`.
  void outcome(std::size_t n, MotionOutcome& out, std::vector<EngagementSample>& samples,
               std::vector<ColumnExtent>& extents) const {
    const MotionSweeps& m = sweeps_[n];
    out.first_sample = static_cast<std::uint32_t>(samples.size());
    const bool plunging =
        std::hypot(m.flutes.motion->end.x() - m.flutes.motion->start.x(),
                   m.flutes.motion->end.y() - m.flutes.motion->start.y()) < 1e-9 &&
        m.flutes.motion->kind != nc::PathKind::arc;
    std::int64_t volume = 0;
    for (std::uint32_t s = 0; s < m.segments; ++s) {
      const std::size_t number = m.first_segment + s;
      const SegmentTotals* segment = segments_->at(number);
      if (segment == nullptr || (segment->volume == 0 && segment->arc == 0)) continue;
      volume += segment->volume;
      EngagementSample sample =
          finish(*segment, segments_->columns_at(number), fields_.voxel, plunging, extents);
      sample.length = static_cast<float>(m.flutes.length / m.segments);
      sample.along = (static_cast<float>(s) + 0.5f) * sample.length;
      samples.push_back(sample);
    }
    out.sample_count = static_cast<std::uint32_t>(samples.size()) - out.first_sample;
    out.removed_mm3 = double(volume) / SegmentTotals::volume_scale * std::pow(fields_.voxel, 3);
    if (out.sample_count != 0) out.contact |= contact_flutes;
    if (!contacts_.empty()) contact(contacts_[n], out);
  }

  void contact(const DeepestContact& deepest, MotionOutcome& out) const {
    if (deepest.shank.depth_rank != 0) out.contact |= contact_shank;
    if (deepest.holder.depth_rank != 0) out.contact |= contact_holder;
    out.shank_depth = static_cast<float>(deepest.shank.depth_voxels() * fields_.voxel);
    out.holder_depth = static_cast<float>(deepest.holder.depth_voxels() * fields_.voxel);
    const DeepestPlace& worst = std::max(deepest.shank, deepest.holder);
    if (worst.depth_rank == 0) return;
    out.contact_at =
        orientation_.setup_from_stock * fields_.middle(Coord(worst.x, worst.y, worst.z));
  }

  Stock::Fields& fields_;
  std::span<const nc::Motion> motions_;
  std::span<const ToolRun> tools_;
  RigidMotion stock_from_setup_;
  MotionId first_id_;
  const CutOptions& options_;
  bool areas_;
  Orientation orientation_;
  std::unique_ptr<TileGrid> grid_;
  std::map<const solid::ToolBody*, BodyProfiles> profiles_;
  tbb::enumerable_thread_specific<Binner> binners_;
  std::vector<Chunk> chunks_;
  std::vector<MotionSweeps> sweeps_;  // of the batch's motions
  std::optional<SegmentStore> segments_;
  std::vector<DeepestContact> contacts_;
  Cut cut_;
  std::size_t done_ = 0;
  const std::thread::id caller_ = std::this_thread::get_id();
};

}  // namespace

Cut Stock::cut(std::span<const nc::Motion> motions, std::span<const ToolRun> tools,
               const RigidMotion& stock_from_setup, MotionId first_id, const CutOptions& options) {
  return Cutter(*fields_, motions, tools, stock_from_setup, first_id, options, true).run();
}

Cut cut_without_areas(Stock& stock, std::span<const nc::Motion> motions,
                      std::span<const ToolRun> tools, const RigidMotion& stock_from_setup,
                      MotionId first_id, const CutOptions& options) {
  std::unique_ptr<Stock::Fields> fields = std::move(stock).take_fields();
  Cut cut = Cutter(*fields, motions, tools, stock_from_setup, first_id, options, false).run();
  stock = Stock::of_fields(std::move(fields));
  return cut;
}

}  // namespace proveout::stock
