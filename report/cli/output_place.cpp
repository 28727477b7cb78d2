#include "report/cli/output_place.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <system_error>
#include <vector>

#include "report/cli/status.h"
#include "report/files/atomic_file.h"
#include "report/files/output_names.h"

namespace proveout::cli {

namespace fs = std::filesystem;

namespace {

// Whether inner is outer or lies in it, by their names alone: neither need be there.
bool lies_in(const fs::path& inner, const fs::path& outer) {
  const auto whole = [](const fs::path& p) { return (fs::absolute(p) / "").lexically_normal(); };
  const fs::path way = whole(inner).lexically_relative(whole(outer));
  return !way.empty() && *way.begin() != "..";
}

bool bears_a_results_name(const fs::path& path) {
  std::vector<std::string> names = files::output_names(1);
  // Of what has other endings: sections, summaries, programs.
  names.insert(names.end(), {"section.svg", "summary.txt", "program.nc"});
  return std::any_of(names.begin(), names.end(),
                     [&](const fs::path& name) { return name.extension() == path.extension(); });
}

// A job of more setups is told of a folder in the way when it writes.
constexpr std::size_t most_setups = 100;

bool is_a_results_name(const fs::path& path) {
  const std::vector<std::string> names = files::output_names(most_setups);
  return std::find(names.begin(), names.end(), path.filename()) != names.end();
}

// Results take the place of files. A pipe with a result's name is none: the result would wait there
// for a reader; nor is a folder. Other people's pipes, sockets and folders are left alone.
void need_files_only(const fs::path& folder, const std::string& option) {
  std::error_code failure;
  for (fs::directory_iterator entry(folder, failure), end; !failure && entry != end;
       entry.increment(failure)) {
    std::error_code ignored;
    const fs::file_type type = entry->status(ignored).type();
    if (type == fs::file_type::directory && is_a_results_name(entry->path())) {
      throw UsageError(fmt::format(
          "{} {}: {} is a folder, and a result of that name goes there: take it away, or "
          "name another place",
          option, folder.string(), entry->path().string()));
    }
    if (type != fs::file_type::fifo && type != fs::file_type::socket) continue;
    if (!bears_a_results_name(entry->path())) continue;
    throw UsageError(fmt::format(
        "{} {}: {} is no file (a pipe or a socket): take it away, or name another place", option,
        folder.string(), entry->path().string()));
  }
}

// A file is written under a longer name beside its own first (report/files/atomic_file.cpp): so
// much is left for what is added.
constexpr std::size_t room_for_part = 32;

// A name longer than the file system takes is a wrong option; folder: there already.
void need_short_name(const fs::path& folder, const fs::path& name, std::size_t added,
                     const std::string& option) {
  const long most = ::pathconf(folder.empty() ? "." : folder.c_str(), _PC_NAME_MAX);
  if (most <= 0 || name.native().size() + added <= static_cast<std::size_t>(most)) return;
  throw UsageError(fmt::format("{} {}...: this name is too long, {} bytes of at most {}", option,
                               name.native().substr(0, 40), name.native().size(),
                               static_cast<std::size_t>(most) - added));
}

// Whether a file can be made in the folder: rights say yes where a network's server, or a folder of
// the kernel's, says no. The file that is tried has no name, so nothing is left behind by a process
// that is killed; where the file system knows none such, a folder is made and taken away.
bool takes_files(const char* folder) {
  const int file = ::open(folder, O_TMPFILE | O_WRONLY | O_CLOEXEC, 0600);
  if (file >= 0) {
    ::close(file);
    return true;
  }
  if (errno != EOPNOTSUPP && errno != EISDIR && errno != ENOENT && errno != EINVAL) return false;
  std::string tried = (fs::path(folder) / ".proveout-XXXXXX").string();
  return ::mkdtemp(tried.data()) != nullptr && ::rmdir(tried.c_str()) == 0;
}

// What stands at place, folder or file, takes what is written: else the machine fails us, and says
// so before the work.
void need_writable(const fs::path& place, const std::string& option) {
  const char* const name = place.empty() ? "." : place.c_str();
  std::error_code ignored;
  const bool folder = fs::is_directory(name, ignored);
  if (::faccessat(AT_FDCWD, name, folder ? W_OK | X_OK : W_OK, AT_EACCESS) == 0 &&
      (!folder || takes_files(name)))
    return;
  throw files::WriteError(fmt::format("cannot write to {}, for {}: {}", name, option,
                                      std::error_code(errno, std::generic_category()).message()));
}

// The nearest folder above and including this one that is there; names of those still to be made
// must not be too long. Empty: the current one.
fs::path folder_there(const fs::path& folder, const std::string& option) {
  fs::path there = folder;
  std::vector<fs::path> to_make;
  std::error_code ignored;
  for (;;) {
    const fs::file_type type = fs::status(there, ignored).type();
    const bool none = type == fs::file_type::not_found || ignored == std::errc::filename_too_long;
    if (there.empty() || !none) break;
    if (fs::is_symlink(fs::symlink_status(there, ignored)))
      throw UsageError(fmt::format("{} {}: the link {} leads nowhere: name another place", option,
                                   folder.string(), there.string()));
    if (there == there.parent_path()) break;
    to_make.push_back(there.filename());
    there = there.parent_path();
  }
  for (const fs::path& name : to_make) need_short_name(there, name, 0, option);
  return there;
}

}  // namespace

void need_folder(const fs::path& folder, const std::string& option) {
  if (folder.empty()) throw UsageError(fmt::format("{} names no folder", option));
  const fs::path there = folder_there(folder, option);
  std::error_code ignored;
  const fs::file_type type = fs::status(there.empty() ? "." : there, ignored).type();
  if (type != fs::file_type::directory && type != fs::file_type::not_found &&
      type != fs::file_type::none)
    throw UsageError(fmt::format("{} {}: {} is a file, not a folder: name another place", option,
                                 folder.string(), there.string()));
  if (there == folder) need_files_only(folder, option);
  need_writable(there, option);
}

void need_place_for(const std::string& file, const std::string& option, const fs::path& made) {
  if (file == "-") return;
  if (file.empty()) throw UsageError(fmt::format("{} names no file", option));
  std::error_code ignored;
  if (fs::is_directory(file, ignored))
    throw UsageError(fmt::format("{} {} is a folder: name a file in it", option, file));
  const fs::path parent = fs::path(file).parent_path();
  if (parent.empty() || fs::is_directory(parent, ignored)) {
    need_short_name(parent, fs::path(file).filename(), room_for_part, option);
    return need_writable(fs::is_other(file, ignored) ? fs::path(file) : parent, option);
  }
  if (!made.empty() && lies_in(made, parent)) return;
  throw UsageError(
      fmt::format("{} {}: there is no folder {}: make it first", option, file, parent.string()));
}

std::string output_file(const boost::program_options::variables_map& values, const char* option) {
  if (values.count(option) == 0) return {};
  const std::string file = values[option].as<std::string>();
  need_place_for(file, fmt::format("--{}", option));
  return file;
}

}  // namespace proveout::cli
