// Feeds beyond what the axes do.
#include <gtest/gtest.h>

#include "tests/sim/checks/planted_job.h"

namespace proveout::checks {
namespace {

TEST(FeedClipped, SpeaksBeyondTheAxes) {
  Small s;
  s.machine = "max_feed = [1000, 1000, 1000]\naccel = [5000, 5000, 5000]\n";
  s.feed = 5000;
  const Ran fast = run_small(s);
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::note);
  EXPECT_EQ(f->value, 5000);
  EXPECT_NEAR(f->limit, 1000, 1e-3);  // speeds are kept in single precision
}

// 7 times what the axes do is no wish for haste.
TEST(FeedClipped, WarnsOfAFeedThatReadsLikeAnotherUnit) {
  Small s;
  s.machine = "max_feed = [1000, 1000, 1000]\naccel = [5000, 5000, 5000]\n";
  s.feed = 7000;
  const Ran fast = run_small(s);
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::warning);
  EXPECT_NE(f->text.find("another unit"), std::string::npos) << f->text;
}

// Held back by the slow axis alone: a note, however far.
TEST(FeedClipped, OneSlowAxisIsNoOtherUnit) {
  Small s;
  s.machine = "max_feed = [300, 2000, 2000]\naccel = [5000, 5000, 5000]\n";
  s.feed = 4000;
  const Ran fast = run_small(s);
  const Finding* f = fast.first(FindingKind::feed_clipped);
  ASSERT_NE(f, nullptr) << fast.words();
  EXPECT_EQ(f->level, Severity::note) << f->text;
}

TEST(FeedClipped, SilentAtWhatTheAxesDo) {
  Small s;
  s.machine = "max_feed = [1000, 1000, 1000]\naccel = [5000, 5000, 5000]\n";
  s.feed = 1000;
  EXPECT_FALSE(run_small(s).has(FindingKind::feed_clipped));
}

}  // namespace
}  // namespace proveout::checks
