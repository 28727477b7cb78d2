#include "sim/run/not_checked.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <functional>
#include <set>
#include <string>

namespace proveout::run {
namespace {

class List {
 public:
  List(const job::Job& job, const cutting::Material& material, const JobResult& result)
      : job_(job), material_(material), result_(result) {
    for (const SetupResult& setup : result.setups) {
      for (const ToolResult& tool : setup.tools) used_.insert(tool.number);
    }
  }

  std::vector<NotChecked> take() {
    part();
    tools();
    setups();
    machine();
    return std::move(list_);
  }

 private:
  void skip(FindingKind kind, std::string why) {
    list_.push_back({std::string(name(kind)), std::move(why)});
  }

  // "T1, T2": the tools used of which it holds.
  std::string tools_that(const std::function<bool(const job::Tool&)>& holds) const {
    std::vector<std::string> numbers;
    for (const job::Tool& t : job_.tools) {
      if (used_.contains(t.number) && holds(t)) numbers.push_back(fmt::format("T{}", t.number));
    }
    return fmt::format("{}", fmt::join(numbers, ", "));
  }

  // "A, B": the setups of which it holds; empty where it holds of none.
  std::string setups_that(const std::function<bool(const job::Setup&)>& holds) const {
    std::vector<std::string> names;
    for (const job::Setup& s : job_.setups) {
      if (holds(s)) names.push_back(s.name);
    }
    return fmt::format("{}", fmt::join(names, ", "));
  }

  void part() {
    if (job_.part) return;
    for (const FindingKind kind : {FindingKind::gouge, FindingKind::excess,
                                   FindingKind::weak_bridge, FindingKind::unreached})
      skip(kind, "no part mesh is given");
  }

  void tools() {
    const auto without = [&](double job::ToolLimits::*limit) {
      return tools_that(
          [&](const job::Tool& t) { return !(t.limits_for(material_.name).*limit > 0); });
    };
    if (const std::string t = without(&job::ToolLimits::axial_depth); !t.empty()) {
      skip(FindingKind::over_depth,
           fmt::format("no limit axial_depth for {}: {}", t,
                       material_.depth_per_diameter > 0
                           ? "full slots alone are judged, by the material's rule"
                           : "and the material has no rule"));
    }
    if (const std::string t = without(&job::ToolLimits::radial_width); !t.empty())
      skip(FindingKind::over_width, "no limit radial_width for " + t);
    if (const std::string t = without(&job::ToolLimits::plunge_feed); !t.empty())
      skip(FindingKind::plunge,
           fmt::format("no limit plunge_feed for {}: slopes alone are judged", t));
    const std::string t = tools_that([](const job::Tool& tool) { return tool.holder.empty(); });
    if (!t.empty()) skip(FindingKind::holder_contact, "no holder is given for " + t);
  }

  void setups() {
    const std::string bare = setups_that([](const job::Setup& s) { return s.fixtures.empty(); });
    if (!bare.empty()) skip(FindingKind::fixture_contact, "no fixtures are given for " + bare);
    if (job_.setups.size() < 2) {
      skip(FindingKind::flip_mismatch, "there is one setup only");
    } else if (result_.flips.empty()) {
      skip(FindingKind::flip_mismatch, "no setup comes from the side opposite to an earlier one's");
    }
    for (const flip::Flip& flip : result_.flips) {
      if (flip.told == flip::Told::not_told) skip(FindingKind::flip_mismatch, flip.text);
    }
  }

  void machine() {
    const std::string unplaced =
        setups_that([](const job::Setup& s) { return !s.zero_in_machine.has_value(); });
    if (!job_.machine.travel) {
      skip(FindingKind::over_travel, "the machine's travel is not given");
    } else if (!unplaced.empty()) {
      skip(FindingKind::over_travel, "zero_in_machine is not given for " + unplaced);
    }
    if (!(job_.machine.spindle.power_w > 0))
      skip(FindingKind::over_power, "the spindle's power is not given");
    if (!(job_.machine.spindle.max_rpm > 0))
      skip(FindingKind::speed_clipped, "the spindle's range is not given");
  }

  const job::Job& job_;
  const cutting::Material& material_;
  const JobResult& result_;
  std::set<int> used_;  // tools' numbers
  std::vector<NotChecked> list_;
};

}  // namespace

std::vector<NotChecked> not_checked(const job::Job& job, const cutting::Material& material,
                                    const JobResult& result) {
  return List(job, material, result).take();
}

}  // namespace proveout::run
