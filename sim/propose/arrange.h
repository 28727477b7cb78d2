// How the sides lie, and where in the blank the part does: the few arrangements that make sense are
// cut on a coarse stock and held against the part.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parser/mesh/mesh.h"
#include "sim/propose/proposal.h"
#include "sim/propose/zeros.h"
#include "sim/solid/part_distance.h"
#include "sim/solid/tool_body.h"
#include "sim/stock/stock.h"

namespace proveout::propose {

struct SideToArrange {
  std::string name;
  std::shared_ptr<const nc::Program> program;
  ZeroChoices zeros;
  std::optional<job::Turn> said_turn;
};

struct ArrangeInput {
  Vec3 blank = Vec3::Zero();  // mm
  std::vector<SideToArrange> sides;
  std::map<int, solid::ToolBody> bodies;
  const solid::PartDistance* part = nullptr;  // in the mesh's own coordinates, mm; null: none
  int threads = 0;
  std::function<bool(double)> progress;  // share done; false: stop
};

struct Side {
  job::Zero zero;
  std::vector<job::Turn> turn;
};
struct Arrangement {
  std::vector<Side> sides;
  Vec3 origin = Vec3::Zero();  // mm, stock coordinates: of the mesh's own 0,0,0
  double on = 0, inside = 0;   // shares of the milled surface: on the part, and inside it
  double score = 0;            // places of the surface on the part less one and a half inside it
};
struct Arranged {
  Arrangement best;
  std::vector<Arrangement> as_good;  // told from the best by no more than a fiftieth
  std::size_t tried = 0;
  double voxel = 0;     // mm, of the stock it was tried on
  bool fitted = false;  // a part was given, and much of the surface lies on it
};

// Of each side the zeros of its choices, on the blank and, for later sides, on what earlier ones
// milled; later sides as said, turned about x, about y, or not turned. Without a part the first
// choice of each, and nothing is cut but for the height of what was milled. nullopt: progress asked
// to stop.
std::optional<Arranged> arrange(const ArrangeInput& in);

// The stock after all sides, as arranged. voxel: mm.
stock::Stock cut_as(const ArrangeInput& in, const Arrangement& arrangement, double voxel);

struct FinalOrigin {
  Vec3 taken, fitted;         // mm, stock coordinates; taken: rounded where the fit cannot tell
  double on = 0, inside = 0;  // shares of the milled surface
};
// The part's place once more on a finer stock cut as arranged. told_to: mm, how far off the
// arrangement's may be.
FinalOrigin settle_origin(const ArrangeInput& in, const Arrangement& arrangement,
                          const stock::Stock& stock, double told_to);

// "turned about y", "as it was"
std::string in_words(const std::vector<job::Turn>& turn);

}  // namespace proveout::propose
