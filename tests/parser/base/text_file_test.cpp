// Files that cannot be read, each refused with its reason; large ones mapped; and how a message is
// laid out.
#include "parser/base/text_file.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <fstream>

namespace proveout {
namespace {

namespace fs = std::filesystem;

class Files : public ::testing::Test {
 protected:
  Files() {
    std::string name = (fs::temp_directory_path() / "proveout-test-XXXXXX").string();
    folder = ::mkdtemp(name.data());
  }
  ~Files() override { fs::remove_all(folder); }
  // The one error both ways of reading give.
  std::string refused(const fs::path& path, std::uintmax_t most = 1000) {
    Diagnostics held, mapped;
    EXPECT_FALSE(read_text_file(path, "thing", held, most));
    EXPECT_FALSE(open_text_file(path, "thing", mapped, most));
    EXPECT_EQ(held.all().size(), 1u);
    EXPECT_EQ(mapped.all().size(), 1u);
    if (held.all().empty() || mapped.all().empty()) return {};
    EXPECT_EQ(held.all()[0].code, mapped.all()[0].code);
    EXPECT_EQ(held.all()[0].place.file, path.string());
    EXPECT_EQ(held.all()[0].place.line, 0u);
    EXPECT_NE(held.all()[0].what.find("thing"), std::string::npos) << held.all()[0].what;
    return held.all()[0].code;
  }
  fs::path folder;
};

TEST_F(Files, WhatIsNoReadableFileIsRefusedByItsReason) {
  EXPECT_EQ(refused(folder / "none.nc"), "file-missing");
  EXPECT_EQ(refused(folder / "none" / "deeper.nc"), "file-missing");
  EXPECT_EQ(refused(folder), "file-is-directory");
  // A pipe nobody writes to would be waited for without end.
  const fs::path pipe = folder / "pipe.nc";
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  EXPECT_EQ(refused(pipe), "file-unreadable");
  // The system reads a name up to its zero byte: a file of that shorter name must not be opened.
  std::ofstream(folder / "a") << "G0";
  EXPECT_EQ(refused(fs::path((folder / "a").string() + std::string("\0.nc", 4))), "file-missing");
  // A link to itself.
  fs::create_symlink(folder / "loop.nc", folder / "loop.nc");
  EXPECT_EQ(refused(folder / "loop.nc"), "file-unreadable");
}

TEST_F(Files, TheLimitIsTheLastSizeThatIsRead) {
  const fs::path path = folder / "ten";
  std::ofstream(path) << "0123456789";
  EXPECT_EQ(refused(path, 9), "file-too-large");
  Diagnostics diagnostics;
  EXPECT_EQ(read_text_file(path, "thing", diagnostics, 10), "0123456789");
  const auto open = open_text_file(path, "thing", diagnostics, 10);
  ASSERT_TRUE(open);
  EXPECT_EQ(open->bytes(), "0123456789");
  EXPECT_TRUE(diagnostics.all().empty());
}

TEST_F(Files, AMappedFileHasTheSameBytes) {
  // One byte more than is held; a hole in it reads as zeros and takes no room on the disk.
  const fs::path path = folder / "large";
  std::ofstream(path) << "first";
  fs::resize_file(path, TextFile::mapped_from - 3);
  std::ofstream(path, std::ios::app) << "last";
  Diagnostics diagnostics;
  const auto file = open_text_file(path, "thing", diagnostics);
  ASSERT_TRUE(file);
  const std::string_view bytes = file->bytes();
  ASSERT_EQ(bytes.size(), TextFile::mapped_from + 1);
  EXPECT_EQ(bytes.substr(0, 5), "first");
  EXPECT_EQ(bytes.substr(bytes.size() - 4), "last");
  EXPECT_EQ(bytes.substr(5, 1000), std::string(1000, '\0'));
}

TEST_F(Files, AnEmptyFileIsReadAsEmpty) {
  std::ofstream(folder / "empty").flush();
  Diagnostics diagnostics;
  const auto file = open_text_file(folder / "empty", "thing", diagnostics);
  ASSERT_TRUE(file);
  EXPECT_TRUE(file->bytes().empty());
}

TEST(Messages, AreLaidOutWithTheirPlace) {
  Diagnostic d;
  d.severity = Severity::warning;
  d.code = "some-code";
  d.place = {"a.nc", 12, 4, 2};
  d.what = "it is so";
  d.why = "a rule";
  d.remedy = "do that";
  d.excerpt = "G1 X5";
  EXPECT_EQ(to_text(d),
            "a.nc:12:4: warning: it is so [some-code]\n    G1 X5\n       ^^\n  why: a rule\n"
            "  do:  do that\n");
}

TEST(Messages, AreCountedBeyondWhatIsKept) {
  Diagnostics d(2);
  d.error("a", {}, "first");
  d.warning("b", {}, "second");
  d.error("c", {}, "third");
  d.note("d", {}, "fourth");
  EXPECT_EQ(d.errors(), 2u);
  EXPECT_EQ(d.dropped(), 2u);
  ASSERT_EQ(d.all().size(), 2u);
  EXPECT_EQ(to_text(d.all()[0]), "error: first [a]\n");
  // An error takes the place of what is less grave.
  EXPECT_EQ(to_text(d.all()[1]), "error: third [c]\n");
  Diagnostics notes;
  notes.note("d", {"f", 0, 0, 0}, "fourth", "rest");
  EXPECT_FALSE(notes.has_errors());
  EXPECT_EQ(to_text(notes.all()[0]), "f: note: fourth [d]\n  do:  rest\n");
}

}  // namespace
}  // namespace proveout
