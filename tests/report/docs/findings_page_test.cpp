// docs/findings.md is the registry's own table of kinds, row by row. With PROVEOUT_REWRITE=1 in the
// environment the test writes the table anew.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <regex>
#include <sstream>
#include <string>

#include "sim/checks/registry.h"

namespace proveout {
namespace {

std::string table() {
  std::ostringstream rows;
  for (const run::Check* check : checks::all_checks()) {
    rows << "| `" << name(check->kind) << "` | " << name(check->level) << " | " << check->meaning
         << " | " << check->help << " | " << check->needs << " |\n";
  }
  return rows.str();
}

TEST(FindingsPage, IsTheTableOfTheRegistry) {
  const std::string path = PROVEOUT_SOURCE "/docs/findings.md";
  std::string before, kept, after;
  {
    std::ifstream page(path);
    ASSERT_TRUE(page);
    for (std::string line; std::getline(page, line);)
      (line.starts_with("| `") ? kept : kept.empty() ? before : after) += line + "\n";
  }
  if (std::getenv("PROVEOUT_REWRITE") != nullptr) {
    kept = table();
    std::ofstream(path) << before << kept << after;
  }
  EXPECT_EQ(kept, table()) << "run this test once with PROVEOUT_REWRITE=1";
}

// Each kind has a test where it must speak and one where it must be silent, in a file of its name.
TEST(FindingsPage, EachKindIsTestedBothWays) {
  for (const run::Check* check : checks::all_checks()) {
    std::string kind(name(check->kind));
    std::replace(kind.begin(), kind.end(), '-', '_');
    std::ifstream file(PROVEOUT_SOURCE "/tests/sim/checks/" + kind + "_test.cpp");
    std::stringstream text;
    text << file.rdbuf();
    for (const char* way : {"Speak", "Silent"}) {
      const std::regex test("\\nTEST\\(\\w+, " + std::string(way));
      EXPECT_TRUE(std::regex_search(text.str(), test)) << kind << "_test.cpp has no test " << way;
    }
  }
}

}  // namespace
}  // namespace proveout
