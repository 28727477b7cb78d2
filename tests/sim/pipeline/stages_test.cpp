// Stages, tool run by tool run: what is taken from a store must be what cutting gives, and what
// does not belong to the cut, or is no stock at all, must be cut anew. The rival is Stock::cut. The
// whole command with its files is for tests/report/cli/stages_test.cpp.
#include "sim/pipeline/stages.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include "parser/mesh/mesh.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock_file.h"

namespace proveout::pipeline {
namespace {

using stock::Cut;
using stock::Stock;

solid::ToolBody flat(int number, double diameter) {
  job::Tool t;
  t.number = number;
  t.shape = job::ToolShape::flat;
  t.diameter = diameter;
  t.flute_length = 20;
  t.stickout = 30;
  return solid::make_tool_body(t);
}

// Two tools, three tool runs: grooves along y, the last one crossing them.
struct Work {
  solid::ToolBody thick = flat(1, 4), thin = flat(2, 2);
  std::vector<nc::Motion> motions;
  std::vector<stock::ToolRun> uses;
  RigidMotion pose = RigidMotion::Identity();

  Work() {
    groove(Vec3(3, -3, 6), Vec3(3, 13, 6));
    groove(Vec3(9, 13, 5), Vec3(9, -3, 5));
    groove(Vec3(3, -3, 5), Vec3(3, 13, 5));
    groove(Vec3(-3, 5, 4), Vec3(15, 5, 4));
    uses = {{0, 2, &thick}, {2, 3, &thin}, {3, 4, &thick}};
  }
  void groove(const Vec3& from, const Vec3& to) {
    nc::Motion m;
    m.kind = nc::PathKind::line;
    m.start = from;
    m.end = to;
    m.feed = 500;
    motions.push_back(m);
  }
};

Stock blank() { return Stock::box(Vec3(12, 10, 8), 0.4); }

// A store in memory.
struct Kept {
  std::map<std::string, std::string> files;
  StageStore store() {
    return {[this](const std::string& name) -> std::optional<std::string> {
              const auto found = files.find(name);
              return found == files.end() ? std::nullopt : std::optional(found->second);
            },
            [this](const std::string& name, std::string_view bytes) { files[name] = bytes; }};
  }
};

struct Done {
  Cut cut;
  std::string stock;
  std::size_t tool_runs_cut = 0, tool_runs_reused = 0;
};

Fingerprint of_blank() {
  Fingerprint f;
  f.add("a blank of 12 x 10 x 8");
  return f;
}

Done done(const Work& w, const StageStore& store, const Fingerprint& before = of_blank(),
          const stock::CutOptions& options = {}) {
  Stock stock = blank();
  Stages stages(store, before);
  Done out;
  out.cut = stages.cut(1, w.motions, w.uses, w.pose, 1, options, stock);
  out.stock = stock::vdb_bytes(stock);
  out.tool_runs_cut = stages.tool_runs_cut();
  out.tool_runs_reused = stages.tool_runs_reused();
  return out;
}

// What Stock::cut itself gives.
Done rival(const Work& w) {
  Stock stock = blank();
  Done out;
  out.cut = stock.cut(w.motions, w.uses, w.pose, 1, {});
  out.stock = stock::vdb_bytes(stock);
  return out;
}

void expect_same(const Done& a, const Done& b) {
  EXPECT_TRUE(a.stock == b.stock);
  ASSERT_EQ(a.cut.motions.size(), b.cut.motions.size());
  for (std::size_t i = 0; i < a.cut.motions.size(); ++i) {
    const stock::MotionOutcome &m = a.cut.motions[i], &k = b.cut.motions[i];
    EXPECT_EQ(m.removed_mm3, k.removed_mm3) << i;
    EXPECT_EQ(m.contact, k.contact) << i;
    EXPECT_EQ(m.first_sample, k.first_sample) << i;
    EXPECT_EQ(m.sample_count, k.sample_count) << i;
  }
  ASSERT_EQ(a.cut.samples.size(), b.cut.samples.size());
  for (std::size_t i = 0; i < a.cut.samples.size(); ++i) {
    EXPECT_EQ(a.cut.samples[i].removed_mm3, b.cut.samples[i].removed_mm3) << i;
    EXPECT_EQ(a.cut.samples[i].arc, b.cut.samples[i].arc) << i;
    EXPECT_EQ(a.cut.samples[i].along, b.cut.samples[i].along) << i;
  }
}

TEST(Stages, ToolRunsGiveWhatTheWholeCutGives) {
  const Work w;
  const Done whole = rival(w);
  ASSERT_GT(whole.cut.samples.size(), 20u);
  expect_same(done(w, {}), whole);  // nowhere to keep them
  Kept kept;
  const Done first = done(w, kept.store());
  expect_same(first, whole);
  EXPECT_EQ(first.tool_runs_cut, 3u);
  ASSERT_EQ(kept.files.size(), 3u);
  EXPECT_TRUE(kept.files.contains("setup-1-stage-2-T2.vdb"));
  const Done second = done(w, kept.store());
  expect_same(second, whole);
  EXPECT_EQ(second.tool_runs_cut, 0u);
  EXPECT_EQ(second.tool_runs_reused, 3u);
}

TEST(Stages, WhatCannotBeKeptIsStillTaken) {
  const Work w;
  Kept kept;
  done(w, kept.store());
  StageStore read_only = kept.store();
  read_only.keep = nullptr;
  EXPECT_EQ(done(w, read_only).tool_runs_reused, 3u);
  StageStore write_only = kept.store();
  write_only.read = nullptr;
  EXPECT_EQ(done(w, write_only).tool_runs_cut, 3u);
}

// A stage counts only for the very blank, pose, tools and paths it was made with, and so do all
// after it: each change is made in turn, and the first tool run it touches is the first cut anew.
TEST(Stages, AStageOfAnotherCutIsNotTaken) {
  Kept kept;
  done(Work(), kept.store());
  struct Changed {
    const char* what;
    std::function<void(Work&)> change;
    std::size_t still_good;
  };
  for (const Changed& c : std::vector<Changed>{
           {"pose", [](Work& w) { w.pose.translation().x() = 0.5; }, 0},
           {"the first path", [](Work& w) { w.motions[0].end.y() = 9; }, 0},
           {"the second tool", [](Work& w) { w.thin = flat(2, 3); }, 1},
           {"an arc instead of a line",
            [](Work& w) {
              w.motions[2].kind = nc::PathKind::arc;
              w.motions[2].centre = Vec3(3, 5, 5);
              w.motions[2].sweep = pi;
            },
            1},
           {"the last path", [](Work& w) { w.motions[3].end.z() = 4.5; }, 2},
       }) {
    Work w;
    c.change(w);
    Kept copy = kept;
    const Done changed = done(w, copy.store());
    EXPECT_EQ(changed.tool_runs_reused, c.still_good) << c.what;
    expect_same(changed, rival(w));
  }
  Fingerprint other;
  other.add("a blank of 12 x 10 x 9");
  EXPECT_EQ(done(Work(), kept.store(), other).tool_runs_reused, 0u);
  // Feeds leave the stock as it is.
  Kept again;
  Work slow;
  done(slow, again.store());
  slow.motions[0].feed = 50;
  EXPECT_EQ(done(slow, again.store()).tool_runs_reused, 3u);
}

// The second stage is damaged, each time in another way; the first still holds, and the result is
// what it would be with none.
TEST(Stages, ADamagedStageIsCutAnew) {
  const Work w;
  const Done whole = rival(w);
  Kept kept;
  done(w, kept.store());
  const std::string name = "setup-1-stage-2-T2.vdb", good = kept.files[name];
  stock::StockNotes notes;
  Diagnostics diagnostics;
  const auto stage = stock::read_vdb(good, name, diagnostics, &notes);
  ASSERT_TRUE(stage);
  const std::string cut = notes["cut"], fingerprint = notes["fingerprint"];
  ASSERT_EQ(fingerprint.size(), 64u);  // SHA-256
  const auto with = [&](const std::string& mark, const std::string& outcome) {
    return stock::vdb_bytes(*stage, {{"fingerprint", mark}, {"cut", outcome}},
                            stock::Packing::quick);
  };
  // One motion: 16 bytes of work done and number of samples, then what the motion did, its last
  // eight bytes the place and number of its samples (sim/pipeline/stages.cpp).
  std::string samples_beyond = cut;
  samples_beyond[16 + 8 + 1 + 2 * 4 + 3 * 8 + 4] = '\x7f';
  std::string place_beyond = cut;
  place_beyond[16 + 8 + 1 + 2 * 4 + 3 * 8 + 3] = '\x7f';
  const std::vector<std::pair<const char*, std::string>> damaged = {
      {"nothing", ""},
      {"no stock", "G21 G90\n"},
      {"half of it", good.substr(0, good.size() / 2)},
      {"no notes", stock::vdb_bytes(*stage)},
      {"another fingerprint", with(std::string(32, '0'), cut)},
      {"no outcome", with(fingerprint, "")},
      {"an outcome of too few motions", with(fingerprint, cut.substr(0, 8))},
      {"a byte too many", with(fingerprint, cut + "x")},
      {"a byte too few", with(fingerprint, cut.substr(0, cut.size() - 1))},
      {"a sample too few", with(fingerprint, cut.substr(0, cut.size() - std::size_t{9} * 4))},
      {"samples that are not there", with(fingerprint, samples_beyond)},
      {"samples that start beyond the last", with(fingerprint, place_beyond)},
  };
  for (const auto& [what, bytes] : damaged) {
    Kept copy = kept;
    copy.files[name] = bytes;
    const Done after = done(w, copy.store());
    EXPECT_EQ(after.tool_runs_cut, 1u) << what;
    EXPECT_EQ(after.tool_runs_reused, 2u) << what;
    expect_same(after, whole);
    EXPECT_TRUE(copy.files[name] == good) << what << ": not mended";
  }
}

// Stopping keeps nothing half done, and says so; what was not cut did nothing.
TEST(Stages, AStoppedToolRunIsNotKept) {
  const Work w;
  Kept kept;
  std::vector<double> shares;
  stock::CutOptions options;
  options.progress = [&](double share) {
    shares.push_back(share);
    return share <= 0.6;
  };
  const Done stopped = done(w, kept.store(), of_blank(), options);
  EXPECT_TRUE(stopped.cut.stopped);
  ASSERT_EQ(stopped.cut.motions.size(), w.motions.size());
  EXPECT_EQ(stopped.cut.motions.back().removed_mm3, 0);
  EXPECT_TRUE(kept.files.contains("setup-1-stage-1-T1.vdb"));
  EXPECT_FALSE(kept.files.contains("setup-1-stage-3-T1.vdb"));
  // Shares are of all the motions, never back.
  ASSERT_FALSE(shares.empty());
  EXPECT_TRUE(std::is_sorted(shares.begin(), shares.end()));
  EXPECT_GE(shares.front(), 0);
  EXPECT_LE(shares.back(), 1);
  // The next run goes on from what was kept, to the same end.
  expect_same(done(w, kept.store()), rival(w));
}

// SHA-256 (FIPS 180-4): the standard's example, and no matter in what pieces bytes come.
TEST(Fingerprint, IsThePublishedDigest) {
  Fingerprint f;
  f.add_bytes("abc", 3);
  EXPECT_EQ(f.text(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  const std::string bytes(10'000, 'x');
  Fingerprint in_pieces;
  for (std::size_t at = 0; at < bytes.size(); at += 7)
    in_pieces.add_bytes(bytes.data() + at, std::min<std::size_t>(7, bytes.size() - at));
  EXPECT_EQ(in_pieces.text(), sha256(bytes));
  EXPECT_EQ(in_pieces.text(), sha256(bytes)) << "asking changes nothing";
}

// Texts after one another are not the same as one text; a corner or triangle of a mesh counts;
// nought has one sign.
TEST(Fingerprint, TellsApartWhatIsApart) {
  const auto of = [](const auto&... parts) {
    Fingerprint f;
    (f.add(parts), ...);
    return f.text();
  };
  EXPECT_NE(of(std::string_view("ab"), std::string_view("c")),
            of(std::string_view("a"), std::string_view("bc")));
  EXPECT_EQ(of(Vec3(0, 0, 0)), of(Vec3(-0.0, 0, -0.0)));
  mesh::Mesh mesh;
  mesh.vertices = {Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(0, 1, 0), Vec3(0, 0, 1)};
  mesh.triangles = {{0, 1, 2}, {0, 1, 3}};
  mesh::Mesh moved = mesh, turned = mesh;
  moved.vertices[3].z() = std::nextafter(1.0, 2.0);
  turned.triangles[1] = {1, 0, 3};
  EXPECT_NE(of(mesh), of(moved));
  EXPECT_NE(of(mesh), of(turned));
  EXPECT_EQ(of(mesh), of(mesh::Mesh(mesh)));
}

}  // namespace
}  // namespace proveout::pipeline
