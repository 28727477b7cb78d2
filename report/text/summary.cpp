#include "report/text/summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

#include "report/text/finish_table.h"
#include "report/text/opening_words.h"
#include "report/text/time_use_table.h"
#include "report/text/words.h"
#include "sim/after/mass_change.h"
#include "sim/checks/holding.h"
#include "sim/checks/what_to_do.h"

namespace proveout::text {
namespace {

constexpr std::size_t width = 80;

// The worst of each kind, setup and tool, then whatever is worst of the rest; in the findings'
// order, errors first.
std::vector<std::size_t> worst_of(const std::vector<Finding>& findings, std::size_t most) {
  std::vector<std::size_t> out;
  std::set<std::tuple<FindingKind, std::string, int>> seen;
  for (int round = 0; round < 2; ++round) {
    for (std::size_t i = 0; i < findings.size() && out.size() < most; ++i) {
      const Finding& f = findings[i];
      const bool is_new = seen.insert({f.kind, f.setup, f.tool}).second;
      const bool taken = std::find(out.begin(), out.end(), i) != out.end();
      if (round == 0 ? is_new : !taken) out.push_back(i);
    }
  }
  std::sort(out.begin(), out.end());
  return out;
}

std::string findings_part(const run::JobResult& r, const SummaryOptions& options) {
  std::string out = inked("Findings", Ink::bold, options.colour) + ": " + counts_in_words(r);
  out += r.findings.empty() ? " (see what was not checked)\n" : "\n";
  const std::vector<std::size_t> chosen = worst_of(r.findings, options.worst);
  const std::vector<std::string> remedies = checks::what_to_do(r);
  std::set<std::string> advised;  // the same is not said twice
  for (std::size_t i : chosen) {
    const Finding& f = r.findings[i];
    std::string where = printable(place(f));
    if (!f.setup.empty()) where += printable(fmt::format("  setup {}", f.setup));
    if (f.tool != 0) where += fmt::format("  T{}", f.tool);
    if (f.count > 1) where += fmt::format("  x{}", f.count);
    out += "  " + inked(left(name(f.level), 8), ink_of(f.level), options.colour) +
           left(name(f.kind), 17) + shortened(where, width - 27) + "\n" +
           wrapped(printable(f.text), width, 10);
    if (advised.insert(remedies[i]).second)
      out += wrapped("do: " + printable(remedies[i]), width, 10);
  }
  if (r.findings.size() > chosen.size()) {
    out += fmt::format("  and {} more, in result.json and on the page\n",
                       r.findings.size() - chosen.size());
  }
  return out;
}

std::string causes_part(const run::JobResult& r, const SummaryOptions& options) {
  if (r.causes.empty()) return "";
  std::string out = inked("Causes", Ink::bold, options.colour) + "\n";
  for (const run::Cause& c : r.causes) {
    out += wrapped(printable(cause_in_words(c)), width, 2) +
           wrapped("do: " + printable(c.remedy), width, 4);
  }
  return out + "\n";
}

std::string clearance_line(const run::SetupResult& s) {
  std::string list;
  for (const auto& t : s.tools) {
    const std::string words = clearance::in_words(t.clearance);
    if (!words.empty()) list += fmt::format("{}T{} {}", list.empty() ? "" : "; ", t.number, words);
  }
  return list.empty() ? list : wrapped("clear by, mm: " + list, width, 2);
}

// What the largest force and power may be, by what is known of the material; silent where one law
// is all that is known, as of a job's own.
std::string band_line(const run::SetupResult& s) {
  std::string list;
  for (const auto& t : s.tools) {
    const run::MotionPeak& w = t.peak.worst;
    if (!(w.force_high_n > w.force_low_n) && !(w.power_high_w > w.power_low_w)) continue;
    list += fmt::format("{}T{} {:.0f} to {:.0f} N, {:.0f} to {:.0f} W", list.empty() ? "" : "; ",
                        t.number, w.force_low_n, w.force_high_n, w.power_low_w, w.power_high_w);
  }
  return list.empty() ? list : wrapped("N and W may be: " + list, width, 2);
}

std::string tool_table(const run::SetupResult& s, const SummaryOptions& options) {
  std::string out = "\n" + inked("Setup " + printable(s.name), Ink::bold, options.colour) + "  " +
                    printable(s.program) + "  " + duration(s.time_s) + "\n";
  if (!s.zero_touch.text.empty()) out += wrapped(printable(s.zero_touch.text), width, 2);
  out += "  " + left("tool", 22) + right("time", 12) + right("feed", 6) + right("air", 5) +
         right("cm3", 6) + right("deep", 6) + right("wide", 6) + right("N", 5) + right("W", 5) +
         right("out", 4) + "\n";
  for (const auto& t : s.tools) {
    const run::MotionPeak& w = t.peak.worst;
    const double time = t.time_s();
    out += "  " + left(fmt::format("{} {}", t.number, printable(t.name)), 22) +
           right(duration(time), 12) +
           right(fmt::format("{:.0f}%", time > 0 ? 100 * t.feed_s / time : 0), 6) +
           right(fmt::format("{:.0f}%", t.feed_s > 0 ? 100 * t.air_s / t.feed_s : 0), 5) +
           right(fmt::format("{:.1f}", t.removed_mm3 / 1000), 6) +
           right(fmt::format("{:.1f}", w.axial_depth), 6) +
           right(fmt::format("{:.1f}", w.radial_width), 6) +
           right(fmt::format("{:.0f}", w.force_n), 5) + right(fmt::format("{:.0f}", w.power_w), 5) +
           right(t.stickout_needed > 0 ? fmt::format("{:.0f}", t.stickout_needed) : "-", 4) + "\n";
  }
  out += band_line(s) + clearance_line(s);
  return out;
}

// Without the sign of a nothing: -0.00 reads like an error.
double settled(double value, double step) {
  const double r = std::round(value / step) * step;
  return r == 0 ? 0 : r;
}

// One line a placement, where more than one could be meant.
std::string placement_table(const flip::Flip& f) {
  std::string out = "  " + left("if the blank lay", 44) + right("walls apart", 12) +
                    right("off the part", 14) + "\n";
  for (const auto& p : f.placements) {
    out += "  " + left(shortened(p.name + (p.declared ? ", as declared" : ""), 44), 44) +
           right(f.compared_mm > 0 ? fmt::format("{:.2f}", p.apart) : "-", 12) +
           right(p.from_part ? fmt::format("{:.2f}", *p.from_part) : "-", 14) + "\n";
  }
  return out;
}

std::string seam_words(const run::JobResult& r, const flip::Flip& f) {
  const flip::Seam& s = f.seam;
  const flip::SeamPoint& worst = s.points[s.worst_point];
  std::string out = fmt::format(
      "seam of about {:.0f} mm: step {:.2f} mm on the mean, {:.2f} at "
      "worst at stock {:.1f}, {:.1f}, {:.1f}",
      s.length_mm, s.mean, s.worst, worst.at.x(), worst.at.y(), worst.at.z());
  if (const auto origin = r.origin(worst.by)) {
    const run::SetupResult& setup = r.setups[origin->setup];
    out += fmt::format(" ({}:{})", setup.program, setup.source->motions[origin->motion].line);
  }
  out += s.least_overlap < 0
             ? fmt::format("; a web of up to {:.2f} mm is left along {:.0f} mm of it",
                           -s.least_overlap, s.web_mm)
             : fmt::format("; the sides cut {:.2f} mm or more past each other", s.least_overlap);
  if (std::hypot(s.reading.x, s.reading.y) > r.voxel / 10) {
    out += fmt::format(
        "; the steps read like side {} lying {:.2f}, {:.2f} mm and {:.3f} degrees "
        "off, {:.2f} mm unexplained",
        f.later, settled(s.reading.x, 0.01), settled(s.reading.y, 0.01),
        settled(s.reading.turn_deg, 0.001), s.reading.left);
  }
  return out;
}

std::string spread_words(const flip::Spread& s) {
  std::string out;
  for (const auto& e : s.each) {
    if (e.step < 5e-4) continue;
    out += (out.empty() ? "" : "; ") + fmt::format("{} makes {:.2f} mm of step", e.what, e.step);
  }
  if (s.draws > 0) {
    out += fmt::format(
        "; with all declared errors at once ({} draws) the worst step is {:.2f} mm "
        "at the median, below {:.2f} in 95 %",
        s.draws, s.median_worst, s.high_worst);
    if (s.has_web) {
      out += fmt::format(
          "; the least web between the sides, {:.2f} mm, is above {:.2f} in 95 % "
          "and cut through in {:.1f} %",
          s.least_web, s.low_web, 100 * s.break_through);
    }
  }
  return out;
}

std::string sides_part(const run::JobResult& r, const flip::Flip& f,
                       const SummaryOptions& options) {
  std::string out = "\n" +
                    inked(printable(fmt::format("Sides {} and {}", f.earlier, f.later)), Ink::bold,
                          options.colour) +
                    "\n" + wrapped(printable(f.text), width, 2);
  if (f.decision == flip::Decision::other || f.decision == flip::Decision::cannot_tell)
    out += placement_table(f);
  if (!f.seam.points.empty()) out += wrapped(printable(seam_words(r, f)), width, 2);
  if (!f.spread.each.empty()) out += wrapped(printable(spread_words(f.spread)), width, 2);
  if (f.best_fit.found) {
    out += wrapped(
        printable(fmt::format("side {}'s walls lie {:.2f}, {:.2f} mm and {:.3f} degrees "
                              "off the part (x, y, turn; on the machine)",
                              f.later, settled(f.best_fit.x, 0.01), settled(f.best_fit.y, 0.01),
                              settled(f.best_fit.turn_deg, 0.001))),
        width, 2);
  }
  return out;
}

// Of the last setup: what still holds the part when the cutting ends.
std::string holding(const run::JobResult& r) {
  if (r.setups.empty() || r.setups.back().bridges.empty()) return "";
  const run::SetupResult& s = r.setups.back();
  std::vector<run::BridgeResult> hold;
  std::copy_if(s.bridges.begin(), s.bridges.end(), std::back_inserter(hold),
               [](const auto& b) { return !(b.stub_mm3 > 0); });
  const std::size_t stubs = s.bridges.size() - hold.size();
  if (hold.empty())
    return wrapped(fmt::format("After setup {} {} beside the part, with nothing of the blank left "
                               "behind: what holds the part is not known",
                               printable(s.name),
                               stubs == 1 ? "a stub stands" : plural(stubs, "stub") + " stand"),
                   width, 0);
  const auto least = std::min_element(hold.begin(), hold.end(), [](const auto& a, const auto& b) {
    return a.area_mm2 < b.area_mm2;
  });
  std::string out = fmt::format("After setup {} the part hangs on {}, the smallest {:.1f} mm2",
                                printable(s.name), plural(hold.size(), "bridge"), least->area_mm2);
  if (least->thickness > 0) out += fmt::format(" and {:.2f} mm thick", least->thickness);
  if (s.holding.times_peak > 0) {
    const double over = s.holding.times_peak / checks::holding_wanted;
    out += fmt::format(
        "; together they bear {:.1f} kN in shear. Wanted: {:g} times the peak force of {:.0f} N "
        "(common practice; a long thin bridge shakes before it shears). ",
        s.holding.strength_n / 1000, checks::holding_wanted, s.holding.peak_force_n);
    out += over >= 1 ? fmt::format("They bear {:.1f} times that", over)
                     : std::string("They bear less");
  }
  if (stubs > 0)
    out += fmt::format(". Not counted: {}, with nothing of the blank left behind",
                       plural(stubs, "stub"));
  return wrapped(out, width, 0);
}

// Each floor, wall and face that could be moved to meet the target; the others in one line.
std::string mass_faces(const run::JobResult& r) {
  std::string out;
  std::size_t not_enough = 0;
  for (const after::MassFace& f : after::mass_faces(r)) {
    if (!f.within_reach) {
      ++not_enough;
      continue;
    }
    out += wrapped(
        fmt::format(
            "the {} of {:.0f} mm2 at {:.1f}, {:.1f}, {:.1f}: {:.2f} g a mm, so {:.2f} mm {} "
            "({:.2f} left behind it, {:.2f} now)",
            after::name(f.kind), f.area_mm2, f.at.x(), f.at.y(), f.at.z(), f.g_per_mm,
            std::abs(f.mm), f.mm > 0 ? "outwards" : "inwards", f.web_after, f.web),
        width, 2);
  }
  if (not_enough > 0)
    out += wrapped(fmt::format("{} of its floors, walls and faces alone cannot do it", not_enough),
                   width, 2);
  return out.empty() ? out : "One of these moved would do it, to first order (stock axes):\n" + out;
}

// How far the piece is from its target mass, and what would make it up.
std::string target(const run::JobResult& r) {
  const run::MassTarget& t = r.part.target;
  if (!(t.target_g > 0)) return "";
  std::string out = fmt::format("Target {:g} g: {:.1f} g {}", t.target_g, std::abs(t.missing_g),
                                t.missing_g > 0 ? "missing" : "too much");
  bool bored = false;
  for (const auto& i : t.inserts) {
    if (i.pocket > 0) {
      const auto& p = t.pockets[static_cast<std::size_t>(i.pocket) - 1];
      out += fmt::format("; {:.0f} mm3 of {} {} the pocket of {:.0f} mm3 seen from {}", i.added_mm3,
                         i.material, i.plug_diameter > 0 ? "in" : "poured into", p.volume_mm3,
                         printable(p.setup));
      if (i.plug_diameter > 0)
        out += fmt::format(" as a plug of {:.1f} mm, {:.1f} high", i.plug_diameter, i.plug_height);
    } else if (i.replaced_mm3 > 0) {
      out += fmt::format("; {:.0f} mm3 bored out for {}", i.replaced_mm3, i.material);
      bored = true;
    }
  }
  if (bored) {
    std::string room;
    for (const auto& b : t.bores)
      room += fmt::format("{}{:g} x {:.1f} mm at {:.1f}, {:.1f}", room.empty() ? "" : ", ",
                          b.diameter, b.depth, b.at.x(), b.at.y());
    out += fmt::format("; to bore out, from {} with 2 mm left about each, there is room for {}",
                       printable(t.bores.front().setup), room);
  }
  return wrapped(out, width, 0) + mass_faces(r);
}

// What a search for the right zero said where it found none that fits; one that fits is a finding.
std::string zero_search(const run::JobResult& r) {
  std::string out;
  for (const auto& s : r.zero_search) {
    if (s.fits.empty())
      out += wrapped(printable(fmt::format("The zero of setup {} was doubted ({}): {}", s.setup,
                                           s.why, s.text)),
                     width, 0);
  }
  return out;
}

std::string totals(const run::JobResult& r) {
  double naive = 0;
  for (const auto& s : r.setups) {
    for (const auto& t : s.tools) naive += t.naive_s;
  }
  std::string out = fmt::format(
      "\nTime {}, an estimate ({} to {});\n"
      "length over feed alone gives {}\n",
      duration(r.time_s), duration(r.time_low_s), duration(r.time_high_s), duration(naive));
  out += fmt::format("Removed {:.1f} cm3; left {:.1f} cm3 = {:.1f} g of {}\n", r.removed_mm3 / 1000,
                     r.part.volume_mm3 / 1000, r.part.mass_g, printable(r.material));
  const double chips_g = r.removed_mm3 * r.density_g_cm3 / 1000,
               blank_g = r.blank_mm3 * r.density_g_cm3 / 1000;
  if (blank_g > 0 && r.part.compared)
    out +=
        wrapped(fmt::format("Blank {:.1f} g: {:.0f} % becomes the part, {:.1f} g chips, {:.1f} g "
                            "frame and cut-off",
                            blank_g, 100 * r.part.mass_g / blank_g, chips_g,
                            std::max(0.0, blank_g - chips_g - r.part.mass_g)),
                width, 0);
  if (r.part.compared) {
    out += wrapped(
        fmt::format("Against the part: {:.2f} mm missing at worst ({:.1f} mm3), "
                    "{:.2f} mm too much ({:.1f} mm3)",
                    r.part.worst_gouge, r.part.gouge_mm3, r.part.worst_excess, r.part.excess_mm3),
        width, 0);
  }
  return out + target(r) + holding(r) + zero_search(r);
}

}  // namespace

std::string summary(const run::JobResult& r, const SummaryOptions& options) {
  std::string out = wrapped(printable(job_in_words(r)), width, 0) +
                    inked(wrapped(printable(r.verdict), width, 0), Ink::bold, options.colour) +
                    "\n" + causes_part(r, options) + findings_part(r, options);
  for (const auto& s : r.setups) out += tool_table(s, options);
  out +=
      "  feed: share of time; air: share of feed time; deep, wide: most met, mm;\n"
      "  N, W: peak force and power; out: least stick-out that clears, mm;\n"
      "  clear by: least distance to stock, part and fixtures, never too large\n";
  for (const auto& f : r.flips) out += sides_part(r, f, options);
  out += totals(r) + time_use_table(r) + finish_table(r);
  if (!r.not_checked.empty()) {
    std::string list;
    for (const auto& n : r.not_checked) {
      list += (list.empty() ? "" : "; ") + n.what + " (" + n.why + ")";
    }
    out += "\n" + inked("Not checked", Ink::bold, options.colour) + "\n" +
           wrapped(printable(list), width, 2);
  }
  if (!r.assumed.empty()) {
    std::string list;
    for (const auto& a : r.assumed) list += (list.empty() ? "" : "; ") + a;
    out += inked("Assumed", Ink::bold, options.colour) + "\n" + wrapped(printable(list), width, 2);
  }
  out += inked("Cautions", Ink::bold, options.colour) + "\n";
  for (const auto& c : cautions()) out += wrapped(c, width, 2);
  if (!options.output_folder.empty()) {
    out += "\nWritten to " + printable(options.output_folder) + "\n";
  }
  return out;
}

}  // namespace proveout::text
