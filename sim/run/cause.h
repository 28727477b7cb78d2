// What lies behind findings: one mistake of set-up or posting that makes many of them.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/base/geometry.h"

namespace proveout::run {

enum class CauseKind : std::uint8_t {
  zero,      // a setup's zero lies elsewhere than the program was posted for
  turn,      // the work was turned over another way
  origin,    // the part lies elsewhere in the blank than [part] origin says
  tool,      // another tool than the declared one
  offset,    // no length offset, or another tool's
  mode,      // G90 or G91 where the other is meant
  units,     // feeds or lengths in another unit
  spindle,   // cuts with the spindle standing
  blank,     // a blank of another size
  material,  // posted for another material
  support    // supports cut away, or left larger than declared
};
inline constexpr std::array<std::string_view, 11> cause_names = {
    "zero",  "turn",    "origin", "tool",     "offset", "mode",
    "units", "spindle", "blank",  "material", "support"};
constexpr std::string_view name(CauseKind kind) {
  return cause_names[static_cast<std::size_t>(kind)];
}
static_assert(cause_names.size() == static_cast<std::size_t>(CauseKind::support) + 1);

struct Cause {
  CauseKind kind = CauseKind::zero;
  std::string setup;   // empty: of the whole job
  int tool = 0;        // 0: of no one tool
  std::string text;    // one clause without a full stop: what is wrong, by how much
  std::string remedy;  // one clause: what to change
  // How far what was declared lies off: mm, the setup's axes (zero), stock axes (origin).
  std::optional<Vec3> shift;
  std::size_t explains = 0;           // findings, errors and warnings, that go with it
  std::vector<std::size_t> findings;  // which of the result's they are, in rising order
  std::size_t remains = 0;  // errors and warnings that neither it nor a cause before it explains
};

}  // namespace proveout::run
