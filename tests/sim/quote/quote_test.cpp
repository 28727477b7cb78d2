// A quote against a table worked by hand.
#include "sim/quote/quote.h"

#include <gtest/gtest.h>

#include <map>

namespace proveout::quote {
namespace {

TEST(Quote, WorkedByHand) {
  job::Quote q;
  q.batch = {1, 10};
  q.blank_cost = 9;
  q.machine_rate_per_h = 12;
  q.labour_rate_per_h = 30;
  q.setup_min = 60;
  q.finishing_min = 20;
  q.scrap = 0.2;
  q.tool_life_min = {{1, 100}};
  q.tool_cost = {{1, 20}};
  run::JobResult result;
  result.time_s = 3600;  // 60 min: 12 of machine
  run::SetupResult setup;
  run::ToolResult tool;
  tool.number = 1;
  tool.feed_s = 3000;
  tool.air_s = 600;     // 40 min in cut: 20 * 40 / 100 = 8 of wear
  tool.change_s = 120;  // 2 min: 1 of labour
  setup.tools = {tool};
  result.setups = {setup};
  const Quote out = quote(q, result);
  ASSERT_EQ(out.prices.size(), 2u);
  // Variable: 9 + 12 + 1 + 10 + 8 = 40; scrap 40 / 0.8 - 40 = 10; setting up 42 / N.
  EXPECT_NEAR(out.prices[0].terms.sum(), 92, 1e-9);
  EXPECT_NEAR(out.prices[1].terms.sum(), 54.2, 1e-9);
  EXPECT_EQ(out.prices[0].dominating, "setting up");
  EXPECT_EQ(out.prices[1].dominating, "machine time");
  EXPECT_NEAR(out.price_per_20_percent_time, 0.2 * 12 / 0.8, 1e-9);

  // Setting up 42 a batch, 50 each further part: at 60 the 42 come in with the fifth part, at 92
  // with the first, at 50 never.
  EXPECT_NEAR(out.set_up_cost, 42, 1e-9);
  EXPECT_NEAR(out.one_more, 50, 1e-9);
  EXPECT_EQ(out.break_even_batch(60), 5);
  EXPECT_EQ(out.break_even_batch(92), 1);
  EXPECT_EQ(out.break_even_batch(54.2), 10);  // the table's own price at 10
  EXPECT_FALSE(out.break_even_batch(50));

  // A fifth more of each input at batch 10, by hand. Scrap 0.24: 40 / 0.76 - 50 = 2.6316. Labour:
  // (1 + 10) x 0.2 / 0.8 + 30 x 0.2 / 10 = 3.35. Machine rate: 12 x 0.2 / 0.8 + 12 x 0.2 / 10.
  const std::map<std::string, double> by_hand = {
      {"machine time", 3.0}, {"tool changes", 0.25},     {"tool wear", 2.0},
      {"blank", 2.25},       {"machine rate", 3.24},     {"labour rate", 3.35},
      {"setting up", 0.84},  {"finishing by hand", 2.5}, {"scrap", 40 / 0.76 - 50}};
  const auto& moved = out.prices[1].sensitivity;
  ASSERT_EQ(moved.size(), by_hand.size());
  for (const Sensitivity& s : moved) EXPECT_NEAR(s.more, by_hand.at(s.what), 1e-9) << s.what;
  EXPECT_EQ(moved.front().what, "labour rate");
}

}  // namespace
}  // namespace proveout::quote
