// A folder of jobs checked by the built program: baselines written, a change named, shards merged,
// a bad job among good.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "tests/report/bad_input/child_process.h"

namespace proveout {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

class Shop {
 public:
  Shop() {
    std::string name = (fs::temp_directory_path() / "proveout-shop-XXXXXX").string();
    EXPECT_NE(::mkdtemp(name.data()), nullptr);
    root = name;
    for (int i = 1; i <= 5; ++i) {
      fs::create_directories(root / ("part" + std::to_string(i)));
      write("part" + std::to_string(i) + "/side.nc", program(-i));
      write("part" + std::to_string(i) + "/job.toml",
            "name = \"part\"\n[simulation]\nvoxel = 0.5\n[stock]\nsize = [20, 15, "
            "10]\n[[tools]]\nnumber = 1\nshape = \"flat\"\n"
            "diameter = 4\nflute_length = 12\nstickout = 20\n[[setups]]\nname = \"A\"\nprogram = "
            "\"side.nc\"\n"
            "zero = { x = \"min\", y = \"min\", z = \"top\" }\n");
    }
    write("notes.toml", "title = \"no job\"\n");
  }
  ~Shop() { fs::remove_all(root); }
  static std::string program(double z) {
    return "G21 G90\nT1 M6\nS9000 M3\nG0 X-5 Y7 Z5\nG0 Z" + std::to_string(z) +
           "\nG1 X25 F500\nG0 Z5\nM30\n";
  }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(root / name) << text;
  }
  Json summary(const std::string& folder) const {
    std::ifstream file(root / folder / "summary.json");
    return Json::parse(file, nullptr, false);
  }
  int run(std::vector<std::string> words) const { return run_program(words).status; }
  fs::path root;

  struct Ran {
    int status;
    std::string out;
  };
  static Ran run_program(const std::vector<std::string>& words) {
    std::string line = std::string("'") + PROVEOUT_EXECUTABLE + "'";
    for (const auto& w : words) line += " '" + w + "'";
    std::FILE* pipe = ::popen((line + " 2>&1").c_str(), "r");
    std::string out;
    char bytes[4096];
    while (std::size_t n = std::fread(bytes, 1, sizeof bytes, pipe)) out.append(bytes, n);
    const int state = ::pclose(pipe);
    return {WIFEXITED(state) ? WEXITSTATUS(state) : -1, out};
  }
};

TEST(FolderCheck, AcceptThenNothingMovesThenOneDoes) {
  const Shop shop;
  const auto accepted = Shop::run_program({"check", shop.root.string(), "--accept", "--no-html"});
  EXPECT_EQ(accepted.status, 0) << accepted.out;
  for (int i = 1; i <= 5; ++i)
    EXPECT_TRUE(fs::exists(shop.root / ("part" + std::to_string(i)) / "job.baseline.json"))
        << accepted.out;
  const auto same = Shop::run_program({"check", shop.root.string(), "--no-html"});
  EXPECT_EQ(same.status, 0) << same.out;
  EXPECT_NE(same.out.find("5 of 5 jobs: as before"), std::string::npos) << same.out;
  shop.write("part3/side.nc", Shop::program(-3.5));
  const auto moved =
      Shop::run_program({"check", shop.root.string(), "--no-html", "--at-once", "3"});
  EXPECT_EQ(moved.status, 1) << moved.out;
  const Json summary = shop.summary("check-out");
  ASSERT_EQ(summary["jobs"].size(), 5u);
  for (const Json& job : summary["jobs"])
    EXPECT_EQ(job["status"], job["job"] == "part3/job.toml" ? 1 : 0) << job.dump();
  EXPECT_NE(moved.out.find("part3/job.toml: moved or found"), std::string::npos) << moved.out;
  EXPECT_NE(moved.out.find("removed"), std::string::npos) << moved.out;
}

TEST(FolderCheck, ShardsTogetherAreTheWhole) {
  const Shop shop;
  ASSERT_EQ(shop.run({"check", shop.root.string(), "--accept", "--no-html", "--quiet"}), 0);
  shop.write("part2/side.nc", "G21\nG1 X5,5 F100\nM30\n");
  std::vector<std::string> gather = {"gather"};
  for (const char* shard : {"1/3", "2/3", "3/3"}) {
    const std::string out = (shop.root / (std::string("s") + shard[0] + "-out")).string();
    shop.run({"check", shop.root.string(), "--no-html", "--quiet", "--shard", shard, "-o", out});
    gather.push_back(out + "/summary.json");
  }
  EXPECT_EQ(shop.run({"check", shop.root.string(), "--no-html", "--quiet"}), 2);
  auto with_out = gather;
  with_out.insert(with_out.end(), {"-o", (shop.root / "whole-out").string()});
  const auto merged = Shop::run_program(with_out);
  EXPECT_EQ(merged.status, 2) << merged.out;
  EXPECT_NE(merged.out.find("part2/job.toml: input unusable"), std::string::npos) << merged.out;
  EXPECT_NE(merged.out.find("write decimals with a point"), std::string::npos) << merged.out;
  Json whole = shop.summary("whole-out"), at_once = shop.summary("check-out");
  EXPECT_EQ(whole["jobs"], at_once["jobs"]);
  // One missing, one twice.
  auto short_by_one = gather;
  short_by_one.pop_back();
  EXPECT_EQ(shop.run(short_by_one), 2);
  gather.push_back(gather.back());
  EXPECT_EQ(shop.run(gather), 2);
}

// Left-overs of an earlier check, and summaries that do not fit together, are no result.
TEST(FolderCheck, ShardsThatDoNotBelongTogetherAreRefused) {
  const Shop shop;
  ASSERT_EQ(shop.run({"check", shop.root.string(), "--accept", "--no-html", "--quiet"}), 0);
  const auto check = [&](const std::string& shard, const std::string& voxel) {
    const std::string out = (shop.root / (shard.substr(0, 1) + "-out")).string();
    EXPECT_EQ(shop.run({"check", shop.root.string(), "--no-html", "--quiet", "--fail-on", "none",
                        "--voxel", voxel, "--shard", shard, "-o", out}),
              0);
    return out + "/summary.json";
  };
  const auto gather = [&](std::vector<std::string> words) {
    words.insert(words.begin(), "gather");
    return Shop::run_program(words);
  };
  const std::string first = check("1/2", "0.5"), second = check("2/2", "0.5");
  EXPECT_EQ(gather({first, second}).status, 0);
  // Another option: a baseline of another voxel is not comparable, so this shard moved; a shard of
  // the one before must not be counted beside it.
  const std::string other = (shop.root / "other-out").string();
  shop.run({"check", shop.root.string(), "--no-html", "--quiet", "--fail-on", "none", "--voxel",
            "0.6", "--shard", "2/2", "-o", other});
  const auto mixed = gather({first, other + "/summary.json"});
  EXPECT_EQ(mixed.status, 2) << mixed.out;
  EXPECT_NE(mixed.out.find("with other options"), std::string::npos) << mixed.out;
  // Each job once: one taken from the other shard, one that nobody listed, one left out.
  const Json whole = shop.summary("2-out"), from = shop.summary("1-out");
  const auto doctored = [&](const auto& change) {
    Json json = whole;
    change(json);
    shop.write("2-out/summary.json", json.dump());
    return gather({first, second});
  };
  const auto twice = doctored([&](Json& json) { json["jobs"].push_back(from["jobs"][0]); });
  EXPECT_EQ(twice.status, 2) << twice.out;
  EXPECT_NE(twice.out.find("part1/job.toml is there twice"), std::string::npos) << twice.out;
  const auto stranger = doctored([&](Json& json) {
    json["jobs"].push_back({{"job", "nobody.toml"}, {"status", 1}});
  });
  EXPECT_EQ(stranger.status, 2) << stranger.out;
  EXPECT_NE(stranger.out.find("nobody.toml"), std::string::npos) << stranger.out;
  const auto left_out = doctored([&](Json& json) { json["jobs"].erase(0); });
  EXPECT_EQ(left_out.status, 2) << left_out.out;
  EXPECT_NE(left_out.out.find("no shard has the job part2/job.toml"), std::string::npos)
      << left_out.out;
  EXPECT_EQ(doctored([](Json&) {}).status, 0);
}

TEST(FolderCheck, MissingShardsAreNamedTogether) {
  const Shop shop;
  ASSERT_EQ(shop.run({"check", shop.root.string(), "--accept", "--no-html", "--quiet"}), 0);
  std::vector<std::string> gather = {"gather"};
  for (const char* shard : {"2", "5"}) {
    const std::string out = (shop.root / (std::string(shard) + "-out")).string();
    shop.run({"check", shop.root.string(), "--no-html", "--quiet", "--shard",
              shard + std::string("/200"), "-o", out});
    gather.push_back(out + "/summary.json");
  }
  const auto r = Shop::run_program(gather);
  EXPECT_EQ(r.status, 2);
  for (const char* said :
       {"shard 1 of 200 is missing", "shards 3 to 4 of 200 are", "shards 6 to 200 of 200 are"})
    EXPECT_NE(r.out.find(said), std::string::npos) << r.out;
}

TEST(FolderCheck, ABaselineWhoseJobCannotBeToldIsStatus2) {
  const Shop shop;
  ASSERT_EQ(shop.run({"check", shop.root.string(), "--accept", "--no-html", "--quiet"}), 0);
  std::ifstream file(shop.root / "part1/job.toml");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  text.replace(text.find("[[setups]]"), 10, "[[setup]]");
  shop.write("part1/job.toml", text);
  fs::remove(shop.root / "part2/job.toml");
  const auto r = Shop::run_program({"check", shop.root.string(), "--no-html"});
  EXPECT_EQ(r.status, 2) << r.out;
  EXPECT_NE(r.out.find("3 of 5 jobs: as before"), std::string::npos) << r.out;
  EXPECT_NE(r.out.find("part1/job.toml: input unusable"), std::string::npos) << r.out;
  EXPECT_NE(r.out.find("part2/job.toml: input unusable"), std::string::npos) << r.out;
}

TEST(FolderCheck, NoJobIsStatus2) {
  const Shop shop;
  for (int i = 1; i <= 5; ++i) fs::remove_all(shop.root / ("part" + std::to_string(i)));
  const auto r = Shop::run_program({"check", shop.root.string()});
  EXPECT_EQ(r.status, 2) << r.out;
  EXPECT_NE(r.out.find("there is no job under"), std::string::npos) << r.out;
  EXPECT_FALSE(fs::exists(shop.root / "check-out"));
}

TEST(FolderCheck, NamesOfFilesMayBeAnything) {
  const Shop shop;
  for (int i = 2; i <= 5; ++i) fs::remove_all(shop.root / ("part" + std::to_string(i)));
  fs::rename(shop.root / "part1/job.toml",
             shop.root / "part1/j\xff\x1b[31m\nforged: as before.toml");
  ASSERT_EQ(shop.run({"check", shop.root.string(), "--accept", "--no-html", "--quiet"}), 0);
  const auto r = Shop::run_program({"check", shop.root.string(), "--no-html"});
  EXPECT_EQ(r.status, 0) << r.out;
  EXPECT_EQ(r.out.find('\x1b'), std::string::npos) << r.out;
  EXPECT_EQ(r.out.find("\nforged"), std::string::npos) << r.out;
  EXPECT_EQ(shop.run({"gather", (shop.root / "check-out/summary.json").string()}), 0);
}

}  // namespace
}  // namespace proveout
