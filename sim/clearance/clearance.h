// The smallest distance of cutter, shank, holder and spindle nose to stock, part and fixtures while
// a program runs.
//
// Stock: columns, cut along with the motions, so each motion meets what is left before it (before
// each piece of it, where it goes down). Part and fixtures stand still. Figures may be too small by
// resolution_mm() and where something lies under an overhang, never too large beyond what the
// voxels of the stock leave open.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parser/nc/program.h"
#include "sim/clearance/column_map.h"
#include "sim/clearance/outline.h"

namespace proveout::clearance {

enum class Mover : std::uint8_t { cutter, shank, holder, nose };
enum class Obstacle : std::uint8_t { stock, part, fixture };
inline constexpr int movers = 4, obstacles = 3, motion_kinds = 2;  // feed, rapid
const char* name(Mover mover);
const char* name(Obstacle obstacle);

struct Nearest {
  double mm = std::numeric_limits<double>::infinity();  // 0: touches or goes in
  std::uint32_t line = 0;
  Vec3 tip = Vec3::Zero();  // mm, setup frame: where the tip stands then
  int fixture = -1;         // which, for fixtures
  bool found() const { return mm < std::numeric_limits<double>::infinity(); }
};

// The cutter against stock and part is not asked: it cuts them.
struct ToolClearance {
  Nearest nearest[movers][obstacles][motion_kinds];
  const Nearest& of(Mover m, Obstacle o, bool rapid) const {
    return nearest[static_cast<int>(m)][static_cast<int>(o)][rapid ? 1 : 0];
  }
  Nearest worst(Mover m) const;
};

// "shank 0.4 (line 12), holder 7.3 (line 9)": the least of each body, mm, rounded down; empty:
// none.
std::string in_words(const ToolClearance& clearance);

// What one tool moves about.
struct ToolShapes {
  explicit ToolShapes(const solid::ToolBody& body,
                      const std::vector<std::pair<double, double>>& nose = {});
  std::array<Outline, movers> outline;
  Envelope cutting;
};

// Something that must not be touched, setup frame.
struct Barrier {
  std::string name;
  Box3 box;
  std::shared_ptr<const ColumnMap> columns;  // of a mesh; none: the box itself
  // As ColumnMap::nearest.
  double nearest(const Outline& body, const Vec3& a, const Vec3& b, double best) const;
  // As ColumnMap::highest_within.
  double highest_within(double x, double y, double radius) const;
};

class ClearanceTracker {
 public:
  // part: setup frame, or none. nose: diameter, height pairs (mm) from the holder's top up.
  ClearanceTracker(ColumnMap stock, std::shared_ptr<const ColumnMap> part,
                   std::vector<Barrier> fixtures, const std::map<int, solid::ToolBody>& bodies,
                   const std::vector<std::pair<double, double>>& nose);

  // before: called with each motion's number while the stock is as this motion finds it.
  std::map<int, ToolClearance> follow(const nc::Program& program,
                                      const std::function<void(std::size_t)>& before = {});

  const ColumnMap& stock() const { return stock_; }
  const std::vector<Barrier>& fixtures() const { return fixtures_; }
  const ToolShapes* shapes(int tool) const;
  // mm: by how much a distance to the stock may be given too small beside plain faces.
  double resolution_mm() const { return 2.5 * stock_.cell() + stock_.margin(); }

 private:
  struct Way {
    Vec3 a, b;
    double sag = 0;  // mm: how far the true way bends off
  };
  struct Question {
    int mover, obstacle;
  };
  using Questions = std::vector<Question>;
  // A way in equal pieces, each met by the stock that those before it left.
  struct Walk {
    const Way& way;
    const nc::Motion& motion;
    const ToolShapes& shapes;
    int pieces;
    ToolClearance& out;
    int kind() const { return motion.kind == nc::PathKind::rapid ? 1 : 0; }
    Vec3 place(int k) const;  // k: 0 to pieces
  };
  std::vector<Way> ways_of(const nc::Motion& motion) const;
  double ask(const Question& q, const Outline& body, const Vec3& a, const Vec3& b, double best,
             int* fixture) const;
  void follow_way(const Way& way, const nc::Motion& motion, const ToolShapes& shapes,
                  ToolClearance& out);
  Questions open_for(const Walk& walk, int from, int to, const Questions& asked) const;
  void search(const Walk& walk, int from, int to, const Question& q) const;
  void follow_pieces(const Walk& walk, int from, int to, const Questions& asked, bool cuts);
  bool improve(const Question& q, const Outline& body, const Vec3& a, const Vec3& b, double sag,
               const nc::Motion& motion, Nearest& nearest) const;

  ColumnMap stock_;
  std::shared_ptr<const ColumnMap> part_;
  std::vector<Barrier> fixtures_;
  std::map<int, ToolShapes> shapes_;
};

}  // namespace proveout::clearance
