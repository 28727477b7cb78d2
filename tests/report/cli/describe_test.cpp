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

// A name with spaces is one answer, however it was begun; the shell hands the word over as typed.
TEST(Describe, BashCompletesNamesWithSpaces) {
  const Folder folder;
  const std::string in = folder.path().string();
  std::filesystem::create_directory(folder.path() / "old jobs");
  folder.file("old jobs.toml", "");
  const std::string both = "<" + in + "/old jobs>";
  const auto answers = [&](const std::string& words, int at) {
    const std::string script = folder.file("proveout.bash", completion_script("bash"));
    // The test's words stand in a file of their own, so that they are quoted once.
    const std::string asks = folder.file(
        "asks.bash", ". '" + script + "'\nCOMP_WORDS=(" + words +
                         ")\nCOMP_CWORD=" + std::to_string(at) + "\n_proveout\n" +
                         "for a in \"${COMPREPLY[@]}\"; do echo \"<$a>\"; done | LC_ALL=C sort\n");
    std::FILE* pipe = ::popen(("bash '" + asks + "'").c_str(), "r");
    std::string out;
    std::array<char, 4096> bytes{};
    while (pipe != nullptr && std::fgets(bytes.data(), bytes.size(), pipe) != nullptr)
      out += bytes.data();
    if (pipe != nullptr) ::pclose(pipe);
    return out;
  };
  EXPECT_EQ(answers("proveout run '" + in + "/old'", 2),
            "<" + in + "/old jobs.toml>\n" + both + "\n");
  EXPECT_EQ(answers("proveout run '" + in + "/old\\ jobs.'", 2), "<" + in + "/old jobs.toml>\n");
  EXPECT_EQ(answers("proveout run '\"" + in + "/old jobs.'", 2), "<" + in + "/old jobs.toml>\n");
  // Folders alone where a folder is asked for, nothing where a number is.
  EXPECT_EQ(answers("proveout run --stages '" + in + "/old'", 3), both + "\n");
  EXPECT_EQ(answers("proveout run --voxel '" + in + "/old'", 3), "");
}

// Both names of an option, and the words it takes, in the form of zsh's own _arguments.
TEST(Describe, ZshAndFishKnowLettersAndLevels) {
  const std::string zsh = completion_script("zsh"), fish = completion_script("fish");
  EXPECT_NE(zsh.find("'(-o --out)'{-o,--out}'[output folder"), std::string::npos);
  EXPECT_NE(zsh.find(":LEVEL:(none note warning error)'"), std::string::npos);
  EXPECT_NE(zsh.find("'*--section["), std::string::npos);  // may be repeated
  EXPECT_NE(fish.find("-l fail-on -x -a 'none note warning error'"), std::string::npos);
  EXPECT_NE(fish.find("-l out -s o"), std::string::npos);
}

TEST(Describe, TheManualPageHasADate) {
  const std::string manual = manual_page();
  EXPECT_TRUE(std::regex_search(
      manual, std::regex("^\\.TH PROVEOUT 1 \"20[0-9]{2}-[01][0-9]-[0-3][0-9]\"")));
  std::istringstream lines(manual);
  for (std::string line; std::getline(lines, line);) {
    // Of running text; a heading is one line.
    if (line.starts_with(".SS")) continue;
    EXPECT_LE(line.size(), 80u) << line;
  }
}

}  // namespace
}  // namespace proveout::cli
