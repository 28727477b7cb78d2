#include "sim/checks/marked.h"

#include <gtest/gtest.h>

namespace proveout::checks {
namespace {

TEST(Marked, IsAddedToReasonsOrListedAnew) {
  std::vector<run::NotChecked> list = {
      {"holder-contact", "no holder is given for T1", false, {"A"}}};
  add_marked("stickout = 5 #? holder-contact, over-bend: not measured\n#? the vice is not known\n",
             list);
  ASSERT_EQ(list.size(), 3u);
  EXPECT_EQ(list[0].why, "no holder is given for T1; stickout on line 1 of the job: not measured");
  EXPECT_FALSE(list[0].in_part);
  EXPECT_EQ(list[1].what, "over-bend");
  EXPECT_TRUE(list[1].in_part);
  EXPECT_EQ(list[2].what, "job");
}

TEST(Marked, NothingMarkedAddsNothing) {
  std::vector<run::NotChecked> list;
  add_marked("stickout = 5 # measured\n", list);
  EXPECT_TRUE(list.empty());
}

}  // namespace
}  // namespace proveout::checks
