// What a dry run is about, read once before anything is cut and never changed after: checks and
// reports take from here, and no file of the job is opened a second time.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"
#include "parser/base/input_files.h"
#include "parser/job/job.h"
#include "parser/mesh/mesh.h"
#include "parser/nc/program.h"
#include "sim/cutting/material.h"
#include "sim/run/fixture_shapes.h"
#include "sim/solid/part_distance.h"
#include "sim/solid/tool_body.h"

namespace proveout::run {

struct SetupInputs {
  std::shared_ptr<const nc::Program> program;
  // Of each of the program's files, as Program::files lists them.
  std::vector<std::shared_ptr<const std::string>> texts;
  std::vector<FixtureShape> fixtures;
};

struct Inputs {
  cutting::Material material;            // what is cut
  Box3 blank;                            // mm, stock coordinates: about the unmachined stock
  std::optional<mesh::Mesh> blank_mesh;  // mm, stock coordinates; nullopt: the box itself
  std::unique_ptr<const solid::PartDistance> part;  // mm, stock coordinates; null: none given
  std::map<int, solid::ToolBody> bodies;            // by tool number
  std::vector<SetupInputs> setups;                  // one a setup of the job
  std::vector<InputFile> files;                     // every file read, in order of reading
};

// Reads all that the job names; material: what is cut, a name of the built-in table or of the job's
// own; read: what the job itself was read from, listed first. nullptr with located errors in
// diagnostics where something cannot be used: all mistakes come at once. Errors (codes):
// material-unknown, unknown-tool, no-tool, work-offset-not-placed, and those of nc::program_of and
// mesh::mesh_of; warnings: part-outside-blank, part-small.
std::shared_ptr<const Inputs> read_inputs(const job::Job& job, const std::string& material,
                                          InputFiles read, Diagnostics& diagnostics);

struct JobResult;
// The part's shape in stock coordinates; null: none was given.
const solid::PartDistance* part_of(const JobResult& result);

// A file's name as results show it: relative to the job file's folder, where it can be.
std::string input_name(const InputFile& file, const job::Job& job);

}  // namespace proveout::run
