#include "report/cli/folder_check.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <map>
#include <pugixml.hpp>
#include <sstream>
#include <system_error>
#include <thread>

#include "parser/base/text_file.h"
#include "report/cli/folder_resume.h"
#include "report/cli/interrupt.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/json/result_json.h"
#include "report/text/words.h"

extern char** environ;

namespace proveout::cli {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* summary_schema = "proveout-summary/1";
constexpr const char* summary_name = "summary.json";
constexpr const char* junit_name = "junit.xml";

constexpr int most_shards = 100000;

bool names_setups(const fs::path& path) {
  std::ifstream file(path);
  for (std::string line; std::getline(file, line);) {
    std::erase_if(line, [](char c) { return c == ' ' || c == '\t' || c == '"' || c == '\''; });
    if (line.find("[[setups]]") != std::string::npos || line.starts_with("setups=[")) return true;
  }
  return false;
}

// NAME.toml for NAME.baseline.json, empty for other names: what has a baseline was a job once, and
// is looked at even where it is gone or can no longer be told to be one.
fs::path job_of_baseline(const fs::path& path) {
  constexpr std::string_view ending = ".baseline.json";
  const std::string name = path.filename().string();
  if (!name.ends_with(ending) || name.size() == ending.size()) return {};
  return path.parent_path() / (name.substr(0, name.size() - ending.size()) + ".toml");
}

// The status a job counts with: one that proveout does not end with is a failure, never a 0.
int status_of(const Json& job) {
  const auto it = job.find("status");
  if (it == job.end() || !it->is_number_integer()) return machine_failed;
  const auto status = it->get<std::int64_t>();
  return (status >= ran && status <= machine_failed) || status == 130 ? static_cast<int>(status)
                                                                      : machine_failed;
}

// The output folder of a job: its path under the folder, slashes as two underscores.
std::string flat_name(const std::string& relative) {
  std::string out;
  for (char c : relative) out += c == '/' ? "__" : std::string(1, c);
  return out.substr(0, out.size() - std::string(".toml").size());
}

struct Running {
  std::size_t job = 0;
  fs::path log;
};

// Starts this program again for one job; its words go to a log. 0: the system lets this account
// have no further process now.
pid_t start(const FolderCheck& check, const fs::path& job, const fs::path& out, const fs::path& log,
            int threads) {
  std::vector<std::string> words = {
      "proveout", "check",      job.string(), "--baseline",           baseline_of(job).string(),
      "-o",       out.string(), "--threads",  std::to_string(threads)};
  if (check.accept) words.emplace_back("--accept");
  words.insert(words.end(), check.passed_on.begin(), check.passed_on.end());
  std::vector<char*> arguments;
  for (std::string& w : words) arguments.push_back(w.data());
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, log.c_str(),
                                   O_WRONLY | O_CREAT | O_TRUNC, 0644);
  posix_spawn_file_actions_adddup2(&actions, STDOUT_FILENO, STDERR_FILENO);
  pid_t child = -1;
  const int failure =
      ::posix_spawn(&child, "/proc/self/exe", &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (failure == EAGAIN) return 0;
  if (failure != 0)
    throw std::system_error(failure, std::generic_category(),
                            "no process for a job can be started");
  return child;
}

std::vector<std::string> lines_of(const fs::path& log, std::size_t most) {
  std::ifstream file(log);
  std::vector<std::string> out;
  for (std::string line; std::getline(file, line) && out.size() < most;) {
    if (!line.empty()) out.push_back(text::printable(line));
  }
  return out;
}

// What a job's own result says, where it got that far.
void add_figures(Json& entry, const fs::path& result) {
  std::ifstream file(result);
  const Json json = Json::parse(file, nullptr, false);
  if (json.is_discarded() || !json.contains("findings") || !json.contains("totals")) return;
  std::map<std::string, int> levels;
  for (const Json& f : json["findings"]) ++levels[f.value("level", "")];
  entry["errors"] = levels["error"];
  entry["warnings"] = levels["warning"];
  entry["time_s"] = json["totals"].value("time_s", 0.0);
}

const char* words_of(int status) {
  switch (status) {
    case 0:
      return "as before";
    case 1:
      return "moved or found";
    case 2:
      return "input unusable";
    case 3:
      return "machine failed";
    default:
      return "ended early";
  }
}

std::string line_of(const Json& entry) {
  const int status = status_of(entry);
  std::string figures;
  if (entry.contains("errors")) {
    figures = fmt::format("{} errors, {} warnings, {}", entry["errors"].get<int>(),
                          entry["warnings"].get<int>(), text::duration(entry.value("time_s", 0.0)));
  }
  return "  " + text::left(text::shortened(text::printable(entry.value("job", "")), 30), 32) +
         text::left(words_of(status), 16) + figures + "\n";
}

class FolderRun {
 public:
  explicit FolderRun(const FolderCheck& check) : check_(check), program_(digest_of_program()) {}
  // Where the check fails on the way, no job goes on behind its back.
  ~FolderRun() { end_running(); }
  FolderRun(const FolderRun&) = delete;
  FolderRun& operator=(const FolderRun&) = delete;

  // all: the jobs of every shard, as jobs_under gives them.
  Json run(const std::vector<fs::path>& all) {
    Json summary = {{"schema", summary_schema},
                    {"shard", {{"index", check_.shard.index}, {"count", check_.shard.count}}},
                    {"checked_with", {{"version", PROVEOUT_VERSION}, {"options", options()}}},
                    {"all_jobs", Json::array()},
                    {"jobs", Json::array()}};
    for (std::size_t i = 0; i < all.size(); ++i) {
      const std::string name = all[i].lexically_relative(check_.folder).generic_string();
      summary["all_jobs"].push_back(name);
      if (static_cast<int>(i % static_cast<std::size_t>(check_.shard.count)) + 1 !=
          check_.shard.index)
        continue;
      mine_.push_back(all[i]);
      summary["jobs"].push_back({{"job", name}});
    }
    jobs_ = &summary["jobs"];
    name_folders(summary["all_jobs"]);
    files::make_folder(check_.out);
    // Of an earlier check: where this one does not end, nobody may gather what that one found.
    std::error_code ignored;
    for (const char* name : {summary_name, junit_name}) fs::remove(check_.out / name, ignored);
    const int cores = std::max(1u, std::thread::hardware_concurrency());
    const int at_once =
        std::max(1, std::min<int>(check_.at_once > 0 ? check_.at_once : cores,
                                  static_cast<int>(std::max<std::size_t>(1, mine_.size()))));
    const int threads = std::max(1, cores / at_once);
    std::size_t next = 0;
    while (next < mine_.size() || !running_.empty()) {
      while (next < mine_.size() && static_cast<int>(running_.size()) < at_once) {
        if (interrupted()) stop();
        if (!taken_over(next) && !begin(next, threads)) break;
        ++next;
      }
      if (!running_.empty()) wait_for_one();
    }
    if (taken_ > 0 && !check_.quiet)
      tell("{} of {} jobs were finished before and stand as they were\n", taken_, mine_.size());
    return summary;
  }

 private:
  // A folder a job, whatever their names: a/b.toml and a__b.toml have each their own.
  void name_folders(const Json& names) {
    std::map<std::string, int> times;
    for (const Json& name : names) {
      std::string flat = flat_name(name.get<std::string>());
      for (int n = 2; times[flat]++ > 0; ++n)
        flat = fmt::format("{}~{}", flat_name(name.get<std::string>()), n);
      folders_[name.get<std::string>()] = flat;
    }
  }

  fs::path out_of(std::size_t i) const {
    return check_.out / folders_.at((*jobs_)[i]["job"].get<std::string>());
  }

  std::vector<std::string> options() const {
    std::vector<std::string> out = check_.passed_on;
    if (check_.accept) out.emplace_back("--accept");
    return out;
  }

  FinishedUnder under(std::size_t i) const { return {program_, options(), baseline_of(mine_[i])}; }

  bool taken_over(std::size_t i) {
    if (!check_.resume) return false;
    const auto entry = finished_before(mine_[i], out_of(i), under(i));
    if (!entry || entry->value("job", "") != (*jobs_)[i]["job"].get<std::string>()) return false;
    (*jobs_)[i] = *entry;
    ++taken_;
    return true;
  }

  // False where it must wait until one that runs has ended.
  bool begin(std::size_t i, int threads) {
    files::make_folder(out_of(i));
    std::error_code ignored;
    fs::remove(out_of(i) / finished_name, ignored);
    fs::remove(out_of(i) / "result.json",
               ignored);  // of an earlier check: a job that fails must not show it
    const fs::path log = out_of(i) / "check.txt";
    const pid_t child = start(check_, mine_[i], out_of(i), log, threads);
    if (child == 0 && running_.empty())
      throw std::system_error(EAGAIN, std::generic_category(),
                              "no process for a job can be started, not even one");
    if (child == 0) return false;
    running_[child] = {i, log};
    return true;
  }

  void wait_for_one() {
    int state = 0;
    pid_t ended = 0;
    while ((ended = ::waitpid(-1, &state, WNOHANG)) == 0) {
      if (interrupted()) stop();
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    if (ended < 0) throw std::runtime_error("the jobs' processes cannot be waited for");
    const auto found = running_.find(ended);
    if (found == running_.end()) return;
    const auto [i, log] = found->second;
    running_.erase(found);
    Json& entry = (*jobs_)[i];
    entry["status"] = WIFEXITED(state) ? WEXITSTATUS(state) : 3;
    add_figures(entry, out_of(i) / "result.json");
    entry["said"] = lines_of(log, 40);
    write_finished(out_of(i), under(i), entry);
    if (!check_.quiet) {
      std::fputs(line_of(entry).c_str(), stdout);
      std::fflush(stdout);
    }
  }

  void end_running() {
    for (const auto& [child, what] : running_) ::kill(child, SIGINT);
    for (const auto& [child, what] : running_) ::waitpid(child, nullptr, 0);
    running_.clear();
  }

  void stop() {
    end_running();
    throw Interrupted();
  }

  const FolderCheck& check_;
  std::string program_;  // its digest
  std::vector<fs::path> mine_;
  std::map<std::string, std::string> folders_;  // by job
  std::size_t taken_ = 0;                       // jobs that an earlier check finished
  Json* jobs_ = nullptr;
  std::map<pid_t, Running> running_;
};

}  // namespace

std::vector<fs::path> jobs_under(const fs::path& folder) {
  std::vector<fs::path> out;
  for (auto i = fs::recursive_directory_iterator(folder); i != fs::recursive_directory_iterator();
       ++i) {
    const std::string name = i->path().filename().string();
    if (i->is_directory() && (name.ends_with("-out") || name.starts_with("."))) {
      i.disable_recursion_pending();
      continue;
    }
    if (!i->is_regular_file()) continue;
    if (i->path().extension() == ".toml" && names_setups(i->path())) out.push_back(i->path());
    if (const fs::path job = job_of_baseline(i->path()); !job.empty()) out.push_back(job);
  }
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

fs::path baseline_of(const fs::path& job) {
  return job.parent_path() / (job.stem().string() + ".baseline.json");
}

Status check_folder(const FolderCheck& check) {
  const std::vector<fs::path> all = jobs_under(check.folder);
  if (all.empty())
    throw UsageError(fmt::format("there is no job under {}: a job is a .toml file with [[setups]]",
                                 check.folder.string()));
  if (!check.quiet) {
    tell("Checking the jobs under {}{}\n", text::printable(check.folder.string()),
         check.shard.count > 1
             ? fmt::format(", shard {} of {}", check.shard.index, check.shard.count)
             : "");
    std::fflush(stdout);
  }
  const Json summary = FolderRun(check).run(all);
  write_summary(summary, check.out);
  if (!check.quiet) {
    std::fputs(("\n" + summary_text(summary)).c_str(), stdout);
    tell("Written to {}\n", text::printable(check.out.string()));
  }
  return summary_status(summary);
}

namespace {

// What is missing in a summary or of another kind, in words; empty where nothing is.
std::string wrong_with(const Json& summary) {
  const auto is_word = [](const Json& j) { return j.is_string(); };
  const auto list = [](const Json& in, const char* key, const auto& each) {
    const auto it = in.find(key);
    return it != in.end() && it->is_array() && std::all_of(it->begin(), it->end(), each);
  };
  const auto whole = [](const Json& in, const char* key, std::int64_t least, std::int64_t most) {
    const auto it = in.find(key);
    return it != in.end() && it->is_number_integer() && it->get<std::int64_t>() >= least &&
           it->get<std::int64_t>() <= most;
  };
  const auto is_job = [&](const Json& j) {
    return j.is_object() && j.contains("job") && j["job"].is_string() && j.contains("status") &&
           j["status"].is_number_integer() && (!j.contains("said") || list(j, "said", is_word));
  };
  if (!summary.is_object() || !summary.contains("schema") || summary["schema"] != summary_schema)
    return "this is no summary of a folder check";
  if (!list(summary, "all_jobs", is_word)) return "the summary has no list of names 'all_jobs'";
  if (!list(summary, "jobs", is_job))
    return "the summary has no list 'jobs', each with its name and status";
  const auto shard = summary.find("shard");
  if (shard == summary.end() || !shard->is_object() || !whole(*shard, "count", 1, most_shards) ||
      !whole(*shard, "index", 1, (*shard)["count"].get<std::int64_t>()))
    return "the summary does not say which shard it is";
  return {};
}

// Version and options of a summary, whatever their order in the file; null where it has none.
nlohmann::json checked_with(const Json& summary) {
  const auto it = summary.find("checked_with");
  return it == summary.end() ? nlohmann::json() : nlohmann::json(*it);
}

using Shards = std::map<int, Json>;  // by number: its list of jobs

void tell_missing(const Shards& shards, int count, const Place& place, Diagnostics& diagnostics) {
  for (int first = 1, last = 0; first <= count; first = last + 1) {
    last = first;
    if (shards.contains(first)) continue;
    while (last < count && !shards.contains(last + 1)) ++last;
    diagnostics.error("shard-missing", place,
                      first == last
                          ? fmt::format("shard {} of {} is missing", first, count)
                          : fmt::format("shards {} to {} of {} are missing", first, last, count),
                      "merge the summaries of all shards");
  }
}

// The jobs of all shards in the list's order; errors where one is not there exactly once.
Json in_order(const Json& all_jobs, const Shards& shards, const Place& place,
              Diagnostics& diagnostics) {
  const auto tell = [&](const std::string& what) {
    diagnostics.error("summary-unreadable", place, what, "run the shards again");
  };
  std::map<std::string, const Json*> by_name;
  for (const auto& [index, jobs] : shards) {
    for (const Json& job : jobs) {
      const std::string name = job.value("job", "");
      if (!by_name.emplace(name, &job).second)
        tell(
            fmt::format("the job {} is there twice, in shard {} for the second time", name, index));
    }
  }
  Json out = Json::array();
  for (const Json& entry : all_jobs) {
    const auto name = entry.get<std::string>();
    const auto found = by_name.find(name);
    if (found == by_name.end()) {
      tell(fmt::format("no shard has the job {}, or the list names it twice", name));
      continue;
    }
    out.push_back(*found->second);
    by_name.erase(found);
  }
  for (const auto& [name, job] : by_name)
    tell(fmt::format("a shard has the job {}, which the list does not name", name));
  return out;
}

}  // namespace

std::optional<Json> merge_summaries(const std::vector<std::string>& paths,
                                    Diagnostics& diagnostics) {
  Json merged;
  Shards shards;
  for (const std::string& path : paths) {
    const Place place{path, 0, 0, 0};
    const auto bytes = read_text_file(path, "summary", diagnostics, std::uintmax_t{1} << 30);
    if (!bytes) return std::nullopt;
    Json json = Json::parse(*bytes, nullptr, false);
    if (const std::string what = wrong_with(json); !what.empty()) {
      diagnostics.error("summary-unreadable", place, what,
                        "give a summary.json that check FOLDER wrote");
      return std::nullopt;
    }
    const int index = json["shard"].value("index", 0);
    if (merged.is_null()) {
      merged = json;
    } else if (merged["all_jobs"] != json["all_jobs"] ||
               merged["shard"]["count"] != json["shard"]["count"]) {
      diagnostics.error("shards-differ", place,
                        "this shard is of another list of jobs than " + paths.front(),
                        "run all shards on the same files with the same --shard .../n");
      return std::nullopt;
    } else if (checked_with(merged) != checked_with(json)) {
      diagnostics.error(
          "shards-differ", place,
          "this shard was checked with other options or by another version than " + paths.front(),
          "run all shards anew with the same options; an earlier check's may have been left over");
      return std::nullopt;
    }
    if (!shards.emplace(index, json["jobs"]).second) {
      diagnostics.error("shard-twice", place, fmt::format("shard {} is there twice", index));
      return std::nullopt;
    }
  }
  if (merged.is_null()) return std::nullopt;
  const int count = merged["shard"].value("count", 1);
  const Place place{paths.front(), 0, 0, 0};
  tell_missing(shards, count, place, diagnostics);
  if (diagnostics.has_errors()) return std::nullopt;
  merged["shard"] = {{"index", 1}, {"count", 1}};
  merged["jobs"] = in_order(merged["all_jobs"], shards, place, diagnostics);
  if (diagnostics.has_errors()) return std::nullopt;
  return merged;
}

Status summary_status(const Json& summary) {
  // A shard may be empty where there are more shards than jobs; the whole may not.
  int worst = summary["all_jobs"].empty() ? unusable_input : ran;
  for (const Json& job : summary["jobs"]) worst = std::max(worst, status_of(job));
  return static_cast<Status>(std::min(worst, 3));
}

std::string summary_text(const Json& summary) {
  std::map<int, int> counts;
  std::string out;
  for (const Json& job : summary["jobs"]) ++counts[status_of(job)];
  for (const auto& [status, n] : counts)
    out += fmt::format("{} of {} jobs: {}\n", n, summary["jobs"].size(), words_of(status));
  if (summary["jobs"].empty()) out += "There is no job here.\n";
  for (const Json& job : summary["jobs"]) {
    if (status_of(job) == ran) continue;
    out += "\n" + text::printable(job.value("job", "")) + ": " + words_of(status_of(job)) + "\n";
    std::size_t shown = 0;
    for (const Json& line : job.value("said", Json::array())) {
      if (++shown > 8) break;
      out += text::wrapped(text::printable(line.get<std::string>()), 80, 2);
    }
  }
  return out;
}

void write_summary(const Json& summary, const fs::path& folder) {
  files::FileSet set;
  set.write(folder / summary_name, json::to_bytes(summary));
  set.write(folder / junit_name, summary_junit(summary));
  set.commit();
}

std::string summary_junit(const Json& summary) {
  pugi::xml_document document;
  pugi::xml_node suites = document.append_child("testsuites");
  pugi::xml_node suite = suites.append_child("testsuite");
  int failures = 0, errors = 0;
  for (const Json& job : summary["jobs"]) {
    pugi::xml_node test = suite.append_child("testcase");
    test.append_attribute("classname") = "jobs";
    test.append_attribute("name") = text::xml_text(text::printable(job.value("job", ""))).c_str();
    test.append_attribute("time") = "0";
    const int status = status_of(job);
    if (status == ran) continue;
    (status == 1 ? failures : errors) += 1;
    pugi::xml_node what = test.append_child(status == 1 ? "failure" : "error");
    what.append_attribute("type") = status == 1   ? "moved-or-found"
                                    : status == 2 ? "input-unusable"
                                                  : "machine-failed";
    what.append_attribute("message") = words_of(status);
    std::string body;
    for (const Json& line : job.value("said", Json::array()))
      body += text::xml_text(line.get<std::string>()) + "\n";
    what.text().set(body.c_str());
  }
  suite.append_attribute("name") = "proveout check";
  suite.append_attribute("tests") = static_cast<unsigned>(summary["jobs"].size());
  suite.append_attribute("failures") = failures;
  suite.append_attribute("errors") = errors;
  suite.append_attribute("skipped") = 0;
  suite.append_attribute("time") = "0";
  std::ostringstream out;
  document.save(out, "  ");
  return out.str();
}

}  // namespace proveout::cli
