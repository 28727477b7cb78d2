#include "report/compare/since_last.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <set>
#include <tuple>
#include <vector>

#include "report/text/words.h"

namespace proveout::compare {
namespace {

using Json = nlohmann::ordered_json;

// Smaller changes are of the grid, or of no account: common practice, no source.
constexpr std::size_t most_told = 4;                     // of either kind: it is one line
constexpr double least_share = 0.001, least_mm = 0.005;  // of time, volumes; mm

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
    findings();  // the gravest come first: what is told is cut off at some number
    checks();
    figure("time", at(before, "totals"), at(now, "totals"), "time_s", Unit::time);
    const Json &a = at(before, "part"), &b = at(now, "part");
    if (at(a, "compared") == true && at(b, "compared") == true) {
      figure("deepest gouge", a, b, "worst_gouge", Unit::mm);
      figure("gouged", a, b, "gouge_beyond_mm3", Unit::mm3);
      figure("worst excess", a, b, "worst_excess", Unit::mm);
      figure("left on", a, b, "excess_beyond_mm3", Unit::mm3);
    }
    const Json &was = at(before, "finish"), &is = at(now, "finish");
    if (at(was, "looked_at") == true && at(is, "looked_at") == true)
      figure("highest cusp or step", was, is, "highest", Unit::mm);
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
  // Figures of another material, voxel, part or number of setups are of another question; so may
  // they be where the job, a machine or a mesh is another: the inputs that are no program.
  std::string other_basis() const {
    std::vector<std::string> out;
    const Json &a = at(before_, "job"), &b = at(now_, "job");
    if (word(a, "material") != word(b, "material"))
      out.push_back(fmt::format("in {}, before in {}", word(b, "material"), word(a, "material")));
    if (number(a, "voxel") != number(b, "voxel"))
      out.push_back(
          fmt::format("voxel {:g} mm, before {:g} mm", number(b, "voxel"), number(a, "voxel")));
    const std::size_t setups = at(now_, "setups").size(), before = at(before_, "setups").size();
    if (setups != before) out.push_back(fmt::format("{} setups, before {}", setups, before));
    const bool held = at(at(now_, "part"), "compared") == true,
               held_before = at(at(before_, "part"), "compared") == true;
    if (held != held_before)
      out.push_back(held ? "held against a part, before not" : "not held against a part any more");
    if (out.empty() && demands_of(before_) != demands_of(now_))
      out.emplace_back("what the job asks may be another");
    return fmt::format("{}", fmt::join(out, ", "));
  }

  // Digests of all inputs but programs.
  static std::map<std::string, std::string> demands_of(const Json& result) {
    std::set<std::string> programs;
    for (const Json& s : at(result, "setups")) programs.insert(word(s, "program"));
    std::map<std::string, std::string> out;
    for (const Json& i : at(result, "inputs"))
      if (!programs.contains(word(i, "name"))) out[word(i, "name")] = word(i, "digest");
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
    // The level at which only `of` has what `id` is at another, the gravest; -1: none.
    using Findings = std::map<Identity, std::size_t>;
    const auto moved = [](const Identity& id, const Findings& of, const Findings& others) {
      for (const auto& [other, count] : of)
        if (std::get<1>(other) == std::get<1>(id) && std::get<2>(other) == std::get<2>(id) &&
            std::get<3>(other) == std::get<3>(id) && !others.contains(other))
          return std::get<0>(other);
      return -1;
    };
    constexpr const char* levels[] = {"an error", "a warning", "a note"};
    for (const auto& [id, count] : is) {
      const auto old = was.find(id);
      const int level = std::get<0>(id), level_before = moved(id, was, is);
      if (old == was.end() && level_before >= 0) {
        (level < level_before ? worse_ : better_)
            .push_back(fmt::format("{} now {}", in_words(id), levels[level]));
      } else if (old == was.end()) {
        worse_.push_back("new " + in_words(id));
      } else if (old->second != count) {
        (count < old->second ? better_ : worse_)
            .push_back(fmt::format("{} {} -> {}", in_words(id), old->second, count));
      }
    }
    for (const auto& [id, count] : was) {
      const std::string& kind = std::get<1>(id);
      // Gone because nobody looks any more is not better, and is told by checks().
      if (is.contains(id) || moved(id, is, was) >= 0 ||
          (unchecked.contains(kind) && !before_unchecked.contains(kind)))
        continue;
      better_.push_back(in_words(id) + " gone");
    }
  }

  // Less is better.
  enum class Unit : std::uint8_t { time, mm, mm3 };
  void figure(const char* what, const Json& before, const Json& now, const char* key, Unit unit) {
    if (!at(before, key).is_number() || !at(now, key).is_number()) return;
    const double a = number(before, key), b = number(now, key), off = std::abs(a - b);
    if (off <= (unit == Unit::mm ? least_mm : least_share * std::max(a, b))) return;
    const auto said = [&](double value) {
      return unit == Unit::time ? text::duration(value)
                                : fmt::format("{:.{}f}", value, unit == Unit::mm ? 3 : 1);
    };
    if (said(a) == said(b)) return;
    (b < a ? better_ : worse_)
        .push_back(fmt::format("{} {} -> {}{}", what, said(a), said(b),
                               unit == Unit::time ? ""
                               : unit == Unit::mm ? " mm"
                                                  : " mm3"));
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
