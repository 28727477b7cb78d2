#include "sim/measure/finish_tile.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/measure/two_way.h"

namespace proveout::measure {
namespace {

using openvdb::Coord;
using stock::NearMotions;

constexpr double on_surface_mm = 1e-6;
constexpr double most_times_plane = 2;  // choice
constexpr int most_rounds = 6;          // of motions found missing from a voxel's

int in_leaf(int x, int y, int z) { return ((x + 1) * 10 + y + 1) * 10 + z + 1; }

// The way to where two planes, value + slope . x = 0, meet: the shortest.
bool shortest_way(double va, const Vec3& a, double vb, const Vec3& b, Vec3& way) {
  const double aa = a.squaredNorm(), bb = b.squaredNorm(), ab = a.dot(b);
  const double det = aa * bb - ab * ab;
  if (!(det > 1e-6)) return false;
  way = -((va * bb - vb * ab) * a + (vb * aa - va * ab) * b) / det;
  return true;
}

// Of a straight line, what lies within a cube; 0: none. The cube is a hair aside, so that a line
// between two cubes is in one of them.
double within(const Vec3& on, const Vec3& along, const Vec3& middle, double half) {
  double from = -1e30, to = 1e30;
  for (int k = 0; k < 3; ++k) {
    const double off = on[k] - middle[k] - half * 1e-4 * (1 + 0.37 * k);
    if (std::abs(along[k]) < 1e-9) {
      if (off < -half || off >= half) return 0;
      continue;
    }
    const double a = (-half - off) / along[k], b = (half - off) / along[k];
    from = std::max(from, std::min(a, b));
    to = std::min(to, std::max(a, b));
  }
  return std::max(0.0, to - from);
}

}  // namespace

FinishTile::FinishTile(const FinishInput& input)
    : in_(input),
      fields_(input.kept.fields()),
      h_(fields_.voxel),
      grid_(fields_),
      provenance_(fields_.provenance->tree()),
      near_(input.exact) {}

std::vector<FinishEdge> FinishTile::look(const Coord& origin) {
  out_.clear();
  loaded_ = false;
  tile_ = origin;
  for (int n = 0; n < 64; ++n) leaf(origin.offsetBy((n >> 4) * 8, (n >> 2 & 3) * 8, (n & 3) * 8));
  return std::move(out_);
}

void FinishTile::leaf(const Coord& origin) {
  const stock::DistanceLeaf* leaf = grid_.leaf(origin);
  if (leaf == nullptr) return;
  leaf_ = origin;
  leaf_listed_ = false;
  stock::MotionId first = 0;
  bool several = false;
  for (int x = -1; x <= 8; ++x) {
    for (int y = -1; y <= 8; ++y) {
      for (int z = -1; z <= 8; ++z) {
        const auto id =
            static_cast<stock::MotionId>(provenance_.getValue(origin.offsetBy(x, y, z)));
        ids_[static_cast<std::size_t>(in_leaf(x, y, z))] = id;
        if (id == stock::from_blank) continue;
        if (first == stock::from_blank) first = id;
        several = several || id != first;
      }
    }
  }
  if (!several) return;
  // Distances change by no more than the way: an edge in a voxel lies within half its diagonal.
  const double most = 0.9 * h_;
  for (openvdb::Index n = 0; n < 512; ++n) {
    if (std::abs(grid_.mm(leaf->getValue(n))) < most)
      voxel(origin.offsetBy(static_cast<int>(n >> 6), static_cast<int>(n >> 3 & 7),
                            static_cast<int>(n & 7)));
  }
}

void FinishTile::voxel(const Coord& at) {
  std::array<stock::MotionId, 27> found{};
  std::size_t count = 0;
  const Coord in = at - leaf_;
  for (int n = 0; n < 27; ++n) {
    const stock::MotionId id = ids_[static_cast<std::size_t>(
        in_leaf(in.x() + n / 9 - 1, in.y() + n / 3 % 3 - 1, in.z() + n % 3 - 1))];
    if (id != stock::from_blank &&
        std::find(found.begin(), found.begin() + count, id) == found.begin() + count)
      found[count++] = id;
  }
  if (count < 2) return;
  if (!loaded_) {
    const Vec3 low = fields_.corner(tile_), margin = Vec3::Constant(2 * h_);
    near_.load(Box3(low - margin, low + Vec3::Constant(comparison_tile_voxels * h_) + margin));
    loaded_ = true;
  }
  std::sort(found.begin(), found.begin() + count);
  const Vec3 middle = fields_.middle(at);
  motions_.clear();
  sheets_.clear();
  for (std::size_t k = 0; k < count; ++k) {
    const std::uint32_t motion = near_.find(found[k]);
    if (motion != NearMotions::none) add_sheets(motion, middle);
  }
  std::size_t done = 0;  // pairs of sheets below it were looked at
  for (int round = 0; round < most_rounds; ++round) {
    missed_ = NearMotions::none;
    const std::size_t sheets = sheets_.size();
    for (std::size_t j = std::max<std::size_t>(done, 1); j < sheets; ++j) {
      for (std::size_t i = 0; i < j; ++i) {
        const Sheet &a = sheets_[i], &b = sheets_[j];
        Meeting m;
        if (a.motion == b.motion || !may_show(a, b) || !meet(a, b, middle, m)) continue;
        consider(at, m);
      }
    }
    done = sheets;
    if (missed_ == NearMotions::none) break;
    add_sheets(missed_, middle);
  }
}

void FinishTile::add_sheets(std::uint32_t motion, const Vec3& middle) {
  motions_.push_back(motion);
  const double most = 0.9 * h_;
  near_.faces_near(motion, middle, faces_);
  if (faces_.empty()) {
    const stock::Nearness n = near_.near(motion, middle);
    if (std::abs(n.distance) < most)
      sheets_.push_back({motion, -1, n.distance, n.slope, n.curvature});
    return;
  }
  for (std::size_t k = 0; k < faces_.size(); ++k) {
    const stock::Nearness& n = faces_[k];
    if (std::abs(n.distance) < most)
      sheets_.push_back({motion, static_cast<int>(k), n.distance, n.slope, n.curvature});
  }
}

double FinishTile::value_of(const Sheet& sheet, const Vec3& at, Vec3& slope) {
  if (sheet.face < 0) {
    const stock::Nearness n = near_.near(sheet.motion, at);
    slope = n.slope;
    return n.distance;
  }
  near_.faces_near(sheet.motion, at, faces_);
  if (static_cast<std::size_t>(sheet.face) >= faces_.size()) {
    slope = sheet.slope;
    return 1e9;
  }
  const stock::Nearness& n = faces_[static_cast<std::size_t>(sheet.face)];
  slope = n.slope;
  return n.distance;
}

// Whether two faces turned so little against each other can leave anything: balls of radius R no
// more than R (1 - cos(turn / 2)), bodies with round rims R (1 - cos turn), others no more than
// their width times its sine.
bool FinishTile::may_show(const Sheet& a, const Sheet& b) const {
  const double cosine = std::clamp(
      a.slope.dot(b.slope) / std::max(a.slope.norm() * b.slope.norm(), 1e-12), -1.0, 1.0);
  if (cosine < -0.98) return false;  // no edge but a skin
  const stock::Profile &pa = near_.profile(a.motion), &pb = near_.profile(b.motion);
  const double radius = std::max(pa.largest_radius, pb.largest_radius);
  const auto round = [](const stock::Profile& p) {
    return p.shape == stock::ProfileShape::rounded;
  };
  double most = 2 * radius * (cosine > 0 ? std::sqrt(std::max(0.0, 1 - cosine * cosine)) : 1);
  if (round(pa) && round(pb))
    most = radius * (1 - (pa.core + pb.core > 0 ? cosine : std::sqrt(0.5 * (1 + cosine))));
  return most > 0.5 * finish_heights[0];
}

bool FinishTile::near_passes(const Vec3& tip, const Vec3& other) const {
  return (tip - other).norm() < 2.2 * h_;
}

// To where both faces are 0, the shortest way there from the voxel's middle: Newton's method with
// the least-norm solution.
bool FinishTile::meet(const Sheet& a, const Sheet& b, const Vec3& middle, Meeting& found) {
  Vec3 way = Vec3::Zero();
  if (!shortest_way(a.distance, a.slope, b.distance, b.slope, way)) return false;
  if ((way.cwiseAbs().array() > 1.5 * h_).any()) return false;
  // Beside the voxel only what another motion may have cut away is of interest: where passes are
  // nearer than a voxel some may be named nowhere.
  // Where faces bend, their planes meet elsewhere by a bend's height over the sine of their turn.
  const Vec3 along = a.slope.cross(b.slope);
  const double sine = std::max(along.norm(), 1e-3);
  const double aside =
      std::max(a.curvature, b.curvature) * std::max(way.squaredNorm(), h_ * h_) / sine;
  if (within(middle + way, along / sine, middle, 0.75 * h_ + aside) == 0 &&
      !near_passes(near_.nearest_tip(a.motion, middle), near_.nearest_tip(b.motion, middle)))
    return false;
  Vec3 at = middle + way, slope_a = a.slope, slope_b = b.slope;
  for (int round = 0; round < 8; ++round) {
    const double va = value_of(a, at, slope_a), vb = value_of(b, at, slope_b);
    if (!shortest_way(va, slope_a, vb, slope_b, way)) return false;
    at += way;
    // What is off shrinks with its square: the next round would find nothing.
    if (std::max(std::abs(va), std::abs(vb)) < 2e-5) break;
    if (!((at - middle).cwiseAbs().array() <= 1.5 * h_).all()) return false;
  }
  found.at = at;
  found.motion = {a.motion, b.motion};
  found.edged = {a.face >= 0, b.face >= 0};
  found.outward = {-slope_a.normalized(), -slope_b.normalized()};
  return true;
}

// Whether the material's edge is there: no other motion cut it away, and there was a blank.
bool FinishTile::on_surface(const Meeting& m) {
  for (std::size_t k = 0; k < 2; ++k) {
    // Of a body with edges the one face may lie beyond the other.
    if (m.edged[k] && !(near_.distance(m.motion[k], m.at) < on_surface_mm)) return false;
  }
  for (const std::uint32_t other : motions_) {
    if (other != m.motion[0] && other != m.motion[1] &&
        near_.distance(other, m.at) < -on_surface_mm)
      return false;
  }
  return in_.exact.blank().at(m.at) < on_surface_mm;
}

// A corner of the path that is meant, as far as can be told without a part.
bool FinishTile::follow_on(const Meeting& m) const {
  const auto [a, b] = std::minmax(m.motion[0], m.motion[1], [&](std::uint32_t x, std::uint32_t y) {
    return near_.id(x) < near_.id(y);
  });
  const nc::Motion &first = near_.motion(a), &next = near_.motion(b);
  return near_.id(b) == near_.id(a) + 1 && near_.setup(a) == near_.setup(b) &&
         first.kind != nc::PathKind::arc && next.kind != nc::PathKind::arc &&
         (first.end - next.start).norm() < 1e-6;
}

// Between the two outward slopes, so many rad from the first.
Vec3 FinishTile::turned(const Meeting& m, double turn) const {
  const Vec3& a = m.outward[0];
  const Vec3 aside = (m.outward[1] - m.outward[1].dot(a) * a).normalized();
  return std::cos(turn) * a + std::sin(turn) * aside;
}

Vec3 FinishTile::valley(const Meeting& m, int which, const Vec3& outward) const {
  const auto k = static_cast<std::size_t>(which);
  return near_.foremost(m.motion[k], m.tip[k], -outward, m.at);
}

// The plane that touches both tools from below: seen along its normal the edge stands equally far
// above the foremost points of both, which grows for the one and falls for the other as the normal
// turns from the one slope to the other.
FinishTile::Height FinishTile::height_of(const Meeting& m) const {
  Height h;
  h.turn = std::acos(std::clamp(m.outward[0].dot(m.outward[1]), -1.0, 1.0));
  const auto above = [&](int which, const Vec3& n) { return n.dot(m.at - valley(m, which, n)); };
  // False position, the end that stays halved (Illinois).
  double low = 0, high = h.turn, turn = 0.5 * h.turn;
  double at_low = -above(1, m.outward[0]), at_high = above(0, m.outward[1]);
  for (int i = 0, side = 0; i < 40 && at_low < 0 && at_high > 0; ++i) {
    turn = (low * at_high - high * at_low) / (at_high - at_low);
    const Vec3 between = turned(m, turn);
    const double apart = above(0, between) - above(1, between);
    if (std::abs(apart) < 1e-9 || high - low < 1e-12) break;
    if (apart < 0) {
      low = turn;
      at_low = apart;
      if (side < 0) at_high *= 0.5;
      side = -1;
    } else {
      high = turn;
      at_high = apart;
      if (side > 0) at_low *= 0.5;
      side = 1;
    }
  }
  const Vec3 n = turned(m, turn);
  h.above_plane = h.told = std::max(0.0, std::min(above(0, n), above(1, n)));
  h.share = turn / h.turn;
  constexpr double riser = 0.2;  // choice
  h.step = h.share < riser || h.share > 1 - riser;
  if (h.step) h.told = h.share < riser ? above(1, m.outward[0]) : above(0, m.outward[1]);
  return h;
}

// Whether the part's own faces turn there as the motions' do: looked at along either face, away
// from the edge.
bool FinishTile::part_turns(const Meeting& m, double off, double turn) const {
  const double away = std::max(0.05, 2 * std::abs(off));
  const Vec3 &a = m.outward[0], &b = m.outward[1];
  const Vec3 along_a = -(b - b.dot(a) * a).normalized(), along_b = -(a - a.dot(b) * b).normalized();
  const Vec3 part_a = in_.part->nearest(m.at + away * along_a).slope,
             part_b = in_.part->nearest(m.at + away * along_b).slope;
  constexpr double alike = 0.7;  // choice
  return (part_a - part_b).norm() >= alike * 2 * std::sin(0.5 * turn);
}

// The edge against the part: how much further off it than the lower of the two valleys, where the
// part's own slope is the tool's. False: no finish line.
bool FinishTile::over_part(const Meeting& m, Height& h) const {
  const double off = in_.part->at(m.at), above = h.told;
  if (off > finish_most_with_part || part_turns(m, off, h.turn)) return false;
  const Vec3 n = turned(m, h.share * h.turn);
  double lowest = off;
  std::array<Vec3, 2> foot{m.at, m.at}, facing{n, n};
  for (int which = 0; which < 2; ++which) {
    const auto k = static_cast<std::size_t>(which);
    Vec3 outward = n;
    for (int round = 0; round < 3; ++round) {
      const Vec3 v = valley(m, which, outward);
      const auto part = in_.part->nearest(v);
      lowest = std::min(lowest, part.distance);
      foot[k] = v;
      facing[k] = part.slope.dot(n) < 0.7 ? Vec3(-n) : part.slope;
      if (part.slope.dot(n) < 0.7) break;  // another face
      outward = part.slope;
    }
  }
  h.told = off - lowest;
  // Where the part's face bends between the valleys by more than counts (a chord's sagitta, its
  // length times its turn over 8): in a hollow of radius Q the edge stands 1 / (1 - R / Q) times as
  // far above it as above the plane; more than is met at Q = 2 R is the part mesh's own facets.
  const double bend = (foot[1] - foot[0]).norm() * (facing[1] - facing[0]).norm() / 8;
  if (bend > 0.5 * finish_heights[0])
    h.told = std::min(h.told, most_times_plane * std::max(above, h.above_plane));
  return true;
}

bool FinishTile::sawn_off(const Vec3& at) const {
  return std::any_of(in_.sawn.begin(), in_.sawn.end(),
                     [&](const Box3& box) { return box.exteriorDistance(at) < h_; });
}

// Of the surface from the edge down to either valley, what stands above each height: along the
// tool's own outline, in chords.
void FinishTile::add_areas(const Meeting& m, const Height& h, FinishEdge& edge) const {
  constexpr int chords = 32;
  const double turn = h.share * h.turn;
  const Vec3 n = turned(m, turn), across = edge.along.cross(n);
  const double scale = h.told / std::max(h.above_plane, 1e-9);
  for (int which = 0; which < 2; ++which) {
    const double from = which == 0 ? 0 : h.turn, foot = n.dot(valley(m, which, n));
    Vec3 before = m.at;
    double high = n.dot(before) - foot;
    for (int k = 1; k <= chords; ++k) {
      const Vec3 next = valley(m, which, turned(m, from + (turn - from) * k / chords));
      const double low = n.dot(next) - foot;
      if (low > high) continue;
      const double way = std::hypot(across.dot(next - before), high - low);
      for (std::size_t i = 0; i < finish_heights.size(); ++i) {
        const double above = finish_heights[i] / scale;
        if (high <= above) continue;
        const double share = low >= above ? 1 : (high - above) / (high - low);
        edge.area[i] += share * way * edge.length;
      }
      before = next;
      high = low;
    }
  }
}

// All motions that matter about a place of the leaf, or just beside it: kept by eighths of it.
void FinishTile::list_about(const Vec3& at) {
  const auto cull = [&](std::span<const stock::Candidate> from, const Vec3& middle, double half,
                        std::vector<stock::Candidate>& to) {
    near_.cull(from, middle, 1.7320508 * (half + h_), to);
  };
  const Vec3 middle = fields_.corner(leaf_) + Vec3::Constant(4 * h_);
  if (!leaf_listed_) cull(near_.all(), middle, 4 * h_, leaf_list_);
  if (!leaf_listed_) eighth_listed_.fill(false);
  leaf_listed_ = true;
  std::size_t n = 0;
  Vec3 of_eighth = middle;
  for (int k = 0; k < 3; ++k) {
    const bool high = at[k] >= middle[k];
    n = 2 * n + (high ? 1 : 0);
    of_eighth[k] += (high ? 2 : -2) * h_;
  }
  if (!eighth_listed_[n]) cull(leaf_list_, of_eighth, 2 * h_, eighth_lists_[n]);
  eighth_listed_[n] = true;
  list_ = &eighth_lists_[n];
}

// A motion that no voxel about names may have cut the edge away, where passes are nearer to each
// other than voxels.
bool FinishTile::cut_by_another(const Meeting& m) {
  list_about(m.at);
  std::uint32_t by = NearMotions::none;
  if (near_.value(*list_, m.at, &by) <= on_surface_mm) return false;
  if (by != NearMotions::none && std::find(motions_.begin(), motions_.end(), by) == motions_.end())
    missed_ = by;
  return true;
}

FinishBetween FinishTile::between(const Meeting& m, bool step) const {
  if (near_.setup(m.motion[0]) != near_.setup(m.motion[1])) return FinishBetween::sides;
  if (&near_.profile(m.motion[0]) != &near_.profile(m.motion[1])) return FinishBetween::tools;
  return step ? FinishBetween::levels : FinishBetween::passes;
}

void FinishTile::consider(const Coord& voxel, const Meeting& found) {
  Meeting m = found;
  FinishEdge edge;
  edge.along = m.outward[0].cross(m.outward[1]).normalized();
  edge.length = within(m.at, edge.along, fields_.middle(voxel), 0.5 * h_);
  const bool here = edge.length > 1e-6 * h_;
  if (here && !on_surface(m)) return;
  for (std::size_t k = 0; k < 2; ++k) m.tip[k] = near_.nearest_tip(m.motion[k], m.at);
  if (!here && (!near_passes(m.tip[0], m.tip[1]) || !on_surface(m))) return;
  if (near_.id(m.motion[0]) > near_.id(m.motion[1])) {
    std::swap(m.motion[0], m.motion[1]);
    std::swap(m.outward[0], m.outward[1]);
    std::swap(m.tip[0], m.tip[1]);
  }
  // The same edge by motions that cut it again: the first ones made it.
  for (std::size_t k = here ? out_.size() : 0; k-- > 0 && out_[k].voxel == voxel;) {
    if ((out_[k].at - m.at).norm() < 1e-4 * h_ && std::abs(out_[k].along.dot(edge.along)) > 0.99)
      return;
  }
  Height h = height_of(m);
  // Off the part it may stand further than over both tools: a cutter's own round blends a step.
  const double least = (here && in_.part != nullptr ? 0.1 : 1) * finish_heights[0];
  if (!(std::max(h.told, h.above_plane) > least) || cut_by_another(m) || !here) return;
  const Vec3 inwards = -(m.outward[0] + m.outward[1]).normalized();
  if (!(near_.value(*list_, m.at + 0.01 * h_ * inwards) < -on_surface_mm)) return;
  if (!in_.sawn.empty() && sawn_off(m.at)) return;
  if (in_.part != nullptr) {
    if (!over_part(m, h)) return;
  } else if (follow_on(m)) {
    return;
  }
  if (!(h.told > finish_heights[0])) return;
  edge.voxel = voxel;
  edge.at = m.at;
  edge.height = h.told;
  edge.first = near_.id(m.motion[0]);
  edge.second = near_.id(m.motion[1]);
  edge.step = h.step;
  edge.between = between(m, h.step);
  if (!h.step) add_areas(m, h, edge);
  out_.push_back(edge);
}

}  // namespace proveout::measure
