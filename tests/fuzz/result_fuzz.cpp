// Any bytes as a result.json: refused with an error, or compared with itself, where nothing may
// differ, and written out in all forms.
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "report/compare/compare.h"

namespace {

using namespace proveout;

void must(bool held) {
  if (!held) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const std::filesystem::path path = std::filesystem::temp_directory_path() /
                                            ("proveout-fuzz-" + std::to_string(getpid()) + ".json");
  std::ofstream(path, std::ios::binary)
      .write(reinterpret_cast<const char*>(data), std::streamsize(size));
  Diagnostics diagnostics;
  const auto result = compare::read_result(path.string(), diagnostics);
  if (!result) {
    must(diagnostics.has_errors());
    return 0;
  }
  const compare::Comparison same =
      compare::compare({{"kept", *result, nullptr}, {"now", *result, nullptr}});
  for (const auto& change : same.changes) must(change.gained.empty() && change.lost.empty());
  compare::to_text(same);
  compare::to_json(same).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  compare::to_html(same);
  must(compare::drift(*result, *result, {}).empty());
  return 0;
}
