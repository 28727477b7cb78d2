// A job proposed from programs, as `propose` and `run` do it.
#pragma once

#include <boost/program_options.hpp>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "report/cli/options.h"
#include "sim/propose/propose.h"

namespace proveout::cli {

// --part, --blank, --tools, --machine and --shop; --material is the command's own.
void add_propose_options(boost::program_options::options_description& options);
bool has_propose_options(const boost::program_options::variables_map& values);

// Throws UsageError. programs: paths, one a side.
propose::Request propose_request(const boost::program_options::variables_map& values,
                                 const std::vector<std::string>& programs);

// Reads, asks on a terminal if ask, tries how the sides lie; prints what is wrong. nullopt: status
// 2. Throws Interrupted.
std::optional<propose::Proposal> propose_job(propose::Request request, bool ask, bool quiet);

// What is open, for people: a line each.
std::string open_values(const propose::Proposal& proposal);

}  // namespace proveout::cli
