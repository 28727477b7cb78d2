#include "report/compare/since_last.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <vector>

#include "report/text/words.h"

namespace proveout::compare {
namespace {

using Json = nlohmann::ordered_json;

// Smaller changes are of the grid, or of no account: common practice, no source.
constexpr std::size_t most_told = 4;                    // of either kind: it is one line
constexpr double least_time = 0.001, least_mm = 0.005;  // share; mm

const Json& at(const Json& json, const char* key) {
  static const Json none;
  const auto it = json.is_object() ? json.find(key) : json.end();
  return json.is_object() && it != json.end() ? *it : none;
}
double number(const Json& json, const char* key) {
  const Json& value = at(json, key);
  return value.is_number() ? value.get<double>() : 0;
}
std::string word(const Json& json, const char* key) {
  const Json& value = at(json, key);
  return value.is_string() ? value.get<std::string>() : std::string();
}

// Gravest first; kind, setup, tool.
using Identity = std::tuple<int, std::string, std::string, int>;

int rank(const std::string& level) { return level == "error" ? 0 : level == "warning" ? 1 : 2; }

std::map<Identity, std::size_t> findings_of(const Json& result) {
  std::map<Identity, std::size_t> out;
  for (const Json& f : at(result, "findings"))
    ++out[{rank(word(f, "level")), word(f, "kind"), word(f, "setup"),
           static_cast<int>(number(f, "tool"))}];
  return out;
}

std::set<std::string> unchecked_of(const Json& result) {
  std::set<std::string> out;
  for (const Json& n : at(result, "not_checked")) out.insert(word(n, "what"));
  return out;
}

std::string in_words(const Identity& id) {
  const auto& [level, kind, setup, tool] = id;
  std::string where = setup;
  if (tool > 0) where += fmt::format("{}T{}", where.empty() ? "" : ", ", tool);
  return kind + (where.empty() ? "" : " (" + where + ")");
}

class Changes {
 public:
  Changes(const Json& before, const Json& now) : before_(before), now_(now) {
    checks();
    findings();
    figure("time", at(before, "totals"), at(now, "totals"), "time_s", true);
    figure("deepest gouge", at(before, "part"), at(now, "part"), "worst_gouge", false);
    figure("worst excess", at(before, "part"), at(now, "part"), "worst_excess", false);
  }

  std::string text() const {
    std::string out = other_basis();
    for (const auto& [what, list] : {std::pair{"better", &better_}, std::pair{"worse", &worse_}}) {
      if (list->empty()) continue;
      out += fmt::format("{}{}: ", out.empty() ? "" : "; ", what);
      const std::size_t told = std::min(list->size(), most_told);
      for (std::size_t i = 0; i < told; ++i) out += (i == 0 ? "" : ", ") + (*list)[i];
      if (told < list->size()) out += fmt::format(", {} more", list->size() - told);
    }
    return out.empty() ? "neither better nor worse" : out;
  }

 private:
  // Figures of another material or voxel are of another question.
  std::string other_basis() const {
    std::string out;
    const Json &a = at(before_, "job"), &b = at(now_, "job");
    if (word(a, "material") != word(b, "material"))
      out = fmt::format("in {}, before in {}", word(b, "material"), word(a, "material"));
    if (number(a, "voxel") != number(b, "voxel"))
      out += fmt::format("{}voxel {:g} mm, before {:g} mm", out.empty() ? "" : ", ",
                         number(b, "voxel"), number(a, "voxel"));
    return out;
  }

  void checks() {
    const auto was = unchecked_of(before_), is = unchecked_of(now_);
    for (const std::string& kind : is)
      if (!was.contains(kind)) worse_.push_back(kind + " not wholly checked any more");
    for (const std::string& kind : was)
      if (!is.contains(kind)) better_.push_back(kind + " checked now");
  }

  void findings() {
    const auto was = findings_of(before_), is = findings_of(now_);
    const auto before_unchecked = unchecked_of(before_), unchecked = unchecked_of(now_);
    for (const auto& [id, count] : is) {
      const auto old = was.find(id);
      if (old == was.end()) {
        worse_.push_back("new " + in_words(id));
      } else if (old->second != count) {
        (count < old->second ? better_ : worse_)
            .push_back(fmt::format("{} {} -> {}", in_words(id), old->second, count));
      }
    }
    for (const auto& [id, count] : was) {
      const std::string& kind = std::get<1>(id);
      // Gone because nobody looks any more is not better, and is told by checks().
      if (is.contains(id) || (unchecked.contains(kind) && !before_unchecked.contains(kind)))
        continue;
      better_.push_back(in_words(id) + " gone");
    }
  }

  // Less is better.
  void figure(const char* what, const Json& before, const Json& now, const char* key, bool time) {
    if (!at(before, key).is_number() || !at(now, key).is_number()) return;
    const double a = number(before, key), b = number(now, key);
    const bool moved =
        time ? std::abs(a - b) > least_time * std::max(a, b) : std::abs(a - b) > least_mm;
    if (!moved) return;
    (b < a ? better_ : worse_)
        .push_back(time ? fmt::format("{} {} -> {}", what, text::duration(a), text::duration(b))
                        : fmt::format("{} {:.2f} -> {:.2f} mm", what, a, b));
  }

  const Json &before_, &now_;
  std::vector<std::string> better_, worse_;
};

}  // namespace

std::string since_last(const Json& before, const Json& now) { return Changes(before, now).text(); }

std::string counts_in_words(const Json& result) {
  std::string out;
  for (const char* level : {"error", "warning", "note"}) {
    std::size_t count = 0;
    for (const Json& f : at(result, "findings")) count += word(f, "level") == level ? 1 : 0;
    out += fmt::format("{}{} {}{}", out.empty() ? "" : ", ", count, level, count == 1 ? "" : "s");
  }
  return out;
}

}  // namespace proveout::compare
