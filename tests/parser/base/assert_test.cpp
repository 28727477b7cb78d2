// Assertions speak where a condition fails and are silent where it holds; without the option
// nothing of them is evaluated. The rival is the text itself.
#include "parser/base/assert.h"

#include <gtest/gtest.h>

#include <array>
#include <string>

#include "parser/base/enum_table.h"

namespace proveout {
namespace {

enum class Colour { red, green, blue };

TEST(Assert, SaysWhatWhereAndWithWhatValues) {
  const int index = 7;
  PROVEOUT_ASSERT(index < 8, index);
  PROVEOUT_ASSERT(true);
#if PROVEOUT_ASSERTIONS
  EXPECT_DEATH(
      PROVEOUT_ASSERT(index < 5, index, Colour::blue, std::string("edge")),
      "assert_test.cpp:[0-9]+: .*does not hold: index < 5.*with index, Colour::blue.* = 7, "
      "2, edge");
#else
  PROVEOUT_ASSERT(index < 5, index);
#endif
}

TEST(Assert, EvaluatesNothingWithoutTheOption) {
  int looks = 0;
  const auto look = [&] { return ++looks; };
  PROVEOUT_ASSERT(look() == 1, looks);
#if PROVEOUT_ASSERTIONS
  EXPECT_EQ(looks, 1);
#else
  EXPECT_EQ(looks, 0);
#endif
}

TEST(EnumTable, HasAValueForEachConstant) {
  constexpr auto names = enum_table<Colour, Colour::blue>(std::array{"red", "green", "blue"});
  static_assert(names.size == 3);
  EXPECT_STREQ(names[Colour::red], "red");
  EXPECT_STREQ(names[Colour::blue], "blue");
#if PROVEOUT_ASSERTIONS
  EXPECT_DEATH(static_cast<void>(names[static_cast<Colour>(3)]), "key.*size.*3, 3");
#endif
}

}  // namespace
}  // namespace proveout
