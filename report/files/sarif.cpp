#include "report/files/sarif.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "report/files/rounded.h"
#include "sim/checks/registry.h"
#include "sim/checks/what_to_do.h"

namespace proveout::files {
namespace {

using Json = nlohmann::ordered_json;

// A relative reference as RFC 3986 has it: '/' between folders, everything unusual percent-encoded.
std::string uri(const std::string& path) {
  std::string out;
  for (char c : path) {
    const auto u = static_cast<unsigned char>(c);
    if (std::isalnum(u) || c == '/' || c == '.' || c == '-' || c == '_' || c == '~') {
      out += c;
    } else {
      out += fmt::format("%{:02X}", u);
    }
  }
  return out;
}

std::uint64_t fnv1a(const std::string& text) {
  std::uint64_t hash = 14695981039346656037ull;
  for (char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ull;
  return hash;
}

Json rules_json() {
  Json rules = Json::array();
  for (const run::Check* check : checks::all_checks()) {
    rules.push_back({{"id", name(check->kind)},
                     {"shortDescription", {{"text", check->meaning}}},
                     {"help", {{"text", check->help}}}});
  }
  return rules;
}

Json result_of(const Finding& f, const std::string& remedy, const std::string& fallback_file) {
  Json region = {{"startLine", std::max<std::uint32_t>(1, f.line)}};
  if (f.last_line > f.line) region["endLine"] = f.last_line;
  const std::string file = f.file.empty() ? fallback_file : f.file;
  const std::string spot = fmt::format("{}|{}|{}|{}|{:.0f},{:.0f},{:.0f}", name(f.kind), f.setup,
                                       f.tool, f.detail, f.at.x(), f.at.y(), f.at.z());
  return {{"ruleId", name(f.kind)},
          {"ruleIndex", static_cast<int>(f.kind)},
          {"level", name(f.level)},
          {"message", {{"text", f.text}}},
          {"locations",
           Json::array({{{"physicalLocation",
                          {{"artifactLocation", {{"uri", uri(file)}}}, {"region", region}}}}})},
          {"partialFingerprints", {{"proveoutSpot/v1", fmt::format("{:016x}", fnv1a(spot))}}},
          {"properties",
           {{"setup", f.setup},
            {"tool", f.tool},
            {"value", rounded(f.value)},
            {"limit", rounded(f.limit)},
            {"unit", f.unit},
            {"count", f.count},
            {"remedy", remedy}}}};
}

}  // namespace

std::string sarif(const run::JobResult& result) {
  const std::string job_file = result.job.file.filename().generic_string();
  Json results = Json::array();
  const std::vector<std::string> remedies = checks::what_to_do(result);
  for (std::size_t i = 0; i < result.findings.size(); ++i)
    results.push_back(result_of(result.findings[i], remedies[i], job_file));
  const Json log = {
      {"$schema", "https://json.schemastore.org/sarif-2.1.0.json"},
      {"version", "2.1.0"},
      {"runs",
       Json::array(
           {{{"tool",
              {{"driver",
                {{"name", "proveout"}, {"version", PROVEOUT_VERSION}, {"rules", rules_json()}}}}},
             {"columnKind", "unicodeCodePoints"},
             {"properties", {{"verdict", result.verdict}}},
             {"results", results}}})}};
  return log.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace proveout::files
