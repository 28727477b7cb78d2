// What a run prints: one screen, whatever the job.
#include "report/text/first_screen.h"

#include <gtest/gtest.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <sstream>
#include <vector>

#include "report/json/result_json.h"
#include "report/text/summary.h"
#include "report/text/time_use_table.h"
#include "report/text/words.h"
#include "sim/run/time_use.h"

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
    f.text = "found: " + words;
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

// What a cause says word for word is no line of its own; said otherwise it is.
TEST(FirstScreen, NoSentenceTwice) {
  run::JobResult r;
  run::Cause c;
  c.text = "setup A's zero lies 3.00 mm low";
  r.causes.push_back(c);
  Finding f;
  f.kind = FindingKind::wrong_zero;
  f.text = c.text;
  r.findings.push_back(f);
  const std::string once = first_screen(r, {});
  EXPECT_EQ(once.find(c.text), once.rfind(c.text)) << once;
  EXPECT_NE(once.find(c.text), std::string::npos) << once;
  r.findings[0].text = "cuts 3.00 mm into the part";
  EXPECT_NE(first_screen(r, {}).find("cuts 3.00"), std::string::npos) << first_screen(r, {});
}

// All of it says what to do under the first finding of each kind, whatever the kind, and not again.
TEST(Summary, SaysWhatToDoOnceAKind) {
  run::JobResult r;
  for (std::size_t k = 0; k < finding_kind_count; ++k) {
    for (int tool = 1; tool <= 2; ++tool) {
      Finding f;
      f.kind = static_cast<FindingKind>(k);
      f.tool = tool;
      f.text = "found";
      r.findings.push_back(f);
    }
  }
  text::SummaryOptions options;
  options.worst = r.findings.size();
  std::size_t said = 0;
  for (const std::string& line : lines_of(text::summary(r, options))) {
    EXPECT_LE(columns(line), 80u) << line;
    const std::size_t at = line.find("do: ");
    if (at == std::string::npos) continue;
    ++said;
    EXPECT_GT(line.size(), at + 10) << line;
  }
  EXPECT_EQ(said, finding_kind_count);
  r.findings.clear();
  EXPECT_EQ(text::summary(r, options).find("do: "), std::string::npos);
}

TEST(FirstScreen, ColourIsAskedFor) {
  EXPECT_EQ(first_screen(crowded(4), {}).find('\x1b'), std::string::npos);
  EXPECT_NE(first_screen(crowded(4), {true, "", true}).find('\x1b'), std::string::npos);
}

// A result that holds where its time goes, with figures no run would give.
run::JobResult with_savings(double hours) {
  run::JobResult r;
  auto use = std::make_shared<run::TimeUse>();
  use->time_s = 4321 * 3600;
  const double s = 3600 * hours;
  for (std::size_t c = 0; c < run::change_count; ++c) {
    run::Saving saving;
    saving.change = static_cast<run::Change>(c);
    saving.saves_s = (10 + static_cast<double>(c)) * s;
    saving.roughing_s = saving.change == run::Change::feed ? s : saving.saves_s;
    saving.likely_s = saving.roughing_s / 2;
    use->savings.push_back(saving);
  }
  r.time_use = use;
  return r;
}

// Finishing passes and a second part in the clamping are not in the one line, and it is one line.
TEST(FirstScreen, SaysWhatCouldBeSavedWithTheFinishUntouched) {
  for (const double hours : {0.001, 0.01, 0.3, 1.0, 17.0, 4000.0}) {
    const std::string line = savings_line(with_savings(hours));
    EXPECT_LE(columns(line), 80u) << line;
    EXPECT_NE(line.find("finish untouched"), std::string::npos) << line;
    // Half of feed's one of ten hours, depth 12, width 13, changes 14 and air 10.
    const double all = (1 + 12 + 13 + 14 + 10) / 2.0;
    EXPECT_TRUE(line.starts_with("At most " + duration(all * 3600 * hours) + " less at middling"))
        << line;
    EXPECT_EQ(line.find("two parts"), std::string::npos);
    EXPECT_FALSE(line.ends_with(':')) << line;
  }
  run::JobResult finishing = with_savings(1);
  auto use = std::make_shared<run::TimeUse>(*finishing.time_use);
  for (run::Saving& s : use->savings) s.likely_s = 0;
  finishing.time_use = use;
  EXPECT_EQ(savings_line(finishing), "");
  EXPECT_EQ(savings_line({}), "");
  // Chip loads are a matter of feeds alone.
  run::JobResult slow = with_savings(1);
  use = std::make_shared<run::TimeUse>(*slow.time_use);
  use->savings.erase(use->savings.begin() + 1);
  slow.time_use = use;
  EXPECT_TRUE(savings_line(slow).starts_with("At most " + duration(24.5 * 3600) + " less, finish"))
      << savings_line(slow);
}

// What the run worked out once is what each face shows: none works it out anew.
TEST(FirstScreen, EachFaceShowsTheTimeUseThatIsHeld) {
  const run::JobResult r = with_savings(1);
  const auto json = json::result_json(r)["time_use"];
  EXPECT_EQ(json["saves_s"], 75 * 3600);
  EXPECT_EQ(json["savings"][1]["roughing_s"], 3600);
  EXPECT_NE(time_use_table(r).find(duration(75 * 3600)), std::string::npos);
  EXPECT_NE(first_screen(r, {}).find("At most "), std::string::npos);
}

}  // namespace
}  // namespace proveout::text
