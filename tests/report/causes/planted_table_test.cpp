// Thirty-five planted mistakes over three parts: the cause named first, and a table of it in
// docs/causes.md, which PROVEOUT_REWRITE=1 in the environment writes anew.
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <set>

#include "tests/report/causes/door_pull_mistakes.h"
#include "tests/report/causes/mistakes.h"

namespace proveout::planted {
namespace {

using Json = nlohmann::ordered_json;

const std::string page = std::string(PROVEOUT_SOURCE) + "/docs/causes.md";

std::string text_of(const Json& j, const char* key) {
  return j.contains(key) && j[key].is_string() ? j[key].get<std::string>() : "";
}

// The finding that stands first, of the highest level there is.
const Json* worst(const Json& result) {
  const Json* out = nullptr;
  for (const char* level : {"error", "warning", "note"}) {
    for (const Json& f : result["findings"]) {
      if (out == nullptr && f["level"] == level) out = &f;
    }
  }
  return out;
}

std::string row(const Mistake& m, const Ran& ran) {
  std::string cause = "-", level = "-", line = "-", sentence;
  if (!ran.result.is_null()) {
    if (!ran.result["causes"].empty()) {
      const Json& c = ran.result["causes"][0];
      cause = text_of(c, "kind") + (text_of(c, "setup").empty() ? "" : ", " + text_of(c, "setup"));
    }
    if (const Json* f = worst(ran.result)) {
      level = text_of(*f, "level");
      if ((*f).contains("line") && (*f)["line"].is_number() && (*f)["line"] > 0)
        line = fmt::format("{}:{}", text_of(*f, "file"), (*f)["line"].get<int>());
    }
    sentence = text_of(ran.result, "verdict");
  } else {
    sentence = ran.said.substr(ran.said.find("error"));
    sentence = sentence.substr(0, sentence.find('\n'));
  }
  return fmt::format("| {} | {} | {} | {} | {} | {} | {} |\n", m.part, m.what, cause, line, level,
                     ran.status, sentence);
}

// Each sentence of a report with what it is about.
std::vector<std::string> sentences(const Json& r) {
  std::vector<std::string> out{text_of(r, "verdict")};
  for (const char* list : {"causes", "findings", "flips", "zero_search"}) {
    if (!r.contains(list)) continue;
    for (const Json& one : r[list]) out.push_back(text_of(one, "text"));
  }
  return out;
}

bool any_says(const std::vector<std::string>& all, const std::string& words) {
  return std::any_of(all.begin(), all.end(),
                     [&](const std::string& s) { return s.find(words) != std::string::npos; });
}

// What is said of a setup's zero: one of zero and turn, one place, and no search that gave up
// beside a zero that was found.
void of_one_setup(const Json& r, const std::string& what) {
  std::map<std::string, std::set<std::string>> kinds;
  for (const Json& c : r["causes"]) kinds[text_of(c, "setup")].insert(text_of(c, "kind"));
  for (const auto& [setup, of] : kinds)
    EXPECT_LE(of.count("zero") + of.count("turn"), 1u) << what << ": " << setup;
  for (const Json& s : r["zero_search"]) {
    const std::string setup = text_of(s, "setup"), text = text_of(s, "text");
    for (const Json& c : r["causes"]) {
      if (text_of(c, "kind") != "zero" || text_of(c, "setup") != setup) continue;
      EXPECT_EQ(text.find("look at the program"), std::string::npos)
          << what << ": " << text << "\nbeside: " << text_of(c, "text");
      const std::string cause = text_of(c, "text");
      const std::size_t named = cause.find("program fits on = ");
      if (named == std::string::npos) continue;
      EXPECT_NE(text.find(cause.substr(named + 13)), std::string::npos)
          << what << ": " << text << "\nbeside: " << cause;
    }
  }
}

// What is said of two sides, of what holds the part, and of the part itself.
void of_the_sides(const Json& r, const std::string& what) {
  for (const Json& f : r["flips"]) {
    const bool fits = text_of(f, "text").find("fits the part as declared") != std::string::npos;
    if (!fits || !f.contains("best_fit")) continue;
    const double off =
        std::hypot(f["best_fit"]["x"].get<double>(), f["best_fit"]["y"].get<double>());
    EXPECT_LT(off, 0.5) << what << ": " << text_of(f, "text");
  }
  double deepest = 0;
  for (const Json& f : r["findings"]) {
    const std::string kind = text_of(f, "kind"), text = text_of(f, "text");
    if (kind == "gouge") deepest = std::max(deepest, f["value"].get<double>());
    if (kind != "came-loose" || text.find("the part") != 0) continue;
    for (const Json& other : r["findings"])
      EXPECT_NE(text_of(other, "kind"), "weak-bridge") << what << ": " << text;
    for (const Json& c : r["causes"])
      EXPECT_EQ(text_of(c, "text").find("the part still hangs"), std::string::npos) << what;
  }
  if (deepest > 0 && r["part"].contains("worst_gouge")) {
    EXPECT_NEAR(r["part"]["worst_gouge"].get<double>(), deepest, 0.02 + 0.01 * deepest) << what;
  }
}

// What can be held against each other by rule: levels and the verdict, counts, and a setup named
// as lying off beside a sentence that says it fits as declared.
void nothing_contradicts(const Json& r, const std::string& what) {
  std::size_t errors = 0, warnings = 0;
  for (const Json& f : r["findings"]) {
    errors += f["level"] == "error" ? 1 : 0;
    warnings += f["level"] == "warning" ? 1 : 0;
  }
  const std::string verdict = text_of(r, "verdict");
  EXPECT_EQ(verdict.starts_with("Do not cut"), errors > 0) << what << ": " << verdict;
  EXPECT_EQ(verdict.starts_with("No error"), errors + warnings == 0) << what << ": " << verdict;
  std::size_t explained = 0;
  for (const Json& c : r["causes"]) {
    EXPECT_GT(c["explains"].get<int>(), 0) << what << ": a cause that explains nothing";
    explained += c["explains"].get<std::size_t>();
    EXPECT_EQ(c["remains"].get<std::size_t>() + explained, errors + warnings) << what;
  }
  const auto all = sentences(r);
  for (const Json& c : r["causes"]) {
    const std::string kind = text_of(c, "kind"), setup = text_of(c, "setup");
    if (kind == "turn" || kind == "zero") {
      EXPECT_FALSE(any_says(all, "side " + setup + "'s cut fits the part as declared"))
          << what << ": " << kind << " of " << setup;
    }
  }
  EXPECT_FALSE(any_says(all, "safe")) << what;
  of_one_setup(r, what);
  of_the_sides(r, what);
}

bool named(const Mistake& m, const Ran& ran) {
  if (m.status >= 0 && ran.status != m.status) return false;
  const std::string verdict = ran.result.is_null() ? ran.said : text_of(ran.result, "verdict");
  if (verdict.find(m.says) == std::string::npos) return false;
  if (m.kind.empty()) return ran.result.is_null() || ran.result["causes"].empty();
  if (ran.result.is_null() || ran.result["causes"].empty()) return false;
  const Json& c = ran.result["causes"][0];
  return c["kind"] == m.kind && (m.setup == "-" || text_of(c, "setup") == m.setup);
}

// The page's rows of a part, before and after.
std::string rows_on_page(const std::string& part) {
  std::ifstream file(page);
  std::string out;
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("| " + part + " |")) out += line + "\n";
  }
  return out;
}

void rewrite(const std::string& part, const std::string& rows) {
  std::string text, line;
  {
    std::ifstream file(page);
    bool put = false;
    while (std::getline(file, line)) {
      if (line.starts_with("| " + part + " |")) {
        if (!put) text += rows;
        put = true;
        continue;
      }
      text += line + "\n";
    }
    if (!put) text += rows;
  }
  std::ofstream(page) << text;
}

void clean(const Files& good, double voxel) {
  const Ran ran = run(good, voxel);
  ASSERT_FALSE(ran.result.is_null()) << ran.said;
  EXPECT_EQ(ran.status, 0);
  EXPECT_TRUE(ran.result["causes"].empty());
  EXPECT_LE(ran.result["findings"].size(), 3u) << ran.said;
  for (const Json& f : ran.result["findings"]) EXPECT_EQ(f["level"], "note") << f.dump();
  nothing_contradicts(ran.result, "the clean job");
  fits_one_screen(ran, "the clean job");
}

void planted(const Files& good, const std::vector<Mistake>& mistakes, double voxel) {
  // A part of a mistake's name, to look at what is said of it; empty: of all of them.
  const char* only = std::getenv("PROVEOUT_ONLY");
  std::string rows;
  for (const Mistake& m : mistakes) {
    if (only != nullptr && m.what.find(only) == std::string::npos) continue;
    Files files = good;
    m.plant(files);
    const Ran ran = run(files, voxel);
    rows += row(m, ran);
    if (only != nullptr)
      std::cout << "== " << m.what << "\n" << ran.said << ran.result["findings"].dump(1) << "\n";
    EXPECT_TRUE(named(m, ran)) << row(m, ran) << ran.said;
    if (!ran.result.is_null()) {
      nothing_contradicts(ran.result, m.what);
      fits_one_screen(ran, m.what);
    }
  }
  if (only != nullptr && *only != 0) return;
  if (std::getenv("PROVEOUT_REWRITE") != nullptr) rewrite(mistakes.front().part, rows);
  EXPECT_EQ(rows_on_page(mistakes.front().part), rows) << "run once with PROVEOUT_REWRITE=1";
}

constexpr double voxel = 0.6;

TEST(PlantedTable, TheCleanJobsAreClean) {
  clean(bracket::good(), voxel);
  clean(ring::good(), voxel);
}
TEST(PlantedTable, Bracket) { planted(bracket::good(), bracket::mistakes(), voxel); }
TEST(PlantedTable, Ring) { planted(ring::good(), ring::mistakes(), voxel); }

// At night: its programs have 73,000 lines.
TEST(PlantedTableDoorPull, TheCleanJobIsClean) { clean(door_pull::good(), 0.8); }
TEST(PlantedTableDoorPull, DoorPull) { planted(door_pull::good(), door_pull::mistakes(), 0.8); }

TEST(PlantedTable, AreThirtyFiveMistakes) {
  EXPECT_EQ(bracket::mistakes().size() + ring::mistakes().size() + door_pull::mistakes().size(),
            35u);
}

}  // namespace
}  // namespace proveout::planted
