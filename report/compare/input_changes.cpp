#include "report/compare/input_changes.h"

#include <fmt/format.h>

#include <map>

namespace proveout::compare {
namespace {

using Json = nlohmann::ordered_json;

bool is_word(const Json& in, const char* key) {
  const auto it = in.find(key);
  return it != in.end() && it->is_string();
}

std::map<std::string, std::string> digests_of(const Json& result) {
  std::map<std::string, std::string> out;
  for (const Json& file : result.at("inputs"))
    out.emplace(file.at("name").get<std::string>(), file.at("digest").get<std::string>());
  return out;
}

std::string version_of(const Json& result) {
  const auto run = result.find("run");
  return run != result.end() && run->is_object() && is_word(*run, "version")
             ? run->at("version").get<std::string>()
             : "";
}

void list(std::string& words, const char* what, const std::vector<std::string>& names) {
  if (names.empty()) return;
  words += fmt::format("{}{} {}", words.empty() ? "" : "; ", what, fmt::join(names, ", "));
}

}  // namespace

std::string wrong_with_inputs(const Json& result) {
  const auto inputs = result.find("inputs");
  if (inputs == result.end()) return {};
  if (!inputs->is_array()) return "the result's 'inputs' are no list";
  for (const Json& file : *inputs)
    if (!file.is_object() || !is_word(file, "name") || !is_word(file, "digest"))
      return "an input of the result has no name or digest";
  return {};
}

InputChanges input_changes(const Json& kept, const Json& now) {
  InputChanges out;
  out.kept_version = version_of(kept);
  out.version = version_of(now);
  out.known = kept.contains("inputs") && now.contains("inputs");
  if (!out.known) return out;
  const auto before = digests_of(kept), after = digests_of(now);
  for (const auto& [name, digest] : before) {
    const auto found = after.find(name);
    if (found == after.end())
      out.gone.push_back(name);
    else if (found->second != digest)
      out.changed.push_back(name);
    else
      ++out.same;
  }
  for (const auto& [name, digest] : after)
    if (!before.contains(name)) out.added.push_back(name);
  return out;
}

std::string in_words(const InputChanges& changes) {
  std::string words;
  if (!changes.known) {
    words = "Not both results name their inputs: whether these differ is not known.";
  } else {
    list(words, "changed", changes.changed);
    list(words, "new", changes.added);
    list(words, "gone", changes.gone);
    words = !words.empty() ? "Inputs: " + words + "."
            : changes.same == 1
                ? "The one input is the same, byte for byte."
                : fmt::format("All {} inputs are the same, byte for byte.", changes.same);
  }
  if (!changes.kept_version.empty() && changes.kept_version != changes.version)
    words += fmt::format(
        " The kept result is of version {} of this program, the other of {}: figures may differ "
        "for "
        "that alone.",
        changes.kept_version, changes.version.empty() ? "one not said" : changes.version);
  return words;
}

}  // namespace proveout::compare
