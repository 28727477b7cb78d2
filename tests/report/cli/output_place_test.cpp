// A place that cannot be written to is told before anything is cut, with status 2.
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

TEST(OutputPlace, IsToldBeforeAnythingIsCut) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  const std::string program = folder.file("a.nc", small_program);
  const std::string here = folder.path().string();
  const std::string nowhere = here + "/no/such/x.json";
  const std::vector<std::pair<std::vector<std::string>, std::string>> cases = {
      {{"run", job, "-o", ""}, "names no folder"},
      {{"run", job, "-o", program}, "is a file, not a folder"},
      {{"run", job, "-o", program + "/below"}, "is a file, not a folder"},
      {{"run", job, "-o", "/dev/null"}, "is a file, not a folder"},
      {{"run", job, "--stages", program}, "is a file, not a folder"},
      {{"run", job, "--json", nowhere}, "there is no folder"},
      {{"run", job, "--json", here}, "is a folder"},
      {{"run", job, "--json", ""}, "names no file"},
      {{"quote", job, "--json", nowhere}, "there is no folder"},
      {{"retime", job, "--material", "brass", "--write-programs", program}, "not a folder"},
      {{"check", job, "--accept", "--baseline", nowhere}, "there is no folder"},
      {{"check", here, "-o", program}, "is a file, not a folder"},
      {{"gather", nowhere, "-o", program}, "is a file, not a folder"},
      {{"reach", job, "-o", program}, "is a file, not a folder"},
      {{"reach", job, "--json", nowhere}, "there is no folder"},
      {{"time", program, "--json", nowhere}, "there is no folder"},
      {{"compare", job, job, "--html", nowhere}, "there is no folder"},
      {{"calibrate", job, "--machine", job, "--out", nowhere}, "there is no folder"}};
  for (const auto& [words, message] : cases) {
    const CommandRun r = command(words);
    EXPECT_EQ(r.status, 2) << words[0] << " " << words.back() << "\n" << r.err;
    EXPECT_NE(r.err.find(message), std::string::npos) << words[0] << " " << words.back() << r.err;
    EXPECT_EQ(folder.names().size(), 2u) << words[0] << " " << words.back();
  }
}

TEST(OutputPlace, AFileInTheFolderThatIsMadeIsFine) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  const std::string out = (folder.path() / "new" / "out").string();
  for (const std::string& json : {out + "/mine.json", (folder.path() / "new/mine.json").string()}) {
    EXPECT_EQ(command({"run", job, "--no-html", "--quiet", "-o", out + "/", "--json", json}).status,
              0);
    EXPECT_TRUE(std::filesystem::exists(json));
    std::filesystem::remove_all(folder.path() / "new");
  }
}

TEST(OutputPlace, SharesOutOfRangeAreRefused) {
  const Folder folder;
  const std::string job = folder.file("job.toml", small_job);
  folder.file("a.nc", small_program);
  for (const char* option : {"--time-share", "--removed-share", "--load-share"}) {
    for (const char* value : {"-1", "nan", "inf", "11"}) {
      for (const std::string& what : {job, folder.path().string()}) {
        const CommandRun r =
            command({"check", what, "--accept", std::string(option) + "=" + value});
        EXPECT_EQ(r.status, 2) << option << value;
        EXPECT_NE(r.err.find("from 0 to 10"), std::string::npos) << r.err;
      }
    }
  }
}

}  // namespace
}  // namespace proveout::cli
