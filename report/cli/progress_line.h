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
  // Whether it is time to draw; then it counts as drawn.
  bool due(double share) {
    if (!enabled_) return false;
    const auto now = std::chrono::steady_clock::now();
    if (drawn_ && share < 1 && now - last_ < std::chrono::milliseconds(100)) return false;
    last_ = now;
    drawn_ = true;
    return true;
  }

  bool enabled_;
  bool drawn_ = false;
  std::chrono::steady_clock::time_point last_{};
};

}  // namespace proveout::cli
