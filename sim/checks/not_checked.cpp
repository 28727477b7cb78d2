#include "sim/checks/not_checked.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <functional>
#include <string>

namespace proveout::checks {
namespace {

using HoldsOfTool = std::function<bool(const job::Tool&)>;
using HoldsOfSetup = std::function<bool(const job::Setup&)>;

std::string listed(const std::vector<std::string>& names) {
  return fmt::format("{}", fmt::join(names, ", "));
}

bool is_drill(const job::Tool& t) { return t.shape == job::ToolShape::drill; }

class List {
 public:
  List(const job::Job& job, const cutting::Material& material, const run::JobResult& result)
      : job_(job), material_(material), result_(result) {}

  std::vector<run::NotChecked> take() {
    part();
    limits();
    holders();
    setups();
    machine();
    return std::move(list_);
  }

 private:
  void skip(FindingKind kind, std::string why) {
    list_.push_back({std::string(name(kind)), std::move(why), false, {}});
  }

  const job::Tool* tool(int number) const {
    const auto at = std::find_if(job_.tools.begin(), job_.tools.end(),
                                 [&](const job::Tool& t) { return t.number == number; });
    return at == job_.tools.end() ? nullptr : &*at;
  }
  bool uses(const run::SetupResult& setup, const HoldsOfTool& holds) const {
    return std::any_of(setup.tools.begin(), setup.tools.end(), [&](const run::ToolResult& used) {
      const job::Tool* t = tool(used.number);
      return t != nullptr && holds(*t);
    });
  }
  // "T1, T2": the tools used of which it holds.
  std::string tools_that(const HoldsOfTool& holds) const {
    std::vector<std::string> numbers;
    for (const job::Tool& t : job_.tools) {
      const bool used =
          std::any_of(result_.setups.begin(), result_.setups.end(), [&](const run::SetupResult& setup) {
            return uses(setup, [&](const job::Tool& u) { return u.number == t.number; });
          });
      if (used && holds(t)) numbers.push_back(fmt::format("T{}", t.number));
    }
    return listed(numbers);
  }

  // looked_for: whether the kind is looked for with a tool at all.
  void skip_by_tools(FindingKind kind, std::string why, const HoldsOfTool& looked_for) {
    run::NotChecked n{std::string(name(kind)), std::move(why), false, {}};
    for (const run::SetupResult& setup : result_.setups) {
      if (uses(setup, looked_for)) {
        n.in_part = true;
      } else {
        n.setups.push_back(setup.name);
      }
    }
    list_.push_back(std::move(n));
  }
  std::vector<std::string> setups_that(const HoldsOfSetup& holds) const {
    std::vector<std::string> names;
    for (const job::Setup& s : job_.setups) {
      if (holds(s)) names.push_back(s.name);
    }
    return names;
  }
  void skip_in(FindingKind kind, std::string why, std::vector<std::string> names) {
    const bool in_part = names.size() < job_.setups.size();
    list_.push_back({std::string(name(kind)), std::move(why), in_part, std::move(names)});
  }

  void part() {
    if (job_.part) return;
    for (const FindingKind kind : {FindingKind::gouge, FindingKind::excess,
                                   FindingKind::weak_bridge, FindingKind::unreached})
      skip(kind, "no part mesh is given");
  }

  void limits() {
    const auto limited = [&](double job::ToolLimits::*limit) {
      return [this, limit](const job::Tool& t) { return t.limits_for(material_.name).*limit > 0; };
    };
    const bool rule = material_.depth_per_diameter > 0;
    const HoldsOfTool deep = limited(&job::ToolLimits::axial_depth),
                      wide = limited(&job::ToolLimits::radial_width),
                      down = limited(&job::ToolLimits::plunge_feed);
    const std::string mills =
        tools_that([&](const job::Tool& t) { return !deep(t) && !is_drill(t); });
    const std::string drills =
        tools_that([&](const job::Tool& t) { return !deep(t) && is_drill(t); });
    std::string why;
    if (!mills.empty())
      why = fmt::format("no limit axial_depth for {}{}", mills,
                        rule ? ": full slots alone are judged, by the material's rule" : "");
    if (!drills.empty())
      why += fmt::format("{}no limit axial_depth for {}", why.empty() ? "" : "; ", drills);
    if (!why.empty()) {
      skip_by_tools(FindingKind::over_depth, why,
                    [&](const job::Tool& t) { return deep(t) || (rule && !is_drill(t)); });
    }
    // A drill is as wide as its hole.
    const std::string any_width =
        tools_that([&](const job::Tool& t) { return !wide(t) && !is_drill(t); });
    if (!any_width.empty())
      skip_by_tools(FindingKind::over_width, "no limit radial_width for " + any_width, wide);
    const auto by_slope = [](const job::Tool& t) { return !t.centre_cutting && !is_drill(t); };
    const std::string any_feed =
        tools_that([&](const job::Tool& t) { return !down(t) && !by_slope(t); });
    if (!any_feed.empty())
      skip_by_tools(FindingKind::plunge, "no limit plunge_feed for " + any_feed,
                    [&](const job::Tool& t) { return down(t) || by_slope(t); });
  }

  void holders() {
    const auto has = [](const job::Tool& t) { return !t.holder.empty(); };
    const std::string bare = tools_that([&](const job::Tool& t) { return !has(t); });
    if (!bare.empty())
      skip_by_tools(FindingKind::holder_contact, "no holder is given for " + bare, has);
  }

  void setups() {
    const auto bare = setups_that([](const job::Setup& s) { return s.fixtures.empty(); });
    if (!bare.empty())
      skip_in(FindingKind::fixture_contact, "no fixtures are given for " + listed(bare), bare);
    if (job_.setups.size() < 2) {
      skip(FindingKind::flip_mismatch, "there is one setup only");
    } else if (result_.flips.empty()) {
      skip(FindingKind::flip_mismatch, "no setup comes from the side opposite to an earlier one's");
    }
    const auto undecided = [](const flip::Flip& f) {
      return f.decision == flip::Decision::undecided;
    };
    const bool in_part = !std::all_of(result_.flips.begin(), result_.flips.end(), undecided);
    for (const flip::Flip& f : result_.flips) {
      if (undecided(f))
        list_.push_back(
            {std::string(name(FindingKind::flip_mismatch)), f.text, in_part, {f.later}});
    }
  }

  void machine() {
    const auto unplaced =
        setups_that([](const job::Setup& s) { return !s.zero_in_machine.has_value(); });
    if (!job_.machine.travel) {
      skip(FindingKind::over_travel,
           "the machine's travel is not given" +
               (unplaced.empty() ? "" : ", nor zero_in_machine for " + listed(unplaced)));
    } else if (!unplaced.empty()) {
      skip_in(FindingKind::over_travel, "zero_in_machine is not given for " + listed(unplaced),
              unplaced);
    }
    if (!(job_.machine.spindle.power_w > 0))
      skip(FindingKind::over_power, "the spindle's power is not given");
    if (!(job_.machine.spindle.max_rpm > 0))
      skip(FindingKind::speed_clipped, "the spindle's range is not given");
  }

  const job::Job& job_;
  const cutting::Material& material_;
  const run::JobResult& result_;
  std::vector<run::NotChecked> list_;
};

}  // namespace

std::vector<run::NotChecked> not_checked(const job::Job& job, const cutting::Material& material,
                                    const run::JobResult& result) {
  return List(job, material, result).take();
}

}  // namespace proveout::checks
