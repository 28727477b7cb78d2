// The files a job is made of, looked at again and again: which of them are no longer what they
// were.
#pragma once

#include <chrono>
#include <compare>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

namespace proveout::cli {

class WatchedFiles {
 public:
  // Takes the files as they are now: before they are read, so that no later change is missed.
  void take(const std::set<std::filesystem::path>& files);

  // Waits until the bytes of one differ from what was taken and all stand still; their names. pause
  // waits for a moment, and throws what ends the waiting. Written in place, by another file of the
  // name, or away: all count; a new time without new bytes does not.
  std::vector<std::filesystem::path> wait(
      const std::function<void(std::chrono::milliseconds)>& pause);

 private:
  // Of a file's entry in its folder; all 0: there is none. The time of the entry's own last change
  // tells of bytes written in place where size and time of writing were put back.
  struct Stamp {
    std::int64_t seconds = 0, nanoseconds = 0, entry_seconds = 0, entry_nanoseconds = 0, size = 0;
    std::uint64_t number = 0;
    auto operator<=>(const Stamp&) const = default;
  };
  struct Taken {
    Stamp stamp;
    std::string digest;
  };
  static Stamp stamp_of(const std::filesystem::path& file);
  std::map<std::filesystem::path, Stamp> stamps() const;
  bool any_gone(const std::map<std::filesystem::path, Stamp>& now) const;

  std::map<std::filesystem::path, Taken> files_;
};

}  // namespace proveout::cli
