// A quote against a table worked by hand.
#include "sim/quote/quote.h"

#include <gtest/gtest.h>

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
}

}  // namespace
}  // namespace proveout::quote
