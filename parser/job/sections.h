// One function a section of the job file: which keys it has, and where they go.
#pragma once

#include <filesystem>
#include <set>

#include "parser/job/job.h"
#include "parser/job/table_reader.h"

namespace proveout::job {

struct SectionContext {
  std::filesystem::path folder;  // paths in the file are relative to it
};

void read_simulation(TableReader& t, Simulation& out);
void read_machine_keys(TableReader& t, Machine& out);
void read_stock(TableReader& t, const SectionContext& c, Stock& out);
void read_part(TableReader& t, const SectionContext& c, Part& out);
void read_tool(TableReader& t, Tool& out);
void read_setup(TableReader& t, const SectionContext& c, Setup& out);
void read_material(TableReader& t, Material& out);
void read_quote(TableReader& t, Quote& out);

// Every key of the job file with its section, type and meaning, in the order of the code.
std::vector<KeyDoc> job_keys();
// The same as the table that stands in docs/job-file.md.
std::string job_reference_markdown();

}  // namespace proveout::job
