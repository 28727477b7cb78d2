// A program with other feeds and speeds, proven: the words F and S are replaced as the reader takes
// them, the text is read back, and every motion is held against what was asked for before anybody
// may write it to a file. Rules and messages: docs/loads.md, rewritten programs.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/nc/program.h"

namespace proveout::after {

// What the motions of a program are to have, one entry a motion in order of execution.
struct WantedFeeds {
  std::vector<double> feed;  // mm/min along the path, above 0; not looked at on rapids
  std::vector<double> rpm;   // 1/min; not looked at on rapids
};

struct Rewritten {
  std::string text;
  // What the motions have in it: at most what was wanted, less where one line makes several
  // motions, and by the rounding of the digits.
  std::vector<double> feed;  // mm/min, 0 on rapids
  std::vector<double> rpm;   // 1/min, 0: none is in force
};

// text: the bytes the program was read from with these options, called name in messages. Every byte
// but those of F and S words is kept. nullopt with errors, each at its place, where the text does
// not give the program (retime-changed), one line or word would need several numbers
// (retime-modes-shared, retime-speed-shared), a tap's feed would leave its pitch (retime-tapping),
// digits do not reach (retime-digits), a line ends in a sum over its bytes (retime-check-sum), or
// the text read back is not what was asked for (retime-disagrees).
std::optional<Rewritten> rewrite(std::string_view text, const std::string& name,
                                 const nc::ReadOptions& options, const nc::Program& program,
                                 const WantedFeeds& wanted, Diagnostics& diagnostics);

// The check alone: whether text, read with these options, gives the program's path, waits and
// states with these feeds and speeds. What differs first is an error, retime-disagrees.
bool reads_back(std::string_view text, const std::string& name, const nc::ReadOptions& options,
                const nc::Program& program, const std::vector<double>& feed,
                const std::vector<double>& rpm, Diagnostics& diagnostics);

}  // namespace proveout::after
