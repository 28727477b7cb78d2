// The demo's good job gives the same bytes on one thread, on two and on more than there are cores.
// What a run holds is compared number by number, before anything is rounded for a report.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstring>
#include <string>
#include <type_traits>

#include "sim/pipeline/dry_run.h"

namespace proveout::pipeline {
namespace {

class Bytes {
 public:
  template <class... Numbers>
  void add(const Numbers&... numbers) {
    (add_one(numbers), ...);
  }
  void add(const Vec3& v) { add(v.x(), v.y(), v.z()); }
  void add(const std::string& text) { bytes_ += text + '\n'; }
  const std::string& all() const { return bytes_; }

 private:
  template <class Number>
  void add_one(const Number& number) {
    static_assert(std::is_arithmetic_v<Number>);
    char some[sizeof number];
    std::memcpy(some, &number, sizeof number);
    bytes_.append(some, sizeof number);
  }
  std::string bytes_;
};

void add_cut(Bytes& to, const stock::Cut& cut) {
  for (const stock::MotionOutcome& m : cut.motions) {
    to.add(m.removed_mm3, m.contact, m.shank_depth, m.holder_depth, m.first_sample, m.sample_count);
    to.add(m.contact_at);
  }
  for (const stock::EngagementSample& s : cut.samples) {
    to.add(s.along, s.length, s.removed_mm3, s.axial_depth, s.bottom, s.radial_width, s.arc_from,
           s.arc_to, s.arc, s.columns, s.first_extent, s.area_from, s.area_to);
  }
  for (const stock::ColumnExtent& e : cut.extents) to.add(e.low, e.high);
}

void add_loads(Bytes& to, const run::MotionLoads& loads) {
  for (const run::MotionPeak& p : loads.peaks) {
    to.add(p.axial_depth, p.radial_width, p.engagement_deg, p.removal_mm3_min, p.chip_mm, p.force_n,
           p.force_low_n, p.force_high_n, p.power_w, p.power_low_w, p.power_high_w, p.bend_mm,
           p.sense);
  }
  for (const float energy : loads.energy_j) to.add(energy);
  for (const float scale : loads.rate_scale) to.add(scale);
}

std::string bytes_of(const run::JobResult& r) {
  Bytes out;
  for (const run::SetupResult& s : r.setups) {
    add_cut(out, s.cut);
    add_loads(out, s);
    out.add(s.time_s, s.time_low_s, s.time_high_s, s.removed_mm3, s.stock_left_mm3, s.gouge_mm3);
    for (const double piece : s.pieces_mm3) out.add(piece);
    for (const run::ToolResult& t : s.tools) {
      out.add(t.number, t.reach_used, t.stickout_needed);
      for (const auto& row : t.clearance.nearest) {
        for (const auto& obstacle : row) {
          for (const auto& n : obstacle) out.add(n.mm, n.line);
        }
      }
    }
  }
  for (const Finding& f : r.findings) {
    out.add(f.text);
    out.add(f.detail);
    out.add(f.value, f.limit, f.line);
    out.add(f.at);
  }
  out.add(r.part.volume_mm3, r.time_s, r.removed_mm3);
  out.add(r.part.centre);
  return out.all();
}

TEST(Threads, TheDemoGivesTheSameBytesOnAnyNumber) {
  Diagnostics diagnostics;
  const auto job = job::read_job(PROVEOUT_FIXTURES "/door-pull/good.toml", diagnostics);
  ASSERT_TRUE(job);
  std::string first;
  for (const int threads : {1, 2, 8}) {
    RunOptions options;
    options.threads = threads;
    options.voxel = 0.8;
    const auto result = dry_run(*job, options, diagnostics);
    ASSERT_TRUE(result);
    const std::string all = bytes_of(*result);
    EXPECT_GT(all.size(), 1000000u);
    if (first.empty()) first = all;
    // Not EXPECT_EQ: it would print them.
    EXPECT_TRUE(all == first)
        << threads << " threads: first other byte at "
        << std::mismatch(all.begin(), all.end(), first.begin(), first.end()).first - all.begin();
  }
}

}  // namespace
}  // namespace proveout::pipeline
