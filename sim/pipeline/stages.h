// Stages: the stock after each tool run (motions in a row with one tool), kept with what those
// motions did, so that a later run goes on from the last stage that still holds.
//
// A stage is known by a fingerprint of all the stock depends on up to there: blank, voxel, part (it
// decides which piece goes on), and of every tool run before and of its own the pose, the tool's
// body and the motions' geometry. Feeds, speeds, comments and line numbers are no part of it: they
// leave the stock as it is. What a run gives is the same bytes with stages and without.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "parser/base/sha256.h"
#include "sim/stock/stock.h"

namespace proveout::mesh {
struct Mesh;
}

namespace proveout::pipeline {

// Where stages are kept. Both empty: nowhere.
struct StageStore {
  // The bytes kept under a name (a plain file name), nullopt: none.
  std::function<std::optional<std::string>(const std::string& name)> read;
  // Keeps them; throws where that fails.
  std::function<void(const std::string& name, std::string_view bytes)> keep;
};

// SHA-256 of all that is added, in order.
class Fingerprint {
 public:
  void add_bytes(const void* bytes, std::size_t count);
  void add(std::string_view text);
  void add(std::uint64_t number);
  void add(double number);
  void add(const Vec3& vector);
  void add(const mesh::Mesh& mesh);
  std::string text() const;  // 64 hexadecimal digits

 private:
  Sha256 digest_;
  std::string not_yet_;  // numbers come singly, and the digest takes many at a time quicker
};

class Stages {
 public:
  // so_far: what the stock depends on before anything is cut.
  Stages(StageStore store, Fingerprint so_far);

  // Cuts motions, tool run after tool run, as Stock::cut would; tool runs whose stage is
  // kept are taken from there. setup: number from 1, for the names.
  stock::Cut cut(std::size_t setup, std::span<const nc::Motion> motions,
                 std::span<const stock::ToolRun> uses, const RigidMotion& stock_from_setup,
                 stock::MotionId first_id, const stock::CutOptions& options, stock::Stock& stock);

  // Tool runs cut and tool runs taken from the store so far.
  std::size_t tool_runs_cut() const { return cut_; }
  std::size_t tool_runs_reused() const { return reused_; }

 private:
  std::optional<stock::Cut> reuse(const std::string& name, std::size_t motions,
                                  stock::Stock& stock) const;

  StageStore store_;
  Fingerprint so_far_;
  std::size_t cut_ = 0, reused_ = 0;
};

}  // namespace proveout::pipeline
