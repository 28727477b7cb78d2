// Mistakes in job files name what is meant: the trade's other words, sizes in the other unit.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "parser/job/job.h"

namespace proveout::job {
namespace {

namespace fs = std::filesystem;

class Meant : public ::testing::Test {
 protected:
  Meant() {
    std::string name = (fs::temp_directory_path() / "proveout-meant-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no folder for the test";
    folder_ = name;
    std::ofstream(folder_ / "a.nc") << "G21 G90\nT1 M6\nG1 X1 F100\nM30\n";
  }
  ~Meant() override { fs::remove_all(folder_); }

  // All that is said of a job with this tool and zero.
  std::string said(const std::string& tool, const std::string& zero, const char* head = "") const {
    const fs::path file = folder_ / "job.toml";
    std::ofstream(file) << head << "[stock]\nsize = [3, 2, 1]\nmaterial = \"mdf\"\n[[tools]]\n"
                        << "number = 1\n"
                        << tool << "\n[[setups]]\nname = \"A\"\n"
                        << "program = \"a.nc\"\n"
                        << zero << "\n";
    Diagnostics d;
    read_job(file, d);
    std::string out;
    for (const Diagnostic& one : d.all()) out += to_text(one) + "\n";
    return out;
  }

  fs::path folder_;
};

const std::string flat = "shape = \"flat\"\ndiameter = 6";
const std::string corner = "zero = { x = \"min\", y = \"min\", z = \"top\" }";

TEST_F(Meant, OtherWordsOfTheTrade) {
  for (const auto& [word, meant] :
       std::vector<std::pair<const char*, const char*>>{{"ballnose", "ball"},
                                                        {"Ball nose", "ball"},
                                                        {"endmill", "flat"},
                                                        {"End Mill", "flat"},
                                                        {"square", "flat"},
                                                        {"v-bit", "vee"},
                                                        {"VBIT", "vee"},
                                                        {"engraver", "vee"},
                                                        {"bullnose", "bull"},
                                                        {"twist drill", "drill"},
                                                        {"tapered", "taper"},
                                                        {"flatt", "flat"}})
    EXPECT_NE(said(fmt::format("shape = \"{}\"\ndiameter = 6", word), corner)
                  .find(fmt::format("did you mean \"{}\"?", meant)),
              std::string::npos)
        << word;
  for (const auto& [zero, meant] :
       std::vector<std::pair<const char*, const char*>>{{"x = \"left\"", "min"},
                                                        {"x = \"right\"", "max"},
                                                        {"y = \"front\"", "min"},
                                                        {"y = \"back\"", "max"},
                                                        {"x = \"middle\"", "centre"},
                                                        {"x = \"center\"", "centre"},
                                                        {"z = \"max\"", "top"},
                                                        {"z = \"bed\"", "bottom"},
                                                        {"on = \"stock\"", "blank"},
                                                        {"on = \"finished\"", "milled"}})
    EXPECT_NE(said(flat, fmt::format("zero = {{ {} }}", zero))
                  .find(fmt::format("did you mean \"{}\"?", meant)),
              std::string::npos)
        << zero;
  EXPECT_NE(said(flat, corner, "units = \"in\"\n").find("did you mean \"inch\"?"),
            std::string::npos);
}

TEST_F(Meant, OtherCaseIsTheSameWord) {
  EXPECT_EQ(said("shape = \"Flat\"\ndiameter = 6",
                 "turn = [{ about = \"Y\", degrees = 180 }]\nzero = { x = \"MIN\", y = \"Centre\", "
                 "z = \"Top\" }"),
            "");
}

// A letter is not near another: following a guess would turn the part the wrong way.
TEST_F(Meant, NoAxisIsGuessed) {
  for (const char* axis : {"w", "a", "zx", "xy", "B", "y-axis", ""}) {
    const std::string words =
        said(flat, fmt::format("turn = [{{ about = \"{}\", degrees = 180 }}]\n", axis) + corner);
    EXPECT_NE(words.find("must be one of x | y | z"), std::string::npos) << axis << words;
    EXPECT_EQ(words.find("did you mean"), std::string::npos) << axis << words;
  }
}

TEST_F(Meant, WhatIsMissingIsGivenAsItIsWritten) {
  EXPECT_NE(said("diameter = 6", corner).find("give shape = \"flat\""), std::string::npos);
  EXPECT_NE(said("shape = \"flat\"", corner).find("give diameter = 6"), std::string::npos);
}

// Millimetres in a file of inches, inches in one of millimetres; and tools as shops have them.
TEST_F(Meant, SizesInTheOtherUnit) {
  const char* inches = "units = \"inch\"\n";
  const std::string doubt = "job-unit-doubtful";
  const auto tool = [](double diameter, double stickout) {
    return fmt::format("shape = \"flat\"\ndiameter = {}\nstickout = {}\nflute_length = {}",
                       diameter, stickout, stickout / 2);
  };
  EXPECT_NE(said(tool(6, 32), corner, inches).find("would be 6 mm"), std::string::npos);
  EXPECT_NE(said(tool(6, 32), corner, inches).find("would be 32 mm"), std::string::npos);
  EXPECT_NE(said(tool(0.25, 1.25), corner).find("would be 31.75 mm"), std::string::npos);
  for (const auto& [text, head] :
       std::vector<std::pair<std::string, const char*>>{{tool(6, 32), ""},
                                                        {tool(0.4, 12), ""},
                                                        {tool(80, 60), ""},
                                                        {tool(20, 250), ""},
                                                        {tool(0.25, 1.25), inches},
                                                        {tool(3, 2.5), inches},
                                                        {tool(0.03125, 0.75), inches}})
    EXPECT_EQ(said(text, corner, head).find(doubt), std::string::npos) << text << head;
}

}  // namespace
}  // namespace proveout::job
