#include "report/cli/watched_files.h"

#include <sys/stat.h>

#include "report/cli/file_digest.h"

namespace proveout::cli {

namespace fs = std::filesystem;
using std::chrono::milliseconds;

namespace {

constexpr milliseconds look_every{100}, still_for{300};
// A program that is posted anew may be away for a moment between the old one and the new one.
constexpr milliseconds gone_for{3000};

}  // namespace

WatchedFiles::Stamp WatchedFiles::stamp_of(const fs::path& file) {
  struct stat s = {};
  if (::stat(file.c_str(), &s) != 0) return {};
  return {s.st_mtim.tv_sec,  s.st_mtim.tv_nsec, s.st_ctim.tv_sec,
          s.st_ctim.tv_nsec, s.st_size,         s.st_ino};
}

std::map<fs::path, WatchedFiles::Stamp> WatchedFiles::stamps() const {
  std::map<fs::path, Stamp> out;
  for (const auto& [path, taken] : files_) out.emplace(path, stamp_of(path));
  return out;
}

void WatchedFiles::take(const std::set<fs::path>& files) {
  files_.clear();
  for (const fs::path& file : files) {
    const Stamp stamp = stamp_of(file);  // before the bytes: what comes later is seen as a change
    files_.emplace(file, Taken{stamp, digest_of(file)});
  }
}

bool WatchedFiles::any_gone(const std::map<fs::path, Stamp>& now) const {
  for (const auto& [path, stamp] : now) {
    if (stamp == Stamp() && files_.at(path).stamp != Stamp()) return true;
  }
  return false;
}

std::vector<fs::path> WatchedFiles::wait(const std::function<void(milliseconds)>& pause) {
  for (;;) {
    auto now = stamps();
    bool moved = false;
    for (const auto& [path, stamp] : now) moved = moved || stamp != files_.at(path).stamp;
    if (!moved) {
      pause(look_every);
      continue;
    }
    milliseconds still{0}, gone{0};
    while (still < still_for || (any_gone(now) && gone < gone_for)) {
      pause(look_every);
      auto later = stamps();
      still = later == now ? still + look_every : milliseconds{0};
      gone = any_gone(later) ? gone + look_every : milliseconds{0};
      now = std::move(later);
    }
    std::vector<fs::path> changed;
    for (auto& [path, taken] : files_) {
      if (now.at(path) == taken.stamp) continue;
      taken.stamp = now.at(path);
      if (digest_of(path) != taken.digest) changed.push_back(path);
    }
    if (!changed.empty()) return changed;
  }
}

}  // namespace proveout::cli
