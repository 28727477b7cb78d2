// Whether a PLY file holds as much as it says it does. Its reader makes room for what the header
// and the lists claim before it looks at what is there, so a file of a hundred bytes could ask for
// any amount of memory.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace proveout::part {

// What a PLY file (bytes: all of it) claims and cannot hold, or what its header has that PLY does
// not, in words to end "this mesh ..."; none where its counts fit its length, or where it does not
// begin as a PLY file: the reader then says what is wrong. Format: Turk, "The PLY polygon file
// format" (1994).
std::optional<std::string> false_claim_of_ply(std::string_view bytes);

}  // namespace proveout::part
