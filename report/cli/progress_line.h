// The progress line on the terminal.
#pragma once

#include <chrono>
#include <string>

namespace proveout::cli {

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

}  // namespace proveout::cli
