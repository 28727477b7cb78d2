#include "report/page/data/columns.h"

#include <gtest/gtest.h>
#include <zlib.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>
#include <vector>

#include "report/page/build/finish_places.h"

namespace proveout::page {
namespace {

// An independent reader, written from the description in docs/page.md.
std::vector<double> read_back(const std::string& bytes, const nlohmann::ordered_json& ref) {
  const std::size_t count = ref["count"], parts = ref["parts"];
  const double quantum = ref["quantum"];
  std::size_t at = ref["at"];
  std::vector<double> values(count * parts);
  for (std::size_t part = 0; part < parts; ++part) {
    std::int64_t value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      std::uint64_t zigzag = 0;
      for (int shift = 0;; shift += 7) {
        const auto byte = static_cast<unsigned char>(bytes.at(at++));
        zigzag |= static_cast<std::uint64_t>(byte & 127) << shift;
        if (byte < 128) break;
      }
      value += (zigzag & 1) ? -static_cast<std::int64_t>(zigzag / 2) - 1
                            : static_cast<std::int64_t>(zigzag / 2);
      values[i * parts + part] = static_cast<double>(value) * quantum;
    }
  }
  EXPECT_EQ(at, ref["at"].get<std::size_t>() + ref["bytes"].get<std::size_t>());
  return values;
}

TEST(Columns, ComeBackWithinHalfAQuantum) {
  for (unsigned seed = 0; seed < 50; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> value(-2000, 2000);
    const int parts = 1 + static_cast<int>(seed % 3);
    std::vector<double> values(static_cast<std::size_t>(parts) * (seed * 7 % 40));
    for (double& v : values) v = value(random);
    ColumnWriter columns;
    columns.add_text("something before it");
    const auto ref = columns.add(values, parts, 0.001);
    const std::vector<double> back = read_back(columns.bytes(), ref);
    ASSERT_EQ(back.size(), values.size()) << "seed " << seed;
    for (std::size_t i = 0; i < values.size(); ++i)
      ASSERT_NEAR(back[i], values[i], 0.0005 + 1e-9) << "seed " << seed << ", value " << i;
  }
}

TEST(Columns, WholeNumbersComeBackExactly) {
  const std::vector<std::uint32_t> values{0, 1, 127, 128, 4294967295u, 0, 65536, 65535};
  ColumnWriter columns;
  const auto ref = columns.add(values, 1, 1);
  const std::vector<double> back = read_back(columns.bytes(), ref);
  for (std::size_t i = 0; i < values.size(); ++i) EXPECT_EQ(back[i], values[i]);
}

TEST(Columns, WhatIsNotFiniteBecomesZero) {
  const std::vector<double> values{1, std::numeric_limits<double>::infinity(),
                                   std::numeric_limits<double>::quiet_NaN(), 1e300, 2};
  ColumnWriter columns;
  const auto ref = columns.add(values, 1, 1);
  EXPECT_EQ(read_back(columns.bytes(), ref), (std::vector<double>{1, 0, 0, 0, 2}));
}

TEST(Columns, DeflatedBytesInflateToTheSame) {
  std::string bytes;
  std::mt19937 random(7);
  for (int i = 0; i < 100000; ++i) bytes.push_back(static_cast<char>(random() % 9));
  const std::string packed = deflated(bytes);
  EXPECT_LT(packed.size(), bytes.size());
  std::string back(bytes.size(), '\0');
  uLongf size = back.size();
  ASSERT_EQ(uncompress(reinterpret_cast<Bytef*>(back.data()), &size,
                       reinterpret_cast<const Bytef*>(packed.data()), packed.size()),
            Z_OK);
  EXPECT_EQ(back, bytes);
}

TEST(Columns, Base64AsRfc4648Section10) {  // its test vectors
  EXPECT_EQ(base64(""), "");
  EXPECT_EQ(base64("f"), "Zg==");
  EXPECT_EQ(base64("fo"), "Zm8=");
  EXPECT_EQ(base64("foo"), "Zm9v");
  EXPECT_EQ(base64("foob"), "Zm9vYg==");
  EXPECT_EQ(base64("fooba"), "Zm9vYmE=");
  EXPECT_EQ(base64("foobar"), "Zm9vYmFy");
}

// Places of lines whose motions are drawn at random: all come back, rising by the later motion; of
// too many those that stand up most, and how many there were is told.
TEST(FinishPlaces, RiseByTheirMotionAndTheHighestStay) {
  for (unsigned seed = 0; seed < 20; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<float> value(0, 100);
    measure::Finish finish;
    finish.lines.resize(1 + seed % 5);
    for (measure::FinishLine& line : finish.lines) {
      line.first = random() % 1000;
      line.second = line.first + 1 + random() % 100000;
    }
    finish.places.resize(seed * 13 % 60);
    for (measure::FinishPlace& place : finish.places) {
      place.at = {value(random), value(random), value(random)};
      place.height = 0.01f + value(random) * 0.001f;
      place.line = random() % finish.lines.size();
    }
    const std::size_t most = seed % 2 == 0 ? 1000 : 7;
    ColumnWriter columns;
    const auto json = finish_places(finish, columns, most);
    EXPECT_EQ(json["of"], finish.places.size());
    const auto at = read_back(columns.bytes(), json["at"]);
    const auto height = read_back(columns.bytes(), json["height"]);
    const auto made = read_back(columns.bytes(), json["made"]);
    ASSERT_EQ(made.size(), std::min(most, finish.places.size())) << "seed " << seed;
    ASSERT_EQ(at.size(), 3 * made.size());
    EXPECT_TRUE(std::is_sorted(made.begin(), made.end()));
    for (std::size_t i = 0; i < made.size(); ++i) {
      const auto same = [&](const measure::FinishPlace& p) {
        return std::abs(at[3 * i] - p.at.x()) < 0.003 &&
               std::abs(at[3 * i + 1] - p.at.y()) < 0.003 &&
               std::abs(at[3 * i + 2] - p.at.z()) < 0.003 &&
               std::abs(height[i] - p.height) < 1e-4 && made[i] == finish.lines[p.line].second;
      };
      EXPECT_EQ(std::count_if(finish.places.begin(), finish.places.end(), same), 1)
          << "seed " << seed;
      const auto higher =
          std::count_if(finish.places.begin(), finish.places.end(),
                        [&](const measure::FinishPlace& p) { return p.height > height[i] + 1e-4; });
      EXPECT_LT(static_cast<std::size_t>(higher), most) << "seed " << seed;
    }
  }
}

}  // namespace
}  // namespace proveout::page
