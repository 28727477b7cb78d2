// The lists of messages, codes and tests in docs/language.md are the code's own.
#include "parser/nc/codes.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "parser/nc/modal_groups.h"
#include "parser/nc/reads.h"
#include "reading.h"

namespace proveout::nc {
namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::string language_page() {
  return text_of(std::string(PROVEOUT_FIXTURES) + "/../docs/language.md");
}

// The rows of the page's table under that heading, cells between bars.
std::vector<std::vector<std::string>> rows_under(const std::string& heading) {
  const std::string page = language_page();
  std::istringstream lines(page.substr(std::min(page.find("## " + heading), page.size())));
  std::vector<std::vector<std::string>> out;
  std::string line;
  for (std::getline(lines, line); std::getline(lines, line) && !line.starts_with("## ");) {
    if (!line.starts_with("| ") || line.starts_with("| words")) continue;
    std::vector<std::string> cells;
    std::istringstream bars(line.substr(1));
    for (std::string cell; std::getline(bars, cell, '|');) cells.push_back(cell);
    out.push_back(std::move(cells));
  }
  return out;
}

std::string code_name(char letter, int tenths) {
  return tenths % 10 == 0 ? fmt::format("{}{}", letter, tenths / 10)
                          : fmt::format("{}{}.{}", letter, tenths / 10, tenths % 10);
}

// Codes that stand in the table, ranges spelled "G80 to G89"; in tenths.
std::set<int> codes_in_table(char letter) {
  std::set<int> out;
  const std::regex words(
      fmt::format("{0}([0-9]+)(?:\\.([0-9]))?(?: to {0}([0-9]+)(?:\\.([0-9]))?)?", letter));
  for (const auto& row : rows_under("Words")) {
    for (std::sregex_iterator it(row[0].begin(), row[0].end(), words), end; it != end; ++it) {
      const auto tenths = [&](std::size_t whole) {
        const std::ssub_match part = (*it)[whole + 1];
        return 10 * std::stoi((*it)[whole]) + (part.matched ? std::stoi(part) : 0);
      };
      const int first = tenths(1), last = (*it)[3].matched ? tenths(3) : first;
      for (int k = first; k <= last; ++k) out.insert(k);
    }
  }
  return out;
}

// Every code the reader knows is in the page's table, and the table names no other one; what it
// calls passed over moves nothing and is said, what it calls refused is refused.
TEST(Codes, EachIsInTheTableAndDoesWhatItSays) {
  const std::set<int> listed = codes_in_table('G');
  int known = 0;
  for (int k = 0; k < 10000; ++k) {
    const Group group = group_of_g(k);
    if (group == Group::unknown) continue;
    ++known;
    EXPECT_TRUE(listed.contains(k)) << code_name('G', k);
    if (group != Group::refused && group != Group::passed_over) continue;
    const Reading r = read("G21 G90 F90\nG1 X5\n" + code_name('G', k) + "\nX6\nM30\n", reading({}));
    EXPECT_EQ(r.ok, group == Group::passed_over) << code_name('G', k);
    EXPECT_NE(r.of(r.ok ? "look-ahead-word" : "g-code-unknown"), nullptr) << code_name('G', k);
  }
  EXPECT_GT(known, 80);
  for (const char* absent : {"G7", "G14", "G34", "G72", "G113"})
    EXPECT_FALSE(listed.contains(static_cast<int>(std::lround(10 * std::stod(absent + 1)))))
        << absent;
  const std::set<int> of_m = codes_in_table('M');
  for (int k = 0; k < 1000; ++k) {
    if (group_of_m(k) == MGroup::unknown) continue;
    EXPECT_TRUE(of_m.contains(10 * k)) << 'M' << k;
    if (group_of_m(k) != MGroup::passed_over) continue;
    const Reading r = read(fmt::format("G21 G90 F90\nG1 X5\nM{}\nX6\nM30\n", k), reading({}));
    EXPECT_TRUE(r.ok) << r.said();
    EXPECT_EQ(r.moves().size(), 2u) << 'M' << k;
    EXPECT_NE(r.of("m-code-ignored"), nullptr) << 'M' << k;
  }
}

// Each test named on the page exists, each code and choice names one.
TEST(Codes, TheTestsTheDocsNameExist) {
  std::set<std::string> tests;
  const std::regex head("TEST(?:_F|_P)?\\(\\s*(\\w+),\\s*(\\w+)");
  const fs::path root = fs::path(PROVEOUT_FIXTURES) / "../tests/parser";
  for (const auto& entry : fs::recursive_directory_iterator(root)) {
    if (entry.path().extension() != ".cpp") continue;
    const std::string text = text_of(entry.path());
    for (std::sregex_iterator it(text.begin(), text.end(), head), end; it != end; ++it)
      tests.insert((*it)[1].str() + "." + (*it)[2].str());
  }
  ASSERT_GT(tests.size(), 50u);
  const std::regex name("\\b[A-Z]\\w+\\.[A-Z]\\w+");
  const auto names_one = [&](const std::string& cell) {
    bool any = false;
    for (std::sregex_iterator it(cell.begin(), cell.end(), name), end; it != end; ++it) {
      any = true;
      EXPECT_TRUE(tests.contains(it->str())) << it->str();
    }
    return any;
  };
  const auto words = rows_under("Words");
  EXPECT_GT(words.size(), 35u);
  for (const auto& row : words) {
    ASSERT_EQ(row.size(), 4u) << row[0];
    EXPECT_TRUE(names_one(row[3])) << row[0];
  }
  for (const auto& row : rows_under("Where controls differ")) {
    if (row[0].find('`') == std::string::npos) continue;
    EXPECT_TRUE(names_one(row.back())) << row[0];
  }
  names_one(language_page());
}

// Each choice of [machine.reads] has its rows, a word each with the code's own meaning, the default
// first; and there are no further ones but the list of codes.
TEST(Codes, EachChoiceAndEachOfItsWordsHasARow) {
  std::vector<std::vector<std::string>> rows = rows_under("Where controls differ");
  std::erase_if(rows, [](const auto& row) { return row.size() != 4 || row[0] == "---"; });
  std::size_t at = 1;  // behind the head
  for (const ReadChoice& choice : read_choices()) {
    for (std::size_t k = 0; k < choice.words.size() && !choice.words[k].empty(); ++k, ++at) {
      ASSERT_LT(at, rows.size()) << choice.key;
      const std::string key = k == 0 ? fmt::format(" `{}` ", choice.key) : "  ";
      EXPECT_EQ(rows[at][0], key);
      EXPECT_EQ(rows[at][1], fmt::format(" `{}`{} ", choice.words[k], k == 0 ? " (default)" : ""));
      EXPECT_EQ(rows[at][2], fmt::format(" {} ", choice.meaning[k]));
    }
  }
  ASSERT_LT(at, rows.size());
  EXPECT_EQ(rows[at][0], " `m_without_motion` ");
  EXPECT_TRUE(at + 1 == rows.size() || rows[at + 1][0].find('`') == std::string::npos)
      << rows[at + 1][0];
}

TEST(Codes, DocsListThemAll) {
  const std::string text = language_page();
  std::set<std::string_view> seen;
  for (const CodeEntry& e : code_table()) {
    EXPECT_TRUE(seen.insert(e.code).second) << e.code;
    const std::string level = e.severity == Severity::error     ? "error"
                              : e.severity == Severity::warning ? "warning"
                                                                : "note";
    const std::string row = "| `" + std::string(e.code) + "` | " + level + " | " +
                            std::string(e.section) + " | " + std::string(e.meaning) + " |";
    EXPECT_NE(text.find(row), std::string::npos) << "docs/language.md lacks: " << row;
  }
}

}  // namespace
}  // namespace proveout::nc
