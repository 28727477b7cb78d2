// Where the words F and S stand: every place is held against the text itself, byte by byte.
#include "parser/nc/word_places.h"

#include <gtest/gtest.h>

namespace proveout::nc {
namespace {

TracedProgram traced(std::string_view text) {
  Diagnostics diagnostics;
  ReadOptions options;
  options.tool_diameters[1] = 6;
  auto read = read_traced(text, "a.nc", options, diagnostics);
  EXPECT_TRUE(read) << (diagnostics.all().empty() ? "" : to_text(diagnostics.all()[0]));
  return read ? std::move(*read) : TracedProgram{};
}

std::string word(std::string_view text, const ExecutedBlock& b, const WordPlace& w) {
  return std::string(text.substr(b.offset + w.column, w.length));
}

TEST(WordPlaces, OfPlainWordsParametersAndExpressions) {
  const std::string text =
      "#1=250 (F1 S1)\r\n"
      "S9000 M3 G21\n"
      "G1 X1 F #1 (F7)\n"
      "f[#1 + 50.5]Y2 ; F3\n"
      "X3\n"
      "F 1 0 0\n"
      "M2\n";
  const TracedProgram t = traced(text);
  std::vector<std::string> feeds, speeds;
  std::vector<bool> computed;
  for (const ExecutedBlock& b : t.blocks) {
    if (b.feed) feeds.push_back(word(text, b, *b.feed));
    if (b.feed) computed.push_back(b.feed->computed);
    if (b.speed) speeds.push_back(word(text, b, *b.speed));
  }
  EXPECT_EQ(feeds, (std::vector<std::string>{"F #1", "f[#1 + 50.5]", "F 1 0 0"}));
  EXPECT_EQ(computed, (std::vector<bool>{true, true, false}));
  EXPECT_EQ(speeds, (std::vector<std::string>{"S9000"}));
  ASSERT_EQ(t.program.motions.size(), 3u);
  ASSERT_EQ(t.block_of_motion.size(), 3u);
  const auto block_of = [&](std::size_t i) { return t.blocks[t.block_of_motion[i]]; };
  EXPECT_DOUBLE_EQ(block_of(0).feed->value, 250);
  EXPECT_DOUBLE_EQ(block_of(1).feed->value, 300.5);
  EXPECT_FALSE(block_of(2).feed);
  EXPECT_DOUBLE_EQ(block_of(2).feed_in_force, 300.5);
  // A further word goes behind the last word and before the comment.
  EXPECT_EQ(text.substr(block_of(0).offset, block_of(0).words_end), "G1 X1 F #1");
  EXPECT_EQ(text.substr(block_of(1).offset, block_of(1).words_end), "f[#1 + 50.5]Y2");
}

TEST(WordPlaces, OfABlockCarriedOutAgainAndOfModes) {
  const std::string text =
      "G20 G95 S1000 M3\n"
      "/G1 X1 F.004\n"
      "M98 P7 L2\n"
      "G94 G21 G81 Z-1 R1 F90\n"
      "T1 M6\n"
      "M30\n"
      "O7\n"
      "G91 G1 X1\n"
      "G90\n"
      "M99\n";
  const TracedProgram t = traced(text);
  std::vector<std::uint32_t> lines;
  for (const std::uint32_t b : t.block_of_motion) lines.push_back(t.blocks[b].line);
  ASSERT_GE(lines.size(), 4u);
  EXPECT_EQ(lines[0], 2u);
  EXPECT_EQ(lines[1], 8u);
  EXPECT_EQ(lines[2], 8u);
  EXPECT_NE(t.block_of_motion[1], t.block_of_motion[2]);  // two executions of one line
  EXPECT_EQ(t.blocks[t.block_of_motion[1]].feed_mode, FeedMode::per_turn);
  EXPECT_DOUBLE_EQ(t.blocks[t.block_of_motion[1]].unit, 25.4);
  EXPECT_TRUE(t.blocks[t.block_of_motion[0]].deletable);
  EXPECT_EQ(t.blocks[t.block_of_motion[3]].feed_mode, FeedMode::per_minute);
  EXPECT_DOUBLE_EQ(t.blocks[t.block_of_motion[3]].unit, 1);
  int changes = 0, starts = 0;
  for (const ExecutedBlock& b : t.blocks) {
    changes += b.tool_change ? 1 : 0;
    starts += b.spindle_start ? 1 : 0;
  }
  EXPECT_EQ(changes, 1);
  EXPECT_EQ(starts, 1);
}

// Cutter compensation gives a motion out one block late: it still belongs to its own block.
TEST(WordPlaces, OfCompensatedMotions) {
  const TracedProgram t = traced(
      "G21 T1 M6\nS9000 M3\nG41 D1 G1 X0 Y10 F100\nX20 F200\nY30 F300\nG40\nG1 X60 F400\nM2\n");
  ASSERT_EQ(t.block_of_motion.size(), t.program.motions.size());
  for (std::size_t i = 0; i < t.program.motions.size(); ++i) {
    EXPECT_EQ(t.blocks[t.block_of_motion[i]].line, t.program.motions[i].line);
    EXPECT_DOUBLE_EQ(t.blocks[t.block_of_motion[i]].feed_in_force, t.program.motions[i].feed);
  }
}

}  // namespace
}  // namespace proveout::nc
