// --messages N: how much of what the readers say is told, the gravest first, and how much is not.
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

// One error on line 5, a warning on line 4, and three notes before them.
const char* const talking =
    "G21 G90 F100 ; remark\n/1 G1 X0 Y0 Z5\nM48\nG1 X1 H2\nG1 X2 E1\nT1 M6\nM30\n";

int count(const std::string& text, const std::string& part) {
  int n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

std::vector<std::string> words_of(const std::string& name, const Folder& folder,
                                  const std::string& program) {
  if (name == "differ") return {"differ", program, program};
  if (name == "time" || name == "list") return {name, program};
  return {"run", folder.file("job.toml", small_job), "--no-html", "--full",
          "-o",  (folder.path() / "out").string()};
}

TEST(Messages, AtMostSoManyAreToldTheGravestFirst) {
  for (const std::string name : {"list", "time", "differ", "run"}) {
    SCOPED_TRACE(name);
    const Folder folder;
    const std::string program = folder.file("a.nc", talking);
    const auto told = [&](const std::string& most) {
      std::vector<std::string> words = words_of(name, folder, program);
      if (!most.empty()) words.insert(words.end(), {"--messages", most});
      return command(words);
    };
    const int readings = name == "differ" ? 2 : 1;
    const CommandRun all = told("");
    EXPECT_EQ(all.status, 2) << all.err;
    const int errors = count(all.err, ": error: "), warnings = count(all.err, ": warning: "),
              notes = count(all.err, ": note: ");
    EXPECT_EQ(errors, readings);
    EXPECT_GE(warnings, readings);
    EXPECT_GE(notes, 3 * readings);
    EXPECT_EQ(count(all.err, "more of these"), 0);
    // One: the error, and how many more there are.
    const CommandRun one = told("1");
    EXPECT_EQ(one.status, 2);
    EXPECT_EQ(count(one.err, ": error: "), readings) << one.err;
    EXPECT_EQ(count(one.err, ": warning: ") + count(one.err, ": note: "), 0) << one.err;
    const int more = (errors + warnings + notes) / readings - 1;
    EXPECT_EQ(count(one.err, "and " + std::to_string(more) + " more of these"), readings)
        << one.err;
    // Two: the warning too. As many as there are: nothing is left out.
    EXPECT_EQ(count(told("2").err, ": warning: "), readings);
    EXPECT_EQ(told(std::to_string(more + 1)).err, all.err);
    // None, and what is no number, are refused.
    for (const char* const wrong : {"0", "-1", "many", "1000001"}) {
      const CommandRun refused = told(wrong);
      EXPECT_EQ(refused.status, 2) << wrong;
      EXPECT_NE(refused.err.find("messages"), std::string::npos) << refused.err;
    }
  }
}

// What is told is no matter of what is found: the findings of a run are the same.
TEST(Messages, ARunFindsTheSameWhateverItTells) {
  const Folder folder;
  folder.file("a.nc",
              "%\nG21 G90 ; remark\nT1 M6\nS12000 M3\nG0 X-5 Y10 Z5\nG1 Z-1 F300 H2\n"
              "X35 F600 L3\nG0 Z5\nM30\n%\n");
  const std::string job = folder.file("job.toml", small_job);
  const auto findings = [&](const std::string& most, CommandRun& run) {
    const std::string out = (folder.path() / ("out" + most)).string();
    run = command({"run", job, "--no-html", "--full", "-o", out, "--messages", most});
    const std::string result = read(out + "/result.json");
    const auto at = result.find("\"findings\"");
    EXPECT_NE(at, std::string::npos) << run.err;
    return result.substr(at, result.find("\"run\"") - at);
  };
  CommandRun few, many;
  EXPECT_EQ(findings("1", few), findings("200", many));
  EXPECT_EQ(count(few.err, ": warning: "), 1) << few.err;
  EXPECT_EQ(count(few.err, "more of these"), 1) << few.err;
  EXPECT_EQ(count(many.err, "word-idle"), 2) << many.err;
}

}  // namespace
}  // namespace proveout::cli
