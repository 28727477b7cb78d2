// The corpus of fixtures/bad: each case ends within its time with a documented exit status and,
// where the input cannot be used, a message with its place and nothing written.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "tests/report/bad_input/child_process.h"

namespace proveout::child {
namespace {

namespace fs = std::filesystem;

const fs::path corpus = fs::path(PROVEOUT_FIXTURES) / "bad";

struct Case {
  std::string kind, file, what, where;
  std::set<int> statuses;
};

std::vector<std::string> split(const std::string& line, char by) {
  std::vector<std::string> parts;
  std::istringstream in(line);
  for (std::string part; std::getline(in, part, by);) parts.push_back(part);
  return parts;
}

std::vector<Case> cases_of(const std::string& kind) {
  std::vector<Case> cases;
  for (const char* table : {"cases.tsv", "hand/cases.tsv"}) {
    std::ifstream in(corpus / table);
    EXPECT_TRUE(in) << table;
    for (std::string line; std::getline(in, line);) {
      const auto parts = split(line, '\t');
      if (parts.size() != 5) {
        ADD_FAILURE() << table << ": " << line;
        continue;
      }
      if (parts[0] != kind) continue;
      Case c{parts[0], parts[1], parts[3], parts[4], {}};
      for (const auto& s : split(parts[2], ',')) c.statuses.insert(std::stoi(s));
      cases.push_back(std::move(c));
    }
  }
  return cases;
}

// What holds of every run, whatever the input.
void check(const Case& c, const Ended& r, const Folder& folder, const std::set<std::string>& before,
           const std::string& note) {
  const std::string said = c.file + " " + note + "\n" + r.err.substr(0, 2000);
  EXPECT_FALSE(r.timed_out) << "more than " << time_cap << " s: " << said;
  if (r.timed_out) return;
  EXPECT_EQ(r.signal, 0) << said;
  EXPECT_TRUE(c.statuses.contains(r.status)) << "status " << r.status << ": " << said;
  EXPECT_EQ(r.err.find("unexpected failure"), std::string::npos) << said;
  if (!sanitized) {
    EXPECT_LT(r.peak_kib, memory_cap_kib) << said;
  }
  // Control characters of the input never reach the terminal.
  EXPECT_EQ(r.err.find('\x1b'), std::string::npos) << c.file;
  EXPECT_EQ(r.out.find('\x1b'), std::string::npos) << c.file;
  if (c.what != "-" && c.statuses == std::set<int>{2}) {
    EXPECT_NE(r.err.find(c.what), std::string::npos) << c.what << " in " << said;
  }
  if (c.where != "-") {
    EXPECT_NE(r.err.find(c.where), std::string::npos) << c.where << " in " << said;
  }
  std::set<std::string> after = folder.all_names();
  if (r.status == 2) {
    EXPECT_NE(r.err.find("error"), std::string::npos) << said;
    EXPECT_EQ(after, before) << said;
    return;
  }
  for (const std::string& name : after) {
    EXPECT_TRUE(before.contains(name) || name == "out" || name.starts_with("out/")) << name << said;
    EXPECT_EQ(name.find(".part-"), std::string::npos) << said;
  }
}

// Kinds of the findings above a note in the result that was written, as answers.tsv has them.
std::string kinds_found(const Folder& folder) {
  std::ifstream in(folder.path() / "out/result.json");
  const auto result = nlohmann::json::parse(in, nullptr, false);
  EXPECT_TRUE(result.is_object());
  if (!result.is_object()) return {};
  std::set<std::string> kinds;
  for (const auto& f : result.at("findings")) {
    if (f.at("level") == "note") continue;
    kinds.insert(f.at("kind").get<std::string>() + "(" + f.at("level").get<std::string>() + ")");
  }
  std::string words;
  for (const std::string& k : kinds) words += (words.empty() ? "" : " ") + k;
  return words.empty() ? "-" : words;
}

// A run of a row with an answer of its own: what it must say where it does not end in an error.
void check_run(const Case& c, const Ended& r, const Folder& folder,
               const std::set<std::string>& before, const std::string& note) {
  ASSERT_EQ(c.statuses.size(), 1u) << c.file << " has no answer: fixtures/bad/ask.py";
  EXPECT_TRUE(c.statuses != std::set<int>{2} ||
              (c.what != "-" && c.what != "error" && c.where != "-"))
      << c.file << " has no answer: fixtures/bad/ask.py";
  check(c, r, folder, before, note);
  if (r.status < 2) {
    EXPECT_EQ(kinds_found(folder), c.what) << c.file;
  }
}

const std::vector<std::string> quick = {"--no-html", "--quiet", "-o", "out"};

Ended run_in(const Folder& folder, std::vector<std::string> words, bool with_output = true) {
  if (with_output) words.insert(words.end(), quick.begin(), quick.end());
  Limits limits;
  limits.folder = folder.path();
  return run(words, limits);
}

void run_programs(std::size_t part, std::size_t parts) {
  const auto cases = cases_of("nc");
  ASSERT_GT(cases.size(), 100u);
  for (std::size_t i = part; i < cases.size(); i += parts) {
    const Case& c = cases[i];
    const Folder folder;
    const std::string name = fs::path(c.file).filename();
    fs::copy_file(corpus / c.file, folder.path() / name);
    std::string job = small_job;
    job.replace(job.find("a.nc"), 4, name);
    folder.file("job.toml", job);
    const auto before = folder.all_names();
    check_run(c, run_in(folder, {"run", "job.toml"}), folder, before, "run");
    // Without a job some words mean less, so only the general promises hold.
    const Case free{c.kind, c.file, "-", "-", {0, 1, 2}};
    const Folder alone;
    fs::copy_file(corpus / c.file, alone.path() / name);
    check(free, run_in(alone, {"list", name}, false), alone, alone.all_names(), "list");
    check(free, run_in(alone, {"time", name}, false), alone, alone.all_names(), "time");
  }
}

TEST(BadCorpus, ProgramsFirstThird) { run_programs(0, 3); }
TEST(BadCorpus, ProgramsSecondThird) { run_programs(1, 3); }
TEST(BadCorpus, ProgramsLastThird) { run_programs(2, 3); }

TEST(BadCorpus, Jobs) {
  const auto cases = cases_of("job");
  ASSERT_GT(cases.size(), 100u);
  for (const Case& c : cases) {
    const Folder folder;
    const std::string name = fs::path(c.file).filename();
    fs::copy_file(corpus / c.file, folder.path() / name);
    folder.file("a.nc", small_program);
    fs::copy_file(corpus / "mesh/good.stl", folder.path() / "cube.stl");
    const auto before = folder.all_names();
    check_run(c, run_in(folder, {"run", name}), folder, before, "run");
    EXPECT_FALSE(fs::exists(folder.path() / "gone")) << c.file;
  }
}

TEST(BadCorpus, Meshes) {
  const auto cases = cases_of("mesh");
  ASSERT_GT(cases.size(), 50u);
  for (const Case& c : cases) {
    for (const bool blank : {false, true}) {
      const Folder folder;
      const std::string name = fs::path(c.file).filename();
      fs::copy_file(corpus / c.file, folder.path() / name);
      folder.file("a.nc", small_program);
      std::string job = small_job;
      if (blank)
        job.replace(job.find("size = [30, 20, 10]"), 19, "mesh = \"" + name + "\"");
      else
        job += "[part]\nmesh = \"" + name + "\"\n";
      folder.file("job.toml", job);
      const auto before = folder.all_names();
      Case expected = c;
      // As a blank a mesh of any size may give too fine or too coarse a grid, and says so.
      if (blank && c.statuses != std::set<int>{2}) expected = {c.kind, c.file, "-", "-", {0, 1, 2}};
      const Ended r = run_in(folder, {"run", "job.toml"});
      if (blank)
        check(expected, r, folder, before, "blank");
      else
        check_run(expected, r, folder, before, "part");
    }
  }
}

TEST(BadCorpus, Results) {
  const auto cases = cases_of("result");
  ASSERT_GT(cases.size(), 30u);
  const Folder made;
  made.file("a.nc", small_program);
  made.file("job.toml", small_job);
  ASSERT_EQ(run_in(made, {"run", "job.toml"}).status, 0);
  for (const Case& c : cases) {
    const Folder folder;
    const std::string name = fs::path(c.file).filename();
    fs::copy_file(corpus / c.file, folder.path() / name);
    fs::copy_file(made.path() / "out/result.json", folder.path() / "good.json");
    const auto before = folder.all_names();
    check(c, run_in(folder, {"compare", "good.json", name}, false), folder, before, "compare");
    folder.file("a.nc", small_program);
    folder.file("job.toml", small_job);
    const auto all = folder.all_names();
    check(c, run_in(folder, {"check", "job.toml", "--baseline", name}), folder, all, "baseline");
  }
}

// Too big to keep: made here.
TEST(BadCorpus, BigMeshIsRefused) {
  const Folder folder;
  folder.file("a.nc", small_program);
  folder.file("job.toml", std::string(small_job) + "[part]\nmesh = \"big.stl\"\n");
  {  // 10^7 triangles in binary STL
    std::ofstream out(folder.path() / "big.stl", std::ios::binary);
    const std::uint32_t count = 10'000'000;
    out << std::string(80, ' ');
    out.write(reinterpret_cast<const char*>(&count), 4);
    std::string block;
    for (std::uint32_t i = 0; i < count; ++i) {
      const std::uint32_t row = i / 5000;
      const float t[12] = {
          0, 0, 0, 0, 0, 0, float(i % 5000), float(row), 1, float(i % 5000 + 1), float(row), 1};
      block.append(reinterpret_cast<const char*>(t), sizeof t).append(2, '\0');
      if (block.size() > 1 << 20) {
        out << block;
        block.clear();
      }
    }
    out << block;
  }
  const auto before = folder.all_names();
  const Ended r = run_in(folder, {"run", "job.toml"});
  check({"mesh", "ten million triangles", "has 10000000 triangles", "big.stl", {2}}, r, folder,
        before, "part");
}

TEST(BadCorpus, LongProgramOfHugeCoordinates) {
  const Folder folder;
  std::string text = "G21 G90\nT1 M6\nS12000 M3\nG0 X0 Y0 Z5\nG1 Z-1 F300\n";
  for (int i = 0; i < 200000; ++i) text += i % 2 ? "X999999999 Y-999999999\n" : "X-1000000000 Y5\n";
  folder.file("a.nc", text + "M30\n");
  folder.file("job.toml", small_job);
  const auto before = folder.all_names();
  const Ended r = run_in(folder, {"run", "job.toml"});
  check({"nc", "huge coordinates", "-", "-", {0, 1, 2}}, r, folder, before, "run");
}

TEST(BadCorpus, ManyShortMotions) {
  const Folder folder;
  std::string text = "G21 G90\nT1 M6\nS12000 M3\nG0 X0 Y0 Z5\nG1 Z-1 F300\n";
  for (int i = 0; i < 500000; ++i) text += "X" + std::to_string(i % 30) + "\n";
  folder.file("a.nc", text + "M30\n");
  folder.file("job.toml", small_job);
  const auto before = folder.all_names();
  Limits limits;
  limits.folder = folder.path();
  const Ended r =
      run({"run", "job.toml", "--no-html", "--quiet", "-o", "out"}, limits, {}, 12 * time_cap);
  check({"nc", "many motions", "-", "-", {0, 1}}, r, folder, before, "run");
}

}  // namespace
}  // namespace proveout::child
