// From programs, a mesh and a blank to a job, in three steps: what words and motions tell; what is
// left to ask; how the sides lie, by trying.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/base/diagnostic.h"
#include "sim/propose/proposal.h"

namespace proveout::propose {

struct Request {
  std::vector<std::filesystem::path> programs;  // one a side
  std::filesystem::path part;                   // mesh; empty: none
  std::optional<Vec3> blank;                    // mm
  std::string material;                         // empty: not given
  std::filesystem::path tools;                  // a file; empty: none
  std::filesystem::path machine;                // a file, or a kept machine's name; empty: none
  std::filesystem::path shop;                   // folder of what is kept; empty: none
  bool name_shop = false;                       // the job is to name that folder
  int threads = 0;
  std::function<bool(const std::string& what, double share)> progress;  // false: stop
};

// What comments, motions and options tell; zeros from extents. nullopt with errors in diagnostics
// where a file cannot be used (those of nc::program_of, mesh::read_mesh, job::read_tools); a kept
// file that cannot be used is left out with a warning.
std::optional<Proposal> read(const Request& request, Diagnostics& diagnostics);

// What is not known, those first without which the job cannot run.
std::vector<Question> questions(const Proposal& proposal);

// Takes an answer. Empty: taken; else why it cannot be, in words, and nothing is changed.
std::string answer(Proposal& proposal, const std::string& id, std::string_view text);

// Whether all is known that a dry run cannot do without.
bool can_run(const Proposal& proposal);

// How the sides lie and where the part does, by trying them (arrange.h), and what is left standing.
// Without a part, a blank, or a known tool that cuts on each side, zeros stay as their extents say
// and turns as said. Tools of no known size are left out of the trying, and that is said.
// False: progress asked to stop.
bool arrange(Proposal& proposal, const Request& request, Diagnostics& diagnostics);

}  // namespace proveout::propose
