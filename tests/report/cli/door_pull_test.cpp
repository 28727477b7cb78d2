// The demo: each planted fault found at its line, the good version clean, the same bytes for any
// number of threads.
#include <nlohmann/json.hpp>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

using Json = nlohmann::ordered_json;

const std::string demo = std::string(PROVEOUT_FIXTURES) + "/door-pull/";

Json result_of(const std::string& version, const Folder& folder,
               std::vector<std::string> options = {}) {
  std::vector<std::string> words = {"run",     demo + version + ".toml",
                                    "-o",      (folder.path() / version).string(),
                                    "--quiet", "--no-html"};
  words.insert(words.end(), options.begin(), options.end());
  command(words);
  return Json::parse(read(folder.path() / version / "result.json"));
}

TEST(DoorPull, GoodVersionIsCleanAndHasTheMassOfItsMesh) {
  const Folder folder;
  const Json r = result_of("good", folder);
  for (const Json& f : r["findings"]) EXPECT_EQ(f["level"], "note") << f.dump();
  EXPECT_LE(r["findings"].size(), 3u) << r["findings"].dump();
  // Chords and step-overs of its generator; the job allows 0.05 missing and 0.20 left on.
  EXPECT_LT(r["part"]["worst_gouge"], 0.05);
  EXPECT_LT(r["part"]["worst_excess"], 0.05);
  const double mesh = r["part"]["mesh_volume_mm3"], left = r["part"]["volume_mm3"];
  EXPECT_NEAR(left, mesh, 0.002 * mesh);
  // Density of 6061: 2.70 g/cm3 (ASM).
  EXPECT_NEAR(r["part"]["mass_g"].get<double>(), left * 2.70 / 1000, 1e-3);
  EXPECT_TRUE(r["zero_search"].empty());
  // Its four supports, as the job declares them: 19 long and 2.7 high less the cutters' round ends.
  std::size_t last = 0;
  for (const Json& b : r["bridges"]) last += b["setup"] == "B" ? 1 : 0;
  EXPECT_EQ(last, r["bridges"].empty() ? 1u : 4u);
}

// What the blank of 160 x 60 x 32 becomes: part, chips, and frame and cut-off; 2.70 g/cm3.
TEST(DoorPull, TheBlankIsAccountedFor) {
  const Folder folder;
  const Json r = result_of("good", folder, {"--voxel", "0.5"});
  const Json& totals = r["totals"];
  const double blank = 160.0 * 60 * 32, removed = totals["removed_mm3"];
  EXPECT_NEAR(totals["blank_mm3"].get<double>(), blank, 1e-6);
  EXPECT_NEAR(totals["chips_g"].get<double>(), removed * 2.70 / 1000, 0.01);
  EXPECT_NEAR(totals["stock_used"].get<double>(), r["part"]["volume_mm3"].get<double>() / blank,
              1e-6);
  // What setups took and what the last one left make up the blank.
  EXPECT_NEAR(removed + r["setups"].back()["stock_left_mm3"].get<double>(), blank, 0.001 * blank);
}

// The outline is its own image under a half turn, so no wall tells which way the blank lies; the
// two sides were made to meet, and side B to lie on the part.
TEST(DoorPull, SidesMeetAndTheBlankWantsAMark) {
  const Folder folder;
  const Json r = result_of("good", folder);
  ASSERT_EQ(r["flips"].size(), 1u);
  const Json& flip = r["flips"][0];
  EXPECT_EQ(flip["told"], "cannot tell");
  EXPECT_LT(flip["placements"][0]["apart"].get<double>(), 0.01);
  EXPECT_LT(flip["seam"]["worst"].get<double>(), 0.05);
  // Side B cuts to 0.6 mm past the floor of side A's moat (the generator's own figure).
  EXPECT_NEAR(flip["seam"]["least_overlap"].get<double>(), 0.6, 0.02);
  EXPECT_NEAR(flip["best_fit"]["x"].get<double>(), 0, 0.01);
  EXPECT_NEAR(flip["best_fit"]["y"].get<double>(), 0, 0.01);
  int marks = 0;
  for (const Json& f : r["findings"]) {
    marks += f["kind"] == "flip-mismatch" &&
             f["text"].get<std::string>().find("mark the blank") != std::string::npos;
  }
  EXPECT_EQ(marks, 1);
}

TEST(DoorPull, EveryPlantedFaultIsFoundAtItsLine) {
  const Folder folder;
  const Json r = result_of("faulty", folder);
  const Json faults = Json::parse(read(demo + "faults.json"));
  ASSERT_GE(faults.size(), 4u);
  for (const Json& fault : faults) {
    bool found = false;
    for (const Json& f : r["findings"]) {
      const int line = f["line"], first = fault["first_line"], last = fault["last_line"],
                tool = fault["tool"];
      found =
          found || (f["kind"] == fault["kind"] && f["setup"] == fault["setup"] &&
                    f["file"] == fault["file"] && (first == 0 || (line >= first && line <= last)) &&
                    (tool == 0 || f["tool"] == tool) &&
                    (fault["detail"] == "" || f["detail"] == fault["detail"]));
    }
    EXPECT_TRUE(found) << fault.dump();
  }
}

TEST(DoorPull, WrongCornerIsNoticed) {
  const Folder folder;
  const Json r = result_of("wrong-corner", folder, {"--voxel", "0.4"});
  double worst = 0;
  for (const Json& f : r["findings"]) {
    if (f["level"] == "error") worst = std::max(worst, f["value"].get<double>());
  }
  EXPECT_GT(worst, 1.0);
  // And the corner it was posted for is named.
  ASSERT_EQ(r["zero_search"].size(), 1u);
  EXPECT_EQ(r["zero_search"][0]["setup"], "B");
  ASSERT_FALSE(r["zero_search"][0]["fits"].empty()) << r["zero_search"][0].dump();
  EXPECT_EQ(r["zero_search"][0]["fits"][0]["zero"],
            "on = \"milled\", x = \"min\", y = \"min\", z = \"top\"");
}

TEST(DoorPull, SameShapeInMdf) {
  const Folder folder;
  const Json good = result_of("good", folder, {"--voxel", "0.4"}),
             mdf = result_of("mdf", folder, {"--voxel", "0.4"});
  const double a = good["part"]["volume_mm3"], b = mdf["part"]["volume_mm3"];
  EXPECT_NEAR(a, b, 0.002 * a);
  EXPECT_LT(mdf["totals"]["time_s"].get<double>(), 0.5 * good["totals"]["time_s"].get<double>());
}

TEST(DoorPull, SameBytesForAnyNumberOfThreads) {
  const Folder folder;
  std::string first, moves;
  for (const char* threads : {"1", "2", "3", "7"}) {
    Json r = result_of("good", folder, {"--voxel", "0.5", "--threads", threads});
    r.erase("run");
    const std::string csv = read(folder.path() / "good" / "moves.csv");
    if (first.empty()) {
      first = r.dump();
      moves = csv;
    }
    EXPECT_EQ(r.dump(), first) << threads << " threads";
    EXPECT_EQ(csv, moves) << threads << " threads";
  }
}

}  // namespace
}  // namespace proveout::cli
