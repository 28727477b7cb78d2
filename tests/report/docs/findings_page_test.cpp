// docs/findings.md is the code's own table of kinds, row by row.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "sim/checks/finding_rule.h"

namespace proveout {
namespace {

TEST(FindingsPage, IsTheTableOfRules) {
  std::ifstream page(PROVEOUT_SOURCE "/docs/findings.md");
  ASSERT_TRUE(page);
  std::vector<std::string> rows;
  for (std::string line; std::getline(page, line);)
    if (line.starts_with("| `")) rows.push_back(line);
  ASSERT_EQ(rows.size(), finding_rules().size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const FindingRule& r = finding_rules()[i];
    std::ostringstream row;
    row << "| `" << name(r.kind) << "` | " << r.meaning << " | " << r.help << " | " << r.needs
        << " |";
    EXPECT_EQ(rows[i], row.str());
  }
}

}  // namespace
}  // namespace proveout
