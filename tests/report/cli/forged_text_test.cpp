// Names of files and words of the command line steer no terminal, forge no message, and leave every
// file what its standard says: XML 1.0 section 2.2 (Char), RFC 3629 (UTF-8).
#include <cmath>

#include "report/text/words.h"
#include "tests/report/cli/command_run.h"

namespace proveout::cli {
namespace {

TEST(ForgedText, PrintableHasNoControlCharacterAndIsUtf8) {
  EXPECT_EQ(text::printable("a\x1b[31m\n\x7f z"), "a?[31m?? z");
  EXPECT_EQ(text::printable("\xc2\x9b"), "?");     // C1, a control sequence of its own
  EXPECT_EQ(text::printable("\x9b|\xff"), "?|?");  // no UTF-8
  // UAX 9: right-to-left override, and an isolate; Hebrew itself stays.
  EXPECT_EQ(text::printable("\xe2\x80\xae|\xe2\x81\xa6|\xd7\x90"), "?|?|\xd7\x90");
  EXPECT_EQ(text::printable("\xc3\xa4\xe2\x82\xac\xf0\x9f\x94\xa7"),
            "\xc3\xa4\xe2\x82\xac\xf0\x9f\x94\xa7");
  EXPECT_EQ(text::printable("\xc0\xaf\xed\xa0\x80\xf4\x90\x80\x80\xe2\x82"),
            std::string(2 + 3 + 4 + 2, '?'));  // long form, surrogate, above 10FFFF, cut short
}

TEST(ForgedText, XmlTextHasCharOnly) {
  EXPECT_EQ(text::xml_text("a\t\n\r\x01\xef\xbf\xbe\xef\xbf\xbf\xef\xbf\xbd\x80"),
            "a\t\n\r???\xef\xbf\xbd?");
}

TEST(ForgedText, LongestTimesFitWholeNumbers) {
  EXPECT_EQ(text::duration(1e300), text::duration(1e200));
  EXPECT_EQ(text::duration(1e300).find('-'), std::string::npos);
  EXPECT_EQ(text::duration(std::nan("")), "0 s");
}

TEST(ForgedText, CommandsAndFileNamesStayOnTheirLine) {
  const CommandRun word = command({"ru\x1b[31mn"});
  EXPECT_EQ(word.status, 2);
  EXPECT_EQ(word.err.find('\x1b'), std::string::npos) << word.err;
  const Folder folder;
  const std::string name = "x\nerror: forged [forged]\x1b[31m.toml";
  for (const std::string& text : {std::string("[stock"), std::string(small_job)}) {
    const CommandRun r = command({"run", folder.file(name, text)});
    EXPECT_EQ(r.status, 2);
    EXPECT_EQ(r.err.find('\x1b'), std::string::npos) << r.err;
    EXPECT_EQ(r.err.find("\nerror: forged"), std::string::npos) << r.err;
  }
}

// Wherever the summary has a job's own words: name, tool, setup, what was not checked and assumed.
TEST(ForgedText, AJobsNamesSteerNoTerminal) {
  const Folder folder;
  std::string text = small_job;
  text.replace(text.find("\"small\""), 7, "\"n\\u001b[31m\"");
  text.replace(text.find("\"A\""), 3, "\"A\\u001b[31m\\u202e\"");
  const std::string job = folder.file("job.toml", text);
  folder.file("a.nc", small_program);
  const CommandRun r = command({"run", job, "--no-html", "--full"});
  ASSERT_EQ(r.status, 0) << r.err;
  EXPECT_NE(r.out.find("Not checked"), std::string::npos) << r.out;
  EXPECT_NE(r.out.find("A?[31m?)"), std::string::npos) << r.out;
  for (const std::string& said : {r.out, r.err}) {
    EXPECT_EQ(said.find('\x1b'), std::string::npos) << said;
    EXPECT_EQ(said.find("\xe2\x80\xae"), std::string::npos) << said;
  }
}

TEST(ForgedText, ASetupOfNoXmlCharacterLeavesXmlWellFormed) {
  const Folder folder;
  std::string text = small_job;
  text.replace(text.find("\"A\""), 3, "\"A\\uFFFE\"");
  const std::string job = folder.file("job.toml", text);
  folder.file("a.nc", small_program);
  ASSERT_EQ(command({"run", job, "--no-html", "--quiet", "--section", "-0.5"}).status, 0);
  int files = 0;
  for (const auto& e : std::filesystem::directory_iterator(folder.path() / "job-out")) {
    if (e.path().extension() != ".xml" && e.path().extension() != ".svg") continue;
    ++files;
    EXPECT_EQ(read(e.path()).find("\xef\xbf\xbe"), std::string::npos) << e.path();
  }
  EXPECT_EQ(files, 2);
}

TEST(ForgedText, AJobsNameNeedNotBeUtf8) {
  const Folder folder;
  const std::string job = folder.file("\xff.toml", small_job);
  folder.file("a.nc", small_program);
  const std::string kept = (folder.path() / "kept.json").string();
  EXPECT_EQ(command({"check", job, "--accept", "--baseline", kept, "--no-html"}).status, 0);
  EXPECT_EQ(command({"check", job, "--baseline", kept}).status, 0);
  EXPECT_EQ(command({"retime", job, "--material", "brass"}).status, 0);
}

}  // namespace
}  // namespace proveout::cli
