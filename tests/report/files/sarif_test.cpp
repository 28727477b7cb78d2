// The numbers of findings.sarif are those of result.json: rounded to 1e-6, so that what one
// mathematical library gives in its last digits and another does not is not in the file.
#include "report/files/sarif.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "report/json/result_json.h"

namespace proveout::files {
namespace {

nlohmann::json properties_of(double value, double limit) {
  run::JobResult result;
  result.findings.emplace_back();
  result.findings.back().value = value;
  result.findings.back().limit = limit;
  return nlohmann::json::parse(sarif(result))["runs"][0]["results"][0]["properties"];
}

TEST(Sarif, NumbersAreRoundedAsInResultJson) {
  for (const double value : {1.0 / 3, 2.0000000000000004, -1e-9, 1234.5678901234, 0.05}) {
    const nlohmann::json a = properties_of(value, -value);
    const nlohmann::json b = properties_of(std::nextafter(value, 1e9), -value);
    EXPECT_EQ(a.dump(), b.dump()) << value;  // one last digit is no difference
    EXPECT_EQ(a["value"].get<double>(), json::rounded(value));
    EXPECT_EQ(a["limit"].get<double>(), json::rounded(-value));
    EXPECT_FALSE(std::signbit(a["limit"].get<double>()) && a["limit"] == 0);
  }
  EXPECT_NE(properties_of(0.25, 0).dump(), properties_of(0.250001, 0).dump());
}

TEST(Sarif, WhatIsNoNumberIsNought) {
  for (const double none : {std::nan(""), std::numeric_limits<double>::infinity()}) {
    EXPECT_EQ(properties_of(none, none)["value"], 0);
    EXPECT_EQ(properties_of(none, none)["limit"], 0);
  }
}

}  // namespace
}  // namespace proveout::files
