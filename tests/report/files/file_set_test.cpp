// Files that get their names together. Common practice, no source.
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <stdexcept>

#include "report/files/atomic_file.h"

namespace proveout::files {
namespace {

namespace fs = std::filesystem;

class FileSets : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "proveout-set-XXXXXX").string();
    ASSERT_NE(::mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { fs::remove_all(folder_); }
  fs::path at(const std::string& name) const { return folder_ / name; }
  std::string text_of(const std::string& name) const {
    std::ifstream in(at(name));
    return {std::istreambuf_iterator<char>(in), {}};
  }
  std::size_t names() const {
    return static_cast<std::size_t>(
        std::distance(fs::directory_iterator(folder_), fs::directory_iterator()));
  }
  // "a" stood there before; then a set with "a" and "b".
  void replace(bool commit) {
    write_whole(at("a"), "old");
    FileSet set;
    set.write(at("a"), "new");
    set.write(at("b"), "new");
    EXPECT_EQ(text_of("a"), "old");
    EXPECT_FALSE(fs::exists(at("b")));
    if (commit) set.commit();
  }
  fs::path folder_;
};

TEST_F(FileSets, NamesComeWithCommit) {
  replace(true);
  EXPECT_EQ(text_of("a"), "new");
  EXPECT_EQ(text_of("b"), "new");
  EXPECT_EQ(names(), 2u);
}

TEST_F(FileSets, WithoutCommitNothingHappened) {
  replace(false);
  EXPECT_EQ(text_of("a"), "old");
  EXPECT_EQ(names(), 1u);
}

// More than may be open without a name: the rest lie beside their targets meanwhile.
TEST_F(FileSets, AThousandFiles) {
  FileSet set;
  for (int i = 0; i < 1000; ++i) set.write(at(std::to_string(i)), std::to_string(i * i));
  set.commit();
  EXPECT_EQ(names(), 1000u);
  for (int i = 0; i < 1000; ++i) ASSERT_EQ(text_of(std::to_string(i)), std::to_string(i * i));
}

TEST_F(FileSets, AFileThatFailsIsNotCommitted) {
  FileSet set;
  set.write(at("a"), "whole");
  EXPECT_THROW(set.write(at("b"),
                         [](std::ostream& out) {
                           out << "half";
                           throw std::runtime_error("no more");
                         }),
               std::runtime_error);
  set.commit();
  EXPECT_EQ(names(), 1u);
}

// A folder takes a name that was free when its file was written: what has happened is said.
TEST_F(FileSets, ANameThatCannotBeGivenIsSaidWithWhatWas) {
  FileSet set;
  set.write(at("a"), "new");
  set.write(at("b"), "new");
  fs::create_directories(at("b") / "in the way");
  try {
    set.commit();
    FAIL();
  } catch (const WriteError& e) {
    EXPECT_NE(std::string(e.what()).find("1 of the 2 results"), std::string::npos) << e.what();
  }
  EXPECT_EQ(text_of("a"), "new");
}

TEST_F(FileSets, OneWithinAnother) {
  FileSet outer;
  outer.write(at("a"), "outer");
  {
    FileSet inner;
    inner.write(at("b"), "inner");
    inner.commit();
  }
  EXPECT_EQ(names(), 1u);
  outer.write(at("c"), "outer");
  outer.commit();
  EXPECT_EQ(names(), 3u);
}

}  // namespace
}  // namespace proveout::files
