#include "sim/causes/kinds_explained.h"

#include <algorithm>
#include <initializer_list>

namespace proveout::causes {
namespace {

using run::CauseKind;

bool is_one_of(FindingKind kind, std::initializer_list<FindingKind> kinds) {
  return std::find(kinds.begin(), kinds.end(), kind) != kinds.end();
}

}  // namespace

bool counts(const Finding& f) { return f.level != Severity::note; }

bool is_of_place(FindingKind kind) {
  using enum FindingKind;
  return is_one_of(
      kind,
      {gouge,          excess,          over_depth,  over_width,    rapid_contact, shank_contact,
       holder_contact, fixture_contact, below_stock, over_travel,   chip_thick,    over_power,
       over_bend,      plunge,          came_loose,  flip_mismatch, unreached,     over_reach,
       weak_bridge,    wrong_zero,      chatter,     part_lost});
}

bool speaks_of_tool(const Finding& f) {
  return f.detail == "tool-size-differs" || f.detail == "tool-shape-differs";
}

bool is_of(CauseKind cause, const Finding& f) {
  using enum FindingKind;
  if (f.kind == program) {
    return (cause == CauseKind::offset && f.detail == "no-length-offset") ||
           (cause == CauseKind::blank && f.detail == "blank-size-differs") ||
           (cause == CauseKind::tool && speaks_of_tool(f));
  }
  switch (cause) {
    case CauseKind::zero:
    case CauseKind::turn:
    case CauseKind::mode:
    case CauseKind::blank:
      return is_of_place(f.kind);
    case CauseKind::origin:
      return is_one_of(f.kind, {gouge, excess, flip_mismatch, unreached, wrong_zero, weak_bridge,
                                job, came_loose, part_lost});
    case CauseKind::tool:
      return is_one_of(f.kind, {gouge, excess, over_width, over_depth, unreached, part_lost});
    case CauseKind::units:
      return is_one_of(
          f.kind, {chip_thin, chip_thick, over_power, over_bend, feed_clipped, plunge, chatter});
    case CauseKind::spindle:
      return is_one_of(f.kind, {spindle_stopped, spindle_reversed, chip_thin, chip_thick});
    case CauseKind::material:
      return f.detail == "other-material" ||
             is_one_of(f.kind,
                       {chip_thin, chip_thick, over_power, over_bend, plunge, over_depth, chatter});
    case CauseKind::offset:
      return false;  // the run takes every tool at its right length
    case CauseKind::support:
      return is_one_of(f.kind, {came_loose, weak_bridge, excess});
  }
  return false;
}

bool is_of_surface(const Finding& f) {
  return is_one_of(f.kind, {FindingKind::gouge, FindingKind::excess, FindingKind::part_lost});
}

}  // namespace proveout::causes
