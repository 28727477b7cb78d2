// What a terminal can show. Asks about streams, never writes to one.
#pragma once

#include <cstdio>
#include <string>

namespace proveout::text {

// True where the stream is a terminal, TERM is not "dumb" and NO_COLOR is not set.
bool wants_colour(std::FILE* stream);
bool is_terminal(std::FILE* stream);

enum class Ink { plain, bold, red, yellow, blue, dim };
// text in that ink if colour is on.
std::string inked(const std::string& text, Ink ink, bool colour);

// Columns of the terminal the stream is, between 60 and 120; 80 where it is none.
unsigned terminal_width(std::FILE* stream);

}  // namespace proveout::text
