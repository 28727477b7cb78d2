// JUnit's cases by setup and kind; that the file is well-formed is held in tests/report/page.
#include "report/files/junit_xml.h"

#include <gtest/gtest.h>

#include "sim/checks/registry.h"

namespace proveout::files {
namespace {

// What stands between this setup's case of a kind and the next case.
std::string case_of(const std::string& xml, const std::string& suite, const std::string& kind) {
  const std::size_t at = xml.find("classname=\"proveout." + suite + "\" name=\"" + kind + "\"");
  if (at == std::string::npos) return "none";
  return xml.substr(at, xml.find("<testcase", at) - at);
}

// A kind is skipped in a setup where nothing looks for it, and counts where something does.
TEST(JunitXml, SkipsWhereNothingLooks) {
  run::JobResult result;
  result.setups.resize(2);
  result.setups[0].name = "A";
  result.setups[1].name = "B";
  result.not_checked = {{"fixture-contact", "no fixtures are given for B", true, {"B"}},
                        {"holder-contact", "no holder is given for T2", true, {}},
                        {"gouge", "no part mesh is given", false, {}}};
  const std::string xml = junit_xml(result, Severity::error);
  const auto skipped = [&](const std::string& suite, const std::string& kind) {
    const std::string text = case_of(xml, suite, kind);
    EXPECT_NE(text, "none") << suite << " " << kind;
    return text.find("<skipped") != std::string::npos;
  };
  EXPECT_FALSE(skipped("setup A", "fixture-contact"));
  EXPECT_TRUE(skipped("setup B", "fixture-contact"));
  for (const char* setup : {"setup A", "setup B"}) {
    EXPECT_FALSE(skipped(setup, "holder-contact"));
    EXPECT_TRUE(skipped(setup, "gouge"));
    EXPECT_FALSE(skipped(setup, "over-power"));
  }
  EXPECT_TRUE(skipped("job", "gouge"));
  // The reason is the element's text: published schemas of its readers know no attribute.
  EXPECT_NE(xml.find("<skipped>not checked: "), std::string::npos) << xml;
  EXPECT_NE(xml.find("skipped=\"2\""), std::string::npos) << xml;  // of setup B
  EXPECT_NE(xml.find("skipped=\"1\""), std::string::npos) << xml;  // of setup A
}

}  // namespace
}  // namespace proveout::files
