// Prints, with every bit, what the distance kernels make of seeded motions in one tile: sweeps of
// every kind and tool shape, one by one and as chains, along the tile's axes and turned. Run on two
// processors the texts must be the same. Needs no library but Eigen's headers, so that it is
// quickly built for another processor.
#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <memory>
#include <random>
#include <vector>

#include "sim/solid/tool_body.h"
#include "sim/stock/kernel.h"
#include "sim/stock/sweep.h"

using namespace proveout;
using namespace proveout::stock;

namespace {

constexpr float voxel = 0.25f;
constexpr float band = 3 * voxel;

// FNV-1a.
std::uint64_t hashed(const void* bytes, std::size_t count,
                     std::uint64_t h = 14695981039346656037u) {
  const auto* b = static_cast<const unsigned char*>(bytes);
  for (std::size_t i = 0; i < count; ++i) h = (h ^ b[i]) * 1099511628211u;
  return h;
}

struct Tile {
  TileFrame frame;
  TileBounds bounds;
  std::vector<float> stored = std::vector<float>(512 * 64);
  std::vector<std::int32_t> made = std::vector<std::int32_t>(512 * 64);
  std::vector<float> swept = std::vector<float>(512 * 64);
  std::vector<std::int32_t> owner = std::vector<std::int32_t>(512 * 64);
  std::unique_ptr<EngagedVoxels> engaged = std::make_unique<EngagedVoxels>();
  std::unique_ptr<VolumeAttribution> attribution = std::make_unique<VolumeAttribution>();
  ChainWork work;

  explicit Tile(double turn) {
    frame.voxel = voxel;
    frame.mm_a_step = voxel / 8192;
    frame.steps_a_mm = 8192 / voxel;
    if (turn != 0) {
      frame.aligned = false;
      const auto c = static_cast<float>(std::cos(turn)), s = static_cast<float>(std::sin(turn));
      frame.turn = {c, -s, 0, s, c, 0, 0, 0, 1};
    }
    std::fill(stored.begin(), stored.end(), -band);  // all material
    base_kernels().bound(frame, stored.data(), 0, 512, bounds);
    blocks();
    work.swept = swept.data();
    work.owner = owner.data();
  }
  void blocks() {
    for (int b = 0; b < 64; ++b)
      bounds.block_least[b] = *std::min_element(bounds.least + 8 * b, bounds.least + 8 * b + 8);
  }
  std::uint64_t state() const {
    const std::uint64_t h = hashed(stored.data(), stored.size() * sizeof(float));
    return hashed(made.data(), made.size() * sizeof(std::int32_t), h);
  }
  // What lies behind count is no result.
  std::uint64_t listed() const {
    std::uint64_t h = hashed(&engaged->count, sizeof(int));
    const auto n = static_cast<std::size_t>(engaged->count);
    h = hashed(engaged->index.data(), n * 2, h);
    h = hashed(engaged->what.data(), n, h);
    h = hashed(engaged->old.data(), n * 4, h);
    h = hashed(engaged->swept.data(), n * 4, h);
    h = hashed(engaged->taken.data(), n * 4, h);
    const auto m = static_cast<std::size_t>(attribution->count);
    h = hashed(attribution->index.data(), m * 2, h);
    h = hashed(attribution->taken.data(), m * 4, h);
    return hashed(attribution->whole.data(), sizeof attribution->whole, h);
  }

  void cut(const Sweep& sweep, std::int32_t id) {
    const Kernels& k = base_kernels();
    LocalSweep local;
    localise(sweep, Vec3::Zero(), voxel, local);
    std::vector<std::uint16_t> list(512), winners(512);
    std::vector<float> centre(512);
    const int count = k.candidates(local, frame, bounds, band, 1e30f, list.data(), centre.data());
    const int won = k.evaluate(local, frame, list.data(), centre.data(), count, stored.data(), band,
                               swept.data(), winners.data());
    std::int64_t volume = 0;
    std::uint64_t h = 0;
    for (int from = 0; from < won; from += EngagedVoxels::cells_at_once) {
      engaged->count = 0;
      volume += k.account(frame, winners.data() + from,
                          std::min(EngagedVoxels::cells_at_once, won - from), stored.data(),
                          swept.data() + 64 * from, band, true, 7, *engaged);
      h ^= listed();
    }
    k.write(frame, winners.data(), won, swept.data(), band, id, stored.data(), made.data(), bounds);
    blocks();
    print("motion", id, won, volume, h);
  }

  void cut_chain(const std::vector<LocalSweep>& sweeps, std::int32_t id) {
    const Kernels& k = base_kernels();
    const int motions = static_cast<int>(sweeps.size());
    const int won = k.chain(sweeps.data(), motions, frame, bounds, band, stored.data(), work);
    std::uint64_t h = 0;
    for (const AttributionDetail detail :
         {AttributionDetail::coarse, AttributionDetail::middle, AttributionDetail::fine}) {
      for (int from = 0; from < won; from += EngagedVoxels::cells_at_once) {
        engaged->count = attribution->count = 0;
        attribution->whole.fill(0);
        k.account_chain(sweeps.data(), motions, frame, work, from,
                        std::min(EngagedVoxels::cells_at_once, won - from), stored.data(), band, 7,
                        detail, *engaged, *attribution);
        h ^= listed();
      }
    }
    k.write_chain(frame, work, won, band, id, stored.data(), made.data(), bounds);
    blocks();
    print("chain", id, won, 0, h);
  }

  void print(const char* what, std::int32_t id, int won, std::int64_t volume,
             std::uint64_t h) const {
    std::printf("%s %d: %d cells, volume %lld, listed %016llx, field %016llx\n", what, id, won,
                static_cast<long long>(volume), static_cast<unsigned long long>(h),
                static_cast<unsigned long long>(state()));
  }
};

job::Tool tool_of(job::ToolShape shape) {
  job::Tool t;
  t.number = 1;
  t.shape = shape;
  t.diameter = 3;
  t.flute_length = t.stickout = 12;
  t.corner_radius = 0.7;
  t.tip_angle = 60;
  if (shape == job::ToolShape::form)
    t.profile = {{0, 0}, {1, 0}, {1.5, 1}, {0.8, 2}, {1.4, 3}, {1, 12}};
  return t;
}

nc::Motion motion(const Vec3& from, const Vec3& to) {
  nc::Motion m;
  m.kind = nc::PathKind::line;
  m.start = from;
  m.end = to;
  return m;
}

nc::Motion arc(const Vec3& from, const Vec3& centre, double turn, double rise) {
  nc::Motion m = motion(from, from);
  m.kind = nc::PathKind::arc;
  m.centre = centre;
  m.sweep = turn;
  m.plane = nc::Plane::xy;
  const double u = from.x() - centre.x(), v = from.y() - centre.y();
  m.end = Vec3(centre.x() + u * std::cos(turn) - v * std::sin(turn),
               centre.y() + u * std::sin(turn) + v * std::cos(turn), from.z() + rise);
  return m;
}

}  // namespace

int main() {
  std::mt19937 random(53);
  // Not std::uniform_real_distribution: what it makes of the generator is the library's affair.
  const auto place = [&](double least, double most) {
    return least + (most - least) * (random() / 4294967296.0);
  };
  for (const job::ToolShape shape :
       {job::ToolShape::flat, job::ToolShape::ball, job::ToolShape::bull, job::ToolShape::vee,
        job::ToolShape::form}) {
    const solid::ToolBody body = solid::make_tool_body(tool_of(shape));
    const Profile profile = make_profile(body.flutes);
    for (const double turn : {0.0, 0.3}) {
      std::printf("shape %d, turned by %g\n", static_cast<int>(shape), turn);
      Tile tile(turn);
      const auto any = [&] { return Vec3(place(-5, 5), place(-5, 5), place(-1, 4)); };
      std::int32_t id = 1;
      for (int round = 0; round < 3; ++round) {
        const Vec3 a = any(), b = any(), level(b.x(), b.y(), a.z());
        const Vec3 above = a + Vec3(0, 0, 3);
        for (const nc::Motion& m : {motion(a, level), motion(a, b), motion(above, a),
                                    arc(a, b, 1.3, 0), arc(a, b, -2, 1)})
          tile.cut(make_sweep(m, profile), id++);
        Vec3 at = any();
        std::vector<LocalSweep> chain;
        std::vector<nc::Motion> motions;
        const bool any_rise = shape == job::ToolShape::flat || shape == job::ToolShape::ball;
        for (int n = 0; n < 12; ++n) {
          const Vec3 to =
              at + Vec3(place(0.3, 0.9), place(-0.2, 0.2), any_rise ? place(-0.2, 0.2) : 0);
          motions.push_back(motion(at, to));
          at = to;
        }
        for (const nc::Motion& m : motions) {
          const Sweep sweep = make_sweep(m, profile);
          localise(sweep, Vec3::Zero(), voxel, chain.emplace_back());
          if (shape == job::ToolShape::flat) chain.back().kind = SweepKind::ramp;
          if (shape == job::ToolShape::ball) chain.back().kind = SweepKind::ball_ramp;
        }
        tile.cut_chain(chain, id);
        id += 12;
      }
    }
  }
  return 0;
}
