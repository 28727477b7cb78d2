#include "sim/stock/exact_stock.h"

#include <algorithm>
#include <bit>
#include <cmath>

namespace proveout::stock {
namespace {

Box3 in_stock(const Box3& setup_box, const RigidMotion& stock_from_setup) {
  const Vec3 middle = stock_from_setup * setup_box.center();
  const Vec3 half = stock_from_setup.linear().cwiseAbs() * (0.5 * setup_box.sizes());
  return {middle - half, middle + half};
}

// Of what a tool sweeps along a path, setup frame.
Box3 swept_box(Box3 path, const Profile& profile) {
  const double r = profile.largest_radius;
  path.min() += Vec3(-r, -r, profile.base);
  path.max() += Vec3(r, r, double(profile.base) + profile.top);
  return path;
}

// Along one axis of the grid of tiles (choice): bounds memory for large blanks.
constexpr int most_tiles = 256;

}  // namespace

double BlankShape::at(const Vec3& p) const {
  if (mesh != nullptr) return mesh->at(p);
  const Vec3 q = (p - box.center()).cwiseAbs() - 0.5 * box.sizes();
  return q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0);
}

ExactStock::ExactStock(const BlankShape& blank, std::span<const SetupMotions> setups,
                       const Box3& region, double tile)
    : blank_(blank), low_(region.min()) {
  tile_ = std::max(tile, region.sizes().maxCoeff() / most_tiles);
  std::size_t tiles = 1;
  for (int k = 0; k < 3; ++k) {
    count_[k] = std::max(1, static_cast<int>(std::ceil(region.sizes()[k] / tile_)));
    tiles *= static_cast<std::size_t>(count_[k]);
  }
  std::uint32_t motions = 0;
  for (const SetupMotions& given : setups) {
    Setup s{given, given.stock_from_setup.inverse(), {}};
    for (const ToolRun& use : given.tools) {
      auto found = std::find_if(profiles_.begin(), profiles_.end(),
                                [&](const auto& p) { return p.first == use.body; });
      if (use.body != nullptr && found == profiles_.end()) {
        profiles_.emplace_back(use.body, std::make_unique<Profile>(make_profile(use.body->flutes)));
        found = profiles_.end() - 1;
      }
      s.profiles.push_back(use.body == nullptr ? nullptr : found->second.get());
    }
    setup_start_.push_back(motions);
    motions += static_cast<std::uint32_t>(given.motions.size());
    setups_.push_back(std::move(s));
  }
  // Counted, then filled: entries of a tile come out in the motions' order.
  first_.assign(tiles + 1, 0);
  const auto for_all = [&](auto each) {
    for (std::size_t s = 0; s < setups_.size(); ++s) {
      for (std::size_t i = 0; i < setups_[s].given.motions.size(); ++i) {
        const std::uint32_t motion = setup_start_[s] + static_cast<std::uint32_t>(i);
        for_tiles(setups_[s], i, [&](std::size_t t) { each(t, motion); });
      }
    }
  };
  for_all([&](std::size_t t, std::uint32_t) { ++first_[t + 1]; });
  for (std::size_t t = 0; t < tiles; ++t) first_[t + 1] += first_[t];
  ids_.resize(first_[tiles]);
  std::vector<std::uint64_t> next(first_.begin(), first_.end() - 1);
  for_all([&](std::size_t t, std::uint32_t motion) { ids_[next[t]++] = motion; });
}

ExactStock::~ExactStock() = default;

const Profile* ExactStock::profile_of(const Setup& setup, std::size_t motion) const {
  const auto& tools = setup.given.tools;
  const auto use = std::upper_bound(tools.begin(), tools.end(), motion,
                                    [](std::size_t at, const ToolRun& u) { return at < u.last; });
  if (use == tools.end() || motion < use->first) return nullptr;
  return setup.profiles[static_cast<std::size_t>(use - tools.begin())];
}

std::array<int, 3> ExactStock::tile_of(const Vec3& at) const {
  std::array<int, 3> tile{};
  for (int k = 0; k < 3; ++k) {
    const double place = std::floor((at[k] - low_[k]) / tile_);
    tile[static_cast<std::size_t>(k)] =
        static_cast<int>(std::clamp(place, -1.0, double(count_[static_cast<std::size_t>(k)])));
  }
  return tile;
}

std::size_t ExactStock::number(int x, int y, int z) const {
  return (static_cast<std::size_t>(x) * count_[1] + y) * count_[2] + z;
}

// Long straight motions go piece by piece, so that a diagonal does not fill its whole box.
template <class Each>
void ExactStock::for_tiles(const Setup& setup, std::size_t motion, Each each) const {
  const Profile* profile = profile_of(setup, motion);
  if (profile == nullptr) return;
  const nc::Motion& m = setup.given.motions[motion];
  const auto range = [&](const Box3& path) {
    const Box3 box = in_stock(swept_box(path, *profile), setup.given.stock_from_setup);
    std::pair<std::array<int, 3>, std::array<int, 3>> t{tile_of(box.min()), tile_of(box.max())};
    for (std::size_t k = 0; k < 3; ++k) {
      t.first[k] = std::max(t.first[k], 0);
      t.second[k] = std::min(t.second[k], count_[k] - 1);
    }
    return t;
  };
  const double length = (m.end - m.start).norm();
  const int pieces = m.kind == nc::PathKind::arc
                         ? 1
                         : std::clamp(static_cast<int>(length / (2 * tile_)), 1, 100000);
  std::vector<std::size_t> seen;
  for (int k = 0; k < pieces; ++k) {
    Box3 path = nc::bounds(m);
    if (pieces > 1) {
      const Vec3 step = m.end - m.start;
      path = Box3(Vec3(m.start + step * (double(k) / pieces)));
      path.extend(Vec3(m.start + step * (double(k + 1) / pieces)));
    }
    const auto [low, high] = range(path);
    for (int x = low[0]; x <= high[0]; ++x) {
      for (int y = low[1]; y <= high[1]; ++y) {
        for (int z = low[2]; z <= high[2]; ++z) {
          const std::size_t tile = number(x, y, z);
          if (pieces == 1)
            each(tile);
          else
            seen.push_back(tile);
        }
      }
    }
  }
  std::sort(seen.begin(), seen.end());
  seen.erase(std::unique(seen.begin(), seen.end()), seen.end());
  for (const std::size_t tile : seen) each(tile);
}

NearMotions::NearMotions(const ExactStock& stock)
    : stock_(stock), in_setup_(stock.setups_.size()) {}

void NearMotions::load(const Box3& box) {
  entries_.clear();
  all_.clear();
  // A surface in the box is made by motions whose swept boxes meet it; a hair more for rounding.
  Box3 wide = box;
  wide.min().array() -= 1e-6;
  wide.max().array() += 1e-6;
  const auto low = stock_.tile_of(wide.min()), high = stock_.tile_of(wide.max());
  const std::size_t motions =
      stock_.setups_.empty()
          ? 0
          : stock_.setup_start_.back() + stock_.setups_.back().given.motions.size();
  std::vector<std::uint64_t> found(motions / 64 + 1);  // a bit each: most are named by many tiles
  for (int x = std::max(low[0], 0); x <= std::min(high[0], stock_.count_[0] - 1); ++x) {
    for (int y = std::max(low[1], 0); y <= std::min(high[1], stock_.count_[1] - 1); ++y) {
      for (int z = std::max(low[2], 0); z <= std::min(high[2], stock_.count_[2] - 1); ++z) {
        const std::size_t tile = stock_.number(x, y, z);
        for (std::uint64_t i = stock_.first_[tile]; i < stock_.first_[tile + 1]; ++i) {
          const std::uint32_t motion = stock_.ids_[i];
          found[motion / 64] |= std::uint64_t{1} << motion % 64;
        }
      }
    }
  }
  const auto add = [&](std::uint32_t motion) {
    const auto after =
        std::upper_bound(stock_.setup_start_.begin(), stock_.setup_start_.end(), motion);
    const auto s = static_cast<std::size_t>(after - stock_.setup_start_.begin() - 1);
    const ExactStock::Setup& setup = stock_.setups_[s];
    const std::size_t i = motion - stock_.setup_start_[s];
    const nc::Motion& m = setup.given.motions[i];
    const Profile& profile = *stock_.profile_of(setup, i);
    const Box3 path = nc::bounds(m);
    if (!in_stock(swept_box(path, profile), setup.given.stock_from_setup).intersects(wide)) return;
    SweptDistance swept(m, profile);
    if (!in_stock(swept.box(), setup.given.stock_from_setup).intersects(wide)) return;
    entries_.push_back({std::move(swept), static_cast<std::uint32_t>(s),
                        setup.given.first_id + static_cast<MotionId>(i)});
  };
  for (std::size_t word = 0; word < found.size(); ++word) {
    for (std::uint64_t left = found[word]; left != 0; left &= left - 1)
      add(static_cast<std::uint32_t>(64 * word) +
          static_cast<std::uint32_t>(std::countr_zero(left)));
  }
  for (std::uint32_t i = 0; i < entries_.size(); ++i) all_.push_back({i, 0});
}

double NearMotions::cull(std::span<const Candidate> from, const Vec3& middle, double reach,
                         std::vector<Candidate>& to, std::uint32_t* by) {
  for (std::size_t s = 0; s < in_setup_.size(); ++s)
    in_setup_[s] = stock_.setups_[s].setup_from_stock * middle;
  double f = stock_.blank_.at(middle);
  std::uint32_t made_by = none;
  to.clear();
  for (const Candidate& c : from) {
    const Entry& e = entries_[c.motion];
    const Vec3& at = in_setup_[e.setup];
    // Far ones are told by their box, which is quicker.
    const double bound = e.swept.box().squaredExteriorDistance(at);
    const double most = std::max(-f + 2 * reach, 0.0);
    if (bound > most * most && -f + 2 * reach < std::sqrt(bound)) continue;
    const double d = e.swept.at(at);
    if (-d > f) {
      f = -d;
      made_by = c.motion;
    }
    if (d <= -f + 2 * reach) to.push_back({c.motion, static_cast<float>(d)});
  }
  // Those kept before f had grown to what it is; a hair for what single precision lost.
  const double most = -f + 2 * reach + 1e-5;
  std::erase_if(to, [&](const Candidate& c) { return c.distance > most; });
  if (by != nullptr) *by = made_by;
  return f;
}

double NearMotions::value(std::span<const Candidate> motions, const Vec3& at, std::uint32_t* by) {
  return value_beside(motions, 1e30, at, by);
}

double NearMotions::value_beside(std::span<const Candidate> motions, double moved, const Vec3& at,
                                 std::uint32_t* by) {
  moved += 1e-5;  // a hair for what single precision lost
  for (std::size_t s = 0; s < in_setup_.size(); ++s)
    in_setup_[s] = stock_.setups_[s].setup_from_stock * at;
  double f = stock_.blank_.at(at);
  std::uint32_t made_by = none;
  for (const Candidate& c : motions) {
    if (moved - double(c.distance) <= f) continue;
    const Entry& e = entries_[c.motion];
    const double d = e.swept.at(in_setup_[e.setup]);
    if (-d > f) {
      f = -d;
      made_by = c.motion;
    }
  }
  if (by != nullptr) *by = made_by;
  return f;
}

std::uint32_t NearMotions::find(MotionId id) const {
  const auto found = std::lower_bound(entries_.begin(), entries_.end(), id,
                                      [](const Entry& e, MotionId i) { return e.id < i; });
  return found != entries_.end() && found->id == id
             ? static_cast<std::uint32_t>(found - entries_.begin())
             : none;
}

double NearMotions::round_radius(std::uint32_t motion) const {
  const Profile& p = entries_[motion].swept.profile();
  return p.shape == ProfileShape::rounded ? p.corner : 0;
}

double NearMotions::box_distance(std::uint32_t motion, const Vec3& at) const {
  const Entry& e = entries_[motion];
  return e.swept.box().exteriorDistance(stock_.setups_[e.setup].setup_from_stock * at);
}

double NearMotions::distance(std::uint32_t motion, const Vec3& at) const {
  const Entry& e = entries_[motion];
  return e.swept.at(stock_.setups_[e.setup].setup_from_stock * at);
}

Nearness NearMotions::near(std::uint32_t motion, const Vec3& at) const {
  const Entry& e = entries_[motion];
  const ExactStock::Setup& setup = stock_.setups_[e.setup];
  Nearness n = e.swept.near(setup.setup_from_stock * at);
  n.slope = setup.given.stock_from_setup.linear() * n.slope;
  return n;
}

Vec3 NearMotions::nearest_tip(std::uint32_t motion, const Vec3& at) const {
  const Entry& e = entries_[motion];
  const ExactStock::Setup& setup = stock_.setups_[e.setup];
  return setup.given.stock_from_setup * e.swept.nearest_tip(setup.setup_from_stock * at);
}

Vec3 NearMotions::foremost(std::uint32_t motion, const Vec3& tip, const Vec3& direction,
                           const Vec3& at) const {
  const Entry& e = entries_[motion];
  const ExactStock::Setup& setup = stock_.setups_[e.setup];
  const Profile& p = e.swept.profile();
  const Vec3 way = setup.setup_from_stock.linear() * direction;
  const double across = std::hypot(way.x(), way.y());
  const double level = (setup.setup_from_stock.linear() * (at - tip)).z() - p.base;
  double radius = 0, height = 0;
  if (p.shape == ProfileShape::sharp || p.shape == ProfileShape::rounded) {
    const double corner = p.shape == ProfileShape::sharp ? 0.0 : p.corner;
    const double outer = p.core + corner;
    if (way.z() < -1e-9) {
      radius = p.core + corner * across;
      height = corner + corner * way.z();
    } else {
      radius = outer;
      height = way.z() > 1e-9 ? double(p.top) : std::clamp(level, corner, double(p.top));
    }
  } else {
    double most = -1e30, apart = 0;
    const auto corner = [&](double r, double h) {
      const double reach = r * across + h * way.z(), off = std::abs(h - level);
      if (reach < most - 1e-7 || (reach < most + 1e-7 && off >= apart)) return;
      most = std::max(most, reach);
      radius = r;
      height = h;
      apart = off;
    };
    for (const ProfileEdge& edge : p.edges) {
      corner(edge.r0, edge.h0);
      corner(edge.r1, edge.h1);
    }
  }
  Vec3 from_tip(0, 0, p.base + height);
  if (across > 1e-12) {
    from_tip.x() = radius * way.x() / across;
    from_tip.y() = radius * way.y() / across;
  }
  return tip + setup.given.stock_from_setup.linear() * from_tip;
}

void NearMotions::faces_near(std::uint32_t motion, const Vec3& at,
                             std::vector<Nearness>& to) const {
  const Entry& e = entries_[motion];
  const ExactStock::Setup& setup = stock_.setups_[e.setup];
  e.swept.faces_near(setup.setup_from_stock * at, to);
  for (Nearness& n : to) n.slope = setup.given.stock_from_setup.linear() * n.slope;
}

void NearMotions::rims(std::uint32_t motion, const Vec3& at, std::vector<Vec3>& to) const {
  const Entry& e = entries_[motion];
  const ExactStock::Setup& setup = stock_.setups_[e.setup];
  const Vec3 p = setup.setup_from_stock * at;
  const Profile& profile = e.swept.profile();
  const nc::Motion& m = e.swept.motion();
  const auto add = [&](const Vec3& tip, double radius, double height) {
    Vec3 out(p.x() - tip.x(), p.y() - tip.y(), 0);
    if (out.norm() > 1e-9) out.normalize();
    to.push_back(setup.given.stock_from_setup *
                 (tip + radius * out + Vec3(0, 0, profile.base + height)));
  };
  const Vec3 tips[3] = {e.swept.nearest_tip(p), m.start, m.end};
  for (const Vec3& tip : tips) {
    if (profile.shape == ProfileShape::sharp || profile.shape == ProfileShape::rounded) {
      add(tip, profile.core, 0);
    } else {
      for (const ProfileEdge& edge : profile.edges) add(tip, edge.r0, edge.h0);
    }
  }
}

}  // namespace proveout::stock
