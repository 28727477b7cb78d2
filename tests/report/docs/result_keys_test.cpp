// docs/result-keys.md and what a run writes are the same set of keys.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "parser/job/job.h"
#include "report/json/reach_json.h"
#include "report/json/result_json.h"
#include "sim/pipeline/dry_run.h"
#include "tests/sim/flip/two_sides.h"

namespace proveout::json {
namespace {

using Json = nlohmann::ordered_json;

void gather(const Json& value, const std::string& path, std::set<std::string>& keys) {
  if (value.is_object()) {
    for (const auto& [key, inner] : value.items()) {
      const std::string name = path.empty() ? key : path + "." + key;
      keys.insert(name);
      // One entry a reason: which ones appear depends on the job.
      if (key != "slow_by_s") gather(inner, name, keys);
    }
  } else if (value.is_array()) {
    for (const Json& inner : value) gather(inner, path + "[]", keys);
  }
}

// Four jobs that together write every key: one with a part and faults, one on the wrong corner, one
// without a part, and one whose sides meet in walls high enough for a coarse grid.
std::set<std::string> written() {
  std::set<std::string> keys;
  for (const char* file : {PROVEOUT_FIXTURES "/door-pull/faulty.toml",
                           PROVEOUT_FIXTURES "/door-pull/wrong-corner.toml",
                           PROVEOUT_SOURCE "/tests/report/page/job/block.toml"}) {
    Diagnostics diagnostics;
    auto job = job::read_job(file, diagnostics);
    EXPECT_TRUE(job) << file;
    if (!job) continue;
    if (job->part) job->part->target_mass_g = 200;
    pipeline::RunOptions options;
    options.voxel = 0.8;
    const auto result = pipeline::dry_run(*job, options, diagnostics);
    EXPECT_TRUE(result) << file;
    if (result) gather(result_json(*result), "", keys);
  }
  two_sides::Sides sides;
  sides.voxel = 0.4;
  sides.depth_b = 8.6;  // a web is left, for the figures about it
  sides.part_stl = two_sides::prism(sides.outline);
  sides.more_b = "errors = { zero = [0.1, 0.1, 0] }\n";
  gather(result_json(two_sides::run(sides)), "", keys);
  return keys;
}

std::set<std::string> written_by_reach() {
  std::set<std::string> keys;
  Diagnostics diagnostics;
  const auto job = job::read_job(PROVEOUT_FIXTURES "/door-pull/good.toml", diagnostics);
  const auto mesh = mesh::read_mesh(job->part->mesh, job->part->mesh_scale, job->part->origin,
                                    "part mesh", diagnostics);
  gather(reach_result(job->name, reach::reach(*job, *mesh, 1.0)), "", keys);
  return keys;
}

std::set<std::string> described() {
  std::ifstream file(PROVEOUT_SOURCE "/docs/result-keys.md");
  std::set<std::string> keys;
  for (std::string line; std::getline(file, line);) {
    if (!line.starts_with("| `")) continue;
    keys.insert(line.substr(3, line.find('`', 3) - 3));
  }
  return keys;
}

TEST(ResultKeys, DocsAndCodeAgree) {
  const auto in_code = written(), in_docs = described();
  ASSERT_GT(in_code.size(), 60u);
  for (const auto& key : in_code) EXPECT_TRUE(in_docs.contains(key)) << "add a row for " << key;
  for (const auto& key : in_docs) {
    if (!key.starts_with("reach")) {
      EXPECT_TRUE(in_code.contains(key)) << "no run writes " << key;
    }
  }
}

TEST(ResultKeys, OfReachDocsAndCodeAgree) {
  const auto in_code = written_by_reach(), in_docs = described();
  ASSERT_GT(in_code.size(), 25u);
  for (const auto& key : in_code) EXPECT_TRUE(in_docs.contains(key)) << "add a row for " << key;
  for (const auto& key : in_docs) {
    if (key.starts_with("reach")) {
      EXPECT_TRUE(in_code.contains(key)) << "reach does not write " << key;
    }
  }
}

}  // namespace
}  // namespace proveout::json
