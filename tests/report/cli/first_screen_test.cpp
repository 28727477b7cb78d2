// What a run prints: one screen, whatever the job.
#include "report/text/first_screen.h"

#include <gtest/gtest.h>

#include <sstream>
#include <vector>

#include "report/text/words.h"

namespace proveout::text {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> out;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) out.push_back(line);
  return out;
}

// Names and sentences as long as anyone could give, and everything at once.
run::JobResult crowded(std::size_t kinds) {
  run::JobResult r;
  const std::string longest(300, 'n');
  std::string words;
  for (int i = 0; i < 80; ++i) words += "many words ";
  r.job.name = longest;
  r.material = longest;
  r.verdict = words;
  for (int i = 0; i < 5; ++i) {
    run::Cause c;
    c.text = words;
    c.remedy = words;
    r.causes.push_back(c);
  }
  for (std::size_t i = 0; i < kinds; ++i) {
    Finding f;
    f.kind = static_cast<FindingKind>(i % finding_kind_count);
    f.setup = longest;
    f.file = longest;
    f.line = 4'000'000'000;
    f.text = words;
    r.findings.push_back(f);
    r.findings.push_back(f);
  }
  for (int i = 0; i < 40; ++i) r.not_checked.push_back({"over-something", "because", false, {}});
  run::SetupResult s;
  for (int t = 0; t < 40; ++t) {
    run::ToolResult tool;
    tool.number = 1000 + t;
    s.tools.push_back(tool);
  }
  r.setups.push_back(s);
  r.part.compared = true;
  return r;
}

TEST(FirstScreen, IsOneScreenWhateverTheJob) {
  for (const std::size_t kinds : {0u, 1u, 4u, 28u}) {
    auto lines = lines_of(first_screen(crowded(kinds), {false, std::string(300, 'd'), true}));
    EXPECT_LE(lines.size(), first_screen_lines);
    EXPECT_EQ(lines.back(), std::string(300, 'd'));  // the folder stands whole
    lines.pop_back();
    for (const std::string& line : lines) EXPECT_LE(columns(line), 80u) << line;
  }
}

TEST(FirstScreen, OfAnEmptyResultToo) {
  const auto lines = lines_of(first_screen({}, {}));
  EXPECT_GE(lines.size(), 5u);
  EXPECT_LE(lines.size(), first_screen_lines);
}

// Errors are not crowded out by what comes before them.
TEST(FirstScreen, ShowsTheWorstOfTheFindings) {
  const std::string text = first_screen(crowded(4), {});
  EXPECT_NE(text.find("error"), std::string::npos);
  EXPECT_NE(text.find("gouge"), std::string::npos);
}

TEST(FirstScreen, ColourIsAskedFor) {
  EXPECT_EQ(first_screen(crowded(4), {}).find('\x1b'), std::string::npos);
  EXPECT_NE(first_screen(crowded(4), {true, "", true}).find('\x1b'), std::string::npos);
}

}  // namespace
}  // namespace proveout::text
