// MDF against metal on the demo: the proof's program in the metal is caught by name, both leave the
// same surface, and a program rewritten for another material changes nothing but feeds and speeds.
#include <nlohmann/json.hpp>
#include <set>

#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

const std::string demo = std::string(PROVEOUT_FIXTURES) + "/door-pull/";

// The good job with some of its words replaced, and everything it names beside it.
std::string job_with(const Folder& folder,
                     const std::vector<std::pair<std::string, std::string>>& words) {
  for (const auto& entry : fs::directory_iterator(demo)) {
    const auto name = entry.path().filename().string();
    if (entry.path().extension() == ".nc" || entry.path().extension() == ".stl")
      fs::copy_file(entry.path(), folder.path() / name, fs::copy_options::skip_existing);
  }
  std::string text = read(demo + "good.toml");
  for (const auto& [from, to] : words) {
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    text.replace(at, from.size(), to);
  }
  return folder.file("job.toml", text);
}

Json run_job(const std::string& job, const fs::path& out, std::vector<std::string> options = {}) {
  std::vector<std::string> words = {"run",     job,         "-o",      out.string(),
                                    "--quiet", "--no-html", "--voxel", "0.8"};
  words.insert(words.end(), options.begin(), options.end());
  command(words);
  return Json::parse(read(out / "result.json"));
}

TEST(Materials, TheProofsProgramInMetalIsNamed) {
  const Folder folder;
  const std::string job = job_with(folder, {{"good-a.nc", "mdf-a.nc"}, {"good-b.nc", "mdf-b.nc"}});
  const Json r = run_job(job, folder.path() / "out");
  std::set<std::string> setups;
  for (const Json& f : r["findings"]) {
    if (f["text"].get<std::string>().find("reads like a file for mdf") == std::string::npos)
      continue;
    EXPECT_EQ(f["level"], "warning");
    EXPECT_GT(f["line"].get<int>(), 0);
    setups.insert(f["setup"]);
  }
  EXPECT_EQ(setups, (std::set<std::string>{"A", "B"}));
  // The metal's own program, and the proof in MDF, do not read like another material's.
  for (const char* own : {"good", "mdf"}) {
    const Json good = run_job(demo + own + ".toml", folder.path() / own);
    for (const Json& f : good["findings"])
      EXPECT_EQ(f["text"].get<std::string>().find("reads like"), std::string::npos) << f.dump();
  }
}

TEST(Materials, ProofAndMetalLeaveTheSameSurface) {
  const Folder folder;
  const Json good = run_job(demo + "good.toml", folder.path() / "good", {"--stock-files"});
  const Json mdf = run_job(demo + "mdf.toml", folder.path() / "mdf", {"--stock-files"});
  const CommandRun told =
      command({"compare", (folder.path() / "good" / "result.json").string(),
               (folder.path() / "mdf" / "result.json").string(), "--json", "-"});
  ASSERT_EQ(told.status, 0) << told.err;
  const Json c = Json::parse(told.out);
  ASSERT_EQ(c["surfaces"].size(), 1u);
  EXPECT_LE(c["surfaces"][0]["worst_mm"].get<double>(), 0.8);  // a voxel
  EXPECT_LT(c["surfaces"][0]["mean_mm"].get<double>(), 0.01);
  // The good job against itself with the other corner: nothing alike.
  run_job(demo + "wrong-corner.toml", folder.path() / "wrong", {"--stock-files"});
  const CommandRun other =
      command({"compare", (folder.path() / "good" / "result.json").string(),
               (folder.path() / "wrong" / "result.json").string(), "--json", "-"});
  EXPECT_TRUE(Json::parse(other.out)["surfaces"][0]["beyond_reach"].get<bool>());
}

// Bytes of an NC program without its F and S words.
std::string without_feeds(const std::string& text) {
  std::string out;
  bool comment = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    comment = text[i] == '(' || (comment && text[i] != ')' && text[i] != '\n');
    if (!comment && (text[i] == 'F' || text[i] == 'S')) {
      while (i + 1 < text.size() &&
             (std::isdigit(static_cast<unsigned char>(text[i + 1])) || text[i + 1] == '.'))
        ++i;
      while (!out.empty() && out.back() == ' ') out.pop_back();
      continue;
    }
    out += text[i];
  }
  return out;
}

TEST(Materials, RewrittenProgramsCutTheSameStock) {
  const Folder folder;
  const std::string job = job_with(folder, {});
  const CommandRun told = command({"retime", job, "--material", "brass", "--voxel", "0.8",
                                   "--write-programs", (folder.path() / "brass").string()});
  ASSERT_EQ(told.status, 0) << told.err;
  int changed = 0;
  for (const char* name : {"good-a.nc", "good-b.nc"}) {
    const std::string before = read(demo + name), after = read(folder.path() / "brass" / name);
    EXPECT_EQ(without_feeds(before), without_feeds(after)) << name;
    changed += before != after ? 1 : 0;
  }
  EXPECT_GT(changed, 0);
  const Json was = run_job(job, folder.path() / "was", {"--stock-files"});
  const std::string rewritten = job_with(
      folder, {{"\"good-a.nc", "\"brass/good-a.nc"}, {"\"good-b.nc", "\"brass/good-b.nc"}});
  const Json is =
      run_job(rewritten, folder.path() / "is", {"--stock-files", "--material", "brass"});
  EXPECT_EQ(was["part"]["volume_mm3"], is["part"]["volume_mm3"]);
  // Not a byte of the stock differs: same motions in the same order.
  EXPECT_TRUE(read(folder.path() / "was" / "left.vdb") == read(folder.path() / "is" / "left.vdb"));
}

}  // namespace
}  // namespace proveout::cli
