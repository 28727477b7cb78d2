#include "sim/clearance/clearance.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace proveout::clearance {

namespace {

constexpr int few_pieces = 16;  // of a way, which are gone through one by one

}  // namespace

const char* name(Mover mover) {
  constexpr const char* names[] = {"cutter", "shank", "holder", "nose"};
  return names[static_cast<int>(mover)];
}

const char* name(Obstacle obstacle) {
  constexpr const char* names[] = {"stock", "part", "fixture"};
  return names[static_cast<int>(obstacle)];
}

Nearest ToolClearance::worst(Mover m) const {
  Nearest out;
  for (const auto& obstacle : nearest[static_cast<int>(m)]) {
    for (const Nearest& n : obstacle) {
      if (n.mm < out.mm) out = n;
    }
  }
  return out;
}

std::string in_words(const ToolClearance& clearance) {
  std::string out;
  for (int m = 0; m < movers; ++m) {
    const auto mover = static_cast<Mover>(m);
    const Nearest n = clearance.worst(mover);
    if (!n.found()) continue;
    out += fmt::format("{}{} {:.1f} (line {})", out.empty() ? "" : ", ", name(mover),
                       std::floor(n.mm * 10) / 10, n.line);
  }
  return out;
}

ToolShapes::ToolShapes(const solid::ToolBody& body,
                       const std::vector<std::pair<double, double>>& nose)
    : cutting(body) {
  outline[0] = outline_of(body.flutes);
  outline[1] = outline_of(body.shank);
  outline[2] = outline_of(body.holder);
  double height = body.flutes.top;
  for (const auto& b : body.shank) height = std::max(height, b.top);
  for (const auto& b : body.holder) height = std::max(height, b.top);
  for (const auto& [diameter, tall] : nose) {
    outline[3].add({0, height, diameter / 2, height});
    outline[3].add({diameter / 2, height, diameter / 2, height + tall});
    outline[3].add({diameter / 2, height + tall, 0, height + tall});
    height += tall;
  }
}

double Barrier::nearest(const Outline& body, const Vec3& a, const Vec3& b, double best) const {
  if (body.empty()) return best;
  const double z = std::min(a.z(), b.z());
  const double rho =
      way_to_rectangle(a, b, box.min().x(), box.min().y(), box.max().x(), box.max().y());
  const double d = gap(body, rho, box.max().z() - z);
  if (d >= best || !columns) return std::min(best, d);
  return columns->nearest(body, a, b, best);
}

double Barrier::highest_within(double x, double y, double radius) const {
  const double dx = std::max({box.min().x() - x, x - box.max().x(), 0.0});
  const double dy = std::max({box.min().y() - y, y - box.max().y(), 0.0});
  if (dx * dx + dy * dy > radius * radius) return ColumnMap::nothing;
  return columns ? columns->highest_within(x, y, radius) : box.max().z();
}

ClearanceTracker::ClearanceTracker(ColumnMap stock, std::shared_ptr<const ColumnMap> part,
                                   std::vector<Barrier> fixtures,
                                   const std::map<int, solid::ToolBody>& bodies,
                                   const std::vector<std::pair<double, double>>& nose)
    : stock_(std::move(stock)), part_(std::move(part)), fixtures_(std::move(fixtures)) {
  for (const auto& [number, body] : bodies) shapes_.emplace(number, ToolShapes(body, nose));
}

const ToolShapes* ClearanceTracker::shapes(int tool) const {
  const auto found = shapes_.find(tool);
  return found == shapes_.end() ? nullptr : &found->second;
}

std::vector<ClearanceTracker::Way> ClearanceTracker::ways_of(const nc::Motion& m) const {
  if (m.kind != nc::PathKind::arc) return {{m.start, m.end, 0}};
  // Chords of an arc: a sagitta of a tenth of a cell each.
  const double r = nc::arc_radius(m), sag = 0.1 * stock_.cell();
  const double most = r > sag ? 2 * std::acos(1 - sag / r) : pi;
  const int count = std::max(1, static_cast<int>(std::ceil(std::abs(m.sweep) / most)));
  std::vector<Way> out;
  Vec3 from = m.start;
  for (int k = 1; k <= count; ++k) {
    const Vec3 to = k == count ? m.end : nc::point_at(m, double(k) / count);
    out.push_back({from, to, sag});
    from = to;
  }
  return out;
}

double ClearanceTracker::ask(const Question& q, const Outline& body, const Vec3& a, const Vec3& b,
                             double best, int* fixture) const {
  switch (static_cast<Obstacle>(q.obstacle)) {
    case Obstacle::stock:
      return stock_.nearest(body, a, b, best);
    case Obstacle::part:
      return part_ ? part_->nearest(body, a, b, best) : best;
    case Obstacle::fixture:
      break;
  }
  for (std::size_t k = 0; k < fixtures_.size(); ++k) {
    const double d = fixtures_[k].nearest(body, a, b, best);
    if (d >= best) continue;
    best = d;
    *fixture = static_cast<int>(k);
  }
  return best;
}

bool ClearanceTracker::improve(const Question& q, const Outline& body, const Vec3& a, const Vec3& b,
                               double sag, const nc::Motion& motion, Nearest& nearest) const {
  if (nearest.mm <= 0) return false;
  int fixture = -1;
  const double limit = nearest.mm + sag;
  const double d = ask(q, body, a, b, limit, &fixture);
  if (d >= limit) return false;
  nearest.mm = std::max(0.0, d - sag);
  nearest.line = motion.line;
  nearest.tip = a.z() < b.z() ? a : b;
  nearest.fixture = fixture;
  return true;
}

Vec3 ClearanceTracker::Walk::place(int k) const {
  if (k == 0) return way.a;
  return k == pieces ? way.b : Vec3(way.a + (way.b - way.a) * (double(k) / pieces));
}

// Of the questions those that pieces from..to may better: the whole stretch at its lowest height
// bounds all of its pieces, and mostly that settles it.
ClearanceTracker::Questions ClearanceTracker::open_for(const Walk& walk, int from, int to,
                                                       const Questions& asked) const {
  Questions open;
  const Vec3 a = walk.place(from), b = walk.place(to);
  for (const Question& q : asked) {
    Nearest trial = walk.out.nearest[q.mover][q.obstacle][walk.kind()];
    if (improve(q, walk.shapes.outline[q.mover], a, b, walk.way.sag, walk.motion, trial))
      open.push_back(q);
  }
  return open;
}

// The least of pieces from..to, along which nothing is cut: by halves, the nearer one first, so
// that of a way from a kilometre away the rest is not looked at.
void ClearanceTracker::search(const Walk& walk, int from, int to, const Question& q) const {
  Nearest& nearest = walk.out.nearest[q.mover][q.obstacle][walk.kind()];
  const auto better = [&](int begin, int end, Nearest& what) {
    return improve(q, walk.shapes.outline[q.mover], walk.place(begin), walk.place(end),
                   walk.way.sag, walk.motion, what);
  };
  if (to - from <= few_pieces) {
    for (int k = from; k < to; ++k) better(k, k + 1, nearest);
    return;
  }
  const int middle = from + (to - from) / 2;
  const auto bound = [&](int begin, int end) {
    Nearest trial = nearest;
    return better(begin, end, trial) ? trial.mm : std::numeric_limits<double>::infinity();
  };
  const double first = bound(from, middle), second = bound(middle, to);
  const bool in_order = first <= second;
  for (const bool front : {in_order, !in_order}) {
    if ((front ? first : second) >= nearest.mm) continue;
    search(walk, front ? from : middle, front ? middle : to, q);
  }
}

// A long stretch is asked as a whole first and by halves then. Stock is only ever taken away, so
// what a stretch cannot better now it cannot later.
void ClearanceTracker::follow_pieces(const Walk& walk, int from, int to, const Questions& asked,
                                     bool cuts) {
  if (to - from > few_pieces) {
    const Questions open = open_for(walk, from, to, asked);
    if (!cuts || !stock_.meets(walk.shapes.cutting, walk.place(from), walk.place(to))) {
      for (const Question& q : open) search(walk, from, to, q);
      return;
    }
    const int middle = from + (to - from) / 2;
    follow_pieces(walk, from, middle, open, true);
    follow_pieces(walk, middle, to, open, true);
    return;
  }
  for (int k = from; k < to; ++k) {
    const Vec3 a = walk.place(k), b = walk.place(k + 1);
    for (const Question& q : asked) {
      improve(q, walk.shapes.outline[q.mover], a, b, walk.way.sag, walk.motion,
              walk.out.nearest[q.mover][q.obstacle][walk.kind()]);
    }
    if (cuts) stock_.cut(walk.shapes.cutting, a, b, walk.way.sag);
  }
}

void ClearanceTracker::follow_way(const Way& way, const nc::Motion& motion,
                                  const ToolShapes& shapes, ToolClearance& out) {
  static const Questions all = [] {
    Questions q;
    for (int m = 0; m < movers; ++m) {
      for (int o = 0; o < obstacles; ++o) {
        if (m != 0 || o == static_cast<int>(Obstacle::fixture)) q.push_back({m, o});
      }
    }
    return q;
  }();
  Walk walk{way, motion, shapes, 1, out};
  const Questions open = open_for(walk, 0, 1, all);
  const bool cuts = stock_.meets(shapes.cutting, way.a, way.b);
  if (open.empty() && !cuts) return;
  // Going down, and where the cutter clears the shank's way as it goes, pieces of a cell each.
  const Vec3 step = way.b - way.a;
  const bool by_length = cuts && std::any_of(open.begin(), open.end(), [](const Question& q) {
                           return q.obstacle == static_cast<int>(Obstacle::stock);
                         });
  const double extent = by_length ? step.norm() : std::abs(step.z());
  walk.pieces = std::max(1, static_cast<int>(std::ceil(extent / stock_.cell() - 1e-9)));
  follow_pieces(walk, 0, walk.pieces, open, cuts);
}

std::map<int, ToolClearance> ClearanceTracker::follow(
    const nc::Program& program, const std::function<void(std::size_t)>& before) {
  std::map<int, ToolClearance> out;
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    const nc::Motion& m = program.motions[i];
    if (before) before(i);
    const int tool = program.states[m.state].tool;
    const ToolShapes* shape = shapes(tool);
    if (shape == nullptr) continue;
    ToolClearance& clearance = out[tool];
    for (const Way& way : ways_of(m)) follow_way(way, m, *shape, clearance);
  }
  return out;
}

}  // namespace proveout::clearance
