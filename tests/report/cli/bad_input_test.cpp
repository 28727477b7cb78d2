// Whatever is wrong with the input: one clear message with its place, exit status 2, no files left.
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

struct Case {
  const char* name;
  std::string job, program;
  const char* message;  // must stand in standard error
  const char* place;    // likewise
};

std::string replaced(std::string text, const std::string& a, const std::string& b) {
  const auto at = text.find(a);
  EXPECT_NE(at, std::string::npos) << a;
  return text.replace(at, a.size(), b);
}

std::vector<Case> cases() {
  const std::string job = small_job, program = small_program;
  return {
      {"program missing", replaced(job, "\"a.nc\"", "\"b.nc\""), program,
       "there is no such NC program", "b.nc"},
      {"program empty", job, "", "no blocks", "a.nc"},
      {"program binary", job, std::string("G1 X1\0\1\2", 8), "no text", "a.nc"},
      {"program is a folder", replaced(job, "\"a.nc\"", "\".\""), program, "folder", "error"},
      {"no M6", job, replaced(program, "T1 M6\n", ""), "before any tool change", "a.nc:5"},
      {"unknown tool", job, replaced(program, "T1 M6", "T7 M6"), "T7 is not in the job's tool list",
       "a.nc:5"},
      {"tool of no diameter", replaced(job, "diameter = 6", "diameter = 0"), program,
       "out of range", "job.toml:9:1"},
      {"negative diameter", replaced(job, "diameter = 6", "diameter = -6"), program, "out of range",
       "job.toml:9:1"},
      {"key misspelt", replaced(job, "diameter = 6", "diametre = 6"), program,
       "did you mean 'diameter'", "job.toml:9:1"},
      {"section misspelt", replaced(job, "[stock]", "[stok]"), program, "did you mean 'stock'",
       "job.toml"},
      {"word misspelt", replaced(job, "\"flat\"", "\"falt\""), program, "did you mean \"flat\"",
       "job.toml:8:1"},
      {"wrong type", replaced(job, "diameter = 6", "diameter = \"6\""), program, "must be a number",
       "job.toml:9"},
      {"not TOML", replaced(job, "[stock]", "[stock"), program, "error", "job.toml:4"},
      {"never moves", job, "G21 G90\nT1 M6\nM30\n", "moves the tool", "a.nc"},
      {"arc with no centre", job, replaced(program, "X35 F600", "G2 X35 F600"),
       "neither I, J nor R", "a.nc:7:1"},
      {"no feed", job, replaced(program, "G1 Z-1 F300\nX35 F600", "G1 Z-1"), "before any feed",
       "a.nc:6"},
      {"unknown G code", job, replaced(program, "G21 G90", "G21 G90 G77"), "G77 is not understood",
       "a.nc:2:9"},
      {"part mesh missing", job + "[part]\nmesh = \"part.stl\"\n", program, "no such part mesh",
       "part.stl"},
      {"mesh not closed", job + "[part]\nmesh = \"open.stl\"\n", program, "not closed", "open.stl"},
      {"material unknown",
       replaced(job, "size = [30, 20, 10]", "size = [30, 20, 10]\nmaterial = \"cheese\""), program,
       "no material 'cheese'", "job.toml"},
      {"two tools of one number", job + "[[tools]]\nnumber = 1\nshape = \"ball\"\ndiameter = 3\n",
       program, "two tools 1", "job.toml"},
      {"offset not placed", job, replaced(program, "G21 G90", "G21 G90 G55"),
       "G55 and the job does not place it", "a.nc:5"},
  };
}

TEST(BadInput, OneClearMessageAndNothingLeft) {
  for (const Case& c : cases()) {
    const Folder folder;
    const std::string job = folder.file("job.toml", c.job);
    folder.file("a.nc", c.program);
    folder.file("open.stl",
                "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 "
                "0\nendloop\nendfacet\nendsolid x\n");
    const CommandRun r = command({"run", job});
    EXPECT_EQ(r.status, 2) << c.name << "\n" << r.err;
    EXPECT_NE(r.err.find(c.message), std::string::npos) << c.name << "\n" << r.err;
    EXPECT_NE(r.err.find(c.place), std::string::npos) << c.name << "\n" << r.err;
    EXPECT_EQ(r.out, "") << c.name;
    EXPECT_EQ(folder.names().size(), 3u) << c.name;
  }
}

TEST(BadInput, JobFileItself) {
  const Folder folder;
  EXPECT_EQ(command({"run", (folder.path() / "none.toml").string()}).status, 2);
  EXPECT_EQ(command({"run", folder.path().string()}).status, 2);
  EXPECT_EQ(command({"run", folder.file("empty.toml", "")}).status, 2);
  EXPECT_EQ(command({"run", folder.file("binary.toml", std::string("\0\1", 2))}).status, 2);
}

TEST(BadInput, OptionsAndCommands) {
  EXPECT_EQ(command({}).status, 2);
  EXPECT_EQ(command({"rnu"}).status, 2);
  EXPECT_EQ(command({"run"}).status, 2);
  EXPECT_EQ(command({"run", "a", "--voxel", "-1"}).status, 2);
  EXPECT_EQ(command({"run", "a", "--fail-on", "maybe"}).status, 2);
  EXPECT_EQ(command({"run", "a", "--nonsense"}).status, 2);
  EXPECT_EQ(command({"compare", "one.json"}).status, 2);
  EXPECT_EQ(command({"--help"}).status, 0);
  EXPECT_EQ(command({"--version"}).out.rfind("proveout ", 0), 0u);
  for (const char* c : {"run", "time", "list", "compare", "check", "retime", "quote"}) {
    const CommandRun r = command({c, "--help"});
    EXPECT_EQ(r.status, 0) << c;
    EXPECT_NE(r.out.find("usage: proveout "), std::string::npos) << c;
  }
}

TEST(Run, LeavesTheFilesOfTheContract) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const CommandRun r = command({"run", job, "--full"});
  EXPECT_EQ(r.status, 0) << r.err << r.out;
  for (const char* name : {"result.json", "moves.csv", "junit.xml", "findings.sarif"}) {
    EXPECT_TRUE(std::filesystem::exists(folder.path() / "job-out" / name)) << name;
  }
  // 80 columns; nothing on it says the job is without danger.
  std::istringstream lines(r.out);
  for (std::string line; std::getline(lines, line);) {
    if (line.find("Written to") != std::string::npos) continue;
    std::size_t columns = 0;
    for (char c : line) columns += (static_cast<unsigned char>(c) & 0xC0) != 0x80 ? 1 : 0;
    EXPECT_LE(columns, 80u) << line;
  }
  EXPECT_EQ(r.out.find("safe"), std::string::npos);
  EXPECT_NE(r.out.find("Not checked"), std::string::npos);
  EXPECT_NE(r.out.find("Cautions"), std::string::npos);
}

TEST(Run, JsonOnStandardOutputAndNothingElse) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const CommandRun r = command({"run", job, "--json", "-"});
  EXPECT_EQ(r.status, 0);
  EXPECT_EQ(r.out.front(), '{');
  EXPECT_EQ(r.out, read(folder.path() / "job-out" / "result.json"));
}

TEST(Run, FailOnDecidesTheStatus) {
  const Folder folder;
  const std::string job = folder.file(
      "job.toml",
      replaced(small_job, "diameter = 6\n", "diameter = 6\nlimits = { axial_depth = 0.5 }\n"));
  folder.file("a.nc", small_program);
  EXPECT_EQ(command({"run", job}).status, 1);
  EXPECT_EQ(command({"run", job, "--fail-on", "none"}).status, 0);
}

TEST(Check, NamesThePlantedChange) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const std::string kept = (folder.path() / "kept.json").string();
  EXPECT_EQ(command({"check", job, "--baseline", kept, "--accept"}).status, 0);
  EXPECT_EQ(command({"check", job, "--baseline", kept}).status, 0);
  folder.file("a.nc", replaced(small_program, "G1 Z-1 F300", "G1 Z-1.5 F300"));
  const CommandRun r = command({"check", job, "--baseline", kept});
  EXPECT_EQ(r.status, 1);
  EXPECT_NE(r.out.find("removed"), std::string::npos) << r.out;
}

TEST(Write, AFileInPlaceOfTheOutputFolderIsStatus2) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  // A file stands where the folder should be made.
  folder.file("job-out", "in the way");
  EXPECT_EQ(command({"run", job}).status, 2);
  EXPECT_EQ(read(folder.path() / "job-out"), "in the way");
}

}  // namespace
}  // namespace proveout::cli
