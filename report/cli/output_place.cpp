#include "report/cli/output_place.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/cli/status.h"
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

}  // namespace

void need_folder(const fs::path& folder, const std::string& option) {
  if (folder.empty()) throw UsageError(fmt::format("{} names no folder", option));
  fs::path there = folder;
  std::error_code ignored;
  while (!there.empty() && fs::status(there, ignored).type() == fs::file_type::not_found) {
    if (fs::is_symlink(fs::symlink_status(there, ignored)))
      throw UsageError(fmt::format("{} {}: the link {} leads nowhere: name another place", option,
                                   folder.string(), there.string()));
    if (there == there.parent_path()) break;
    there = there.parent_path();
  }
  const fs::file_type type = fs::status(there.empty() ? "." : there, ignored).type();
  if (type != fs::file_type::directory && type != fs::file_type::not_found &&
      type != fs::file_type::none)
    throw UsageError(fmt::format("{} {}: {} is a file, not a folder: name another place", option,
                                 folder.string(), there.string()));
  if (there == folder) need_files_only(folder, option);
}

void need_place_for(const std::string& file, const std::string& option, const fs::path& made) {
  if (file == "-") return;
  if (file.empty()) throw UsageError(fmt::format("{} names no file", option));
  std::error_code ignored;
  if (fs::is_directory(file, ignored))
    throw UsageError(fmt::format("{} {} is a folder: name a file in it", option, file));
  const fs::path parent = fs::path(file).parent_path();
  if (parent.empty() || fs::is_directory(parent, ignored)) return;
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
