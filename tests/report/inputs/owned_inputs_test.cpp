// What is written after a run is of the files as they were read: they are replaced while it cuts,
// or gone before anything is written. Held against an undisturbed run of the same bytes.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "parser/base/sha256.h"
#include "parser/job/read_job.h"
#include "report/files/atomic_file.h"
#include "report/json/result_json.h"
#include "report/mesh/mesh_files.h"
#include "report/page/build/page_of_result.h"
#include "report/page/data/page_html.h"
#include "report/picture/pictures_of_result.h"
#include "sim/pipeline/dry_run.h"
#include "sim/run/inputs.h"

namespace proveout {
namespace {

namespace fs = std::filesystem;
using Files = std::map<std::string, std::string>;  // bytes by name

std::string box_stl(const Vec3& low, const Vec3& high) {
  const auto corner = [&](int i) {
    return Vec3((i & 1) != 0 ? high.x() : low.x(), (i & 2) != 0 ? high.y() : low.y(),
                (i & 4) != 0 ? high.z() : low.z());
  };
  const int faces[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4},
                           {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}};
  std::string out = "solid box\n";
  for (const auto& f : faces) {
    for (const auto& t : {std::array{f[0], f[1], f[2]}, std::array{f[0], f[2], f[3]}}) {
      out += "facet normal 0 0 0\nouter loop\n";
      for (const int i : t)
        out += fmt::format("vertex {} {} {}\n", corner(i).x(), corner(i).y(), corner(i).z());
      out += "endloop\nendfacet\n";
    }
  }
  return out + "endsolid box\n";
}

// A job that reads one file of every kind. wide: the width of the blank, and what goes with it.
Files job_of(int wide, int depth) {
  return {
      {"job.toml",
       "name = \"owned\"\nmachine = \"machine.toml\"\ntools = \"shop/tools.toml\"\n"
       "[simulation]\nvoxel = 1.0\n[stock]\nmesh = \"blank.stl\"\n"
       "[part]\nmesh = \"part.stl\"\ntolerance = { gouge = 0.05, excess = 5.0 }\n"
       "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
       "zero = { x = \"min\", y = \"min\", z = \"top\" }\n"
       "[[setups.fixtures]]\nname = \"jaw\"\nmesh = \"jaw.stl\"\n"},
      {"machine.toml", fmt::format("max_feed = [{0}00, {0}00, 500]\n", wide)},
      {"shop/tools.toml",
       fmt::format("[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = {}\nflute_length = 10\n"
                   "stickout = 20\n",
                   depth + 4)},
      {"blank.stl", box_stl(Vec3(0, 0, 0), Vec3(wide, 20, 10))},
      {"part.stl", box_stl(Vec3(0, 0, 0), Vec3(wide, 20, 10 - depth))},
      {"jaw.stl", box_stl(Vec3(-20, 0, -10), Vec3(-15, 20, -1))},
      {"a.nc", fmt::format("(of {0}) G21 G90\nT1 M6\nS12000 M3\nG0 X-5 Y10 Z5\nG1 Z-{1} F300\n"
                           "X{0} F600\nG0 Z5\nM30\n",
                           wide, depth)},
  };
}

class OwnedInputs : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "proveout-owned-XXXXXX").string();
    ASSERT_NE(::mkdtemp(name.data()), nullptr);
    folder_ = name;
    fs::create_directories(folder_ / "shop");
  }
  void TearDown() override { fs::remove_all(folder_); }

  void put(const Files& files) const {
    for (const auto& [name, bytes] : files)
      std::ofstream(folder_ / name, std::ios::binary | std::ios::trunc) << bytes;
  }
  void take_away(const Files& files) const {
    for (const auto& [name, bytes] : files) fs::remove(folder_ / name);
  }

  std::optional<run::JobResult> run(const std::function<void()>& while_cutting = {}) {
    Diagnostics diagnostics;
    InputFiles files;
    const auto job = job::read_job(folder_ / "job.toml", files, diagnostics);
    std::optional<run::JobResult> result;
    if (job) {
      pipeline::RunOptions options;
      options.keep_stock_after_setups = true;
      options.files = files;
      bool told = false;
      options.progress = [&](const std::string& what, double) {
        if (while_cutting && !told && what != "reading") {
          told = true;
          while_cutting();
        }
        return true;
      };
      result = pipeline::dry_run(*job, options, diagnostics);
      EXPECT_EQ(told, static_cast<bool>(while_cutting));
    }
    for (const Diagnostic& d : diagnostics.all())
      if (d.severity == Severity::error) ADD_FAILURE() << to_text(d);
    return result;
  }

  // All that is made of a result, by the name of what it is.
  Files shown(const run::JobResult& result) const {
    Files out;
    auto json = json::result_json(result);
    json.erase("run");
    out["result.json"] = json.dump(1);
    const page::PageData page = page::page_of_result(result);
    out["page"] = page.about.dump(1);
    out["page's columns"] = page.columns.bytes();
    const fs::path folder = folder_ / "shown";
    fs::create_directory(folder);
    files::FileSet set;
    picture::write_pictures(result, folder, set);
    mesh_files::write_meshes(result, folder, set);
    set.commit();
    for (const auto& e : fs::directory_iterator(folder)) {
      std::ifstream in(e.path(), std::ios::binary);
      out[e.path().filename()] = {std::istreambuf_iterator<char>(in), {}};
    }
    fs::remove_all(folder);
    for (const auto& setup : result.inputs->setups) out["text"] += *setup.texts.front();
    return out;
  }

  fs::path folder_;
};

void expect_same(const Files& a, const Files& b) {
  for (const auto& [name, bytes] : a)
    EXPECT_TRUE(b.contains(name) && b.at(name) == bytes) << name << " differs";
  EXPECT_EQ(a.size(), b.size());
}

TEST_F(OwnedInputs, ReplacedOrGoneMeanwhileTheyAreShownAsTheyWereRead) {
  const Files as_read = job_of(40, 2), others = job_of(30, 4);
  put(as_read);
  const auto undisturbed = run();
  ASSERT_TRUE(undisturbed);
  const Files wanted = shown(*undisturbed);
  ASSERT_TRUE(wanted.contains("deviation.png") && wanted.contains("setup-1.stl"));
  EXPECT_NE(wanted.at("text").find("(of 40)"), std::string::npos);

  const auto replaced = run([&] { put(others); });
  ASSERT_TRUE(replaced);
  expect_same(wanted, shown(*replaced));
  // The others are not shown alike: the comparison can tell.
  const auto of_others = run();
  ASSERT_TRUE(of_others);
  const Files not_wanted = shown(*of_others);
  for (const auto& [name, bytes] : wanted) EXPECT_NE(bytes, not_wanted.at(name)) << name;

  put(as_read);
  const auto gone = run([&] { take_away(as_read); });
  ASSERT_TRUE(gone);
  expect_same(wanted, shown(*gone));
}

TEST_F(OwnedInputs, TheResultListsEveryFileOnceWithItsDigest) {
  const Files files = job_of(40, 2);
  put(files);
  const auto result = run();
  ASSERT_TRUE(result);
  const auto listed = json::result_json(*result)["inputs"];
  ASSERT_EQ(listed.size(), files.size());
  EXPECT_EQ(listed[0]["name"], "job.toml");
  for (const auto& one : listed) {
    const auto file = files.find(one["name"].get<std::string>());
    ASSERT_NE(file, files.end()) << one;
    EXPECT_EQ(one["digest"], sha256(file->second));
    EXPECT_EQ(one["bytes"], file->second.size());
  }
}

// Two setups of one program, one mesh twice: one text, one entry each.
TEST_F(OwnedInputs, AFileNamedTwiceIsReadOnce) {
  Files files = job_of(40, 2);
  std::string& job = files["job.toml"];
  job +=
      "[[setups.fixtures]]\nname = \"stop\"\nmesh = \"jaw.stl\"\norigin = [0, 0, -1]\n"
      "[[setups]]\nname = \"B\"\nprogram = \"./a.nc\"\n"
      "zero = { x = \"min\", y = \"min\", z = \"top\" }\n";
  put(files);
  const auto result = run();
  ASSERT_TRUE(result);
  EXPECT_EQ(json::result_json(*result)["inputs"].size(), files.size());
  const auto& setups = result->inputs->setups;
  ASSERT_EQ(setups.size(), 2u);
  EXPECT_EQ(setups[0].texts.front(), setups[1].texts.front());
}

}  // namespace
}  // namespace proveout
