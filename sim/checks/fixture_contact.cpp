// Fixtures, boxes and meshes, in the setup frame: flutes, shank and holder, each as a cylinder of
// its largest radius, at poses at most a quarter of a radius apart. Rapids too, on their straight
// way; the bent one is clearance_check.cpp's.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "sim/checks/lacking.h"
#include "sim/checks/registry.h"
#include "sim/run/motion_finding.h"

namespace proveout::checks {
namespace {

struct Cylinder {
  const char* name;
  double radius, bottom, top;  // above the tip
};

std::vector<Cylinder> cylinders_of(const solid::ToolBody& body) {
  std::vector<Cylinder> out = {
      {"cutter", body.flutes.largest_radius, body.flutes.bottom, body.flutes.top}};
  for (const auto& b : body.shank) out.push_back({"shank", b.largest_radius, b.bottom, b.top});
  for (const auto& b : body.holder) out.push_back({"holder", b.largest_radius, b.bottom, b.top});
  return out;
}

// How deep an upright cylinder at tip reaches into a box: the least way out sideways or upwards; 0:
// not at all.
double overlap(const Cylinder& c, const Vec3& tip, const Box3& box) {
  const double up = box.max().z() - (tip.z() + c.bottom), down = tip.z() + c.top - box.min().z();
  if (up <= 0 || down <= 0) return 0;
  const double dx = std::max({box.min().x() - tip.x(), 0.0, tip.x() - box.max().x()});
  const double dy = std::max({box.min().y() - tip.y(), 0.0, tip.y() - box.max().y()});
  return std::max(0.0, std::min(c.radius - std::hypot(dx, dy), up));
}

double overlap(const Cylinder& c, const Vec3& tip, const run::FixtureShape& fixture) {
  if (!fixture.mesh) return overlap(c, tip, fixture.box);
  return fixture.mesh->depth(tip.x(), tip.y(), c.radius, tip.z() + c.bottom, tip.z() + c.top);
}

// Where the tip must be for the tool's box to meet the fixture's.
Box3 tips_near(const std::vector<Cylinder>& cylinders, const Box3& fixture) {
  double radius = 0;
  for (const Cylinder& c : cylinders) radius = std::max(radius, c.radius);
  return {fixture.min() - Vec3(radius, radius, cylinders.back().top),
          fixture.max() + Vec3(radius, radius, 0)};
}

void look(const run::SetupContext& context, const run::SetupCut& setup,
          FindingCollector& findings) {
  std::map<int, std::vector<Cylinder>> cylinders;
  for (const auto& [number, body] : context.bodies) cylinders[number] = cylinders_of(body);
  for (const run::FixtureShape& fixture : context.fixtures) {
    for (const nc::Motion& m : setup.source->motions) {
      const auto found = cylinders.find(setup.source->states[m.state].tool);
      if (found == cylinders.end()) continue;
      const double step = 0.25 * std::max(0.1, found->second.front().radius);
      const int steps = std::max(1, static_cast<int>(std::ceil(nc::length(m) / step)));
      double worst = 0;
      const Cylinder* which = nullptr;
      Vec3 at = m.end;
      const nc::StepRange near = nc::steps_within(m, steps, tips_near(found->second, fixture.box));
      for (int k = near.first; k <= near.last; ++k) {
        const Vec3 tip = nc::point_at(m, double(k) / steps);
        for (const Cylinder& c : found->second) {
          const double depth = overlap(c, tip, fixture);
          if (depth > worst) {
            worst = depth;
            which = &c;
            at = tip;
          }
        }
      }
      if (which == nullptr) continue;
      Finding f = run::motion_finding(setup, m, FindingKind::fixture_contact, Severity::error);
      f.at = at;
      f.unit = "mm";
      f.value = worst;
      f.text = fmt::format("the {} goes {:.2f} mm into the fixture '{}'{}", which->name, worst,
                           fixture.name, m.kind == nc::PathKind::rapid ? " on a rapid" : "");
      findings.add(std::move(f));
    }
  }
}

std::vector<run::NotChecked> lacks_fixtures(const run::JobContext& context) {
  auto bare = setups_that(context, [](const job::Setup& s) { return s.fixtures.empty(); });
  if (bare.empty()) return {};
  const std::string why = "no fixtures are given for " + listed(bare);
  return {lacking_in_setups(context, why, std::move(bare))};
}

}  // namespace

constinit const run::Check kinds::fixture_contact{
    .kind = FindingKind::fixture_contact,
    .level = Severity::error,
    .meaning = "the tool, its shank or holder meets a fixture",
    .help = "Move the clamp or change the path.",
    .needs = "fixtures in the setup",
    .after_cut = look,
    .lacks = run::Lack::setups,
    .not_checked = lacks_fixtures};

}  // namespace proveout::checks
