// Tables of the page from results written down here.
#include "report/page/build/page_tables.h"

#include <gtest/gtest.h>

#include "report/page/build/page_words.h"

namespace proveout::page {
namespace {

TEST(HoldingTables, TellTheWeakestBridgeFirst) {
  run::JobResult result;
  result.setups.resize(3);
  result.setups[0].name = "A";  // leaves no bridges: no table
  run::SetupResult& b = result.setups[1];
  b.name = "B";
  b.program = "b.nc";
  b.bridges = {{Vec3(10, 20, 3), Vec3::UnitX(), 12, 3, 7, 81, 2400, 24},
               {Vec3(50, 20, 3), Vec3::UnitX(), 4.04, 0, 8, 0, 800, 0}};
  b.holding = {3200, 100, 32};
  run::SetupResult& c = result.setups[2];
  c.name = "C";
  c.bridges = {{Vec3::Zero(), Vec3::UnitX(), 1, 1, 1, 1, 200, 0}};
  c.holding = {200, 0, 0};
  const std::vector<Table> tables = holding_tables(result);
  ASSERT_EQ(tables.size(), 2u);
  EXPECT_NE(tables[0].title.find("setup B"), std::string::npos);
  using Row = std::vector<std::string>;
  ASSERT_EQ(tables[0].rows.size(), 2u);
  EXPECT_EQ(tables[0].rows[0],
            (Row{"50.0, 20.0, 3.0", "4.0", "-", "0.80", "-", "an earlier setup"}));
  EXPECT_EQ(tables[0].rows[1], (Row{"10.0, 20.0, 3.0", "12.0", "3.00", "2.40", "24", "b.nc:81"}));
  EXPECT_EQ(tables[0].columns.size(), tables[0].rows[0].size());
  EXPECT_NE(tables[0].note.find("3.2 kN, 32 times the peak force of 100 N"), std::string::npos)
      << tables[0].note;
  EXPECT_EQ(tables[1].note.find("peak force"), std::string::npos) << tables[1].note;
}

// NISTIR 6556 3.5.10: G20 is inches; comments (3.3.4) say nothing, and spaces may stand anywhere in
// a word (3.3).
TEST(Inches, AreAskedForOutsideComments) {
  for (const char* text : {"G20\n", "G90 g20 X1", "G 2 0", "G020", "G20.0", "N1G20X1", "(G21) G20"})
    EXPECT_TRUE(asks_for_inches(text)) << text;
  for (const char* text : {"", "G21", "G2 X20", "G200", "(G20)", "; G20", "G2 0.5", "X20", "G20.1",
                           "(mm, not\nG21 X1"})
    EXPECT_FALSE(asks_for_inches(text)) << text;
}

}  // namespace
}  // namespace proveout::page
