// Where controls read the same word differently: one declared choice each. The job file's
// [machine.reads] makes them; a program that depends on one nobody declared is told so, with the
// line.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace proveout::nc {

enum class Read : std::uint8_t {
  wait_p,
  cycle_p,
  cycles,
  boring_retract,
  cycle_repeats,
  cycle_levels,
  home_without_axes,
  corners,
  g70,
  g10_diameter,
  g10_l20,
  scale_p,
  lengths_without_point,
  feeds_without_point,
  count
};

struct ReadChoice {
  Read which;
  std::string_view key;                     // in [machine.reads]
  std::array<std::string_view, 3> words;    // what may be declared; the first is the default
  std::array<std::string_view, 3> meaning;  // of each word, one line
};
// All of them, in the order of Read.
std::span<const ReadChoice> read_choices();

class Reads {
 public:
  // What NISTIR 6556 says, where it says something: the strict profile reads so.
  static Reads of_report();

  bool is(Read which, std::string_view word) const { return word == chosen(which); }
  std::string_view chosen(Read which) const;
  // Whether somebody said so, or the default stands in.
  bool declared(Read which) const { return declared_[static_cast<std::size_t>(which)]; }
  // False where word is none of the choice's.
  bool declare(Read which, std::string_view word);

  // M codes, besides those docs/language.md lists, that move nothing and are passed over.
  std::vector<int> m_without_motion;

 private:
  std::array<std::uint8_t, static_cast<std::size_t>(Read::count)> chosen_{};
  std::array<bool, static_cast<std::size_t>(Read::count)> declared_{};
};

// One entry of the control's table of cutter diameters or of tool lengths.
struct OffsetEntry {
  int tool = 0;                    // whose it is; 0: the tool of the entry's own number
  std::optional<double> diameter;  // mm, table of D only; absent: that of the tool
  double wear = 0;                 // mm, added: to the diameter, or to the length
};

}  // namespace proveout::nc
