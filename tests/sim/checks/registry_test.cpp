// The registry of checks: whole, in order, with words for every kind.
#include "sim/checks/registry.h"

#include <gtest/gtest.h>

#include <set>
#include <string_view>

namespace proveout::checks {
namespace {

// Names stand in result.json and in users' scripts: none may be shared, and every kind has its rule
// in words.
TEST(Registry, EveryKindHasANameAndWordsOfItsOwn) {
  std::set<std::string_view> names, meanings;
  for (std::size_t i = 0; i < all_checks().size(); ++i) {
    const run::Check& check = *all_checks()[i];
    EXPECT_EQ(static_cast<std::size_t>(check.kind), i) << name(check.kind);
    EXPECT_EQ(&check_of(check.kind), &check);
    EXPECT_TRUE(names.insert(name(check.kind)).second) << name(check.kind);
    EXPECT_TRUE(meanings.insert(check.meaning).second) << name(check.kind);
    EXPECT_FALSE(check.meaning.empty() || check.help.empty()) << name(check.kind);
    for (const char c : name(check.kind)) EXPECT_TRUE((c >= 'a' && c <= 'z') || c == '-');
  }
  EXPECT_EQ(names.size(), finding_kind_count);
  EXPECT_EQ(name(FindingKind::over_depth), "over-depth");
  EXPECT_EQ(name(FindingKind::wrong_zero), "wrong-zero");
  EXPECT_EQ(name(FindingKind::job), "job");
  EXPECT_EQ(name(Severity::note), "note");
  EXPECT_EQ(name(Severity::warning), "warning");
  EXPECT_EQ(name(Severity::error), "error");
}

}  // namespace
}  // namespace proveout::checks
