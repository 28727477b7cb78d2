// The trade's words in comments of programs: sizes and shapes of tools, the blank, the material,
// the zero, the turn. Wordings: common practice of posts and of those who type by hand, no source.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/job/job.h"

namespace proveout::propose {

struct CommentLine {
  std::uint32_t line = 0;  // 1-based
  std::string words;       // outside of comments, upper case
  std::string comment;     // inside, upper case; empty: none
};
// The lines that hold a comment or a T word, in order.
std::vector<CommentLine> comment_lines(std::string_view program);

// What one comment says of a tool. mm and degrees; in_inches: how a number without a unit is read.
struct ToolWords {
  std::optional<int> number;  // T word in the comment
  std::optional<double> diameter, corner_radius, angle, flute_length, stickout, tip_diameter;
  bool angle_per_side = false;
  std::optional<int> flutes;
  std::optional<job::ToolShape> shape;
  bool hss = false, carbide = false;
  bool names_cutter = false;  // a word for a cutter stands there
  std::string doubt;          // why something said is not taken: "two diameters, 6 and 8"
  std::string other_shape;    // a kind of tool no shape stands for: "a tap"
};
ToolWords tool_words(const std::string& comment, bool in_inches);

// "STOCK 160 X 60 X 32", sizes along x, y, z in mm; nullopt: no such words.
std::optional<Vec3> blank_words(const std::string& comment, bool in_inches);

struct ZeroWords {
  std::optional<job::ZeroEdge> x, y, z;
  std::optional<job::ZeroOn> on;
  bool any() const { return x || y || z || on; }
};
// Of a comment that speaks of the zero, origin or datum.
ZeroWords zero_words(const std::string& comment);

// "TURNED ABOUT Y", "FLIP X", "ROTATE 180 ABOUT X AXIS"; nullopt: no such words.
std::optional<job::Turn> turn_words(const std::string& comment);

// Its place among the sides: "SIDE A", "OP 2", "SIDE 2", "FIRST SIDE"; 1 .. ; nullopt: not said.
std::optional<int> side_words(const std::string& comment);

// A comment that may name what is cut: all of its words, for the names of materials.
std::vector<std::string> plain_words(const std::string& comment);

}  // namespace proveout::propose
