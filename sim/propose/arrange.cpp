#include "sim/propose/arrange.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/causes/shift_fit.h"
#include "sim/checks/straightened.h"
#include "sim/measure/measure.h"
#include "sim/measure/surface_samples.h"
#include "sim/run/tool_runs.h"
#include "sim/setup/pose.h"

namespace proveout::propose {
namespace {

using Samples = std::vector<measure::SurfaceSample>;

constexpr double inside_weight = 1.5;   // as sim/causes/shift_fit weighs it
constexpr double as_good_share = 0.98;  // of the best score
constexpr double least_on = 0.25;       // of the milled surface, to speak of a fit at all
constexpr double exact_share = 0.12;    // of a fine voxel: on a face, not only near it
constexpr std::size_t few = 400, most = 5000;
constexpr std::size_t beam = 3, most_origins = 3;

double voxel_for(const ArrangeInput& in) {
  double smallest = 1e9;
  for (const auto& [number, body] : in.bodies) smallest = std::min(smallest, body.diameter);
  const double cells = std::cbrt(in.blank.prod() / 400e3);
  return std::max({std::min(smallest / 4, 2.0), cells, 0.2});
}

Samples thinned(const Samples& of, std::size_t count) {
  Samples out;
  const std::size_t every = std::max<std::size_t>(1, of.size() / count);
  for (std::size_t i = every / 2; i < of.size(); i += every) out.push_back(of[i]);
  return out;
}

// Of all that was cut.
Samples cut_samples(const stock::Stock& stock) {
  return measure::surface_samples(
      stock, [](const Vec3&, stock::MotionId by) { return by != stock::from_blank; },
      std::numeric_limits<std::size_t>::max());
}

// By 0 degrees: not turned over.
std::vector<job::Turn> turns_said(const job::Turn& said) {
  return said.degrees == 0 ? std::vector<job::Turn>() : std::vector{said};
}

bool same(const std::vector<job::Turn>& a, const std::vector<job::Turn>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](const job::Turn& one, const job::Turn& other) {
                      return one.about == other.about && one.degrees == other.degrees;
                    });
}

struct Origin {
  Vec3 at;
  double on = 0, inside = 0, score = 0;
};

// A stock cut so far, and the choices that made it.
struct State {
  std::vector<Side> sides;
  std::shared_ptr<stock::Stock> stock;
  std::vector<bool> rapid;  // by MotionId
  std::vector<Origin> origins;
  double score() const { return origins.empty() ? 0 : origins.front().score; }
};

// How much of a surface lies on the part laid there, and inside it.
Origin judged_of(const solid::PartDistance& part, const Samples& of, const std::vector<bool>& rapid,
                 const Vec3& origin, double scale, double within) {
  Origin out{origin};
  for (const measure::SurfaceSample& s : of) {
    const double d = part.at(s.at.cast<double>() - origin, 4 * within);
    const bool wrong = d < -within || (s.by < rapid.size() && rapid[s.by]);
    if (wrong) {
      out.inside += 1;
    } else if (d <= within) {
      out.on += 1;
    }
  }
  out.score = scale * (out.on - inside_weight * out.inside);
  const double all = std::max<double>(1, static_cast<double>(of.size()));
  out.on /= all;
  out.inside /= all;
  return out;
}

// The origin refined by the surface that lies near it; one that runs away stays where it was. Its
// scale (mm) is drawn in to `last` voxels.
Vec3 refined(const solid::PartDistance& part, const Samples& of, const Vec3& origin, double scale,
             double voxel, double last = 0.1) {
  constexpr int steps = 12;
  const double reach = std::max(4 * voxel, 4 * scale);
  const Vec3 at = causes::refined_shift(of, part, origin, steps, scale, last * voxel, reach);
  return (at - origin).norm() < reach ? at : origin;
}

// Round figures are what people draw with: the middle of the blank, the program's zero, half and
// tenths of a millimetre, where the fit cannot tell them from what it found. The earlier of these
// goes before a later one that lies no more than a hair nearer.
Vec3 rounded(const Vec3& fit, const Vec3& middle, const Vec3& zero, double voxel) {
  constexpr double hair = 0.02, tenths_within = 0.03;  // mm: the fit is that good (choices)
  Vec3 out = fit;
  for (int axis = 0; axis < 3; ++axis) {
    const double at = fit[axis];
    const std::pair<double, double> figures[] = {{middle[axis], 0.2 * voxel},
                                                 {zero[axis], 0.2 * voxel},
                                                 {std::round(2 * at) / 2, 0.2 * voxel},
                                                 {std::round(10 * at) / 10, tenths_within}};
    double nearest = 1e30;
    for (const auto& [to, within] : figures) {
      if (std::abs(at - to) <= within) nearest = std::min(nearest, std::abs(at - to));
    }
    double taken = std::round(100 * at) / 100;
    for (const auto& [to, within] : figures) {
      if (std::abs(at - to) > std::min(within, nearest + hair)) continue;
      taken = to;
      break;
    }
    out[axis] = std::round(1000 * taken) / 1000 + 0.0;
  }
  return out;
}

class Arranger {
 public:
  explicit Arranger(const ArrangeInput& in) : in_(in), voxel_(voxel_for(in)) {
    for (const SideToArrange& s : in.sides)
      programs_.push_back(checks::straightened(*s.program, 0.25 * voxel_));
  }

  std::optional<Arranged> go() {
    Arranged out;
    out.voxel = voxel_;
    State blank;
    blank.stock = std::make_shared<stock::Stock>(stock::Stock::box(in_.blank, voxel_));
    blank.rapid.assign(1, false);
    std::vector<State> states{std::move(blank)};
    for (std::size_t i = 0; i < in_.sides.size(); ++i) {
      std::vector<State> next;
      for (const State& s : states) {
        for (const Side& side : choices(s, i)) {
          if (!tell(i, next.size())) return std::nullopt;
          next.push_back(cut(s, side, i));
          ++out.tried;
        }
      }
      std::stable_sort(next.begin(), next.end(),
                       [](const State& a, const State& b) { return a.score() > b.score(); });
      if (in_.part == nullptr) next.resize(std::min<std::size_t>(next.size(), 1));
      if (i + 1 < in_.sides.size()) next.resize(std::min(next.size(), beam));
      states = std::move(next);
    }
    finish(states, out);
    return out;
  }

 private:
  bool tell(std::size_t side, std::size_t done) const {
    if (!in_.progress) return true;
    const double of_side = 1 - std::pow(0.8, static_cast<double>(done));
    return in_.progress((static_cast<double>(side) + of_side) /
                        static_cast<double>(in_.sides.size()));
  }

  std::vector<std::vector<job::Turn>> turns(std::size_t i) const {
    if (i == 0) return {{}};
    std::vector<std::vector<job::Turn>> out;
    const std::optional<job::Turn>& said = in_.sides[i].said_turn;
    if (said) out.push_back(turns_said(*said));
    if (in_.part == nullptr)
      return said ? out : std::vector<std::vector<job::Turn>>{{{job::Axis::y, 180}}};
    for (const job::Axis axis : {job::Axis::y, job::Axis::x}) {
      if (said && said->about == axis && std::abs(said->degrees) == 180) continue;
      out.push_back({{axis, 180}});
    }
    if (!said || !turns_said(*said).empty()) out.emplace_back();
    return out;
  }

  std::vector<Side> choices(const State& s, std::size_t i) const {
    const ZeroChoices& zeros = in_.sides[i].zeros;
    std::vector<Side> out;
    std::vector<Vec3> known;
    for (const auto& turn : turns(i)) {
      known.clear();
      const auto band = i == 0 ? std::nullopt : milled_band(*s.stock, turn);
      const auto add = [&](const Side& side) {
        const Vec3 place = pose(s, side).translation();
        for (const Vec3& k : known)
          if ((k - place).norm() < 0.05 * voxel_) return;
        known.push_back(place);
        out.push_back(side);
      };
      for (const job::Zero& zero : zeros.zeros) {
        Side on_blank{zero, turn}, on_milled{zero, turn};
        on_milled.zero.on = job::ZeroOn::milled;
        on_milled.zero.band = band;
        if (zeros.must_be_milled) add(on_milled);
        if (!zeros.must_be_milled || in_.part != nullptr) add(on_blank);
        if (zeros.may_be_milled && band && in_.part != nullptr) add(on_milled);
      }
      if (in_.part == nullptr) break;
    }
    if (in_.part == nullptr && out.size() > 1) out.resize(1);
    return out;
  }

  RigidMotion pose(const State& s, const Side& side) const {
    job::Setup setup;
    setup.turn = side.turn;
    setup.zero = side.zero;
    const Box3 blank(Vec3::Zero(), in_.blank);
    Box3 milled;
    if (side.zero.on == job::ZeroOn::milled)
      milled =
          measure::extent(*s.stock, setup::machine_from_stock_rotation(side.turn), side.zero.band);
    return setup::stock_from_setup(setup, blank, milled);
  }

  // The longest range of heights over which the piece is equally wide and deep, and narrower than
  // the blank: where an edge finder would touch what was milled.
  std::optional<std::pair<double, double>> milled_band(const stock::Stock& stock,
                                                       const std::vector<job::Turn>& turn) const {
    const Eigen::Matrix3d rotation = setup::machine_from_stock_rotation(turn);
    const Box3 blank = setup::turned(Box3(Vec3::Zero(), in_.blank), rotation);
    const double high = blank.sizes().z();
    const double step = std::max(voxel_, high / 24);
    struct Run {
      double from = 0, to = 0;
      Box3 box;
    };
    std::vector<Run> runs;
    for (double at = 0.5 * step; at + step <= high; at += step) {
      const Box3 box = measure::extent(stock, rotation, std::pair{at, at + step});
      if (box.isEmpty()) continue;
      const auto differs = [&](const Box3& a, const Box3& b, double by) {
        return ((a.min() - b.min()).head<2>().cwiseAbs().array() > by).any() ||
               ((a.max() - b.max()).head<2>().cwiseAbs().array() > by).any();
      };
      if (!differs(box, blank, 0.5 * voxel_)) continue;
      if (!runs.empty() && std::abs(runs.back().to - at) < 0.01 * step &&
          !differs(box, runs.back().box, 0.3 * voxel_)) {
        runs.back().to = at + step;
      } else {
        runs.push_back({at, at + step, box});
      }
    }
    const auto longest = std::max_element(runs.begin(), runs.end(), [](const Run& a, const Run& b) {
      return a.to - a.from < b.to - b.from;
    });
    if (longest == runs.end() || longest->to - longest->from < 2.5 * step) return std::nullopt;
    const double length = longest->to - longest->from;
    return std::pair{std::ceil(longest->from + 0.15 * length),
                     std::floor(longest->to - 0.25 * length)};
  }

  State cut(const State& before, const Side& side, std::size_t i) const {
    State out;
    out.sides = before.sides;
    out.sides.push_back(side);
    out.rapid = before.rapid;
    out.stock = std::make_shared<stock::Stock>(before.stock->clone());
    stock::CutOptions options;
    options.threads = in_.threads;
    options.shank_and_holder = false;
    const nc::Program& program = programs_[i];
    out.stock->cut(program.motions, run::tool_runs(program, in_.bodies), pose(before, side),
                   static_cast<stock::MotionId>(out.rapid.size()), options);
    for (const nc::Motion& m : program.motions) out.rapid.push_back(m.kind == nc::PathKind::rapid);
    if (in_.part != nullptr) fit_origins(before, out);
    return out;
  }

  Origin judged(const Samples& of, const std::vector<bool>& rapid, const Vec3& origin,
                double scale) const {
    return judged_of(*in_.part, of, rapid, origin, scale, 0.5 * voxel_);
  }

  // Where the part may lie: for the first side from scratch, later where it lay well before.
  void fit_origins(const State& before, State& state) const {
    const Samples all = cut_samples(*state.stock);
    const Samples coarse = thinned(all, few), fine = thinned(all, most);
    if (coarse.size() < 20) return;
    std::vector<Vec3> starts;
    if (before.origins.empty()) {
      starts = first_starts(state, coarse);
    } else {
      for (const Origin& o : before.origins) starts.push_back(o.at);
    }
    const double scale = static_cast<double>(all.size()) / static_cast<double>(fine.size());
    for (const Vec3& start : starts) {
      // As it is too: a side put down wrongly must not draw the part after it.
      Origin best = judged(fine, state.rapid, start, scale);
      const Vec3 moved = refined(*in_.part, thinned(all, 4 * few), start, voxel_, voxel_);
      if (const Origin there = judged(fine, state.rapid, moved, scale); there.score > best.score)
        best = there;
      const bool known =
          std::any_of(state.origins.begin(), state.origins.end(),
                      [&](const auto& o) { return (o.at - best.at).norm() < 0.5 * voxel_; });
      if (!known) state.origins.push_back(best);
    }
    std::stable_sort(state.origins.begin(), state.origins.end(),
                     [](const Origin& a, const Origin& b) { return a.score > b.score; });
    state.origins.resize(std::min(state.origins.size(), most_origins));
  }

  // Middle of the blank, middle of the cuts, the program's zero and the blank's corner, each at all
  // heights at which the part lies within the blank: the best of those.
  std::vector<Vec3> first_starts(const State& state, const Samples& coarse) const {
    const Box3 part = mesh::bounds(in_.part->mesh());
    const Vec3 room = in_.blank - part.sizes();
    State fresh;
    fresh.stock = state.stock;
    const Vec3 zero = pose(fresh, state.sides.back()).translation();
    Box3 cuts;
    for (const auto& s : coarse) cuts.extend(s.at.cast<double>());
    std::vector<Vec3> plans = {0.5 * in_.blank - part.center(), zero, -part.min(),
                               cuts.center() - part.center()};
    std::vector<Origin> found;
    const double lowest = -part.min().z() - 2 * voxel_;
    const double highest = lowest + std::max(room.z(), 0.0) + 4 * voxel_;
    for (const Vec3& plan : plans) {
      for (double z = lowest; z <= highest; z += 0.5 * voxel_) {
        const Vec3 origin(plan.x(), plan.y(), z);
        const Box3 there(part.min() + origin, part.max() + origin);
        if (((there.min().array() < -2 * voxel_).any()) ||
            ((there.max() - in_.blank).array() > 2 * voxel_).any())
          continue;
        found.push_back(judged(coarse, state.rapid, origin, 1));
      }
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const Origin& a, const Origin& b) { return a.score > b.score; });
    std::vector<Vec3> out;
    for (const Origin& o : found) {
      const bool near = std::any_of(out.begin(), out.end(),
                                    [&](const Vec3& k) { return (k - o.at).norm() < 2 * voxel_; });
      if (!near) out.push_back(o.at);
      if (out.size() == 2 * most_origins) break;
    }
    return out;
  }

  Arrangement told(const State& s, const Origin& o) const {
    Arrangement a;
    a.sides = s.sides;
    a.origin = o.at;
    a.on = o.on;
    a.inside = o.inside;
    a.score = o.score;
    return a;
  }

  void finish(const std::vector<State>& states, Arranged& out) const {
    if (states.empty()) return;
    const State* best = &states.front();
    if (in_.part == nullptr || best->origins.empty()) {
      out.best.sides = best->sides;
      return;
    }
    // What comments say goes before what is as good.
    for (const State& s : states) {
      if (s.score() < as_good_share * states.front().score()) continue;
      if (said(s) > said(*best)) best = &s;
    }
    out.best = told(*best, best->origins.front());
    out.fitted = out.best.on >= least_on && out.best.inside < 0.5 * out.best.on;
    for (const State& s : states) {
      if (&s == best || s.origins.empty()) continue;
      if (s.score() >= as_good_share * best->score())
        out.as_good.push_back(told(s, s.origins.front()));
    }
  }

  // How much of a state is as comments say.
  int said(const State& s) const {
    int out = 0;
    for (std::size_t i = 0; i < s.sides.size(); ++i) {
      const SideToArrange& side = in_.sides[i];
      const auto& turn = s.sides[i].turn;
      if (side.said_turn && same(turn, turns_said(*side.said_turn))) out += 2;
      if (side.zeros.must_be_milled == (s.sides[i].zero.on == job::ZeroOn::milled)) ++out;
      const job::Zero& z = side.zeros.zeros.front();
      if (z.x == s.sides[i].zero.x && z.y == s.sides[i].zero.y && z.z == s.sides[i].zero.z) ++out;
    }
    return out;
  }

  const ArrangeInput& in_;
  double voxel_;
  std::vector<nc::Program> programs_;
};

}  // namespace

std::optional<Arranged> arrange(const ArrangeInput& in) { return Arranger(in).go(); }

FinalOrigin settle_origin(const ArrangeInput& in, const Arrangement& arrangement,
                          const stock::Stock& stock, double told_to) {
  const double voxel = stock.voxel();
  const Samples all = cut_samples(stock);
  const Samples fine = thinned(all, most), some = thinned(all, most / 3);
  // Faces that lie exactly on the part speak louder than many that lie near it: a face cut wrongly
  // by a little must not draw the part half way to itself.
  const auto judge = [&](const Vec3& origin) {
    Origin o = judged_of(*in.part, fine, {}, origin, 1, 0.5 * voxel);
    std::size_t exact = 0;
    for (const measure::SurfaceSample& s : fine)
      exact += std::abs(in.part->at(s.at.cast<double>() - origin, voxel)) <= exact_share * voxel;
    o.score =
        static_cast<double>(exact) / static_cast<double>(std::max<std::size_t>(1, fine.size())) -
        inside_weight * o.inside;
    return o;
  };
  Origin best = judge(arrangement.origin);
  const auto look = [&](const Vec3& start, double scale) {
    const Origin there = judge(refined(*in.part, some, start, scale, voxel, 0.04));
    if (there.score > best.score) best = there;
  };
  look(arrangement.origin, 0.5 * told_to);
  for (int axis = 0; axis < 3; ++axis)
    for (const double way : {-0.4, -0.2, 0.2, 0.4})
      look(arrangement.origin + way * told_to * Vec3::Unit(axis), 0.15 * told_to);
  const Box3 part = mesh::bounds(in.part->mesh());
  job::Setup first;
  first.turn = arrangement.sides.front().turn;
  first.zero = arrangement.sides.front().zero;
  const Vec3 zero = setup::stock_from_setup(first, Box3(Vec3::Zero(), in.blank), {}).translation();
  FinalOrigin out{best.at, best.at, best.on, best.inside};
  out.taken = rounded(best.at, 0.5 * in.blank - part.center(), zero, voxel);
  return out;
}

stock::Stock cut_as(const ArrangeInput& in, const Arrangement& arrangement, double voxel) {
  stock::Stock stock = stock::Stock::box(in.blank, voxel);
  stock::CutOptions options;
  options.threads = in.threads;
  options.shank_and_holder = false;
  stock::MotionId id = 1;
  for (std::size_t i = 0; i < in.sides.size(); ++i) {
    const Side& side = arrangement.sides[i];
    job::Setup setup;
    setup.turn = side.turn;
    setup.zero = side.zero;
    Box3 milled;
    if (side.zero.on == job::ZeroOn::milled)
      milled =
          measure::extent(stock, setup::machine_from_stock_rotation(side.turn), side.zero.band);
    const RigidMotion pose = setup::stock_from_setup(setup, Box3(Vec3::Zero(), in.blank), milled);
    const nc::Program program = checks::straightened(*in.sides[i].program, 0.1 * voxel);
    stock.cut(program.motions, run::tool_runs(program, in.bodies), pose, id, options);
    id += static_cast<stock::MotionId>(program.motions.size());
  }
  return stock;
}

std::string in_words(const std::vector<job::Turn>& turn) {
  if (turn.empty()) return "not turned over";
  std::string out;
  for (const job::Turn& t : turn) {
    out += fmt::format("{}turned about {}", out.empty() ? "" : ", then ",
                       "xyz"[static_cast<int>(t.about)]);
    if (std::abs(t.degrees) != 180) out += fmt::format(" by {:g}", t.degrees);
  }
  return out;
}

}  // namespace proveout::propose
