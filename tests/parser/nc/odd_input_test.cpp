// Input no post writes: one endless line, a million mistakes, a hundred thousand calls, other line
// ends; and the quick way through plain lines against the full reader. Nothing here is timed: what
// grows with the square of the input would run for hours.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

namespace fs = std::filesystem;

// Everything a program says, bit for bit.
struct Record : Sink {
  std::string text;
  template <typename T>
  void put(const T& v) {
    char bytes[sizeof v];
    std::memcpy(bytes, &v, sizeof v);
    text.append(bytes, sizeof v);
  }
  void motion(const Motion& m, const ModalState& s) override {
    for (const Vec3& p : {m.start, m.end, m.centre}) {
      for (int k = 0; k < 3; ++k) put(p[k]);
    }
    put(m.sweep);
    put(m.feed);
    put(m.line);
    put(m.state);
    put(m.chain);
    put(m.kind);
    put(m.plane);
    put(s.tool);
    put(s.spindle_rpm);
  }
  void event(const Event& e, const ModalState& s) override {
    put(e.kind);
    put(e.line);
    put(e.state);
    put(e.value);
    put(s.tool);
    text += e.text;
  }
};

std::string everything(std::string_view program, Profile profile, bool quick,
                       const Reads& reads = {}) {
  ReadOptions options;
  options.reads = reads;
  options.profile = profile;
  options.quick = quick;
  options.tool_diameters = {{1, 6}, {2, 3}};
  Record record;
  Diagnostics diagnostics;
  const bool ok = interpret(program, "test.nc", options, record, diagnostics);
  for (const auto& d : diagnostics.all()) record.text += to_text(d);
  return record.text + (ok ? "ok" : "not ok");
}

void expect_alike(std::string_view program, const std::string& what) {
  Reads steps;
  steps.declare(Read::lengths_without_point, "least-increment");
  steps.declare(Read::feeds_without_point, "feed-increment");
  for (const auto& [profile, reads] :
       {std::pair{Profile::shop, Reads()}, {Profile::shop, steps}, {Profile::strict, Reads()}}) {
    const std::string quick = everything(program, profile, true, reads);
    const std::string full = everything(program, profile, false, reads);
    EXPECT_TRUE(quick == full) << what << "\nquick:\n" << quick << "\nfull:\n" << full;
  }
}

std::string bytes_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

TEST(QuickLines, MeanWhatTheFullReaderSays) {
  int seen = 0;
  std::vector<fs::path> folders = {fs::path(PROVEOUT_FIXTURES)};
  if (*PROVEOUT_FIELD_DATA != '\0') folders.emplace_back(PROVEOUT_FIELD_DATA);
  for (const fs::path& folder : folders) {
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
      if (!entry.is_regular_file() || entry.path().extension() == ".stl") continue;
      expect_alike(bytes_of(entry.path()), entry.path().string());
      ++seen;
    }
  }
  EXPECT_GE(seen, 300);
}

// Words and pieces of words, put together at random: mostly lines the quick way takes, and what
// lies close beside.
TEST(QuickLines, RandomLinesMeanWhatTheFullReaderSays) {
  const std::vector<std::string> pieces = {
      "X1.5",    "Y-2",        "Z.25",        "X 3",   "x4.",
      "Y+1",     "F300",       "F0",          "F",     "G0",
      "G1",      "G01",        "G00",         "G2 R5", "G91",
      "G90",     "N10",        "N1.",         "N-3",   "N99999",
      "N123456", " ",          "  ",          "\t",    "X1 5",
      "Z1..2",   "X1e3",       "Y--1",        "G1.0",  "G0.5",
      "S900",    "M3",         "(c)",         ";c",    "/",
      "%",       "X999999999", "Z1234567890", "I1",    "R2",
      "G20",     "G21",        "G41 D1",      "G40",   "X0.1234567890123456",
      "-",       ".",          "\r",          "G93",   "G94",
      "G68 R30", "G69",        "G16",         "G15",   "T1 M6",
      "A1",      "O5"};
  for (unsigned seed = 1; seed <= 3000; ++seed) {
    std::mt19937 random(seed);
    const auto pick = [&](std::size_t n) {
      return std::uniform_int_distribution<std::size_t>(0, n - 1)(random);
    };
    std::string program = "G21 G90 G94\nF200 G0 X1\n";
    for (int line = 0; line < 12; ++line) {
      for (std::size_t k = pick(4); k > 0; --k)
        program += pieces[pick(pick(3) == 0 ? pieces.size() : 17)];
      program += pick(8) == 0 ? "\r\n" : "\n";
    }
    expect_alike(program, fmt::format("seed {}:\n{}", seed, program));
    if (HasFailure()) return;
  }
}

// How finely a program is printed, which is what cutter compensation forgives at a joint, is learnt
// from plain lines as well: a corner of 0.02 degrees is tangent at two places and concave at five,
// and the tool's centre turns it elsewhere.
TEST(QuickLines, PlacesBehindThePointCountAlike) {
  const auto program = [](const std::string& first) {
    return "G21 G90 G94 F100\nT1 M6\nG1 X0.0 Y0.0\n" + first +
           "\nG1 X0.00 Y0.00\nG41 D1 G1 X0.00 Y20.00\nX30.00 Y20.00\nX60.00 Y20.01\nG40 X60.00 "
           "Y60.00\nM30\n";
  };
  expect_alike(program("X-1.25 Y-1.25"), "two places");
  expect_alike(program("X-1.25001 Y-1.25"), "five places");
  expect_alike(program("X-1.25 Y-.00001"), "five places, no whole digit");
}

TEST(LineEnds, DoNotMatter) {
  const std::string lines =
      "%\nG21 G90\nT1 M6\nS900 M3\nG0 X0 Y0 Z5\nG1 Z-1 F100\n\nX4\nM98 P7 L2\nG0 Z5\nM30\nO7\nG91 "
      "G1 Y1\nG90\nM99\n%\n";
  const auto with = [&](const std::string& end) {
    std::string out;
    for (char c : lines) out += c == '\n' ? end : std::string(1, c);
    return out;
  };
  const std::string feed = everything(with("\n"), Profile::shop, true);
  EXPECT_NE(feed.find("ok"), std::string::npos);
  EXPECT_EQ(feed.find("not ok"), std::string::npos) << feed;
  EXPECT_TRUE(everything(with("\r\n"), Profile::shop, true) == feed);
  EXPECT_TRUE(everything(with("\r"), Profile::shop, true) == feed);
  const std::string no_last_end = with("\r");
  EXPECT_TRUE(everything(no_last_end.substr(0, no_last_end.size() - 1), Profile::shop, true) ==
              feed);
}

struct Count : Sink {
  std::size_t motions = 0;
  void motion(const Motion&, const ModalState&) override { ++motions; }
  void event(const Event&, const ModalState&) override {}
};

TEST(OddInput, OneEndlessLine) {
  constexpr std::size_t size = 100'000'000;
  for (const std::string piece : {" ", "(", "/", "X1", "#1=1 ", "N1", "G1", "[", "1", "-"}) {
    std::string line = "G21 G1 F10 X0\n";
    while (line.size() < (piece == " " ? size : size / 10)) line += piece;
    Count count;
    Diagnostics diagnostics;
    interpret(line, "line", {}, count, diagnostics);
    for (const auto& d : diagnostics.all()) EXPECT_LE(d.excerpt.size(), 200u);
  }
}

TEST(OddInput, OnlyCarriageReturns) {
  std::string text = "G21 G90\rG1 F100 X0\r";
  while (text.size() < 20'000'000) text += "X1 S1\rX2\r";
  Count count;
  Diagnostics diagnostics;
  EXPECT_TRUE(interpret(text, "cr", {}, count, diagnostics));
  EXPECT_GT(count.motions, 3'000'000u);
}

TEST(OddInput, AMillionMistakes) {
  std::string text;
  for (int i = 0; i < 1'000'000; ++i) text += "G1 X1 Q\n";
  Count count;
  Diagnostics diagnostics;
  EXPECT_FALSE(interpret(text, "mistakes", {}, count, diagnostics));
  EXPECT_EQ(diagnostics.errors(), 1'000'000u);
  EXPECT_LE(diagnostics.all().size(), 200u);
  EXPECT_EQ(count.motions, 0u);
}

// Where a program is told that it repeats too much; only that is said, and in time.
Place refused_for_repeats(const std::string& text) {
  Count count;
  Diagnostics diagnostics;
  EXPECT_FALSE(interpret(text, "repeats", {}, count, diagnostics));
  EXPECT_EQ(diagnostics.errors(), 1u);
  if (diagnostics.all().empty()) return {};
  const Diagnostic& last = diagnostics.all().back();
  EXPECT_EQ(last.code, "too-many-repeats");
  std::istringstream lines(text);
  std::string line;
  for (std::uint32_t n = 0; n < last.place.line; ++n) std::getline(lines, line);
  EXPECT_EQ(last.excerpt, line);
  EXPECT_LE(count.motions, 2'300'000u);
  return last.place;
}

// Ten thousand holes of a hundred thousand pecks, and ten thousand runs of a long subprogram. Said
// at what asks for them: the cycle, and the main program's call.
TEST(OddInput, RepeatsWithoutEndAreRefused) {
  std::string body = "G21 F100\nM98 P1 L9999\nM98 P1 L9999\nM30\nO1\n";
  for (int i = 0; i < 3000; ++i) body += "X1\nX0\n";
  for (const std::string& text :
       {std::string("G21 F100\nG83 G91 X1 Z-10 R0 Q.0001 L9999\nM30\n"), body + "M99\n"}) {
    const Place place = refused_for_repeats(text);
    EXPECT_EQ(place.line, 2u);
    EXPECT_EQ(place.column, 1u);
  }
}

// Of calls within calls it is said at the one that repeats most.
TEST(OddInput, TheRepeatAtFaultIsNamed) {
  std::string text = "G21 F100\nM98 P1\nM30\nO1\nM98 P2 L9999\nM99\nO2\n";
  for (int i = 0; i < 300; ++i) text += "X1\nX0\n";
  EXPECT_EQ(refused_for_repeats(text + "M99\n").line, 5u);
}

// A cycle in a subprogram that is called once.
TEST(OddInput, TheCycleAtFaultIsNamed) {
  EXPECT_EQ(refused_for_repeats("G21 G91 F100\nM98 P1\nM30\nO1\n"
                                "G83 X0.01 Z-10 R0 Q0.001 L9999\nM99\n")
                .line,
            5u);
}

// A comment of a megabyte, ten thousand times: no lines to speak of, but ten gigabytes to read.
TEST(OddInput, LongLinesCountAsSeveral) {
  EXPECT_EQ(refused_for_repeats("G21 F100\nM98 P1 L9999\nM30\nO1\n(" + std::string(1'000'000, 'x') +
                                ")\nX1\nX0\nM99\n")
                .line,
            2u);
}

// What a program spells out itself is no repeat, however long it is: moves, holes of a cycle, and a
// subprogram called once.
TEST(OddInput, LongProgramsAreNoRepeats) {
  std::string moves, holes;
  for (int i = 0; i < 1'050'000; ++i) moves += "X1\nX0\n";
  std::string returns = moves;
  std::replace(returns.begin(), returns.end(), '\n', '\r');
  for (int i = 0; i < 300'000; ++i) holes += i % 2 == 0 ? "X1\n" : "X2\n";
  for (const auto& [text, least] :
       {std::pair{"G21 G1 F100\n" + moves + "M30\n", 2'100'000u},
        {"G21 G1 F100\nM98 P1\nM30\nO1\n" + moves + "M99\n", 2'100'000u},
        {"G21 G1 F100\rM98 P1\rM30\rO1\r" + returns + "M99\r", 2'100'000u},
        {"G21 G90 F100\nG0 Z5\nG83 X0 Y0 Z-1 R1 Q0.5\n" + holes + "M30\n", 1'200'000u}}) {
    Count count;
    Diagnostics diagnostics;
    EXPECT_TRUE(interpret(text, "long", {}, count, diagnostics));
    EXPECT_EQ(diagnostics.errors(), 0u);
    EXPECT_GE(count.motions, least);
  }
}

// An arc whose ends are near may still go round by far away.
TEST(OddInput, ArcsThatBulgeOutOfReachAreRefused) {
  for (const char* arc : {"G2 X35 Y10 R-900000", "G3 X35 Y10 R-900000", "G2 X0 Y0 I600000"}) {
    Count count;
    Diagnostics diagnostics;
    const std::string text = std::string("G21 G90 F100\nG1 X0 Y0\n") + arc + "\nM30\n";
    EXPECT_FALSE(interpret(text, "bulge", {}, count, diagnostics)) << arc;
    ASSERT_EQ(diagnostics.errors(), 1u) << arc;
    EXPECT_EQ(diagnostics.all()[0].code, "position-unbounded") << arc;
    EXPECT_EQ(diagnostics.all()[0].place.line, 3u);
  }
  Count count;
  Diagnostics diagnostics;
  EXPECT_TRUE(interpret("G21 G90 F100\nG1 X0 Y0\nG2 X35 Y10 R900000\nM30\n", "flat", {}, count,
                        diagnostics));
}

// A million calls are refused at the hundred thousand and first; those before it each have a chain
// of their own.
TEST(OddInput, AMillionCalls) {
  std::string text = "G21 G91 G1 F100\n";
  for (int i = 0; i < 1'000'000; ++i) text += "M98 P1\n";
  text += "M30\nO1\nX.001\nM99\n";
  Count count;
  Diagnostics diagnostics;
  EXPECT_FALSE(interpret(text, "calls", {}, count, diagnostics));
  EXPECT_EQ(count.motions, 100'000u);
  ASSERT_FALSE(diagnostics.all().empty());
  EXPECT_EQ(diagnostics.all().back().code, "subprogram-count");
  EXPECT_EQ(diagnostics.all().back().place.line, 100'002u);
}

}  // namespace
}  // namespace proveout::nc
