#include "sim/checks/zero_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/find_tool.h"
#include "sim/checks/registry.h"
#include "sim/checks/straightened.h"
#include "sim/measure/measure.h"
#include "sim/measure/probe.h"
#include "sim/run/tool_runs.h"
#include "sim/setup/pose.h"

namespace proveout::checks {
namespace {

constexpr double least_gouge_share = 0.01;  // of what the setup removes
constexpr double deep_times = 3, deep_share = 0.2;
constexpr double below_mm = 3;  // a drill's point and the run-out of an outline stay above that
constexpr double air_share = 0.005;
constexpr double rapid_share = 0.05;
constexpr double bad_weight = 20;    // what is cut wrongly against what is cut rightly
constexpr double same_voxels = 0.1;  // zeros nearer than this are one
// Of the feed moves' length in the blank from the declared zero, what must cut there from one that
// fits (choice): from beside the work a program cuts little wrongly, and little else.
constexpr double least_in_cut = 0.7;
constexpr double grazing_mm2 = 1e-3;  // mm3 a mm of path: below, a touched face
// Of what the declared zero takes off near the part's surface, what one that fits takes off there
// at least (choice): a program that runs beside the part in a larger blank cuts nothing wrongly.
constexpr double least_of_skin = 0.3;
constexpr double least_skin_share = 0.05;  // of what it takes off at all (choice)
constexpr double skin_voxels = 3;
// Of the feed moves' length, what runs beside the blank from a zero that is doubted (choice).
constexpr double beside_share = 0.6;

double depth_limit(const job::Job& job, int number, const std::string& material) {
  const job::Tool* tool = job::find_tool(job.tools, number);
  return tool == nullptr ? 0 : tool->limits_for(material).axial_depth;
}

double lowest_of(const Box3& blank, const RigidMotion& stock_from_setup) {
  const RigidMotion setup_from_stock = stock_from_setup.inverse();
  double least = 1e9;
  for (int corner = 0; corner < 8; ++corner)
    least = std::min(least,
                     (setup_from_stock * blank.corner(static_cast<Box3::CornerType>(corner))).z());
  return least;
}

double lowest_tip(const nc::Program& program) {
  double least = 1e9;
  for (const nc::Motion& m : program.motions) least = std::min(least, nc::bounds(m).min().z());
  return least;
}

std::string word(job::ZeroEdge edge, const char* low, const char* high) {
  return edge == job::ZeroEdge::min ? low : edge == job::ZeroEdge::max ? high : "centre";
}

std::string words(const job::Zero& z) {
  if (z.at) return fmt::format("at [{:g}, {:g}, {:g}]", z.at->x(), z.at->y(), z.at->z());
  return fmt::format("on = \"{}\", x = \"{}\", y = \"{}\", z = \"{}\"",
                     z.on == job::ZeroOn::blank ? "blank" : "milled", word(z.x, "min", "max"),
                     word(z.y, "min", "max"), word(z.z, "bottom", "top"));
}

// How many of a zero's choices differ from the declared one: of equals the nearest is named first.
int changes(const job::Zero& a, const job::Zero& b) {
  if (a.at.has_value() != b.at.has_value()) return 4;
  return static_cast<int>(a.on != b.on) + static_cast<int>(a.x != b.x) +
         static_cast<int>(a.y != b.y) + static_cast<int>(a.z != b.z);
}

class Search {
 public:
  explicit Search(const ZeroSearchInput& in)
      : in_(in), voxel_(in.before.voxel()), program_(straightened(*in.done.source, 0.25 * voxel_)) {
    // Middles of the cells that are material before, told apart by the part.
    const Box3& b = in.blank;
    const Vec3 n = (b.sizes() / voxel_).array().ceil();
    measure::StockProbe probe(in.before);
    for (int x = 0; x < n.x(); ++x) {
      for (int y = 0; y < n.y(); ++y) {
        for (int z = 0; z < n.z(); ++z) {
          const Vec3 p = b.min() + voxel_ * Vec3(x + 0.5, y + 0.5, z + 0.5);
          if (probe.at(p) >= 0) continue;
          if (in.part == nullptr) {
            waste_.push_back(p);
            continue;
          }
          const double d = in.part->at(p);
          if (d < -0.75 * voxel_) wanted_.push_back(p);
          if (d > 0.75 * voxel_) waste_.push_back(p);
          if (std::abs(d) < skin_voxels * voxel_) skin_.push_back(p);
        }
      }
    }
  }

  std::optional<run::ZeroSearch> go() {
    run::ZeroSearch out;
    out.setup = in_.setup.name;
    out.voxel = voxel_;
    const std::vector<std::pair<job::Zero, RigidMotion>> zeros = candidates();
    for (const auto& [zero, pose] : zeros) {
      if (in_.progress && !in_.progress(static_cast<double>(out.tried) / zeros.size()))
        return std::nullopt;
      const auto tried = attempt(zero, pose);
      if (!tried) return std::nullopt;
      if (out.tried++ == 0) {
        out.declared = tried->trial;
        declared_ = *tried;
      } else {
        trials_.push_back(*tried);
      }
    }
    choose(out);
    return out;
  }

 private:
  // The declared zero first; then all others, those with fewest changes first.
  std::vector<std::pair<job::Zero, RigidMotion>> candidates() const {
    const Eigen::Matrix3d turn = setup::machine_from_stock_rotation(in_.setup.turn);
    const Box3 milled = measure::extent(in_.before, turn, in_.setup.zero.band);
    std::vector<std::pair<job::Zero, RigidMotion>> out{{in_.setup.zero, in_.done.stock_from_setup}};
    std::vector<job::Zero> all;
    const bool first = &in_.setup == &in_.job.setups.front();
    for (int k = 0; k < (first ? 18 : 36); ++k) {
      job::Zero z = in_.setup.zero;
      const bool somewhere = z.at.has_value();
      if (somewhere) z.offset = Vec3::Zero();
      z.at.reset();
      z.on = k / 18 == 0 ? job::ZeroOn::blank : job::ZeroOn::milled;
      z.x = static_cast<job::ZeroEdge>(k % 3);
      z.y = static_cast<job::ZeroEdge>(k / 3 % 3);
      z.z = k / 9 % 2 == 0 ? job::ZeroEdge::max : job::ZeroEdge::min;
      // The declared one once more lies elsewhere where this stock lost a sliver the run's own has.
      if (somewhere || changes(z, in_.setup.zero) > 0) all.push_back(z);
    }
    std::stable_sort(all.begin(), all.end(), [&](const job::Zero& a, const job::Zero& b) {
      return changes(a, in_.setup.zero) < changes(b, in_.setup.zero);
    });
    for (const job::Zero& z : all) {
      job::Setup setup = in_.setup;
      setup.zero = z;
      const RigidMotion pose = setup::stock_from_setup(setup, in_.blank, milled);
      const bool known = std::any_of(out.begin(), out.end(), [&](const auto& o) {
        return (o.second.translation() - pose.translation()).norm() < same_voxels * voxel_;
      });
      if (!known) out.emplace_back(z, pose);
    }
    return out;
  }

  struct Tried {
    run::ZeroTrial trial;
    double in_cut_mm = 0;  // length of the feed moves that cut
    double skin_mm3 = 0;   // removed near the part's surface, on both sides of it
  };

  std::optional<Tried> attempt(const job::Zero& zero, const RigidMotion& pose) const {
    Tried out;
    run::ZeroTrial& t = out.trial;
    t.words = words(zero);
    t.stock_from_setup = pose;
    t.below = std::max(0.0, lowest_of(in_.blank, pose) - lowest_tip(*in_.done.source));
    stock::Stock stock = in_.before.clone();
    stock::CutOptions options;
    options.threads = in_.threads;
    options.shank_and_holder = false;
    const stock::Cut cut =
        stock.cut(program_.motions, run::tool_runs(program_, in_.bodies), pose, 1, options);
    if (cut.stopped) return std::nullopt;
    for (std::size_t k = 0; k < cut.motions.size(); ++k) {
      const nc::Motion& m = program_.motions[k];
      const double removed = cut.motions[k].removed_mm3, long_mm = nc::length(m);
      if (m.kind == nc::PathKind::rapid)
        t.rapid_mm3 += removed;
      else if (removed > grazing_mm2 * long_mm)
        out.in_cut_mm += long_mm * share_in_blank(m, pose);
    }
    t.rapid_mm3 =
        std::max(0.0, t.rapid_mm3);  // a grazed face can sum to a little less than nothing
    measure::StockProbe probe(stock);
    const double cube = voxel_ * voxel_ * voxel_;
    const auto gone = [&](const std::vector<Vec3>& places) {
      std::size_t n = 0;
      for (const Vec3& p : places) n += probe.at(p) >= 0 ? 1 : 0;
      return static_cast<double>(n) * cube;
    };
    t.useful_mm3 = gone(waste_);
    t.gouged_mm3 = gone(wanted_);
    out.skin_mm3 = gone(skin_);
    return out;
  }

  // Of a move's length: a long one that only grazes the blank cuts next to nothing.
  double share_in_blank(const nc::Motion& m, const RigidMotion& pose) const {
    constexpr int places = 16;
    const Box3 wide(in_.blank.min().array() - voxel_, in_.blank.max().array() + voxel_);
    int inside = 0;
    for (int k = 0; k < places; ++k)
      inside += wide.contains(pose * nc::point_at(m, (k + 0.5) / places)) ? 1 : 0;
    return static_cast<double>(inside) / places;
  }

  double score(const run::ZeroTrial& t) const {
    // Without a part the depth below the blank is all there is to tell too deep from right.
    const double area = in_.blank.sizes().x() * in_.blank.sizes().y();
    const double below = in_.part == nullptr && t.below > below_mm ? t.below * area : 0;
    return t.useful_mm3 - bad_weight * (t.gouged_mm3 + t.rapid_mm3) - below;
  }

  // The zeros that fit: next to nothing cut wrongly, no program that runs mostly beside the work,
  // about as much cut rightly as by any other such, and clearly better than the declared one.
  // Trials tell scores to some hundredths only, so of those near the best the one with the fewest
  // changes comes first; without a part, where nothing says what is waste, of all that fit.
  void choose(run::ZeroSearch& out) {
    const double declared = score(out.declared);
    const double wrong_before = out.declared.gouged_mm3 + out.declared.rapid_mm3;
    const double cube = voxel_ * voxel_ * voxel_;
    double best = 0;
    for (const Tried& tried : trials_) {
      const run::ZeroTrial& t = tried.trial;
      const double wrong = t.gouged_mm3 + t.rapid_mm3;
      // What would itself be doubted is no remedy: below the blank lie the bed and the clamps.
      if (t.useful_mm3 < 20 * cube || t.below > below_mm) continue;
      if (wrong > std::max({8 * cube, 0.1 * wrong_before, 0.002 * t.useful_mm3})) continue;
      if (score(t) < declared + 0.05 * t.useful_mm3) continue;
      if (tried.in_cut_mm < least_in_cut * declared_.in_cut_mm) continue;
      // One far too deep takes off all the skin there is: what fits need not take off as much.
      if (tried.skin_mm3 < least_of_skin * declared_.skin_mm3 &&
          tried.skin_mm3 < least_skin_share * t.useful_mm3)
        continue;
      best = std::max(best, score(t));
      out.fits.push_back(t);
    }
    const double near = in_.part == nullptr ? 0.5 : 0.98;
    std::erase_if(out.fits, [&](const run::ZeroTrial& t) { return score(t) < near * best; });
    out.text = describe(out);
  }

  std::string describe(const run::ZeroSearch& s) const {
    const std::string gouge =
        in_.part == nullptr
            ? ""
            : fmt::format("cuts {:.0f} mm3 out of the part and ", s.declared.gouged_mm3);
    std::string out = fmt::format("the declared zero ({}) {}{:.0f} mm3 of waste, {:.0f} by rapids",
                                  s.declared.words, gouge.empty() ? "takes " : gouge + "takes ",
                                  s.declared.useful_mm3, s.declared.rapid_mm3);
    if (s.fits.empty())
      return out + fmt::format("; none of {} other zeros tried fits better: {}", s.tried - 1,
                               in_.shifted.empty() ? "look at the program"
                                                   : "the declared one would fit " + in_.shifted);
    const run::ZeroTrial& best = s.fits.front();
    const std::string other =
        in_.part == nullptr ? "" : fmt::format("{:.0f} out of the part and ", best.gouged_mm3);
    out += fmt::format("; {} would have fitted: {}{:.0f} of waste, {:.0f} by rapids", best.words,
                       other, best.useful_mm3, best.rapid_mm3);
    for (std::size_t k = 1; k < s.fits.size() && k < 4; ++k)
      out += (k == 1 ? "; so would " : ", or ") + s.fits[k].words;
    return out + fmt::format(" (told to {:g} mm)", s.voxel);
  }

  const ZeroSearchInput& in_;
  double voxel_;
  nc::Program program_;
  std::vector<Vec3> wanted_, waste_, skin_;
  std::vector<Tried> trials_;
  Tried declared_;
};

// Of the feed moves' length, the share that runs beside the blank by more than the tool's radius.
double share_beside(const run::SetupResult& setup, const job::Job& job, const Box3& blank) {
  constexpr int places = 8;
  const Box3 lies = blank.transformed(setup.stock_from_setup.inverse());
  const Eigen::AlignedBox2d work(lies.min().head<2>(), lies.max().head<2>());
  double all = 0, beside = 0;
  for (const nc::Motion& m : setup.source->motions) {
    if (m.kind == nc::PathKind::rapid) continue;
    const job::Tool* tool = job::find_tool(job.tools, setup.source->states[m.state].tool);
    const double radius = tool == nullptr ? 0 : tool->diameter / 2;
    const double share = nc::length(m) / places;
    for (int k = 0; k < places; ++k) {
      const Eigen::Vector2d at = nc::point_at(m, (k + 0.5) / places).head<2>();
      all += share;
      if (work.exteriorDistance(at) > radius) beside += share;
    }
  }
  return all > 0 ? beside / all : 0;
}

}  // namespace

std::optional<std::string> why_zero_is_doubted(const run::SetupResult& setup, const job::Job& job,
                                               const std::string& material, const Box3& blank) {
  double deep = 0, rapid = 0, feed = 0, feed_mm = 0;
  for (std::size_t k = 0; k < setup.cut.motions.size(); ++k) {
    const nc::Motion& m = setup.source->motions[k];
    const double removed = setup.cut.motions[k].removed_mm3;
    if (m.kind == nc::PathKind::rapid) {
      rapid += removed;
      continue;
    }
    feed += removed;
    feed_mm += nc::length(m);
    const double limit = depth_limit(job, setup.source->states[m.state].tool, material);
    if (limit > 0 && static_cast<double>(setup.peaks[k].axial_depth) >= deep_times * limit)
      deep += removed;
  }
  const double all = feed + rapid;
  if (setup.gouge_mm3 > least_gouge_share * all && setup.gouge_mm3 > 1)
    return fmt::format("it cuts {:.0f} mm3 out of the part", setup.gouge_mm3);
  if (rapid > rapid_share * all && rapid > 1) return fmt::format("rapids take {:.0f} mm3", rapid);
  if (deep > deep_share * all)
    return fmt::format("{:.0f} % is cut at {:g} times the depth limit or more", 100 * deep / all,
                       deep_times);
  const double below = lowest_of(blank, setup.stock_from_setup) - lowest_tip(*setup.source);
  if (below > below_mm) return fmt::format("the tip goes {:.1f} mm below the blank", below);
  // Against a scratch a hundredth of a millimetre deep and half a millimetre wide all along.
  if (feed_mm > 0 && feed <= air_share * feed_mm) return "it cuts next to nothing but air";
  const double beside = share_beside(setup, job, blank);
  if (beside > beside_share)
    return fmt::format("{:.0f} % of its feed moves run beside the blank", 100 * beside);
  return std::nullopt;
}

std::optional<std::size_t> only_air(const run::SetupResult& setup) {
  // A touching face can sum to a little more than nothing.
  constexpr double least_mm3 = 1e-6;
  std::optional<std::size_t> first;
  for (std::size_t k = 0; k < setup.cut.motions.size(); ++k) {
    if (setup.cut.motions[k].removed_mm3 > least_mm3) return std::nullopt;
    const nc::Motion& m = setup.source->motions[k];
    const bool meant_to_cut = m.kind != nc::PathKind::rapid && nc::length(m) > 0 &&
                              setup.source->states[m.state].turn != nc::SpindleTurn::stopped;
    if (meant_to_cut && !first) first = k;
  }
  return first;
}

double zero_search_voxel(const job::Job& job, const Box3& blank, double voxel) {
  double smallest = 1e9;
  for (const job::Tool& t : job.tools) smallest = std::min(smallest, t.diameter);
  const double cells = std::cbrt(blank.sizes().prod() / 400e3);
  return std::max({voxel, std::min(smallest / 4, 2.0), cells});
}

std::optional<run::ZeroSearch> search_zero(const ZeroSearchInput& in) { return Search(in).go(); }

Finding zero_finding(const run::ZeroSearch& search, const run::SetupResult& setup) {
  Finding f;
  f.kind = FindingKind::wrong_zero;
  f.level = Severity::warning;
  f.setup = setup.name;
  f.file = setup.program;
  const run::ZeroTrial& best = search.fits.front();
  f.at = setup.stock_from_setup.inverse() * best.stock_from_setup.translation();
  f.value = f.at.norm();
  f.unit = "mm";
  f.text = search.text;
  return f;
}

Finding air_finding(const run::ZeroSearch& search, const run::SetupResult& setup,
                    std::size_t first_feed) {
  Finding f = search.fits.empty() ? Finding{} : zero_finding(search, setup);
  const nc::Motion& m = setup.source->motions[first_feed];
  f.kind = FindingKind::wrong_zero;
  f.level = Severity::warning;
  f.setup = setup.name;
  f.file = setup.program;
  f.line = m.line;
  f.tool = setup.source->states[m.state].tool;
  if (search.fits.empty()) f.at = m.start;
  f.detail = "nothing-removed";
  f.text = "this setup removes nothing: every feed move runs through air; " + search.text;
  return f;
}

constinit const run::Check kinds::wrong_zero{
    .kind = FindingKind::wrong_zero,
    .level = Severity::warning,
    .meaning =
        "another zero than the declared one would fit the program, or the setup removes nothing",
    .help = "Check which corner, middle or face the program was posted for, then the job file."};

}  // namespace proveout::checks
