// Every word counts: of a block that is accepted, any one word is deleted; then the motions, the
// events or the modes must be other ones, or a message stood at the word. An invariant, no source.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <random>

#include "reading.h"

namespace proveout::nc {
namespace {

struct Start {
  const char *what, *blocks;
  std::string_view motion;  // the code of G0 to G89 in force behind the blocks
};

// What is in force before the block: each word of the blocks below says something else.
constexpr Start starts[] = {
    {"straight", "G21 G90 G17 G94 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG1 Z20.5\n", "G1"},
    {"a cycle", "G21 G90 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG81 X3 Y4 Z-2.25 R5.5\n", "G81"},
    {"by increments", "G21 G91 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG1 Z-2\n", "G1"},
    {"an arc in zx", "G21 G90 G18 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG2 X7 Z30 I3 K0\n", "G2"},
    {"turned", "G21 G90 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG68 X1 Y1 R30\nG1 X9\n", "G1"},
    {"mirrored", "G21 G90 F100 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG51.1 X2\nG1 X9\n", "G1"},
    {"scaled, in inches", "G20 G90 F9 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG51 X0 Y0 P1.5\nG1 X9\n", "G1"},
    {"beside the path", "G21 G90 F100 S900 M3 T1 M6\nG0 X-30 Y-9 Z30\nG41 D1 G1 X-20 Y0\n", "G1"},
    {"in inverse time", "G21 G90 G93 S900 M3 T1 M6\nG0 X1 Y2 Z30\nG1 Z20.5 F3\n", "G1"},
    {"another tool's length", "G21 G90 G95 F1 S900 T1 M6\nG43 H1 G0 X1 Y2 Z30\nT5 M6 M3\nG1 X5\n",
     "G1"}};

// Codes that differ from what is in force above, and letters with numbers that are nowhere else.
constexpr std::string_view codes[] = {
    "G0",   "G1",    "G2",    "G3",  "G4",    "G10 L2", "G16",  "G19",     "G20", "G28",    "G30",
    "G43",  "G52",   "G53",   "G55", "G54.1", "G61",    "G64",  "G68",     "G73", "G81",    "G82",
    "G83",  "G84",   "G85",   "G86", "G89",   "G92",    "G99",  "G95",     "G51", "G5.1",   "G8",
    "G103", "G90.1", "G61.1", "G76", "G87",   "G70",    "G187", "M8",      "M0",  "M5",     "M4",
    "M19",  "M49",   "M6",    "M98", "M97",   "G65",    "G41",  "G10 L11", "G12", "G13",    "G50.1",
    "G18",  "G69",   "G51.1", "G40", "G50",   "G93",    "G94",  "G49",     "G91", "G10 L20"};
constexpr std::string_view letters = "XYZXYZXYZIJKRRFSTPQLDHABE";

std::string block_of(std::mt19937& random) {
  const auto pick = [&](std::size_t n) {
    return std::uniform_int_distribution<std::size_t>(0, n - 1)(random);
  };
  std::string text;
  for (std::size_t k = pick(3); k > 0; --k)
    text += std::string(codes[pick(std::size(codes))]) + ' ';
  unsigned used = 0;
  for (std::size_t k = 1 + pick(5); k > 0; --k) {
    const char letter = letters[pick(letters.size())];
    const unsigned bit = 1u << (letter - 'A');
    if ((used & bit) != 0) continue;
    used |= bit;
    const bool whole = std::string_view("TPLDH").find(letter) != std::string_view::npos;
    text += whole ? fmt::format("{}{} ", letter, 2 + pick(3))
                  : fmt::format("{}{:.3f} ", letter, 3.117 + 0.5 * static_cast<double>(pick(40)));
  }
  return text;
}

struct Word {
  std::size_t at, length;
};

std::vector<Word> words_of(const std::string& block) {
  std::vector<Word> out;
  for (std::size_t at = 0; at < block.size();) {
    const std::size_t end = block.find(' ', at);
    if (end > at) out.push_back({at, end - at});
    at = end + 1;
  }
  return out;
}

bool reported(const Reading& r, std::uint32_t line, const Word& w) {
  for (const Diagnostic& d : r.diagnostics.all()) {
    if (d.place.line != line || d.place.column == 0) continue;
    const std::size_t from = d.place.column - 1, to = from + d.place.length;
    if (from < w.at + w.length && to > w.at) return true;
    // P and E of smoothing words are told of at the code.
    if (d.code == "look-ahead-word") return true;
  }
  return false;
}

// As many blocks; PROVEOUT_SOAK=N draws N.
unsigned seeds() {
  const char* const soak = std::getenv("PROVEOUT_SOAK");
  return soak != nullptr ? static_cast<unsigned>(std::atoi(soak)) : 20000;
}

// Whether one reading tells something of a kind the other does not.
bool tells_more(const Reading& one, const Reading& other) {
  const auto& all = one.diagnostics.all();
  return std::any_of(all.begin(), all.end(),
                     [&](const Diagnostic& d) { return other.of(d.code) == nullptr; });
}

void every_word_counts(Profile profile, unsigned first, unsigned last, int& blocks, int& words) {
  ReadOptions options = reading({});
  options.profile = profile;
  options.every_place = true;
  options.zero_in_machine = Vec3(3, 4, 5);
  options.start = Vec3(0.5, 0.25, 40);
  for (unsigned seed = first; seed <= last; ++seed) {
    std::mt19937 random(seed);
    const Start& start = starts[seed % std::size(starts)];
    if (profile == Profile::strict && seed % std::size(starts) > 3) continue;
    const std::string block = block_of(random);
    const auto line = static_cast<std::uint32_t>(
        std::count(start.blocks, start.blocks + std::string_view(start.blocks).size(), '\n') + 1);
    // What is called sets no mode anew: a word that another sets again before it acts did nothing.
    const auto program = [&](const std::string& of) {
      return start.blocks + of + "\nM30\nO2\nG1 X8\nM99\nO3\nG1 X#24\nM99\nO4\nG4 P1\nM99\n";
    };
    const Reading whole = read(program(block), options);
    if (!whole.ok) continue;
    ++blocks;
    const Reading none = read(program(""), options);
    for (const Word& w : words_of(block)) {
      // A code that says again what is in force does nothing, and need not be told of. A cycle's
      // code in force drills where it stands alone, so it is known by its name.
      // P2 with G30 names the home G30 goes to without it.
      const std::string word = block.substr(w.at, w.length);
      if (word == start.motion) continue;
      if (word == "P2" && block.find("G30 ") != std::string::npos) continue;
      // O2 and O3 begin with G1: a G0 of the call's line ends before it acts.
      if (word == "G0" && block.find("M98 ") != std::string::npos) continue;
      // Of a code that stands twice either may go.
      if (const std::size_t other = block.find(word + ' ');
          other != w.at || block.find(word + ' ', w.at + 1) != std::string::npos)
        continue;
      const Reading alone = read(program(word), options);
      if (block[w.at] == 'G' && alone.ok && alone.modes == none.modes &&
          alone.heard.all == none.heard.all &&
          none.diagnostics.all().size() == alone.diagnostics.all().size())
        continue;
      ++words;
      std::string without = block;
      without.erase(w.at, w.length);
      const Reading less = read(program(without), options);
      EXPECT_TRUE(!less.ok || less.heard.all != whole.heard.all || less.modes != whole.modes ||
                  reported(whole, line, w) || tells_more(less, whole))
          << "seed " << seed << ", " << start.what << ": " << block << "\nwithout " << word << "\n"
          << whole.said();
      if (testing::Test::HasFailure()) return;
    }
  }
}

TEST(EveryWord, CountsOrIsReportedInTheShopProfile) {
  int blocks = 0, words = 0;
  every_word_counts(Profile::shop, 1, seeds(), blocks, words);
  EXPECT_GT(blocks, 2000);
  EXPECT_GT(words, 5000);
}

TEST(EveryWord, CountsOrIsReportedInTheStrictProfile) {
  int blocks = 0, words = 0;
  every_word_counts(Profile::strict, 1, seeds(), blocks, words);
  EXPECT_GT(blocks, 300);
  EXPECT_GT(words, 700);
}

// The words that were dropped without a word, and what each is told as now.
TEST(EveryWord, WhatWasDroppedIsTold) {
  struct Row {
    const char *block, *code;
    bool ok;
    std::uint32_t column;
  };
  const std::string head = "G21 G90 G17 F100 S500 M3\nG0 Z10\nG1 Z5\n";
  for (const Row& row : {
           Row{"G28 U0 W0", "rotary-axis", false, 5},
           Row{"G28 A90", "rotary-axis", false, 5},
           Row{"G5.1 X1 Y1 I1 J1", "g-code-unknown", false, 1},
           Row{"G70 I20 J0 L6", "g-code-unknown", false, 1},
           Row{"G1 X10 R3", "corner", false, 8},
           Row{"#500=#5021", "control-value", false, 6},
           Row{"G96 S100", "surface-speed", false, 1},
           Row{"G1 X5 L3", "word-idle", true, 7},
           Row{"G1 X5 I3", "word-idle", true, 7},
           Row{"G1 X5 Q3", "word-idle", true, 7},
           Row{"G81 X5 Z-1 R2 P500", "word-idle", true, 15},
           Row{"G1 X5 H2", "word-idle", true, 7},
           Row{"G2 X5 Y0 R9 P2", "word-idle", true, 13},
           Row{"G4 P1 Y5", "axis-words-contested", false, 7},
           Row{"G1 X5 E3", "letter-not-allowed", false, 7},
           Row{"G1 X5 K0", "word-unused", true, 7},
           Row{"G0 X5 ,R2", "corner", false, 7},
           Row{"G82 X5 Z-1 R2 P500", "dwell-long", true, 15},
           Row{"G10 L2 P3", "word-unused", true, 1},
           Row{"G53 G68 X1 Y1 R30", "g53-without-motion", false, 1},
           Row{"G87 X5 Z-1 R7 I1 J1 K2 P3", "word-idle", true, 24},
           Row{"G76 X5 Z-1 R7 Q1 I1", "word-idle", true, 15},
           Row{"G81 X5 Z-1 R2 L0", "word-idle", true, 5},
           Row{"G51 P2. I1.", "scaling", false, 5},
           Row{"G50.1 X3", "word-unused", true, 7},
           Row{"G81 G80 X5 Z-1 R2", "group-repeated", false, 5},
           Row{"G16 G1 X0 Y30", "word-unused", true, 11},
           Row{"G16 G28 X5", "rotation", false, 5},
           Row{"G2 X200 Y0 R99.9", "arc-radius-rounded", true, 12},
           Row{"G2 X10 Y0 I5 P3", "arc-more-turns", true, 14},
           Row{"G54 P3", "further-offset", true, 5},
           Row{"G84 X5 Z-1 R2 Q1", "cycle-pecks", true, 1},
           Row{"N10 N20 G1 X5", "line-number", true, 5},
           Row{"M8 M9", "group-repeated", false, 4},
           Row{"M0 M98 P7", "group-repeated", false, 4},
           Row{"M98 P7 M1", "group-repeated", false, 8},
           Row{"M99 M30", "group-repeated", false, 5},
           Row{"M19 S90", "word-idle", true, 5},
       }) {
    const Reading r = read(head + row.block + "\nM30\n", reading({}));
    EXPECT_EQ(r.ok, row.ok) << row.block << r.said();
    const Diagnostic* d = r.of(row.code);
    ASSERT_NE(d, nullptr) << row.block << r.said();
    EXPECT_EQ(d->place.line, 4u) << row.block;
    EXPECT_EQ(d->place.column, row.column) << row.block;
  }
}

TEST(EveryWord, WhatACallDoesNotUseIsToldAtTheCall) {
  const Reading r = read("G21 G90 F100\nG1 X5\nM98 P2 J3\nM30\nO2\nX8\nM99\n", reading({}));
  ASSERT_NE(r.of("word-idle"), nullptr) << r.said();
  EXPECT_EQ(r.of("word-idle")->place.line, 3u);
  EXPECT_EQ(r.of("word-idle")->place.column, 8u);
}

// An argument counts where the macro reads its parameter before it sets it anew, in any of the
// times it runs; not the same letter of another call.
TEST(EveryWord, ArgumentsThatAMacroDoesNotReadAreTold) {
  const auto columns = [](const std::string& call, const std::string& macro) {
    const Reading r =
        read("G21 G90 F100\nG1 X5\n" + call + "\nM30\nO2\n" + macro + "M99\n", reading({}));
    EXPECT_TRUE(r.ok) << r.said();
    std::vector<std::uint32_t> out;
    for (const Diagnostic& d : r.diagnostics.all()) {
      if (d.code == "word-unused" && d.place.line == 3) out.push_back(d.place.column);
    }
    return out;
  };
  using Columns = std::vector<std::uint32_t>;
  EXPECT_EQ(columns("G65 P2 X7 Y8 A3", "G1 X#24\n"), (Columns{14, 11}));
  EXPECT_EQ(columns("G65 P2 X7 Y8 A3", "G1 X#24 Y#25\n#30=#1\n"), Columns{});
  EXPECT_EQ(columns("G65 P2 X7 Y8", "#25=3\nG1 X#24 Y#25\n"), Columns{11});
  EXPECT_EQ(columns("G65 P2 X7 Y8", "G1 X#24 Y#25\n#25=3\n"), Columns{});
  EXPECT_EQ(columns("G65 P2 X7 Y8", "IF [#25 EQ #0] GOTO 5\nG1 X#24\nN5\n"), Columns{});
  EXPECT_EQ(columns("G65 P2 X7 Y8", "G1 X#[20+4]\nIF [#24 EQ 1] THEN #30=#25\n"), Columns{11});
  EXPECT_EQ(columns("G65 P2 X7 Y8", "G1 X#24\nM30\n"), Columns{11});
  EXPECT_EQ(columns("G65 P2 X7 Y8 L2", "#100=#100+1\nIF [#100 EQ 2] THEN #30=#25\nG1 X#24\n"),
            Columns{});
  // What an inner macro reads of its own is not the outer one's.
  const Reading r = read(
      "G21 G90 F100\nG65 P2 X7 A1\nM30\nO2\nG65 P3 X#24\nM99\nO3\nG1 X[#24]\nM98 P4\nM99\n"
      "O4\nG1 Y2\nM99\n",
      reading({}));
  ASSERT_TRUE(r.ok) << r.said();
  ASSERT_NE(r.of("word-unused"), nullptr) << r.said();
  EXPECT_EQ(r.of("word-unused")->place.column, 11u);
  EXPECT_EQ(r.of("word-unused")->place.line, 2u);
}

TEST(EveryWord, AWayHomeUnderCompensationIsTold) {
  const std::string cut = "G21 G90 F9\nT1 M6\nG1 X-20 Y10\nG41 D1 X0 Y0\nX20\n";
  for (const char* home : {"G91 G28 Z0", "G28", "G30 X5"}) {
    const Reading r = read(cut + home + "\nM30\n", reading({}));
    EXPECT_NE(r.of("compensation-at-home"), nullptr) << home << r.said();
    EXPECT_EQ(read(cut + "G40 " + home + "\nM30\n", reading({})).of("compensation-at-home"),
              nullptr);
    EXPECT_EQ(read(cut + "G40 X30\n" + home + "\nM30\n", reading({})).of("compensation-at-home"),
              nullptr);
  }
}

// G28 with rotary words alone: nothing of X, Y, Z goes home.
TEST(EveryWord, ARotaryAxisGoesHomeAlone) {
  for (const char* block : {"G28 A0", "G91 G28 A0", "G30 B0", "G28 C0."}) {
    ReadOptions options = reading({});
    options.zero_in_machine = Vec3(7, 8, 9);
    const Reading r = read("G21 G90 F100\nG1 X5 Y6 Z7\n" + std::string(block) + "\nM30\n", options);
    EXPECT_TRUE(r.ok) << r.said();
    EXPECT_EQ(r.moves().size(), 1u) << block;
    EXPECT_NE(r.of("rotary-idle"), nullptr) << block;
  }
}

// Rotary words where nothing rotates are passed over with a note; a turn is refused.
TEST(EveryWord, RotaryWordsThatMoveNothing) {
  const Reading still =
      read("G21 G90 F100\nG0 X5 A0.\nG1 X6 A0 B0.\nG91 X1 A0\nM30\n", reading({}));
  EXPECT_TRUE(still.ok) << still.said();
  EXPECT_EQ(still.moves().size(), 3u);
  const Reading turn = read("G21 G90 F100\nG0 X5 A0.\nA90.\nX7\nM30\n", reading({}));
  EXPECT_FALSE(turn.ok);
  ASSERT_NE(turn.of("rotary-axis"), nullptr);
  EXPECT_EQ(turn.of("rotary-axis")->place.line, 3u);
  EXPECT_NE(turn.of("rotary-axis")->remedy.find("setup"), std::string::npos);
}

// A feed is of the mode it was given in.
TEST(EveryWord, AFeedEndsWithItsMode) {
  EXPECT_FALSE(read("G21 G90 G93\nG1 X5 F10\nG94\nX6\nM30\n", reading({})).ok);
  EXPECT_FALSE(read("G21 G90 S100 M3 G94\nG1 X5 F10\nG95\nX6\nM30\n", reading({})).ok);
  EXPECT_TRUE(read("G21 G90 G93\nG1 X5 F10\nG94 F90\nX6\nM30\n", reading({})).ok);
  EXPECT_TRUE(read("G21 G90 G94 F9\nG1 X5\nG94\nX6\nM30\n", reading({})).ok);
}

}  // namespace
}  // namespace proveout::nc
