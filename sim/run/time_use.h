// Where a run's time goes, what binds there, and what would give some of it back, as plain values:
// worked out by sim/after/time_use.h, docs/timing.md.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace proveout::run {

// In the order they are worked out in: each on programs that have those before it.
enum class Change : std::uint8_t {
  air,      // moves at feed that meet nothing go at rapid (sim/after/air_moves.h)
  feed,     // feeds up to what binds, in the same material (after::retime_faster)
  depth,    // fewer levels, to the declared axial depth (sim/after/pass_families.h)
  width,    // fewer rows and laps, to the declared radial width
  changes,  // a tool is taken once a setup: what it does later is done then
  parts     // two parts in one clamping share tool changes and the program's overhead
};
inline constexpr std::array<std::string_view, 6> change_names = {
    "air-at-rapid",       "feed-to-limit",      "depth-to-limit",
    "step-over-to-limit", "fewer-tool-changes", "parts-grouped"};
constexpr std::string_view name(Change change) {
  return change_names[static_cast<std::size_t>(change)];
}
inline constexpr std::size_t change_count = 6;
inline constexpr std::size_t path_changes = 4;  // the first of them change what stretches take

// What keeps a stretch from going faster.
enum class Binds : std::uint8_t {
  feed_word,  // nothing but the feed that is programmed
  chip,
  power,
  bend,
  plunge,  // the tool's feed downwards
  axes,    // their greatest feed
  corner,
  arc,
  acceleration,
  block_rate,
  depth,         // the feed is at its limit, and fewer levels would do
  step_over,     // likewise, and fewer rows or laps would do
  air,           // it meets nothing
  as_programmed  // not judged: drills, taps, a material without figures
};
inline constexpr std::array<std::string_view, 14> binds_names = {
    "feed word",  "chip",      "power", "bend",         "plunge limit",
    "axis limit", "corner",    "arc",   "acceleration", "block rate",
    "depth",      "step-over", "air",   "as programmed"};
constexpr std::string_view name(Binds binds) {
  return binds_names[static_cast<std::size_t>(binds)];
}
static_assert(binds_names.size() == static_cast<std::size_t>(Binds::as_programmed) + 1);

// Feed motions in a row with one tool, no rapid between them.
struct Stretch {
  std::size_t setup = 0;            // index
  std::size_t first = 0, last = 0;  // motions
  std::string file;                 // the setup's program, as the job gives it
  std::uint32_t line = 0, last_line = 0;
  int tool = 0;
  double time_s = 0, asked_s = 0;  // as planned; at the programmed feed alone
  double air_s = 0, held_s = 0;    // in air; in material below the programmed feed
  double removed_mm3 = 0;
  Binds binds = Binds::as_programmed;          // what holds most of its time
  double binds_s = 0;                          // so much of it
  std::array<double, path_changes> saves_s{};  // by change, one on top of the other
};

struct Saving {
  Change change = Change::air;
  double saves_s = 0;  // on top of those before it: these add up
  double alone_s = 0;  // were it the only one
  // Part of saves_s in motions that leave none of the surface that stays, and all of it where no
  // cut changes (air, tool changes): the finish has no share in it.
  double roughing_s = 0;
  // As roughing_s, with feeds that go no further than the middle of the chip rule's range, and the
  // other changes on top of those: what a careful person may count on. These add up too.
  double likely_s = 0;
  std::string text;  // one clause: what to change, where most is won
};

struct TimeUse {
  double time_s = 0;
  // They add up to time_s: in material at the programmed feed and held back from it, in air at
  // feed, rapids, and tool changes, spindle, dwells, stops and overhead.
  double at_feed_s = 0, held_s = 0, air_s = 0, rapid_s = 0, waits_s = 0;
  std::vector<Stretch> stretches;  // the ten that take most, the longest first
  std::vector<Saving> savings;     // in order of Change; 3 s and half a percent, or more
  double saves_s() const;          // all together
};

}  // namespace proveout::run
