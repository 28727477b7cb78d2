#include "parser/job/marks.h"

#include <gtest/gtest.h>

namespace proveout::job {
namespace {

TEST(Marks, StandBehindValuesOrAlone) {
  const auto found = marks(
      "stickout = 32  #? over-bend, holder-contact: not known\n"
      "#? fixture-contact: clamps are not known\n"
      "# holder = [[25, 20]]    #? holder-contact: not known: measure it\n");
  ASSERT_EQ(found.size(), 3u);
  EXPECT_EQ(found[0].line, 1u);
  EXPECT_EQ(found[0].key, "stickout");
  EXPECT_EQ(found[0].kinds, (std::vector<std::string>{"over-bend", "holder-contact"}));
  EXPECT_EQ(found[0].why, "not known");
  EXPECT_EQ(found[1].key, "");
  EXPECT_EQ(found[1].why, "clamps are not known");
  EXPECT_EQ(found[2].key, "holder");
  EXPECT_EQ(found[2].why, "not known: measure it");
}

TEST(Marks, QuotesAndOtherCommentsAreNone) {
  for (const char* text : {"name = \"a #? gouge: no\"\n", "name = 'x' # said: #1\n",
                           "# Behind '#?' nothing is known\n", "# what is 5#?6\n",
                           "name = \"\\\"#? gouge: no\"\n", ""})
    EXPECT_TRUE(marks(text).empty()) << text;
}

}  // namespace
}  // namespace proveout::job
