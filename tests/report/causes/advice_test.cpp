// What a run advises is done, from its own words and figures alone, and it runs again: what was
// found before must be gone. One planted mistake for each kind of cause.
#include <regex>
#include <set>

#include "tests/report/causes/mistakes.h"

namespace proveout::planted {
namespace {

using Json = nlohmann::ordered_json;

constexpr double voxel = 0.6;

std::string first_match(const Json& text, const std::string& pattern) {
  const std::string words = text.get<std::string>();
  std::smatch m;
  EXPECT_TRUE(std::regex_search(words, m, std::regex(pattern))) << pattern << " in: " << words;
  return m.size() > 1 ? m[1].str() : "";
}

std::multiset<std::string> kinds(const Json& result) {
  std::multiset<std::string> out;
  for (const Json& f : result["findings"]) {
    if (f["level"] != "note") out.insert(f["kind"].get<std::string>());
  }
  return out;
}

const Mistake& mistake(const std::vector<Mistake>& all, const std::string& what) {
  const auto at =
      std::find_if(all.begin(), all.end(), [&](const Mistake& m) { return m.what == what; });
  EXPECT_NE(at, all.end()) << what;
  return *at;
}

// follow: does what the first cause says, with no other figure than the cause's own.
void advice_helps(const Files& good, const std::vector<Mistake>& all, const std::string& what,
                  const std::string& kind,
                  const std::function<void(Files&, const Json& cause)>& follow) {
  SCOPED_TRACE(what);
  Files files = good;
  mistake(all, what).plant(files);
  const Ran before = run(files, voxel);
  ASSERT_FALSE(before.result.is_null()) << before.said;
  ASSERT_FALSE(before.result["causes"].empty()) << before.said;
  const Json& cause = before.result["causes"][0];
  ASSERT_EQ(cause["kind"], kind) << before.said;
  EXPECT_FALSE(kinds(before.result).empty());
  follow(files, cause);
  const Ran after = run(files, voxel);
  ASSERT_FALSE(after.result.is_null()) << after.said;
  EXPECT_TRUE(after.result["causes"].empty()) << after.said;
  EXPECT_EQ(after.status, 0) << after.said;
  EXPECT_TRUE(kinds(after.result).empty()) << after.said;
}

TEST(Advice, TheZeroIsMovedByTheShift) {
  advice_helps(bracket::good(), bracket::mistakes(), "front zeroed 2 mm off in x, 1.3 in y", "zero",
               [](Files& f, const Json& cause) {
                 const auto shift = cause["shift"].get<std::vector<double>>();
                 f.replace("", "at = [2, 1.3, 22]",
                           fmt::format("at = [{:.2f}, {:.2f}, {:.2f}]", 2 - shift[0],
                                       1.3 - shift[1], 22 - shift[2]));
               });
}

TEST(Advice, AMilledZeroGetsItsBand) {
  advice_helps(bracket::good(), bracket::mistakes(), "back zeroed on milled without a band", "zero",
               [](Files& f, const Json& cause) {
                 EXPECT_NE(cause["remedy"].get<std::string>().find("give a band that was milled"),
                           std::string::npos);
                 f.job = bracket::good().job;
               });
}

TEST(Advice, TheZeroNamedIsDeclared) {
  advice_helps(bracket::good(), bracket::mistakes(), "back zeroed at the right edge", "zero",
               [](Files& f, const Json& cause) {
                 f.replace("", "on = \"milled\", x = \"max\", y = \"min\", z = \"top\"",
                           first_match(cause["text"], "fits (on = .*)$"));
               });
}

TEST(Advice, TheTurnNamedIsDeclared) {
  advice_helps(bracket::good(), bracket::mistakes(), "turned about y where x was posted", "turn",
               [](Files& f, const Json& cause) {
                 f.replace(
                     "", "about = \"y\"",
                     "about = \"" + first_match(cause["text"], "turned about ([xyz])") + "\"");
               });
}

TEST(Advice, TheOriginNamedIsDeclared) {
  advice_helps(ring::good(), ring::mistakes(), "the part laid 5 mm off in the sheet", "origin",
               [](Files& f, const Json& cause) {
                 f.replace("", "origin = [31, 36, 0]",
                           first_match(cause["remedy"], "(origin = \\[[^\\]]*\\])"));
               });
}

TEST(Advice, TheToolNamedIsDeclared) {
  advice_helps(
      bracket::good(), bracket::mistakes(), "5 mm cutter in the holder, 6 posted", "tool",
      [](Files& f, const Json& cause) {
        f.replace("", "diameter = 5\nflutes = 3",
                  "diameter = " + first_match(cause["text"], "tool of ([0-9.]+)") + "\nflutes = 3");
      });
}

TEST(Advice, TheShapeNamedIsDeclared) {
  advice_helps(ring::good(), ring::mistakes(), "ball end in the holder, flat posted", "tool",
               [](Files& f, const Json& cause) {
                 f.replace("", "shape = \"ball\"",
                           "shape = \"" + first_match(cause["text"], "names a (\\w+) tool") + "\"");
               });
}

TEST(Advice, LengthOffsetsArePosted) {
  advice_helps(bracket::good(), bracket::mistakes(), "no length offset in back", "offset",
               [](Files& f, const Json& cause) {
                 EXPECT_NE(cause["remedy"].get<std::string>().find("G43 H"), std::string::npos);
                 std::string& text = f.files.at("back.nc");
                 text = std::regex_replace(text, std::regex("T(\\d) M6\n(.*\n)"),
                                           "T$1 M6\n$2G43 H$1\n");
               });
}

TEST(Advice, G90IsPostedBehindTheLineNamed) {
  advice_helps(ring::good(), ring::mistakes(), "G91 left on after a return home", "mode",
               [](Files& f, const Json& cause) {
                 const int line = std::stoi(first_match(cause["text"], "after line ([0-9]+)"));
                 std::string& text = f.files.at("top.nc");
                 std::size_t at = 0;
                 for (int k = 0; k < line; ++k) at = text.find('\n', at) + 1;
                 text.insert(at, "G90\n");
               });
}

TEST(Advice, FeedsAreSetToMmAMinute) {
  advice_helps(ring::good(), ring::mistakes(), "feeds in inches a minute", "units",
               [](Files& f, const Json& cause) {
                 f.feeds("top.nc",
                         std::stod(first_match(cause["text"], "([0-9.]+) times as much")));
               });
}

TEST(Advice, LengthsAreReadInTheOtherUnit) {
  advice_helps(bracket::good(), bracket::mistakes(), "G20 for G21 in front", "units",
               [](Files& f, const Json& cause) {
                 f.replace("front.nc", "G20", first_match(cause["remedy"], "post (G2[01])"));
               });
}

TEST(Advice, TheSpindleIsStarted) {
  advice_helps(bracket::good(), bracket::mistakes(), "spindle never started in front", "spindle",
               [](Files& f, const Json& cause) {
                 f.replace("front.nc", "S18000",
                           "S18000 " + first_match(cause["remedy"], "post (M3) with an S word"));
               });
}

TEST(Advice, TheSpindleIsTurnedTheOtherWay) {
  advice_helps(bracket::good(), bracket::mistakes(), "M4 for M3", "spindle",
               [](Files& f, const Json& cause) {
                 for (const char* name : {"front.nc", "back.nc"})
                   f.replace(name, " M4\n", " " + first_match(cause["remedy"], "post (M3)") + "\n");
               });
}

TEST(Advice, TheBlankNamedIsDeclared) {
  advice_helps(ring::good(), ring::mistakes(), "sheet of 19 mm in the job, 16 posted", "blank",
               [](Files& f, const Json& cause) {
                 const std::string size =
                     first_match(cause["text"], "blank of ([0-9.]+ x [0-9.]+ x [0-9.]+)");
                 f.replace("", "[72, 72, 19]",
                           "[" + std::regex_replace(size, std::regex(" x "), ", ") + "]");
               });
}

// The sentence names more than one material where the figures fit more: MDF is among them.
TEST(Advice, TheMaterialNamedIsDeclared) {
  advice_helps(ring::good(), ring::mistakes(), "posted for MDF, steel clamped", "material",
               [](Files& f, const Json& cause) {
                 f.replace("", "material = \"mild steel\"",
                           "material = \"" + first_match(cause["text"], "\\b(mdf)\\b") + "\"");
               });
}

TEST(Advice, SupportsAreDeclaredAsTheTabsWillBe) {
  advice_helps(ring::good(), ring::mistakes(), "tabs the job does not declare", "support",
               [](Files& f, const Json& cause) {
                 EXPECT_NE(cause["remedy"].get<std::string>().find("[[part.supports]]"),
                           std::string::npos);
                 f.job = ring::good().job;
               });
}

TEST(Advice, TabsArePostedAsDeclared) {
  for (const char* what :
       {"no tabs left, the job declares four", "tabs of 20 mm where the job declares 8"})
    advice_helps(ring::good(), ring::mistakes(), what, "support", [](Files& f, const Json&) {
      f.files.at("top.nc") = ring::program({ring::tab_half, ring::tab_top});
    });
}

}  // namespace
}  // namespace proveout::planted
