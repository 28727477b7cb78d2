// Where the words F and S of a program stand, and which motions each block made: what a rewriter of
// feeds and speeds needs besides the motions. Recorded by the reader itself, so that a word is what
// the reader took for one: not a letter in a comment, and whole where it is an expression.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/nc/program.h"

namespace proveout::nc {

enum class FeedMode : std::uint8_t { per_minute, inverse_time, per_turn };  // G94, G93, G95

struct WordPlace {
  std::uint32_t column = 0;  // 0-based byte of its letter, in its line
  std::uint32_t length = 0;  // bytes, letter and number
  double value = 0;          // as the reader took it, in the units of the file
  bool computed = false;     // a parameter or an expression, no plain number
  bool pointed = false;      // a plain number with a decimal point
};

// One block as it was carried out; a block of a subprogram or a loop has one each time.
struct ExecutedBlock {
  std::uint32_t line = 0;       // 1-based
  std::size_t offset = 0;       // of the line's first byte in the text
  std::uint32_t length = 0;     // bytes of the line without its end
  std::uint32_t words_end = 0;  // byte behind the line's last word: where another word may be put
  std::optional<WordPlace> feed, speed;
  FeedMode feed_mode = FeedMode::per_minute;  // in force for the block's motions
  double unit = 1;                            // mm per unit of length in force
  double feed_in_force = 0;    // F as written, units of the file; of this block or an earlier one
  bool deletable = false;      // began with '/'
  bool tool_change = false;    // holds M6
  bool spindle_start = false;  // holds M3 or M4
  bool tapping = false;        // its cycle ties the feed to the spindle's turns (G84, G74)
  bool probing = false;        // a probe move (G38)
};

struct TracedProgram {
  Program program;
  std::vector<ExecutedBlock> blocks;           // in order of execution
  std::vector<std::uint32_t> block_of_motion;  // one per motion: index into blocks
};

// Reads a program from its text (bytes of the file called name in messages). nullopt, with errors,
// where read_program gives none.
std::optional<TracedProgram> read_traced(std::string_view text, const std::string& name,
                                         const ReadOptions& options, Diagnostics& diagnostics);

}  // namespace proveout::nc
