#include "sim/after/pass_families.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <utility>

#include "parser/base/geometry.h"

namespace proveout::after {
namespace {

constexpr double level_within = 1e-6;     // mm
constexpr double shallowest = 0.05;       // mm: less is a skin the grid may make
constexpr std::size_t fewest_beside = 3;  // two passes have a spacing by chance
constexpr double spacing_within = 0.02;   // of the spacing, or mm, whichever is more

// Motions [first, last] at one height, one behind the other.
struct LevelPass {
  std::size_t first = 0, last = 0;
  int tool = 0;
  double z = 0, length = 0, deepest = 0;  // mm
  Box3 box;
};

class Families {
 public:
  Families(const run::SetupResult& setup, const job::Job& job)
      : setup_(setup), program_(*setup.source) {
    for (const job::Tool& t : job.tools) {
      if (t.shape == job::ToolShape::flat || t.shape == job::ToolShape::bull)
        tools_.insert(t.number);
    }
  }

  std::vector<PassFamily> all() {
    find_passes();
    levels();
    rows();
    laps();
    return std::move(out_);
  }

 private:
  int tool_of(std::size_t i) const { return program_.states[program_.motions[i].state].tool; }

  bool is_level(std::size_t i) const {
    const nc::Motion& m = program_.motions[i];
    return m.kind != nc::PathKind::rapid && std::abs(m.end.z() - m.start.z()) < level_within &&
           (m.kind == nc::PathKind::line || m.plane == nc::Plane::xy) &&
           tools_.contains(tool_of(i)) && nc::length(m) > 0;
  }

  double deepest(std::size_t i) const {
    const stock::MotionOutcome& o = setup_.cut.motions[i];
    double out = 0;
    for (std::uint32_t k = 0; k < o.sample_count; ++k)
      out = std::max<double>(out, setup_.cut.samples[o.first_sample + k].axial_depth);
    return out;
  }

  void find_passes() {
    std::optional<LevelPass> now;
    const auto close = [&] {
      if (now && now->deepest > shallowest) passes_.push_back(*now);
      now.reset();
    };
    for (std::size_t i = 0; i < program_.motions.size(); ++i) {
      const nc::Motion& m = program_.motions[i];
      if (!is_level(i)) {
        close();
        continue;
      }
      if (now && (now->tool != tool_of(i) || std::abs(now->z - m.end.z()) > level_within)) close();
      if (!now) now = LevelPass{i, i, tool_of(i), m.end.z(), 0, 0, {}};
      now->last = i;
      now->length += nc::length(m);
      now->box.extend(nc::bounds(m));
      now->deepest = std::max(now->deepest, deepest(i));
    }
    close();
  }

  // Contours that come again deeper down.
  void levels() {
    using Key = std::array<long long, 6>;
    std::map<Key, std::vector<const LevelPass*>> same;
    for (const LevelPass& p : passes_) {
      const auto hundredths = [](double v) { return std::llround(100 * v); };
      same[{p.tool, hundredths(p.box.min().x()), hundredths(p.box.min().y()),
            hundredths(p.box.max().x()), hundredths(p.box.max().y()), std::llround(10 * p.length)}]
          .push_back(&p);
    }
    for (const auto& [key, passes] : same) {
      std::vector<const LevelPass*> stack;
      for (const LevelPass* p : passes) {
        const bool follows = !stack.empty() && p->z < stack.back()->z - shallowest &&
                             p->deepest >= 0.8 * (stack.back()->z - p->z);
        if (!follows) {
          add_stack(stack);
          stack.clear();
        }
        stack.push_back(p);
      }
      add_stack(stack);
    }
  }

  void add_stack(const std::vector<const LevelPass*>& stack) {
    if (stack.size() < 2) return;
    PassFamily f;
    f.freedom = PassFreedom::depth;
    f.tool = stack.front()->tool;
    f.passes = stack.size();
    // The first one's step is what it met, no more than the grid may have added.
    const double second = stack[0]->z - stack[1]->z;
    const double first = std::abs(stack[0]->deepest - second) < 0.05 * second + shallowest
                             ? second
                             : stack[0]->deepest;
    f.whole = first + stack.front()->z - stack.back()->z;
    f.step = first;
    for (std::size_t k = 0; k < stack.size(); ++k) {
      if (k > 0) f.step = std::max(f.step, stack[k - 1]->z - stack[k]->z);
      f.met = std::max(f.met, stack[k]->deepest);
      for (std::size_t i = stack[k]->first; i <= stack[k]->last; ++i)
        f.motions.push_back(static_cast<std::uint32_t>(i));
    }
    out_.push_back(std::move(f));
  }

  // ---- beside each other

  double median_width(const std::vector<std::uint32_t>& motions) const {
    std::vector<double> widths;
    for (const std::uint32_t i : motions) {
      const stock::MotionOutcome& o = setup_.cut.motions[i];
      for (std::uint32_t k = 0; k < o.sample_count; ++k)
        widths.push_back(setup_.cut.samples[o.first_sample + k].radial_width);
    }
    if (widths.empty()) return 0;
    const auto middle = widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2);
    std::nth_element(widths.begin(), middle, widths.end());
    return *middle;
  }

  // passes: the motions of each.
  void add_beside(const std::vector<std::vector<std::uint32_t>>& passes, double spacing) {
    if (passes.size() < fewest_beside) return;
    PassFamily f;
    f.freedom = PassFreedom::width;
    f.tool = tool_of(passes.front().front());
    f.passes = passes.size();
    f.step = spacing;
    f.whole = spacing * static_cast<double>(passes.size() - 1);
    for (const auto& p : passes) f.motions.insert(f.motions.end(), p.begin(), p.end());
    for (const std::uint32_t i : f.motions) {
      if (!beside_.insert(i).second) return;
    }
    f.met = median_width(f.motions);
    if (f.met > 0) out_.push_back(std::move(f));
  }

  static bool alike(double a, double b) {
    return std::abs(a - b) <= std::max(spacing_within * std::abs(b), spacing_within);
  }

  struct Row {
    Vec3 way = Vec3::Zero();              // unit
    double from = 0, to = 0, across = 0;  // mm along way, and left of it
  };
  // Told along the way of another, where both run alike and begin and end alike.
  static std::optional<Row> row_beside(const nc::Motion& m, const Row& other) {
    const Vec3 left(-other.way.y(), other.way.x(), 0);
    const Vec3 way = (m.end - m.start).normalized();
    if (std::abs(left.dot(way)) > 1e-4) return std::nullopt;
    const double a = other.way.dot(m.start), b = other.way.dot(m.end);
    const Row row{other.way, std::min(a, b), std::max(a, b), left.dot(m.start)};
    const double loose = 0.01 * (other.to - other.from) + 0.01;
    if (std::abs(row.from - other.from) > loose || std::abs(row.to - other.to) > loose)
      return std::nullopt;
    return row;
  }

  void rows() {
    std::vector<std::vector<std::uint32_t>> passes;
    Row last;
    double spacing = 0, z = 0, length = 0;
    int tool = 0;
    const auto close = [&] {
      add_beside(passes, std::abs(spacing));
      passes.clear();
      spacing = 0;
    };
    const auto begin = [&](std::uint32_t i) {
      const nc::Motion& m = program_.motions[i];
      const Vec3 way = (m.end - m.start).normalized();
      const double a = way.dot(m.start), b = way.dot(m.end);
      last = {way, a, b, Vec3(-way.y(), way.x(), 0).dot(m.start)};
      z = m.end.z();
      length = nc::length(m);
      tool = tool_of(i);
      passes.push_back({i});
    };
    for (std::size_t k = 0; k < program_.motions.size(); ++k) {
      const auto i = static_cast<std::uint32_t>(k);
      const nc::Motion& m = program_.motions[i];
      if (!is_level(i) || m.kind != nc::PathKind::line) continue;
      const bool same = !passes.empty() && tool == tool_of(i) && std::abs(z - m.end.z()) < 1e-6;
      if (same && nc::length(m) < 0.5 * length) continue;  // from one row to the next
      if (setup_.cut.motions[i].sample_count == 0) continue;
      const auto row = same ? row_beside(m, last) : std::nullopt;
      const double over = row ? row->across - last.across : 0;
      if (!row || std::abs(over) < 0.01 || (passes.size() > 1 && !alike(over, spacing))) {
        close();
        begin(i);
        continue;
      }
      spacing = over;
      last = *row;
      passes.push_back({i});
    }
    close();
  }

  // Closed laps within a level pass: a place is come back to.
  std::vector<std::vector<std::uint32_t>> laps_of(const LevelPass& pass) const {
    std::vector<std::vector<std::uint32_t>> out;
    const auto key = [](const Vec3& p) {
      return std::pair{std::llround(500 * p.x()), std::llround(500 * p.y())};
    };
    std::map<std::pair<long long, long long>, std::size_t> begins;
    for (std::size_t i = pass.first; i <= pass.last; ++i) {
      begins.try_emplace(key(program_.motions[i].start), i);
      const auto back = begins.find(key(program_.motions[i].end));
      if (back == begins.end()) continue;
      std::vector<std::uint32_t> lap;
      for (std::size_t k = back->second; k <= i; ++k) lap.push_back(static_cast<std::uint32_t>(k));
      out.push_back(std::move(lap));
      begins.clear();
    }
    return out;
  }

  Box3 box_of(const std::vector<std::uint32_t>& motions) const {
    Box3 out;
    for (const std::uint32_t i : motions) out.extend(nc::bounds(program_.motions[i]));
    return out;
  }

  bool cuts(const std::vector<std::uint32_t>& motions) const {
    return std::any_of(motions.begin(), motions.end(),
                       [&](std::uint32_t i) { return setup_.cut.motions[i].sample_count > 0; });
  }

  void laps() {
    std::vector<std::vector<std::uint32_t>> passes;
    Box3 last;
    double spacing = 0, z = 0;
    int tool = 0;
    const auto close = [&] {
      add_beside(passes, std::abs(spacing));
      passes.clear();
      spacing = 0;
    };
    for (const LevelPass& pass : passes_) {
      if (!passes.empty() && (tool != pass.tool || std::abs(z - pass.z) > level_within)) close();
      tool = pass.tool;
      z = pass.z;
      for (auto& lap : laps_of(pass)) {
        const Box3 box = box_of(lap);
        if (!cuts(lap) || std::min(box.sizes().x(), box.sizes().y()) < 0.01) continue;
        if (!passes.empty()) {
          const double grows[4] = {last.min().x() - box.min().x(), last.min().y() - box.min().y(),
                                   box.max().x() - last.max().x(), box.max().y() - last.max().y()};
          const double over = 0.25 * (grows[0] + grows[1] + grows[2] + grows[3]);
          const bool nested =
              std::abs(over) > 0.01 && std::all_of(std::begin(grows), std::end(grows),
                                                   [&](double g) { return alike(g, over); });
          if (!nested || (passes.size() > 1 && !alike(over, spacing)))
            close();
          else
            spacing = over;
        }
        last = box;
        passes.push_back(std::move(lap));
      }
    }
    close();
  }

  const run::SetupResult& setup_;
  const nc::Program& program_;
  std::set<int> tools_;
  std::vector<LevelPass> passes_;
  std::set<std::uint32_t> beside_;  // motions that are in a family of width
  std::vector<PassFamily> out_;
};

}  // namespace

std::size_t PassFamily::passes_with(double least_step) const {
  const auto steps = static_cast<std::size_t>(std::ceil(whole / least_step - 1e-6));
  return freedom == PassFreedom::depth ? std::max<std::size_t>(1, steps) : steps + 1;
}

std::vector<PassFamily> pass_families(const run::SetupResult& setup, const job::Job& job) {
  return Families(setup, job).all();
}

}  // namespace proveout::after
