// time --against: each machine's control reads the program in its own way.
#include <nlohmann/json.hpp>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

nlohmann::json timed(const Folder& folder, const std::vector<std::string>& more) {
  std::vector<std::string> words{"time", (folder.path() / "a.nc").string(), "--json", "-"};
  words.insert(words.end(), more.begin(), more.end());
  const CommandRun run = command(words);
  EXPECT_EQ(run.status, 0) << run.err;
  return nlohmann::json::parse(run.out);
}

TEST(TimeAgainst, TheOtherMachineReadsTheProgramItsOwnWay) {
  const Folder folder;
  folder.file("a.nc", "G21 G90 F600\nG0 X0. Y0. Z5.\nG1 X40.\nY4000\nX0.\nM30\n");
  const std::string whole = folder.file("whole.toml",
                                        "[reads]\nlengths_without_point = \"whole-units\"\n"),
                    steps = folder.file("steps.toml",
                                        "[reads]\nlengths_without_point = \"least-increment\"\n");
  const double as_whole = timed(folder, {"--machine", whole})["time_s"],
               as_steps = timed(folder, {"--machine", steps})["time_s"];
  // Y4000 is 4 m, or 4 mm: 3996 mm at 10 mm a second.
  EXPECT_NEAR(as_whole - as_steps, 399.6, 1);
  const nlohmann::json both = timed(folder, {"--machine", steps, "--against", whole});
  EXPECT_EQ(both["time_s"], as_steps);
  EXPECT_EQ(both["against"]["time_s"], as_whole);
  const nlohmann::json same = timed(folder, {"--machine", steps, "--against", steps});
  EXPECT_EQ(same["against"]["time_s"], as_steps);
}

}  // namespace
}  // namespace proveout::cli
