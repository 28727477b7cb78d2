// Feeds beyond what the axes do.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

Ran run_at(double feed, const std::string& max_feed = "[1000, 1000, 1000]") {
  Small s;
  s.machine = "max_feed = " + max_feed + "\naccel = [5000, 5000, 5000]\n";
  s.feed = feed;
  return run_small(s);
}

TEST(FeedClipped, SpeaksBeyondTheAxes) {
  const Ran fast = run_at(5000);
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_EQ(f->value, 5000);
  EXPECT_NEAR(f->limit, 1000, 1e-3);  // speeds are kept in single precision
}

// 7 times what the axes do is no wish for haste; held back by one slow axis alone it is a note,
// however far.
TEST(FeedClipped, WarnsOfAFeedThatReadsLikeAnotherUnit) {
  const Ran fast = run_at(7000), one_slow = run_at(4000, "[300, 2000, 2000]");
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_NE(f->text.find("another unit"), std::string::npos) << f->text;
  const Finding* slow = one_slow.first(FindingKind::feed_clipped);
  ASSERT_NE(slow, nullptr) << one_slow.words();
  EXPECT_EQ(slow->level, Severity::note) << slow->text;
}

TEST(FeedClipped, SilentAtWhatTheAxesDo) {
  EXPECT_FALSE(run_at(1000).has(FindingKind::feed_clipped));
}

}  // namespace
}  // namespace proveout::checks
