// What the terminal can show, and the progress line on it.
#pragma once

#include <chrono>
#include <cstdio>
#include <string>

namespace proveout::text {

// True where the stream is a terminal, TERM is not "dumb" and NO_COLOR is not set.
bool wants_colour(std::FILE* stream);
bool is_terminal(std::FILE* stream);

enum class Ink { plain, bold, red, yellow, blue, dim };
// text in that ink if colour is on.
std::string inked(const std::string& text, Ink ink, bool colour);

// One line on standard error, redrawn at most ten times a second; silent where that is no terminal.
class ProgressLine {
 public:
  explicit ProgressLine(bool enabled);
  ~ProgressLine();
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  void show(const std::string& what, double share);
  void clear();

 private:
  bool enabled_;
  bool drawn_ = false;
  std::chrono::steady_clock::time_point last_{};
};

}  // namespace proveout::text
