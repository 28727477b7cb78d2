// A quote against a table worked by hand.
#include "sim/after/quote.h"

#include <gtest/gtest.h>

#include <map>

namespace proveout::after {
namespace {

TEST(Quote, WorkedByHand) {
  job::Quote q;
  q.batch = {1, 10};
  q.blank_cost = 9;
  q.machine_rate_per_h = 12;
  q.labour_rate_per_h = 30;
  q.setup_min = 60;
  q.finishing_min = 20;
  q.handling_min = 5;  // two setups: 10 min of both rates, 7
  q.scrap = 0.2;
  q.tool_life_min = {{1, 100}};
  q.tool_cost = {{1, 20}};
  run::JobResult result;
  result.time_s = 3600;  // 60 min: 12 of machine
  result.time_low_s = 3000;
  result.time_high_s = 4800;
  run::SetupResult setup;
  run::ToolResult tool;
  tool.number = 1;
  tool.feed_s = 3000;
  tool.air_s = 600;     // 40 min in cut: 20 * 40 / 100 = 8 of wear
  tool.change_s = 120;  // 2 min: 1 of labour
  setup.tools = {tool};
  result.setups = {setup, {}};
  const Quote out = quote(q, result);
  ASSERT_EQ(out.prices.size(), 2u);
  // Variable: 9 + 12 + 1 + 7 + 10 + 8 = 47; scrap 47 / 0.8 - 47 = 11.75; setting up 42 / N.
  EXPECT_NEAR(out.prices[0].terms.sum(), 100.75, 1e-9);
  EXPECT_NEAR(out.prices[1].terms.sum(), 62.95, 1e-9);
  EXPECT_EQ(out.prices[0].dominating, "setting up");
  EXPECT_EQ(out.prices[1].dominating, "machine time");
  EXPECT_NEAR(out.price_per_20_percent_time, 0.2 * 12 / 0.8, 1e-9);
  // 10 min less and 20 min more of the machine at 12 an hour; changes, 1 in all, by the factors of
  // sim/timing/range.h, 0.75 and 1.5.
  EXPECT_NEAR(out.prices[1].low, 62.95 - (2 + 0.25) / 0.8, 1e-9);
  EXPECT_NEAR(out.prices[1].high, 62.95 + (4 + 0.5) / 0.8, 1e-9);
  // The operator: 2 min of changes, 10 of handling, 20 of finishing; 12.5 tries for 10 good parts.
  EXPECT_NEAR(out.attended_min, 32, 1e-9);
  EXPECT_NEAR(out.unattended_min, 58, 1e-9);
  EXPECT_NEAR(out.prices[1].hours, (60 + 12.5 * 70) / 60, 1e-9);
  EXPECT_NEAR(out.prices[1].attended_hours, (60 + 12.5 * 32) / 60, 1e-9);

  // Setting up 42 a batch, 58.75 each further part: at 65 the 42 come in with the seventh part, at
  // 100.75 with the first, at 58.75 never.
  EXPECT_NEAR(out.set_up_cost, 42, 1e-9);
  EXPECT_NEAR(out.one_more, 58.75, 1e-9);
  EXPECT_EQ(out.break_even_batch(65), 7);
  EXPECT_EQ(out.break_even_batch(100.75), 1);
  EXPECT_EQ(out.break_even_batch(62.95), 10);  // the table's own price at 10
  EXPECT_FALSE(out.break_even_batch(58.75));

  // A fifth more of each input at batch 10, by hand. Scrap 0.24: 47 / 0.76 - 58.75. Labour:
  // (1 + 5 + 10) x 0.2 / 0.8 + 30 x 0.2 / 10. Machine rate: (12 + 2) x 0.2 / 0.8 + 12 x 0.2 / 10.
  const std::map<std::string, double> by_hand = {
      {"machine time", 3.0},       {"tool changes", 0.25}, {"handling", 1.75},
      {"tool wear", 2.0},          {"blank", 2.25},        {"machine rate", 3.74},
      {"labour rate", 4.6},        {"setting up", 0.84},   {"finishing by hand", 2.5},
      {"scrap", 47 / 0.76 - 58.75}};
  const auto& moved = out.prices[1].sensitivity;
  ASSERT_EQ(moved.size(), by_hand.size());
  for (const Sensitivity& s : moved) EXPECT_NEAR(s.more, by_hand.at(s.what), 1e-9) << s.what;
  EXPECT_EQ(moved.front().what, "labour rate");

  // A machine that changes its own tools: nobody is paid for it.
  q.changes_attended = false;
  const Quote alone = quote(q, result);
  EXPECT_NEAR(alone.one_more, 58.75 - 1 / 0.8, 1e-9);
  EXPECT_NEAR(alone.attended_min, 30, 1e-9);
  EXPECT_NEAR(alone.unattended_min, 60, 1e-9);
}

}  // namespace
}  // namespace proveout::after
