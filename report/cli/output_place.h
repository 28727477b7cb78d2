// Whether what a command is to write can have the place it was given: told before the work, not
// after it.
#pragma once

#include <boost/program_options.hpp>
#include <filesystem>
#include <string>

namespace proveout::cli {

// Both: throws files::WriteError where the system does not let this process write there.

// Throws UsageError unless folder is one, without pipes where files will be written, or can be made
// where nothing stands yet.
void need_folder(const std::filesystem::path& folder, const std::string& option);

// Throws UsageError where a file cannot have that name: none, a folder's, or in no folder. "-" is
// standard output. made: a folder that will have been made by then.
void need_place_for(const std::string& file, const std::string& option,
                    const std::filesystem::path& made = {});

// The file an option names, looked at so; empty where it is not given.
std::string output_file(const boost::program_options::variables_map& values, const char* option);

}  // namespace proveout::cli
