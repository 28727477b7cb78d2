// What stock.h promises of threads: progress comes on the thread that called cut(), one call at a
// time, with shares that never fall; a cut that is told to stop stops; and a stock may be read from
// several threads at once. The result for any number of threads is instruction_sets_test's and
// twin's.
#include <gtest/gtest.h>

#include <atomic>
#include <random>
#include <thread>
#include <vector>

#include "sim/stock/distance_reader.h"
#include "sim/stock/stock_file.h"
#include "tests/sim/stock/cutting_case.h"

namespace proveout::stock {
namespace {

struct Heard {
  int calls = 0, elsewhere = 0, at_once = 0;
  bool falls = false;
  double last = 0;
};

struct Work {
  Stock stock = Stock::box({40, 30, 10}, 0.2);
  solid::ToolBody body = solid::make_tool_body(tool_of(job::ToolShape::flat, 4));
  std::vector<nc::Motion> motions;
  Work() {
    std::mt19937 random(31);
    std::uniform_real_distribution<double> x(0, 40), y(0, 30), z(3, 10);
    Vec3 at(20, 15, 12);
    for (int k = 0; k < 200; ++k) {
      const Vec3 to(x(random), y(random), z(random));
      motions.push_back(line(at, to));
      at = to;
    }
  }
  Cut cut(int threads, Heard& heard, int stop_after) {
    const std::vector<ToolRun> runs{{0, motions.size(), &body}};
    const std::thread::id caller = std::this_thread::get_id();
    std::atomic<int> inside{0};
    CutOptions options;
    options.threads = threads;
    options.progress = [&](double share) {
      heard.at_once += inside.fetch_add(1) != 0;
      heard.elsewhere += std::this_thread::get_id() != caller;
      heard.falls = heard.falls || share < heard.last || share < 0 || share > 1;
      heard.last = share;
      ++heard.calls;
      inside.fetch_sub(1);
      return stop_after == 0 || heard.calls < stop_after;
    };
    return stock.cut(motions, runs, RigidMotion::Identity(), 1, options);
  }
};

TEST(Threads, ProgressComesOnTheCallersThread) {
  for (const int threads : {0, 1, 2, 3, 8}) {
    Heard heard;
    Work work;
    const Cut cut = work.cut(threads, heard, 0);
    EXPECT_FALSE(cut.stopped);
    EXPECT_GT(heard.calls, 0) << threads << " threads";
    EXPECT_EQ(heard.elsewhere, 0) << threads << " threads";
    EXPECT_EQ(heard.at_once, 0) << threads << " threads";
    EXPECT_FALSE(heard.falls) << threads << " threads";
  }
}

// The same from a thread that is not the program's first.
TEST(Threads, ProgressComesOnAnyCallersThread) {
  Heard heard;
  std::thread([&] {
    Work work;
    work.cut(2, heard, 0);
  }).join();
  EXPECT_GT(heard.calls, 0);
  EXPECT_EQ(heard.elsewhere, 0);
}

TEST(Threads, StopsWhereProgressSaysSo) {
  for (const int threads : {1, 2, 4}) {
    Heard heard;
    Work work;
    EXPECT_TRUE(work.cut(threads, heard, 1).stopped) << threads << " threads";
    EXPECT_EQ(heard.calls, 1) << threads << " threads";
  }
}

TEST(Threads, AStockIsReadBySeveralAtOnce) {
  Heard heard;
  Work work;
  work.cut(2, heard, 0);
  const Stock& stock = work.stock;
  const auto sum = [&] {
    const DistanceReader distance(stock.fields());
    double all = 0;
    for (int x = 0; x < 200; x += 3) {
      for (int y = 0; y < 150; y += 3) {
        for (int z = 0; z < 50; ++z) all += distance.at(openvdb::Coord(x, y, z));
      }
    }
    return all;
  };
  const double alone = sum();
  const std::string bytes = vdb_bytes(stock);
  std::vector<double> sums(4);
  std::vector<std::string> files(4);
  std::vector<std::thread> readers;
  for (std::size_t k = 0; k < 4; ++k) {
    readers.emplace_back([&, k] {
      sums[k] = sum();
      files[k] = vdb_bytes(stock);
    });
  }
  for (std::thread& reader : readers) reader.join();
  for (std::size_t k = 0; k < 4; ++k) {
    EXPECT_EQ(sums[k], alone);
    EXPECT_EQ(files[k], bytes);
  }
}

}  // namespace
}  // namespace proveout::stock
