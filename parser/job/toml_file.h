// One TOML file of a job, held while its tables are read.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "parser/base/input_files.h"
#include "parser/job/table_reader.h"
#include "parser/job/toml.h"

namespace proveout::job {

struct TomlFile {
  std::shared_ptr<const std::string> text;
  toml::table table;
  FileContext context;  // of text: a TomlFile stays where it is
};

// Reads and parses; what: "job file", for messages. False with located errors in diagnostics: those
// of read_text_file, file-binary, file-empty, job-too-deep, job-not-toml.
bool open_toml(const std::filesystem::path& path, const char* what, InputFiles& files,
               TomlFile& file, Diagnostics& diagnostics);

// The file's key units: mm per unit of its lengths.
double read_units(TableReader& t);

}  // namespace proveout::job
