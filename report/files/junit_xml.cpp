#include "report/files/junit_xml.h"

#include <fmt/format.h>

#include <algorithm>
#include <pugixml.hpp>
#include <sstream>

#include "report/text/words.h"
#include "sim/checks/registry.h"

namespace proveout::files {
namespace {

// Empty where the kind is looked for in this setup, if not with every tool. setup: empty for the
// job.
std::string why_skipped(const run::JobResult& result, FindingKind kind, const std::string& setup) {
  for (const auto& n : result.not_checked) {
    if (n.what != name(kind)) continue;
    if (!n.in_part || std::find(n.setups.begin(), n.setups.end(), setup) != n.setups.end())
      return n.why;
  }
  return {};
}

void add_case(pugi::xml_node suite, const std::string& absent, const std::string& class_name,
              const run::Check& check, const std::vector<const Finding*>& findings,
              Severity fail_on, int& failures, int& skipped) {
  pugi::xml_node node = suite.append_child("testcase");
  node.append_attribute("classname") = text::xml_text(class_name).c_str();
  node.append_attribute("name") = std::string(name(check.kind)).c_str();
  node.append_attribute("time") = "0";
  std::string body;
  std::size_t failing = 0;
  for (const Finding* f : findings) {
    body += text::xml_text(text::one_line(*f)) + "\n";
    if (f->level >= fail_on) ++failing;
  }
  if (failing != 0) {
    ++failures;
    pugi::xml_node failure = node.append_child("failure");
    failure.append_attribute("type") = std::string(name(check.kind)).c_str();
    failure.append_attribute("message") =
        text::xml_text(fmt::format("{} x {}: {}", failing, name(check.kind), check.meaning))
            .c_str();
    failure.text().set(body.c_str());
  } else if (!absent.empty() && findings.empty()) {
    ++skipped;
    // As its text: older readers' schemas know no attribute of it.
    node.append_child("skipped").text().set(text::xml_text("not checked: " + absent).c_str());
  } else if (!body.empty()) {
    node.append_child("system-out").text().set(body.c_str());
  }
}

}  // namespace

std::string junit_xml(const run::JobResult& result, Severity fail_on) {
  pugi::xml_document document;
  pugi::xml_node declaration = document.append_child(pugi::node_declaration);
  declaration.append_attribute("version") = "1.0";
  declaration.append_attribute("encoding") = "UTF-8";
  pugi::xml_node suites = document.append_child("testsuites");
  suites.append_attribute("name") = text::xml_text(result.job.name).c_str();
  int all_tests = 0, all_failures = 0;
  std::vector<std::string> names;
  for (const auto& s : result.setups) names.push_back(s.name);
  names.push_back("");  // findings of the job as a whole
  for (const std::string& setup : names) {
    const std::string suite_name = setup.empty() ? "job" : "setup " + setup;
    pugi::xml_node suite = suites.append_child("testsuite");
    suite.append_attribute("name") = text::xml_text(suite_name).c_str();
    int tests = 0, failures = 0, skipped = 0;
    for (const run::Check* check : checks::all_checks()) {
      std::vector<const Finding*> of_kind;
      for (const Finding& f : result.findings) {
        if (f.kind == check->kind && f.setup == setup) of_kind.push_back(&f);
      }
      ++tests;
      add_case(suite, why_skipped(result, check->kind, setup), "proveout." + suite_name, *check,
               of_kind, fail_on, failures, skipped);
    }
    if (setup.empty()) {
      // Before the cases, where readers' schemas have it; output is theirs to give.
      pugi::xml_node property = suite.prepend_child("properties").append_child("property");
      property.append_attribute("name") = "verdict";
      property.append_attribute("value") = text::xml_text(result.verdict).c_str();
    }
    suite.append_attribute("tests") = tests;
    suite.append_attribute("failures") = failures;
    suite.append_attribute("errors") = 0;
    suite.append_attribute("skipped") = skipped;
    suite.append_attribute("time") = "0";
    all_tests += tests;
    all_failures += failures;
  }
  suites.append_attribute("tests") = all_tests;
  suites.append_attribute("failures") = all_failures;
  std::ostringstream out;
  document.save(out, "  ", pugi::format_default, pugi::encoding_utf8);
  return out.str();
}

}  // namespace proveout::files
