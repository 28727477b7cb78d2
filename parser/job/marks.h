// Marks in a job file: comments that begin with "#?" say that a value is not known and that the
// one standing there is only a usual one. They are no TOML of their own: a reader of TOML passes
// over them.
//
//   stickout = 32  #? over-bend, holder-contact: not known; the least that clears the deepest cut
//   #? fixture-contact: clamps and vice are not known
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace proveout::job {

struct Mark {
  std::uint32_t line = 0;          // 1-based
  std::string key;                 // before "=" on its line; empty: the mark stands alone
  std::vector<std::string> kinds;  // before the first colon: what must not be taken for checked
  std::string why;                 // after it
};

// All marks of a job file's text, in order. "#?" within quotes is none.
std::vector<Mark> marks(std::string_view text);

}  // namespace proveout::job
