// Job files: values, units, every mistake located; and the reference in docs/job-file.md is the
// code's own.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "parser/job/key_depth.h"
#include "parser/job/sections.h"

namespace proveout::job {
namespace {

std::optional<Job> read_text(const std::string& text, Diagnostics& diagnostics) {
  std::string name = (std::filesystem::temp_directory_path() / "proveout-test-XXXXXX").string();
  const std::filesystem::path folder = ::mkdtemp(name.data());
  std::ofstream(folder / "job.toml") << text;
  auto job = read_job(folder / "job.toml", diagnostics);
  std::filesystem::remove_all(folder);
  return job;
}

const std::string base =
    "[stock]\nsize = [4, 2, 1]\n[[tools]]\nnumber = 3\nshape = \"ball\"\ndiameter = 0.25\n"
    "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n";

TEST(Job, InchesBecomeMillimetres) {
  Diagnostics d;
  const auto job = read_text("units = \"inch\"\n[machine]\nmax_feed = [100, 100, 40]\n" + base, d);
  ASSERT_TRUE(job) << to_text(d.all().at(0));
  EXPECT_NEAR(job->stock.size.x(), 101.6, 1e-12);
  EXPECT_NEAR(job->tools[0].diameter, 6.35, 1e-12);
  EXPECT_NEAR(job->machine.max_feed.x(), 2540, 1e-9);
}

TEST(Job, DefaultsAreTheContracts) {
  Diagnostics d;
  const auto job = read_text(base, d);
  ASSERT_TRUE(job);
  EXPECT_EQ(job->machine.lookahead, 32);
  EXPECT_EQ(job->machine.path_tolerance, 0.02);
  EXPECT_EQ(job->machine.tool_change_s, 60);
  EXPECT_EQ(job->stock.material, "6061-T6");
  EXPECT_EQ(job->setups[0].zero.z, ZeroEdge::max);
}

// How the control reads, and its tables of D and H: what is said is kept, what is not said is known
// not to have been.
TEST(Job, TheControlsReadingAndItsTables) {
  Diagnostics d;
  const auto job = read_text(
      "units = \"inch\"\n[machine.reads]\ncycle_p = \"milliseconds\"\nm_without_motion = [88, "
      "120]\n" +
          base +
          "offsets = { \"G54.1 P7\" = [1, 0, 0], G55 = [0, 1, 0] }\n"
          "offsets_d = { D3 = { wear = -0.001 }, D21 = { tool = 3, diameter = 0.2 } }\n"
          "offsets_h = { H21 = { tool = 3, wear = 0.002 } }\n",
      d);
  ASSERT_TRUE(job) << to_text(d.all().at(0));
  const nc::Reads& reads = job->machine.reads;
  EXPECT_TRUE(reads.is(nc::Read::cycle_p, "milliseconds"));
  EXPECT_TRUE(reads.declared(nc::Read::cycle_p));
  EXPECT_TRUE(reads.is(nc::Read::wait_p, "seconds"));
  EXPECT_FALSE(reads.declared(nc::Read::wait_p));
  EXPECT_EQ(reads.m_without_motion, (std::vector<int>{88, 120}));
  const job::Setup& setup = job->setups[0];
  EXPECT_NEAR(setup.offsets.at(107).x(), 25.4, 1e-12);
  EXPECT_NEAR(setup.offsets.at(2).y(), 25.4, 1e-12);
  EXPECT_NEAR(setup.offsets_d.at(3).wear, -0.0254, 1e-12);
  EXPECT_FALSE(setup.offsets_d.at(3).diameter);
  EXPECT_NEAR(*setup.offsets_d.at(21).diameter, 5.08, 1e-12);
  EXPECT_EQ(setup.offsets_d.at(21).tool, 3);
  EXPECT_NEAR(setup.offsets_h.at(21).wear, 0.0508, 1e-12);
  for (const char* wrong :
       {"offsets_d = { D0 = { wear = 1 } }\n", "offsets_h = { D1 = { wear = 1 } }\n",
        "offsets_h = { H1 = { diameter = 1 } }\n", "offsets_d = { Dx = {} }\n",
        "offsets = { \"G54.1 P0\" = [0, 0, 0] }\n"}) {
    Diagnostics e;
    EXPECT_FALSE(read_text(base + wrong, e)) << wrong;
    ASSERT_FALSE(e.all().empty());
    EXPECT_EQ(e.all()[0].place.line, 10u) << wrong;
  }
  Diagnostics e;
  EXPECT_FALSE(read_text("[machine.reads]\ng70 = \"furlong\"\n" + base, e));
  EXPECT_EQ(e.all().at(0).place.line, 2u);
}

TEST(Job, AProgramInAJobsPlaceIsCalledOne) {
  for (const char* text : {"%\nO1000\nG21 G90\nG0 X0 Y0\nM30\n%\n", "G21\nG1 X5 F100\nM30\n",
                           "(a part)\nN10 G21\nN20 G0 X5\n"}) {
    Diagnostics d;
    EXPECT_FALSE(read_text(text, d)) << text;
    EXPECT_NE(d.all().at(0).what.find("NC program"), std::string::npos) << d.all()[0].what;
  }
  Diagnostics d;
  EXPECT_FALSE(read_text("[stock]\nsize = [1, 2\n", d));
  EXPECT_EQ(d.all().at(0).what.find("NC program"), std::string::npos);
}

TEST(Job, AllMistakesAtOnce) {
  Diagnostics d;
  EXPECT_FALSE(read_text("nmae = \"x\"\n" + base +
                             "turn = [{ about = \"w\", degrees = 90 }]\n[part]\norigin = [1, 2]\n",
                         d));
  EXPECT_GE(d.errors(), 4u);
}

// What is no TOML is refused where TOML 1.0 is broken; what is no text, or nothing, as a whole.
TEST(Job, WhatIsNoJobFileIsRefusedAtItsPlace) {
  struct Case {
    std::string text, code;
    std::uint32_t line;
  };
  for (const Case& c : {Case{"", "file-empty", 0}, Case{" \t\r\n\n", "file-empty", 0},
                        Case{std::string("name = \"a\"\n\0", 12), "file-binary", 2},
                        Case{"name = \"a\"\n[stock\nsize = 1\n", "job-not-toml", 2},
                        Case{"name = \"a\"\nname = \"b\"\n", "job-not-toml", 2},
                        Case{"# one\n\nsize = [1, 2\n", "job-not-toml", 3},
                        Case{"name = \"a\nb\"\n", "job-not-toml", 1}}) {
    Diagnostics d;
    EXPECT_FALSE(read_text(c.text, d)) << c.text;
    ASSERT_EQ(d.errors(), 1u) << c.text;
    EXPECT_EQ(d.all()[0].code, c.code) << c.text << to_text(d.all()[0]);
    EXPECT_EQ(d.all()[0].place.line, c.line) << c.text << to_text(d.all()[0]);
    EXPECT_NE(d.all()[0].place.file.find("job.toml"), std::string::npos);
  }
}

// What no tool and no job can be, each said by its own code.
TEST(Job, ContradictionsAreSaid) {
  const std::string stock = "[stock]\nsize = [40, 20, 10]\n",
                    setup = "[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n",
                    tool = "[[tools]]\nnumber = 3\nshape = \"flat\"\ndiameter = 6\n",
                    form = "[[tools]]\nnumber = 3\nshape = \"form\"\nprofile = [[2, 0], [4, 5]]\n";
  struct Case {
    std::string text, code;
  };
  for (const Case& c : {
           Case{setup + tool, "job-key-missing"},
           Case{stock + tool, "job-key-missing"},
           Case{stock + setup, "job-key-missing"},
           Case{stock + setup + setup + tool, "job-duplicate-setup"},
           Case{stock + setup + tool + tool, "job-duplicate-tool"},
           Case{stock + setup + tool + "corner_radius = 3.1\n", "job-bad-tool"},
           Case{stock + setup + tool + "flute_length = 30\nstickout = 20\n", "job-bad-tool"},
           Case{stock + setup + "[[tools]]\nnumber = 3\nshape = \"form\"\nprofile = [[2, 0]]\n",
                "job-bad-tool"},
           Case{stock + setup +
                    "[[tools]]\nnumber = 3\nshape = \"form\"\nprofile = [[2, 1], [3, 0]]\n",
                "job-bad-tool"},
           Case{stock + setup + "[[tools]]\nnumber = 3\nshape = \"bull\"\ndiameter = 6\n",
                "job-bad-tool"},
           Case{stock + setup + "[[tools]]\nnumber = 3\nshape = \"vee\"\ndiameter = 6\n",
                "job-key-missing"},
           Case{stock + setup +
                    "[[tools]]\nnumber = 3\nshape = \"ball\"\ndiameter = 6\nflute_length = 2\n",
                "job-bad-tool"},
           Case{stock + setup +
                    "[[tools]]\nnumber = 3\nshape = \"form\"\nprofile = [[0, 0], [0, 5]]\n",
                "job-bad-tool"},
           Case{stock + setup +
                    "[[tools]]\nnumber = 3\nshape = \"form\"\nprofile = [[0, 3], [3, 3]]\n",
                "job-bad-tool"},
           Case{stock + setup + form + "diameter = 6\n", "job-bad-tool"},
           Case{stock + setup + form + "stickout = 4\n", "job-bad-tool"},
           Case{stock + setup + form + "flute_length = 4\nstickout = 30\n", "job-bad-tool"},
           Case{stock + setup + "[[tools]]\nshape = \"flat\"\ndiameter = 6\n", "job-key-missing"},
           Case{stock + setup + "[[tools]]\nnumber = 3\ndiameter = 6\n", "job-key-missing"},
           Case{stock + setup + "[[tools]]\nnumber = 3\nshape = \"flat\"\n", "job-key-missing"},
           Case{stock + setup + "zero = { on = \"milled\" }\n" + tool, "job-contradiction"},
           Case{"tools = \"none.toml\"\n" + stock + setup, "file-missing"},
           Case{"machine = \"none.toml\"\n" + stock + setup + tool, "file-missing"},
       }) {
    Diagnostics d;
    EXPECT_FALSE(read_text(c.text, d)) << c.text;
    ASSERT_GE(d.errors(), 1u) << c.text;
    EXPECT_EQ(d.all()[0].code, c.code) << c.text << to_text(d.all()[0]);
  }
  for (const std::string& good :
       {tool, form, form + "diameter = 8\nflute_length = 5\nstickout = 30\n"}) {
    Diagnostics d;
    EXPECT_TRUE(read_text(stock + setup + good, d)) << to_text(d.all().at(0));
    EXPECT_TRUE(d.all().empty()) << to_text(d.all().at(0));
  }
}

// Two setups of one name: said where the second gets its name.
TEST(Job, TheSecondOfTwoSetupsIsNamed) {
  Diagnostics d;
  EXPECT_FALSE(
      read_text("[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n\n[[setups]]\n"
                "name = \"A\"\nprogram = \"b.nc\"\n",
                d));
  EXPECT_EQ(d.all()[0].code, "job-duplicate-setup");
  EXPECT_EQ(d.all()[0].place.line, 6u);
  EXPECT_NE(d.all()[0].what.find("line 1"), std::string::npos) << d.all()[0].what;
}

// Keys that another shape has, and figures that are hardly meant, are told of and can be worked
// with.
TEST(Job, KeysOfAnotherShapeAreToldOf) {
  const std::string rest =
      "[stock]\nsize = [40, 20, 10]\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n";
  const auto tool = [&](const char* shape, const char* more) {
    return rest +
           fmt::format("[[tools]]\nnumber = 3\nshape = \"{}\"\ndiameter = 6\n{}\n", shape, more);
  };
  struct Case {
    std::string text, code;
    std::uint32_t line;
  };
  for (const Case& c : {
           Case{tool("drill", "corner_radius = 2"), "job-idle-key", 10},
           Case{tool("ball", "corner_radius = 1"), "job-idle-key", 10},
           Case{tool("ball", "tip_diameter = 3"), "job-idle-key", 10},
           Case{tool("flat", "profile = [[0, 0], [3, 1]]"), "job-idle-key", 10},
           Case{tool("flat", "[machine]\nmax_feed = [900, 900, 900]\nrapid = [900, 90, 900]"),
                "job-slow-rapid", 12},
       }) {
    Diagnostics d;
    EXPECT_TRUE(read_text(c.text, d)) << c.text;
    ASSERT_EQ(d.all().size(), 1u) << c.text;
    EXPECT_EQ(d.all()[0].severity, Severity::warning) << c.text;
    EXPECT_EQ(d.all()[0].code, c.code) << c.text;
    EXPECT_EQ(d.all()[0].place.line, c.line) << to_text(d.all()[0]);
  }
  // What a list of tools may carry for all of them.
  for (const std::string& fine :
       {tool("ball", "corner_radius = 3\ntip_diameter = 0"),
        tool("vee", "tip_diameter = 1\ntip_angle = 60"), tool("bull", "corner_radius = 1"),
        tool("flat", "corner_radius = 0.0\ntip_diameter = 0.0\ntip_angle = 118")}) {
    Diagnostics d;
    EXPECT_TRUE(read_text(fine, d)) << fine;
    EXPECT_TRUE(d.all().empty()) << to_text(d.all().at(0));
  }
}

// A key of 20000 parts used up the stack of an instrumented build, one of 200000 that of any.
TEST(Job, DeepKeysAreRefusedWithTheirPlace) {
  std::string deep = "a";
  for (int i = 0; i < 200000; ++i) deep += ".a";
  for (const std::string& text : {"# one\n[" + deep + "]\n", "# one\n" + deep + " = 1\n",
                                  "# one\nx = { " + deep + " = 1 }\n"}) {
    Diagnostics d;
    EXPECT_FALSE(read_text(text, d));
    ASSERT_EQ(d.errors(), 1u);
    EXPECT_EQ(d.all()[0].code, "job-too-deep");
    EXPECT_EQ(d.all()[0].place.line, 2u);
    EXPECT_EQ(d.all()[0].place.column,
              text.find(deep) - text.find('\n') + 2 * std::size_t{most_key_parts});
  }
}

// What looks like a deep key in a string, a comment or a list is none (TOML 1.0: keys, strings).
TEST(Job, OnlyKeysAreDeep) {
  std::string dots = "a", numbers = "a = [1.5";
  for (int i = 0; i < 40; ++i) numbers += ", 2.5";
  numbers += "]";
  for (int i = 0; i < 40; ++i) dots += ".a";
  for (const std::string& text : std::vector<std::string>{
           "# " + dots + "\n", "a = \"" + dots + "\"\n", "a = '" + dots + "' # " + dots,
           "a = \"\"\"\n\\\"\"\"" + dots + "\"\n" + dots + "\"\"\"\"\n",
           "a = '''\n" + dots + "'''\n", "a = \"......................................\"", numbers,
           "a.\"" + dots + "\".b = 1"}) {
    EXPECT_FALSE(find_deep_key(text)) << text;
  }
  std::string limit = "a";
  for (int i = 1; i < most_key_parts; ++i) limit += " . \"b.c\"";
  EXPECT_FALSE(find_deep_key(limit + " = 1"));
  EXPECT_TRUE(find_deep_key(limit + ".'c' = 1"));
  // Every kind of character a bare key may have (TOML 1.0: keys), and letters beyond ASCII.
  for (const char* part : {"a", "z", "A", "Z", "0", "9", "_", "-", "\xC3\xA4"}) {
    std::string key = part;
    for (int i = 0; i < most_key_parts; ++i) key += std::string(".") + part;
    EXPECT_EQ(find_deep_key(key + " = 1"), key.rfind('.') + 1) << part;
  }
}

TEST(Job, EditDistanceCountsSwapsOnce) {
  EXPECT_EQ(edit_distance("stickout", "stikcout"), 1u);
  EXPECT_EQ(edit_distance("", "abc"), 3u);
  EXPECT_EQ(nearest_word("diametre", {"number", "diameter"}), "diameter");
  EXPECT_EQ(nearest_word("zzzzzz", {"number", "diameter"}), "");
}

TEST(Job, ReferenceInDocsIsTheCodesOwn) {
  std::ifstream file(std::string(PROVEOUT_FIXTURES) + "/../docs/job-file.md");
  std::stringstream text;
  text << file.rdbuf();
  EXPECT_NE(text.str().find(job_reference_markdown()), std::string::npos)
      << "docs/job-file.md lacks this table:\n"
      << job_reference_markdown();
}

}  // namespace
}  // namespace proveout::job
