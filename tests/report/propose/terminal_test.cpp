// On a terminal what is not known is asked: the program itself behind a pseudo-terminal.
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {
namespace {

// Starts the program on a terminal of its own and types an answer to each question that holds one
// of the words given; Enter to all others.
struct Typed {
  std::string shown;
  int status = -1;
  std::size_t asked = 0;
};
Typed on_a_terminal(const std::vector<std::string>& words,
                    const std::vector<std::pair<std::string, std::string>>& answers) {
  Typed out;
  int terminal = -1;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, nullptr);
  if (child == 0) {
    std::vector<char*> arguments{const_cast<char*>(PROVEOUT_EXECUTABLE)};
    for (const std::string& w : words) arguments.push_back(const_cast<char*>(w.c_str()));
    arguments.push_back(nullptr);
    ::execv(PROVEOUT_EXECUTABLE, arguments.data());
    ::_exit(127);
  }
  EXPECT_GT(child, 0);
  std::size_t seen = 0;
  for (int idle = 0; idle < 600; ++idle) {  // half a minute without a word: given up
    pollfd waiting{terminal, POLLIN, 0};
    if (::poll(&waiting, 1, 100) > 0) {
      char buffer[4096];
      const ssize_t n = ::read(terminal, buffer, sizeof buffer);
      if (n <= 0) break;  // the program has ended
      out.shown.append(buffer, static_cast<std::size_t>(n));
      idle = 0;
      continue;
    }
    // Silent behind a colon: a question.
    if (out.shown.size() == seen || !out.shown.ends_with(": ")) continue;
    const std::string question = out.shown.substr(seen);
    seen = out.shown.size();
    ++out.asked;
    std::string answer;
    for (const auto& [word, text] : answers) {
      if (question.find(word) != std::string::npos) answer = text;
    }
    answer += '\n';
    EXPECT_EQ(::write(terminal, answer.data(), answer.size()), static_cast<ssize_t>(answer.size()));
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  ::close(terminal);
  out.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return out;
}

TEST(ProposeOnATerminal, AsksAndTakesTheAnswers) {
  const Files good = bracket::good();
  const cli::Folder folder;
  const std::string front = folder.file("front.nc", good.files.at("front.nc"));
  const std::string back = folder.file("back.nc", good.files.at("back.nc"));
  const std::string part = folder.file("part.stl", good.files.at("part.stl"));
  const std::string job = (folder.path() / "job.toml").string();
  const Typed typed =
      on_a_terminal({"propose", front, back, "--part", part, "--blank", "74x54x22", "--material",
                     "6061-T6", "-o", job},
                    {{"stands out", "31.5"}, {"stick", "31.5"}, {"holder's face", "31.5"}});
  EXPECT_EQ(typed.status, 0) << typed.shown;
  EXPECT_GE(typed.asked, 2u) << typed.shown;
  const std::string text = cli::read(job);
  EXPECT_NE(text.find("31.5"), std::string::npos) << typed.shown << text;
}

// Enter alone leaves a value open: the same file as without a terminal.
TEST(ProposeOnATerminal, EnterAloneLeavesEverythingOpen) {
  const Files good = bracket::good();
  const cli::Folder folder;
  const std::string front = folder.file("front.nc", good.files.at("front.nc"));
  const std::string job = (folder.path() / "job.toml").string();
  const Typed typed = on_a_terminal(
      {"propose", front, "--blank", "74x54x22", "--material", "6061-T6", "-o", job}, {});
  EXPECT_EQ(typed.status, 0) << typed.shown;
  const std::string silent = (folder.path() / "silent.toml").string();
  EXPECT_EQ(
      cli::command({"propose", front, "--blank", "74x54x22", "--material", "6061-T6", "-o", silent})
          .status,
      0);
  EXPECT_EQ(cli::read(job), cli::read(silent));
}

TEST(ProposeOnATerminal, AsksNothingWhenToldSo) {
  const Files good = bracket::good();
  const cli::Folder folder;
  const std::string front = folder.file("front.nc", good.files.at("front.nc"));
  const Typed typed = on_a_terminal({"propose", front, "--blank", "74x54x22", "--no-questions",
                                     "-o", (folder.path() / "job.toml").string()},
                                    {});
  EXPECT_EQ(typed.status, 0) << typed.shown;
  EXPECT_EQ(typed.asked, 0u) << typed.shown;
}

}  // namespace
}  // namespace proveout::planted
