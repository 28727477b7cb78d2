// What DEVELOPERS.md and docs/architecture.md say of the house, held against the files themselves.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <vector>

namespace proveout {
namespace {

namespace fs = std::filesystem;

const fs::path source = PROVEOUT_SOURCE;

std::string text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// What git does not keep, by .gitignore, and what it and editors keep for themselves.
bool is_left_out(const std::string& name) {
  return (name.starts_with(".") && name != ".ci") || name == "node_modules" ||
         name.ends_with("-out") || name == "__pycache__";
}

// Files of the tree by folder, paths from the root.
std::map<fs::path, std::vector<fs::path>> house() {
  std::map<fs::path, std::vector<fs::path>> folders;
  for (auto i = fs::recursive_directory_iterator(source); i != fs::recursive_directory_iterator();
       ++i) {
    const std::string name = i->path().filename().string();
    const bool built = i.depth() == 0 && name.starts_with("build");
    if (i->is_directory() && (built || is_left_out(name))) {
      i.disable_recursion_pending();
    } else if (i->is_regular_file() && i.depth() > 0) {
      const fs::path file = i->path().lexically_relative(source);
      folders[file.parent_path()].push_back(file);
    }
  }
  return folders;
}

// .ci/fuzz.sh gives these whole to a fuzzer: a README in them would be input. The one above them
// says what they hold.
const std::set<fs::path> given_to_fuzzers = {
    "fixtures/bad/job",    "fixtures/bad/mesh",   "fixtures/bad/nc",
    "fixtures/bad/result", "fixtures/corpus/job", "fixtures/corpus/nc",
};

TEST(House, EveryFolderSaysWhatItIsFor) {
  const auto folders = house();
  ASSERT_GT(folders.size(), 50u);
  for (const auto& [folder, files] : folders) {
    const bool has = fs::exists(source / folder / "README.md");
    EXPECT_EQ(has, !given_to_fuzzers.contains(folder)) << folder;
    const fs::path readme = has ? folder / "README.md" : folder.parent_path() / "README.md";
    const std::string text = text_of(source / readme);
    if (has) {
      EXPECT_GE(std::count(text.begin(), text.end(), '\n'), 3) << readme;
    } else {
      EXPECT_NE(text.find(folder.filename().string() + " "), std::string::npos)
          << readme << " does not say what " << folder << " holds";
    }
  }
}

TEST(House, NoFileIsOverSixHundredLines) {
  const std::set<std::string> written = {".cpp", ".h",  ".ts", ".mjs",
                                         ".py",  ".sh", ".md", ".cmake"};
  int seen = 0;
  for (const auto& [folder, files] : house()) {
    for (const fs::path& file : files) {
      if (!written.contains(file.extension().string())) continue;
      const std::string text = text_of(source / file);
      EXPECT_LT(std::count(text.begin(), text.end(), '\n'), 600) << file;
      ++seen;
    }
  }
  EXPECT_GT(seen, 300);
}

TEST(House, LinksOfItsPagesLeadToFiles) {
  const std::regex link(R"(\]\(([^)# ]+)[^)]*\))");
  int seen = 0;
  std::vector<fs::path> pages = {"README.md", "DEVELOPERS.md"};
  for (const auto& [folder, files] : house())
    for (const fs::path& file : files)
      if (file.extension() == ".md") pages.push_back(file);
  for (const fs::path& page : pages) {
    const std::string text = text_of(source / page);
    for (std::sregex_iterator i(text.begin(), text.end(), link), end; i != end; ++i) {
      const std::string target = (*i)[1];
      EXPECT_EQ(target.find(':'), std::string::npos) << page << " leads out: " << target;
      EXPECT_TRUE(fs::exists(source / page.parent_path() / target)) << page << ": " << target;
      ++seen;
    }
  }
  EXPECT_GE(seen, 15);
}

// A file of a folder named in a page as docs/... or tests/... is there, as itself or as a source.
TEST(House, PathsNamedInItsPagesExist) {
  const std::regex path(R"((^|[\s`(,])((docs|parser|sim|report|fixtures|tests|\.ci)/[\w./-]+))");
  const fs::path page_folders[] = {"", "docs"};
  int seen = 0;
  for (const fs::path& folder : page_folders) {
    for (const auto& entry : fs::directory_iterator(source / folder)) {
      if (entry.path().extension() != ".md") continue;
      const std::string text = text_of(entry.path());
      for (std::sregex_iterator i(text.begin(), text.end(), path), end; i != end; ++i) {
        std::string named = (*i)[2];
        while (named.ends_with('.') || named.ends_with('/')) named.pop_back();
        bool there = false;
        for (const char* ending : {"", ".h", ".cpp", ".md"})
          there = there || fs::exists(source / (named + ending));
        EXPECT_TRUE(there) << entry.path().filename() << " names " << named;
        ++seen;
      }
    }
  }
  EXPECT_GE(seen, 100);
}

std::string without_comments(const std::string& text) {
  static const std::regex comment("//[^\n]*");
  return std::regex_replace(text, comment, "");
}

// report/cli is where the program speaks; report/web/engine stands in for some of it.
TEST(House, NothingBelowTheCommandsPrintsOrExits) {
  const std::regex speaks(
      R"(\b(stdout|stderr|cout|cerr|clog)\b|fmt::print\b|std::(terminate|quick_exit)\b)"
      R"(|(^|::|[\s(;!])(puts|fputs|printf|putchar|perror|exit|_exit|abort)\()");
  int seen = 0;
  for (const auto& [folder, files] : house()) {
    const std::string room = folder.generic_string();
    if (!std::regex_search(room, std::regex("^(parser|sim|report)/")) || room == "report/cli" ||
        room == "report/web/engine")
      continue;
    for (const fs::path& file : files) {
      if (file.extension() != ".cpp" && file.extension() != ".h") continue;
      // A broken invariant ends the program where it is found, in builds that look for them.
      if (file == fs::path("parser/base/assert.cpp")) continue;
      const std::string text = without_comments(text_of(source / file));
      std::smatch found;
      EXPECT_FALSE(std::regex_search(text, found, speaks)) << file << " has " << found.str();
      ++seen;
    }
  }
  EXPECT_GT(seen, 150);
}

// A run reads its inputs once, before it cuts; what is made of its result opens none of them again.
// Outside report/cli, which is given names of files, only these read a file: kept results, what the
// system says of free memory, and what a job is proposed from, before there is one to run.
TEST(House, NothingAfterReadingOpensAnInput) {
  const std::regex opens(
      R"(\b(ifstream|fopen|file_mapping|mmap|(read|open)_text_file|read_(mesh|program|job|machine))\b)"
      R"(|\binterpret_file\b|::open\()");
  const std::set<std::string> may = {"report/compare/compare.cpp", "sim/pipeline/forecast.cpp",
                                     "report/files/atomic_file.cpp", "sim/propose/propose.cpp"};
  int seen = 0, open = 0;
  for (const auto& [folder, files] : house()) {
    const std::string room = folder.generic_string();
    if (!std::regex_search(room, std::regex("^(sim|report)/")) || room == "report/cli") continue;
    for (const fs::path& file : files) {
      if (file.extension() != ".cpp" && file.extension() != ".h") continue;
      const std::string text = without_comments(text_of(source / file));
      std::smatch found;
      const bool opened = std::regex_search(text, found, opens);
      EXPECT_TRUE(!opened || may.contains(file.generic_string())) << file << " has " << found.str();
      open += opened ? 1 : 0;
      ++seen;
    }
  }
  EXPECT_GT(seen, 130);
  EXPECT_EQ(open, static_cast<int>(may.size())) << "the expression finds what there is";
}

TEST(House, LowerLayersDoNotKnowTheUpper) {
  const std::map<std::string, std::regex> upper = {
      {"parser", std::regex("#include \"(sim|report)/")},
      {"sim", std::regex("#include \"report/")},
  };
  int seen = 0;
  for (const auto& [folder, files] : house()) {
    const auto rule = upper.find(folder.begin()->string());
    if (rule == upper.end()) continue;
    for (const fs::path& file : files) {
      EXPECT_FALSE(std::regex_search(text_of(source / file), rule->second)) << file;
      ++seen;
    }
  }
  EXPECT_GT(seen, 100);
}

}  // namespace
}  // namespace proveout
