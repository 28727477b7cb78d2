// The list of messages in docs/language.md is the code's own.
#include "parser/nc/codes.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <sstream>

namespace proveout::nc {
namespace {

TEST(Codes, DocsListThemAll) {
  std::ifstream file(std::string(PROVEOUT_FIXTURES) + "/../docs/language.md");
  std::stringstream text;
  text << file.rdbuf();
  std::set<std::string_view> seen;
  for (const CodeEntry& e : code_table()) {
    EXPECT_TRUE(seen.insert(e.code).second) << e.code;
    const std::string level = e.severity == Severity::error     ? "error"
                              : e.severity == Severity::warning ? "warning"
                                                                : "note";
    const std::string row = "| `" + std::string(e.code) + "` | " + level + " | " +
                            std::string(e.section) + " | " + std::string(e.meaning) + " |";
    EXPECT_NE(text.str().find(row), std::string::npos) << "docs/language.md lacks: " << row;
  }
}

}  // namespace
}  // namespace proveout::nc
