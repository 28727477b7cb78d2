// The pictures of a finished run.
#pragma once

#include <filesystem>

#include "sim/run/result.h"

namespace proveout::files {
class FileSet;
}

namespace proveout::picture {

// Into folder: setup-N.png (the stock after setup N as it lies on the machine, coloured by tool),
// setup-N-section.png (cut open across y at the blank's middle) for every setup whose stock was
// kept, and with a part deviation.png of the finished piece. They go to set. Throws
// files::WriteError.
void write_pictures(const run::JobResult& result, const std::filesystem::path& folder,
                    files::FileSet& set);

}  // namespace proveout::picture
