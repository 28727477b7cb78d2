// The table of timed runs: what is not plainly right is refused at its file and line, and nothing
// is fitted to it.
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

CommandRun calibrate(const std::string& table) {
  const Folder folder;
  folder.file("a.nc", small_program);
  const std::string machine = folder.file("m.toml", "tool_change_s = 10\n");
  return command(
      {"calibrate", folder.file("runs.csv", table), "--machine", machine, "--fit", "overhead"});
}

TEST(CalibrateTable, WhatIsTaken) {
  const std::string by_hand = std::string("# by hand\r\n") +
                              "program, measured_s ,feed_override\r\n" + "\"a.nc\",70,\r\n" +
                              "\r\n" + "a.nc,\"71\",0.5\r\n";
  for (const std::string& table :
       {std::string("program,measured_s\na.nc,70\n"),
        std::string("\xEF\xBB\xBFprogram,measured_s\na.nc,70\n"), by_hand,
        std::string("program,measured_s,note\na.nc,70,\"slow, and \"\"wet\"\"\"\n"),
        std::string("program,measured_s,feed_override,rapid_override\na.nc,70,0.01,2")}) {
    const CommandRun r = calibrate(table);
    EXPECT_EQ(r.status, 0) << table << r.err;
    EXPECT_NE(r.out.find("overhead"), std::string::npos) << r.out;
  }
}

TEST(CalibrateTable, WhatIsRefusedAtItsLine) {
  struct Case {
    const char *table, *where, *says;
  };
  for (const Case& c : {
           Case{"program,measured_s\na.nc,70,0.5\n", "runs.csv:2",
                "cells number 3, the head line's 2"},
           Case{"program,measured_s\na.nc,70\na.nc\n", "runs.csv:3",
                "cells number 1, the head line's 2"},
           Case{"program,measured_s\na.nc,70,5\n", "runs.csv:2", "decimal comma"},
           Case{"# x\nprogram,measured_s,measured_s\na.nc,70,71\n", "runs.csv:2",
                "two columns 'measured_s'"},
           Case{"program,measured_s\n\"a.nc,70\n", "runs.csv:2", "quote does not close"},
           Case{"\"program,measured_s\na.nc,70\n", "runs.csv:1", "quote does not close"},
           Case{"program,measured_s,feed_override\na.nc,70,100\n", "runs.csv:2", "1 = 100 %"},
           Case{"program,measured_s,feed_override\na.nc,70,0\n", "runs.csv:2", "0.01 to 2"},
           Case{"program,measured_s,rapid_override\na.nc,70,2.5\n", "runs.csv:2",
                "rapid_override = 2.5"},
           Case{"program,measured_s\na.nc,70\nb.nc,70\n", "runs.csv:3", "there is no program"},
           Case{"program,measured_s\n,70\n", "runs.csv:2", "names no program"},
           Case{"program,measured_s\na.nc,\n", "runs.csv:2", "neither measured_s nor a log"},
           Case{"# x\nprogramme,measured_s\na.nc,70\n", "runs.csv:2", "no column 'program'"},
       }) {
    const CommandRun r = calibrate(c.table);
    EXPECT_EQ(r.status, 2) << c.table;
    EXPECT_NE(r.err.find(c.where), std::string::npos) << c.table << r.err;
    // Messages are broken into lines where they are long.
    std::string flat;
    for (const char ch : r.err) {
      if (ch == '\n')
        flat += ' ';
      else if (ch != ' ' || flat.empty() || flat.back() != ' ')
        flat += ch;
    }
    EXPECT_NE(flat.find(c.says), std::string::npos) << c.table << r.err;
    EXPECT_EQ(r.out, "") << c.table;
  }
}

}  // namespace
}  // namespace proveout::cli
