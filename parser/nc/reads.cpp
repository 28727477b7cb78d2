#include "parser/nc/reads.h"

#include <algorithm>

namespace proveout::nc {
namespace {

// The first word of each is the default. All but the report's own readings (NISTIR 6556 3.3.2.1,
// 3.5.4, 3.5.8, 3.5.15, 3.5.16) are common practice, no source; the steps of feeds from memory.
constexpr auto choices = std::to_array<ReadChoice>({
    {Read::wait_p,
     "wait_p",
     {"seconds", "milliseconds", "by-point"},
     {"P of G4 in seconds", "in milliseconds",
      "seconds where the number has a point, else milliseconds"}},
    {Read::cycle_p,
     "cycle_p",
     {"seconds", "milliseconds", "by-point"},
     {"P of cycles in seconds", "in milliseconds",
      "seconds where the number has a point, else milliseconds"}},
    {Read::cycles,
     "cycles",
     {"with-motion", "own-group", ""},
     {"cycles and G80 are of the group of G0 and G1: axis words behind G80 are an error",
      "a group of their own: behind G80 axis words move by the G0 or G1 in force before", ""}},
    {Read::boring_retract,
     "boring_retract",
     {"feed-to-r", "feed-all-the-way", ""},
     {"G74, G84, G85, G89 come back at the feed to R, and to the old level by a rapid",
      "at the feed all the way", ""}},
    {Read::cycle_repeats,
     "cycle_repeats",
     {"l-or-k", "l", "k"},
     {"L or K of a cycle repeats it", "L alone, and K of a cycle is refused",
      "K alone, and L of a cycle is refused"}},
    {Read::cycle_levels,
     "cycle_levels",
     {"kept", "each-block", ""},
     {"R and depth of a cycle keep the levels they meant on their own line, and of cycles in a row "
      "G98 goes back to where the first began, from which R under G91 counts",
      "their numbers are read again on each line, by G90 or G91 in force there, and a code again "
      "begins where the tool stands",
      ""}},
    {Read::home_without_axes,
     "home_without_axes",
     {"all", "none", "refuse"},
     {"G28 and G30 without axis words move all axes", "move none", "are refused"}},
    {Read::corners,
     "corners",
     {"comma", "plain", "refuse"},
     {",R and ,C behind a straight move round and chamfer the corner at its end",
      "R and C without a comma do so too", "all are refused"}},
    {Read::g70,
     "g70",
     {"refuse", "inch", "bolt-circle"},
     {"G70 is refused: it has more than one meaning", "G70 is inch and G71 mm, as in ISO 6983",
      "G70 repeats the cycle in force on a circle of radius I from angle J at L holes"}},
    {Read::g10_diameter,
     "g10_diameter",
     {"refuse", "diameter", "radius"},
     {"G10 L12 and L13 are refused", "their R is a diameter", "their R is a radius"}},
    {Read::g10_l20,
     "g10_l20",
     {"here", "further-offsets", ""},
     {"G10 L20 makes the tool's place read as its axis words say", "G10 L20 sets G54.1 P", ""}},
    {Read::scale_p,
     "scale_p",
     {"factor", "thousandths", ""},
     {"P, I, J, K of G51 are factors", "thousandths where they have no point", ""}},
    {Read::lengths_without_point,
     "lengths_without_point",
     {"whole-units", "least-increment", ""},
     {"X100 is 100 mm or inches, an angle degrees",
      "X100 is 100 steps of 0.001 mm or 0.0001 inch, an angle as many of 0.001 degree; X100. is "
      "100 mm or inches",
      ""}},
    {Read::feeds_without_point,
     "feeds_without_point",
     {"whole-units", "feed-increment", "least-increment"},
     {"F100 is 100 mm or inches a minute or turn",
      "F100 is 100 steps of 1 mm or 0.01 inch a minute, of 0.01 mm or 0.0001 inch a turn",
      "of 0.001 mm or 0.0001 inch a minute or turn"}},
});
static_assert(choices.size() == static_cast<std::size_t>(Read::count));

}  // namespace

std::span<const ReadChoice> read_choices() { return choices; }

Reads Reads::of_report() {
  Reads r;
  r.declare(Read::wait_p, "seconds");
  r.declare(Read::cycle_p, "seconds");
  r.declare(Read::cycles, "with-motion");
  r.declare(Read::boring_retract, "feed-all-the-way");
  r.declare(Read::cycle_repeats, "l");
  r.declare(Read::cycle_levels, "each-block");
  r.declare(Read::home_without_axes, "all");
  r.declare(Read::corners, "refuse");
  r.declare(Read::g70, "refuse");
  r.declare(Read::g10_diameter, "refuse");
  r.declare(Read::g10_l20, "here");
  r.declare(Read::scale_p, "factor");
  r.declare(Read::lengths_without_point, "whole-units");
  r.declare(Read::feeds_without_point, "whole-units");
  return r;
}

std::string_view Reads::chosen(Read which) const {
  const auto k = static_cast<std::size_t>(which);
  return choices[k].words[chosen_[k]];
}

bool Reads::declare(Read which, std::string_view word) {
  const auto k = static_cast<std::size_t>(which);
  const auto& words = choices[k].words;
  const auto found = std::find(words.begin(), words.end(), word);
  if (word.empty() || found == words.end()) return false;
  chosen_[k] = static_cast<std::uint8_t>(found - words.begin());
  declared_[k] = true;
  return true;
}

}  // namespace proveout::nc
