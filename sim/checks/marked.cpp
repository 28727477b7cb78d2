#include "sim/checks/marked.h"

#include <fmt/format.h>

#include <algorithm>

#include "parser/job/marks.h"

namespace proveout::checks {
namespace {

void add(const std::string& what, const std::string& why, std::vector<run::NotChecked>& to) {
  const auto same =
      std::find_if(to.begin(), to.end(), [&](const run::NotChecked& n) { return n.what == what; });
  if (same == to.end()) {
    to.push_back({what, why, true, {}});
  } else if (same->why.find(why) == std::string::npos) {
    same->why += "; " + why;
  }
}

}  // namespace

void add_marked(std::string_view job_text, std::vector<run::NotChecked>& not_checked) {
  for (const job::Mark& m : job::marks(job_text)) {
    const std::string why = m.key.empty()
                                ? fmt::format("line {} of the job: {}", m.line, m.why)
                                : fmt::format("{} on line {} of the job: {}", m.key, m.line, m.why);
    for (const std::string& kind : m.kinds) add(kind, why, not_checked);
    if (m.kinds.empty()) add(m.key.empty() ? "job" : m.key, why, not_checked);
  }
}

}  // namespace proveout::checks
