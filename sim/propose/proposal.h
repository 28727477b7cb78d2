// What a job is proposed to be: every value with where it comes from. Lengths mm, angles degrees.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "parser/job/job.h"
#include "parser/job/shop.h"
#include "parser/nc/program.h"

namespace proveout::propose {

// How a value is known, surest first.
enum class Basis : std::uint8_t {
  given,   // by whoever asks: an option, an answer, a file of tools
  said,    // in a comment of a program
  shown,   // by motions or meshes, which leave no choice
  fitted,  // the best of those tried
  open     // nothing tells; a usual value may stand in
};
std::string_view name(Basis basis);

template <class Value>
struct Known {
  Value value{};
  Basis basis = Basis::open;
  std::string from;  // in words, without a full stop

  bool open() const { return basis == Basis::open; }
};

// Where values of a kept tool come from.
inline constexpr const char* kept_basis = "as kept";

struct ToolProposal {
  int number = 0;
  std::string name;  // as it will be called in reports
  // No value where nothing stands in: a job without it cannot run.
  std::optional<Known<job::ToolShape>> shape;
  std::optional<Known<double>> diameter, corner_radius, tip_angle, tip_diameter;
  Known<int> flutes;
  Known<double> flute_length, stickout;
  std::optional<Known<std::string>> tool_material;
  std::vector<std::pair<double, double>> holder;  // diameter, height; empty: not known
  bool holder_kept = false;                       // it is the kept tool's
  std::optional<job::Tool> from_file;  // the whole tool of a file: all else is left alone
  std::string kept, kept_why;  // the shop's tool it is, and why; values of it are from kept_basis
  // What the motions show.
  double deepest = 0;  // mm below the material's top, at most; 0: not known
  bool only_plunges = false;
  std::string used_in;  // "good-a.nc, good-b.nc"
};

struct SetupProposal {
  std::string name;
  std::filesystem::path program;
  std::shared_ptr<const nc::Program> source;
  std::string text;                // of the program
  std::optional<Known<int>> tool;  // before the first M6, where the program needs one
  Known<std::vector<job::Turn>> turn;
  Known<job::Zero> zero;
  std::optional<job::Turn> said_turn;  // by 0 degrees: it is not turned over
  std::vector<Box3> fixtures;          // in the setup's frame, as answered
  int work_offset = 1;
  std::vector<int> further_offsets;  // used besides, and not placed
};

struct PartProposal {
  std::filesystem::path mesh;
  Known<double> scale{1, Basis::open, {}};  // mm per unit of the mesh
  Known<Vec3> origin{Vec3::Zero(), Basis::open, {}};
  Known<std::vector<Box3>> supports;
};

// One thing to ask a person. id: "tools.1.stickout".
struct Question {
  std::string id, text;
  std::string usual;    // what stands in; empty: nothing can
  bool needed = false;  // without an answer the job cannot run
};

struct Proposal {
  std::string name;
  Known<Vec3> blank{Vec3::Zero(), Basis::open, {}};  // zero: not known at all
  Known<std::string> material;
  std::optional<PartProposal> part;
  std::vector<ToolProposal> tools;
  std::vector<SetupProposal> setups;
  std::filesystem::path tools_file;    // what ToolProposal::from_file came from
  std::filesystem::path machine;       // a file; empty: not known
  job::Shop shop;                      // what could be taken from
  bool name_shop = false;              // the job says which folder it is
  Known<std::string> kept_machine;     // empty: none is
  std::string kept_material;           // material's own name, where the shop keeps it
  std::vector<std::string> remarks;    // for the head of the file: what was found on the way
  std::vector<std::string> runner_up;  // arrangements as good as the one taken
};

}  // namespace proveout::propose
