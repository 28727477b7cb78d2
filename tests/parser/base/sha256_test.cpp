// Digests against the examples printed for FIPS 180-4 (NIST, "SHA256" example values: one block,
// two blocks) and the long ones of FIPS 180-2 appendix B.3 and RFC 6234 (a million letters a; no
// bytes at all), from memory, and against coreutils' sha256sum for bytes of random lengths.
#include "parser/base/sha256.h"

#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <random>

#include "parser/base/input_files.h"

namespace proveout {
namespace {

namespace fs = std::filesystem;

TEST(Sha256, TheStandardsExamples) {
  EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(sha256(std::string(1'000'000, 'a')),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST(Sha256, PiecesAndCopiesGoOnWhereTheyStand) {
  Sha256 whole;
  whole.add("ab");
  Sha256 copy(whole);
  EXPECT_EQ(whole.text(), sha256("ab"));
  whole.add("c");
  copy.add("d");
  EXPECT_EQ(whole.text(), sha256("abc"));
  EXPECT_EQ(copy.text(), sha256("abd"));
  copy = whole;
  copy.add("d");
  EXPECT_EQ(copy.text(), sha256("abcd"));
  EXPECT_EQ(whole.text(), sha256("abc"));
}

class InputFileTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "proveout-inputs-XXXXXX").string();
    ASSERT_NE(::mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { fs::remove_all(folder_); }
  fs::path file(const std::string& name, const std::string& bytes) const {
    std::ofstream(folder_ / name, std::ios::binary) << bytes;
    return folder_ / name;
  }
  static std::string sha256sum(const fs::path& file) {
    FILE* const pipe = ::popen(("sha256sum < '" + file.string() + "'").c_str(), "r");
    char digest[65] = {};
    if (pipe == nullptr || std::fread(digest, 1, 64, pipe) != 64) return "not run";
    ::pclose(pipe);
    return digest;
  }
  fs::path folder_;
  Diagnostics diagnostics_;
};

TEST_F(InputFileTest, DigestsAreThoseOfSha256sum) {
  const unsigned seed = 23;
  std::mt19937 random(seed);
  InputFiles files;
  for (int i = 0; i < 20; ++i) {
    std::string bytes(random() % 300, '\0');
    for (char& c : bytes) c = static_cast<char>(random());
    const fs::path path = file(std::to_string(i), bytes);
    const auto read = files.read(path, "file", diagnostics_, 1000);
    ASSERT_TRUE(read);
    EXPECT_EQ(*read, bytes);
    EXPECT_EQ(files.all().back().digest, sha256sum(path))
        << bytes.size() << " bytes, seed " << seed;
    EXPECT_EQ(files.all().back().size, bytes.size());
  }
}

TEST_F(InputFileTest, AFileIsReadOnceWhateverBecomesOfIt) {
  InputFiles files;
  const fs::path path = file("a", "first");
  ASSERT_TRUE(files.read(path, "file", diagnostics_, 100));
  file("a", "second and longer");
  EXPECT_EQ(*files.read(folder_ / "." / "a", "file", diagnostics_, 100), "first");
  fs::remove(path);
  EXPECT_EQ(*files.read(path, "file", diagnostics_, 100), "first");
  ASSERT_EQ(files.all().size(), 1u);
  EXPECT_EQ(files.all().front().digest, sha256("first"));
  EXPECT_FALSE(diagnostics_.has_errors());
}

TEST_F(InputFileTest, WhatCannotBeReadIsSaidAndNotListed) {
  InputFiles files;
  EXPECT_FALSE(files.read(folder_ / "none", "NC program", diagnostics_, 100));
  EXPECT_FALSE(files.read(file("large", "0123456789"), "NC program", diagnostics_, 9));
  EXPECT_TRUE(files.all().empty());
  ASSERT_EQ(diagnostics_.all().size(), 2u);
  EXPECT_EQ(diagnostics_.all()[0].code, "file-missing");
  EXPECT_EQ(diagnostics_.all()[1].code, "file-too-large");
}

}  // namespace
}  // namespace proveout
