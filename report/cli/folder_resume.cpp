#include "report/cli/folder_resume.h"

#include <fstream>

#include "report/cli/file_digest.h"
#include "report/files/atomic_file.h"
#include "report/json/result_json.h"

namespace proveout::cli {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* finished_schema = "proveout-finished/1";

Json read_json(const fs::path& path) {
  std::ifstream file(path);
  return file ? Json::parse(file, nullptr, false) : Json();
}

Json conditions(const FinishedUnder& under) {
  return {{"program", under.program},
          {"options", under.options},
          {"baseline", digest_of(under.baseline)}};
}

// Whether every file that the result was made of is as it was; one without a digest is not.
bool inputs_stand(const Json& result, const fs::path& folder) {
  const auto inputs = result.is_object() ? result.find("inputs") : result.end();
  if (inputs == result.end() || !inputs->is_array() || inputs->empty()) return false;
  for (const Json& input : *inputs) {
    if (!input.is_object()) return false;
    const auto name = input.find("name"), digest = input.find("digest");
    if (name == input.end() || !name->is_string() || digest == input.end() || !digest->is_string())
      return false;
    const std::string now = digest_of(folder / name->get<std::string>());
    if (now.empty() || now != digest->get<std::string>()) return false;
  }
  return true;
}

}  // namespace

std::string digest_of_program() { return digest_of("/proc/self/exe"); }

void write_finished(const fs::path& out, const FinishedUnder& under, const Json& entry) {
  files::write_whole(out / finished_name, json::to_bytes({{"schema", finished_schema},
                                                          {"under", conditions(under)},
                                                          {"entry", entry}}));
}

std::optional<Json> finished_before(const fs::path& job, const fs::path& out,
                                    const FinishedUnder& under) {
  if (under.program.empty()) return std::nullopt;
  const Json told = read_json(out / finished_name);
  if (!told.is_object() || told.value("schema", Json()) != Json(finished_schema) ||
      told.value("under", Json()) != conditions(under))
    return std::nullopt;
  const Json entry = told.value("entry", Json());
  if (!entry.is_object()) return std::nullopt;
  const Json status = entry.value("status", Json());
  if (status != Json(0) && status != Json(1)) return std::nullopt;
  if (!inputs_stand(read_json(out / "result.json"), job.parent_path())) return std::nullopt;
  return entry;
}

}  // namespace proveout::cli
