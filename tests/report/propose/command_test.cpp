// The commands, on the bracket of tests/report/causes: what is written, what is printed, what is
// refused.
#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {
namespace {

using Json = nlohmann::ordered_json;
using cli::command;
using cli::Folder;
using cli::read;

// The bracket's programs and mesh in a folder of their own.
struct Bracket {
  Folder folder;
  std::string front, back, part;
  Bracket() {
    const Files good = bracket::good();
    front = folder.file("front.nc", good.files.at("front.nc"));
    back = folder.file("back.nc", good.files.at("back.nc"));
    part = folder.file("part.stl", good.files.at("part.stl"));
  }
  std::string path(const char* name) const { return (folder.path() / name).string(); }
};

constexpr double voxel = 1;  // mm

void nothing_cut_wrongly(const std::filesystem::path& out) {
  const Json r = Json::parse(read(out / "result.json"));
  for (const Json& f : r["findings"]) EXPECT_NE(f["level"], "error") << f.dump();
  // Walls and floors are told to a twentieth of a voxel (docs/accuracy.md).
  EXPECT_LT(r["part"]["worst_gouge"], 0.05 * voxel);
  EXPECT_LT(r["part"]["worst_excess"], 0.05 * voxel);
  EXPECT_TRUE(r["causes"].empty());
  const auto& unlooked = r["not_checked"];
  EXPECT_TRUE(std::any_of(unlooked.begin(), unlooked.end(), [](const Json& n) {
    return n["what"] == "holder-contact";
  })) << "a stick-out nobody gave is taken for checked";
}

TEST(ProposeCommand, WritesAJobThatRuns) {
  const Bracket b;
  const auto made = command({"propose", b.front, b.back, "--part", b.part, "--blank", "74x54x22",
                             "--material", "6061-T6", "-o", b.path("job.toml")});
  EXPECT_EQ(made.status, 0) << made.err;
  EXPECT_NE(made.out.find("Not known, and marked with #? in it:"), std::string::npos) << made.out;
  EXPECT_NE(made.out.find("Hold zeros, turns and tools against the bench"), std::string::npos);
  const std::string job = read(b.path("job.toml"));
  EXPECT_NE(job.find("#? holder-contact"), std::string::npos) << job;
  const auto ran = command(
      {"run", b.path("job.toml"), "--voxel", "1", "--no-html", "--quiet", "-o", b.path("out")});
  EXPECT_EQ(ran.status, 0) << ran.err << job;
  nothing_cut_wrongly(b.path("out"));
}

TEST(ProposeCommand, RunTakesProgramsInOneStep) {
  const Bracket b;
  const auto ran =
      command({"run", b.front, b.back, "--part", b.part, "--blank", "74x54x22", "--material",
               "6061-T6", "--voxel", "1", "--no-html", "-o", b.path("out")});
  EXPECT_EQ(ran.status, 0) << ran.err << ran.out;
  EXPECT_TRUE(std::filesystem::exists(b.path("out") + "/proposed.toml"));
  nothing_cut_wrongly(b.path("out"));
}

TEST(ProposeCommand, WhatIsThereIsNotWrittenOver) {
  const Bracket b;
  const std::string mine = b.folder.file("mine.toml", "# worked on\n");
  const auto made = command({"propose", b.front, "--blank", "74x54x22", "-o", mine});
  EXPECT_EQ(made.status, 2);
  EXPECT_NE(made.err.find("is there already"), std::string::npos) << made.err;
  EXPECT_EQ(read(mine), "# worked on\n");
}

TEST(ProposeCommand, WithoutWhatItCannotKnowRunSaysWhich) {
  const Bracket b;
  std::string plain = read(b.front);
  for (std::size_t at = plain.find('('); at != std::string::npos; at = plain.find('('))
    plain.erase(at, plain.find(')', at) - at + 1);
  const std::string bare = b.folder.file("bare.nc", plain);
  const auto ran = command({"run", bare, "--blank", "74x54x22", "-o", b.path("out")});
  EXPECT_EQ(ran.status, 2) << ran.out;
  EXPECT_NE(ran.err.find("T1"), std::string::npos) << ran.err;
  EXPECT_FALSE(std::filesystem::exists(b.path("out") + "/result.json"));
}

TEST(ProposeCommand, ToStandardOutputComesTheJobAlone) {
  const Bracket b;
  const auto made = command({"propose", b.front, b.back, "--part", b.part, "--blank", "74x54x22",
                             "--material", "6061-T6", "-o", "-"});
  EXPECT_EQ(made.status, 0) << made.err;
  const std::string again = b.folder.file("piped.toml", made.out);
  const auto ran =
      command({"run", again, "--voxel", "1", "--no-html", "--quiet", "-o", b.path("out")});
  EXPECT_NE(ran.status, 2) << ran.err << made.out;
}

TEST(ProposeCommand, MistakesInOptionsAreSaid) {
  const Bracket b;
  struct Case {
    std::vector<std::string> words;
    const char* says;
  };
  for (const Case& c :
       {Case{{"propose", b.front, "--blank", "74x54"}, "three sizes"},
        Case{{"propose", b.front, "--part", ""}, "names no file"},
        Case{{"propose", b.path("none.nc")}, "none.nc"},
        Case{{"propose", "job.toml"}, "a job file is run by 'proveout run job.toml'"},
        Case{{"run", b.front}, "this is an NC program, where a job file is wanted"},
        Case{{"run", b.front}, "front.nc' writes one"},
        Case{{"propose", b.front, "--part", b.path("none.stl"), "-o", b.path("x.toml")},
             "none.stl"}}) {
    const auto made = command(c.words);
    EXPECT_EQ(made.status, 2) << c.says;
    EXPECT_NE(made.err.find(c.says), std::string::npos) << made.err;
    EXPECT_FALSE(std::filesystem::exists(b.path("x.toml")));
  }
}

}  // namespace
}  // namespace proveout::planted
