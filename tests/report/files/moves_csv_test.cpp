// moves.csv: names as a spreadsheet will read text. What starts a formula: OWASP, "CSV Injection";
// quoting: RFC 4180.
#include "report/files/moves_csv.h"

#include <gtest/gtest.h>

#include <sstream>

namespace proveout::files {
namespace {

// The first cell of the only row: the setup's name, as a reader of RFC 4180 has it.
std::string cell_of(const std::string& name) {
  run::JobResult result;
  run::SetupResult& setup = result.setups.emplace_back();
  setup.name = name;
  setup.program = "a.nc";
  auto program = std::make_shared<nc::Program>();
  program->states.emplace_back();
  program->motions.emplace_back();
  setup.source = program;
  setup.plan.motions.emplace_back();
  setup.cut.motions.emplace_back();
  setup.peaks.emplace_back();
  std::ostringstream out;
  write_moves_csv(result, out);
  std::string text = out.str(), cell;
  text.erase(0, text.find('\n') + 1);
  if (text.front() != '"') return text.substr(0, text.find(','));
  for (std::size_t i = 1; i < text.size(); ++i) {
    if (text[i] == '"' && text[++i] != '"') break;
    cell += text[i];
  }
  return cell;
}

TEST(MovesCsv, NamesThatAreFormulasAreText) {
  for (const std::string name : {"=cmd|'/c calc'!A0", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1",
                                 "  =1", "=HYPERLINK(\"a\",\"b\")", "'quoted"})
    EXPECT_EQ(cell_of(name), "'" + name);
}

TEST(MovesCsv, OtherNamesStayAsTheyAre) {
  for (const std::string name : {"A", "side A, first", "a \"b\"", "2", "a=b", "", " ", "x-1"})
    EXPECT_EQ(cell_of(name), name);
}

// The last column, of bits 1 climb and 2 conventional.
TEST(MovesCsv, SenseInWords) {
  const char* const words[] = {"", "climb", "conventional", "both"};
  for (std::uint8_t bits = 0; bits < 4; ++bits) {
    run::JobResult result;
    run::SetupResult& setup = result.setups.emplace_back();
    auto program = std::make_shared<nc::Program>();
    program->files.push_back("a.nc");
    program->states.emplace_back();
    program->motions.emplace_back();
    setup.source = program;
    setup.plan.motions.emplace_back();
    setup.cut.motions.emplace_back();
    setup.peaks.emplace_back().sense = bits;
    std::ostringstream out;
    write_moves_csv(result, out);
    const std::string text = out.str();
    EXPECT_NE(text.find(",bend_mm,sense\n"), std::string::npos);
    EXPECT_EQ(text.substr(text.rfind(',')), std::string(",") + words[bits] + "\n");
  }
}

}  // namespace
}  // namespace proveout::files
