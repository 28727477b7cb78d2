// Programs rewritten with other feeds and speeds: F and S words change, and not another byte;
// letters in comments are not words.
#include <gtest/gtest.h>
#include <stdlib.h>

#include <filesystem>
#include <fstream>

#include "parser/nc/program.h"
#include "sim/after/retime.h"

namespace proveout::after {
namespace {

nc::Program read(const std::string& text) {
  std::string folder = (std::filesystem::temp_directory_path() / "proveout-feeds-XXXXXX").string();
  EXPECT_NE(::mkdtemp(folder.data()), nullptr);
  const std::filesystem::path file = std::filesystem::path(folder) / "a.nc";
  std::ofstream(file) << text;
  Diagnostics diagnostics;
  auto program = nc::read_program(file, {}, diagnostics);
  std::filesystem::remove_all(folder);
  EXPECT_TRUE(program);
  return program ? std::move(*program) : nc::Program{};
}

// Every feed motion at feed, every spindle word at rpm.
std::string rewritten(const std::string& text, double feed, double rpm) {
  const nc::Program program = read(text);
  RetimedSetup feeds;
  for (const nc::Motion& m : program.motions) {
    feeds.feed.push_back(m.kind == nc::PathKind::rapid ? 0 : feed);
    feeds.rpm.push_back(rpm);
  }
  return with_feeds(text, program, feeds);
}

TEST(WithFeeds, WordsChangeAndCommentsDoNot) {
  EXPECT_EQ(rewritten("G21 G90 (F1 S2)\n"
                      "S9000 M3 ; S1 F2\n"
                      "G0 X0 Y0 Z1\n"
                      "(F900; S5) G1 X5 F100 (F7)\n"
                      "Y5\n"
                      "G1 X6 f 200 ; F9\n"
                      "M30\n",
                      350, 12000),
            "G21 G90 (F1 S2)\n"
            "S12000 M3 ; S1 F2\n"
            "G0 X0 Y0 Z1\n"
            "(F900; S5) G1 X5 F350 (F7)\n"
            "Y5\n"
            "G1 X6 F350 ; F9\n"
            "M30\n");
}

// A block whose feed must change and that has no F gets one before its comment or its line's end,
// whatever that is.
TEST(WithFeeds, AWordIsAddedWhereThereWasNone) {
  const std::string text = "G21 G90\nS900 M3\nG0 X0\nG1 X5 F100\nX6 (last)\r\nX7\r\nM30\n";
  const nc::Program program = read(text);
  RetimedSetup feeds;
  for (const nc::Motion& m : program.motions) {
    feeds.feed.push_back(m.kind == nc::PathKind::rapid ? 0 : 100.0 * m.line);
    feeds.rpm.push_back(900);
  }
  const std::string made = with_feeds(text, program, feeds);
  EXPECT_EQ(made, "G21 G90\nS900 M3\nG0 X0\nG1 X5 F400\nX6 F500 (last)\r\nX7 F600\r\nM30\n");
  // Read again, each motion has the feed it was given.
  const nc::Program again = read(made);
  ASSERT_EQ(again.motions.size(), program.motions.size());
  for (std::size_t i = 0; i < again.motions.size(); ++i) {
    if (again.motions[i].kind == nc::PathKind::rapid) continue;
    EXPECT_EQ(again.motions[i].feed, feeds.feed[i]) << i;
  }
}

}  // namespace
}  // namespace proveout::after
