// Completions and the manual page against the commands' own help; the bash script is run by bash.
#include "report/cli/describe.h"

#include <fcntl.h>
#include <sys/ioctl.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <regex>

#include "report/text/terminal.h"
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

TEST(Describe, EveryOptionOfTheHelpIsEverywhere) {
  const auto described = described_commands();
  ASSERT_EQ(described.size(), commands().size());
  const std::string manual = manual_page();
  for (const CommandText& c : described) {
    EXPECT_FALSE(c.options.empty()) << c.name;
    const CommandRun help = command({c.name, "--help"});
    EXPECT_EQ(help.status, 0);
    for (const OptionText& o : c.options) {
      EXPECT_NE(help.out.find(o.name), std::string::npos) << c.name << " " << o.name;
      EXPECT_FALSE(o.text.empty()) << c.name << " " << o.name;
      for (const char* shell : {"bash", "zsh", "fish"}) {
        const std::string script = completion_script(shell);
        EXPECT_NE(script.find(std::string(shell) == "fish" ? "-l " + o.name.substr(2) : o.name),
                  std::string::npos)
            << shell << " " << c.name << " " << o.name;
      }
      std::string escaped;
      for (char ch : o.name) escaped += ch == '-' ? std::string("\\-") : std::string(1, ch);
      EXPECT_NE(manual.find(escaped), std::string::npos) << c.name << " " << o.name;
    }
  }
  // The other way round: no option of the help is missing from the table.
  const CommandRun help = command({"run", "--help"});
  std::istringstream words(help.out);
  for (std::string w; words >> w;) {
    if (!w.starts_with("--") || w.size() < 4) continue;
    bool known = false;
    for (const OptionText& o : described.front().options) known = known || w == o.name;
    EXPECT_TRUE(known) << w;
  }
}

// A heading has its line to itself, numbers are as one writes them, and lines fit.
TEST(Describe, HelpReadsAsItIsMeant) {
  for (const Command& c : commands()) {
    std::istringstream lines(command({c.name, "--help"}).out);
    bool headed = false;
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(line.size(), 80u) << c.name << ": " << line;
      headed = headed || line == "Options:";
      // 0.03 as a double prints seventeen digits where nobody rounds.
      const bool unrounded = std::regex_search(line, std::regex("[0-9]*\\.[0-9]{10}"));
      EXPECT_FALSE(unrounded) << c.name << ": " << line;
    }
    EXPECT_TRUE(headed) << c.name;
  }
  const std::string check = command({"check", "--help"}).out;
  for (const char* share : {"(=0.03)", "(=0.002)", "(=0.05)"})
    EXPECT_NE(check.find(share), std::string::npos) << share;
}

// A terminal of a size of its own: POSIX pseudo-terminals.
TEST(Describe, TheWidthIsThatOfTheTerminal) {
  const int terminal = ::posix_openpt(O_RDWR | O_NOCTTY);
  ASSERT_GE(terminal, 0);
  ASSERT_EQ(::grantpt(terminal), 0);
  ASSERT_EQ(::unlockpt(terminal), 0);
  std::FILE* const stream = ::fdopen(terminal, "r+");
  for (const auto& [columns, width] :
       {std::pair(100, 100u), std::pair(300, 120u), std::pair(20, 60u), std::pair(0, 80u)}) {
    winsize size{};
    size.ws_col = static_cast<unsigned short>(columns);
    size.ws_row = 24;
    ASSERT_EQ(::ioctl(terminal, TIOCSWINSZ, &size), 0);
    EXPECT_EQ(text::terminal_width(stream), width) << columns;
  }
  std::fclose(stream);
  std::FILE* const file = std::tmpfile();
  EXPECT_EQ(text::terminal_width(file), 80u);
  std::fclose(file);
}

TEST(Describe, UnknownShellIsRefused) {
  const CommandRun r = command({"completion", "ksh"});
  EXPECT_EQ(r.status, 2);
  EXPECT_NE(r.err.find("bash, zsh and fish"), std::string::npos);
}

std::string completed(const Folder& folder, const std::string& words, int at) {
  const std::string script = folder.file("proveout.bash", completion_script("bash"));
  const std::string run = "bash -c '. \"" + script + "\"; COMP_WORDS=(" + words +
                          "); COMP_CWORD=" + std::to_string(at) +
                          "; _proveout; echo \"${COMPREPLY[*]}\"'";
  std::FILE* pipe = ::popen(run.c_str(), "r");
  std::string out;
  std::array<char, 4096> bytes{};
  while (pipe != nullptr && std::fgets(bytes.data(), bytes.size(), pipe) != nullptr)
    out += bytes.data();
  if (pipe != nullptr) ::pclose(pipe);
  return out;
}

TEST(Describe, BashCompletes) {
  const Folder folder;
  EXPECT_EQ(completed(folder, "proveout ca", 1), "calibrate\n");
  EXPECT_EQ(completed(folder, "proveout run --stock", 2), "--stock-files\n");
  EXPECT_EQ(completed(folder, "proveout run --fail-on w", 3), "warning\n");
  EXPECT_EQ(completed(folder, "proveout run " + folder.path().string() + "/prov", 2),
            folder.path().string() + "/proveout.bash\n");
}

}  // namespace
}  // namespace proveout::cli
