// Each 'what to do' of docs/findings.md is done on a planted case, from the finding's own figures
// where it has them, and the finding must be gone. A kind nobody can edit away is named with why.
#include <fstream>
#include <functional>
#include <map>
#include <set>

#include "tests/report/causes/mistakes.h"
#include "tests/sim/checks/planted_job.h"
#include "tests/sim/flip/two_sides.h"
#include "tests/sim/pipeline/work_folder.h"

namespace proveout::planted {
namespace {

using checks::Ran;
using checks::Small;

struct Case {
  FindingKind kind;
  std::string says;  // stands in the page's advice
  Small planted;
  std::function<void(Small&, const Finding&, const Ran&)> follow;
  std::string stl = {};
};

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

Small with_tool(const std::string& tool, double depth, const std::string& limits = "") {
  Small s;
  s.voxel = "voxel = 0.5\n";
  s.tool = tool;
  s.depth = depth;
  s.limits = limits;
  return s;
}
Small plain(double depth = 2, const std::string& limits = "") {
  return with_tool("diameter = 6\nflute_length = 15\nstickout = 20\n", depth, limits);
}
Small of_program(const std::string& program, const std::string& limits = "") {
  Small s = plain(2, limits);
  s.program = "G21 G90\nT1 M6\nS10000 M3\n" + program + "G0 Z5\nM30\n";
  return s;
}
Small of_part(Small s, const std::string& origin = "[0, 0, 0]") {
  s.part = "[part]\nmesh = \"part.stl\"\norigin = " + origin +
           "\ntolerance = { gouge = 0.1, excess = 0.2 }\n";
  return s;
}
Small on_machine(Small s, const std::string& machine) {
  s.machine = machine;
  return s;
}

// The block with the slot of 6 mm, 2 deep, that the plain program mills; with one below as well.
std::string slotted(bool below) {
  if (!below)
    return pipeline::prism_stl(
        {{40, 0}, {0, 0}, {0, 20}, {17, 20}, {17, 18}, {23, 18}, {23, 20}, {40, 20}},
        {{0, 7, 6}, {0, 6, 5}, {0, 5, 1}, {1, 5, 4}, {1, 4, 2}, {4, 3, 2}}, 0, 30);
  return pipeline::prism_stl({{40, 0},
                              {23, 0},
                              {23, 2},
                              {17, 2},
                              {17, 0},
                              {0, 0},
                              {0, 20},
                              {17, 20},
                              {17, 18},
                              {23, 18},
                              {23, 20},
                              {40, 20}},
                             {{0, 11, 10},
                              {0, 10, 9},
                              {0, 9, 2},
                              {0, 2, 1},
                              {2, 9, 8},
                              {2, 8, 3},
                              {3, 8, 5},
                              {3, 5, 4},
                              {5, 8, 6},
                              {8, 7, 6}},
                             0, 30);
}

std::string passes(std::size_t count, double depth) {
  std::string out;
  for (std::size_t k = 1; k <= count; ++k)
    out += fmt::format("G0 X0 Y-25 Z5\nG0 Z-{:.3f}\nG1 Y25 F900\nG0 Z5\n",
                       depth * static_cast<double>(k) / static_cast<double>(count));
  return out;
}

std::vector<Case> contact_cases() {
  using enum FindingKind;
  const std::string clamp =
      "[[setups.fixtures]]\nname = \"clamp\"\nbox = [[8, -5, -20], [30, 5, "
      "{}]]\n";
  Small clamped =
      with_tool("diameter = 6\nflute_length = 10\nstickout = 12\nholder = [[20, 30]]\n", 3);
  clamped.setup = replaced(clamp, "{}", "10");
  return {
      {rapid_contact, "Raise the retract plane",
       of_program("G0 X0 Y-25 Z5\nG0 Z-1\nG1 Y0 F900\nG0 X25\n"),
       [](Small& s, const Finding& f, const Ran&) {
         std::size_t at = 0;
         for (std::uint32_t k = 1; k < f.line; ++k) at = s.program.find('\n', at) + 1;
         s.program.insert(at, "G0 Z5\n");
       }},
      {shank_contact, "Use a longer flute",
       with_tool("diameter = 6\nflute_length = 5\nstickout = 20\n", 8),
       [](Small& s, const Finding& f, const Ran&) {
         s.tool = replaced(s.tool, "flute_length = 5",
                           fmt::format("flute_length = {:.1f}", 5 + f.value + 0.5));
       }},
      {holder_contact, "Set the tool further out, as far as stickout_needed says",
       with_tool("diameter = 6\nflute_length = 10\nstickout = 10\nholder = [[20, 30]]\n", 12),
       [](Small& s, const Finding&, const Ran& ran) {
         s.tool =
             replaced(s.tool, "stickout = 10",
                      fmt::format("stickout = {}", ran.result->setups[0].tools[0].stickout_needed));
       }},
      {fixture_contact, "Move the clamp", clamped,
       [=](Small& s, const Finding& f, const Ran&) {
         // One that is lower by what the holder goes into it.
         s.setup = replaced(clamp, "{}", fmt::format("{:.2f}", 10 - f.value - 0.1));
       }},
      {below_stock, "Check the zero and the depth",
       with_tool("diameter = 6\nflute_length = 25\nstickout = 30\n", 23.4),
       [](Small& s, const Finding& f, const Ran&) { s.depth -= f.value; }},
      {over_travel, "Move the zero or the work",
       [] {
         Small s = of_program("G0 X0 Y-20 Z5\nG0 Z-1\nG1 Y20 F900\nG0 Z5\nG0 X61\n");
         s.machine = "travel = [100, 100, 100]\n";
         s.setup = "zero_in_machine = [50, 50, 50]\n";
         return s;
       }(),
       [](Small& s, const Finding& f, const Ran&) {
         s.setup = fmt::format("zero_in_machine = [{:.2f}, 50, 50]\n", 50 - f.value);
       }},
  };
}

std::vector<Case> cutting_cases() {
  using enum FindingKind;
  Small weak = plain(3);
  weak.material = "test";
  weak.materials = "[materials.\"test\"]\nkc11 = 1000\nmc = 0\ndensity_g_cm3 = 1\n";
  weak.feed = 500;
  weak.machine = "spindle = { power_w = 200, efficiency = 0.5, rated_rpm = 20000 }\n";
  Small thick = plain();
  thick.speed = 1000;
  thick.feed = 500;
  Small thin = plain();
  thin.speed = 20000;
  thin.feed = 400;
  Small slender = with_tool("diameter = 3\nflute_length = 10\nstickout = 45\n", 3);
  slender.feed = 300;
  const auto shorter = [](Small& s, const Finding&, const Ran&) {
    s.tool = replaced(s.tool, "stickout = 45", "stickout = 12");
    s.depth = 0.5;
  };
  return {
      {over_depth, "Add passes", plain(4.4, "axial_depth = 2.2"),
       [](Small& s, const Finding& f, const Ran&) {
         const auto count = static_cast<std::size_t>(std::ceil(f.value / f.limit - 0.01));
         s.program = of_program(passes(count, 4.4)).program;
       }},
      {over_width, "Reduce the step-over",
       of_program("G0 X18 Y-25 Z5\nG0 Z-1\nG1 Y25 F900\n", "radial_width = 4"),
       [](Small& s, const Finding& f, const Ran&) {
         // The block's edge lies at 20, the tool's 3 beyond its middle.
         s.program =
             of_program(fmt::format("G0 X{:.3f} Y-25 Z5\nG0 Z-1\nG1 Y25 F900\nG0 Z5\nG0 X18 "
                                    "Y-25\nG0 Z-1\nG1 Y25\n",
                                    23 - 0.9 * f.limit))
                 .program;
       }},
      {feed_clipped, "The control will run slower here",
       on_machine(plain(), "max_feed = [600, 600, 600]\n"),
       [](Small& s, const Finding& f, const Ran&) { s.feed = f.limit; }},
      {speed_clipped, "Correct S for this machine",
       on_machine(plain(), "spindle = { max_rpm = 8000 }\n"),
       [](Small& s, const Finding& f, const Ran&) { s.speed = f.limit; }},
      {chip_thick, "Lower the feed", thick,
       [](Small& s, const Finding& f, const Ran&) { s.feed *= 0.98 * f.limit / f.value; }},
      {chip_thin, "Raise the feed", thin,
       [](Small& s, const Finding& f, const Ran&) { s.feed *= 1.1 * f.limit / f.value; }},
      {over_power, "Reduce depth, width or feed", weak,
       [](Small& s, const Finding& f, const Ran&) { s.depth *= 0.95 * f.limit / f.value; }},
      {over_bend, "Shorter or thicker tool, lighter cut", slender, shorter},
      {chatter, "Take less depth or a shorter tool", slender, shorter},
      {plunge, "use a slower plunge feed",
       of_program("G0 X0 Y0 Z5\nG1 Z-2 F900\nY10\n", "plunge_feed = 310"),
       [](Small& s, const Finding& f, const Ran&) {
         s.program = replaced(s.program, "F900", fmt::format("F{}", f.limit));
       }},
      {spindle_stopped, "Start the spindle before the first cut",
       [] {
         Small s = plain();
         s.program = replaced(s.nc(), " M3", "");
         return s;
       }(),
       [](Small& s, const Finding&, const Ran&) { s.program = plain().nc(); }},
      {spindle_reversed, "Use M3",
       [] {
         Small s = plain();
         s.program = replaced(s.nc(), " M3", " M4");
         return s;
       }(),
       [](Small& s, const Finding&, const Ran&) { s.program = plain().nc(); }},
      {over_reach, "Use the shortest stick-out that clears",
       with_tool("diameter = 6\nflute_length = 15\nstickout = 31\n", 2),
       [](Small& s, const Finding& f, const Ran&) {
         // Told in diameters or mm: the limit's share of what stands out.
         s.tool = replaced(s.tool, "stickout = 31",
                           fmt::format("stickout = {:.2f}", 31 * f.limit / f.value - 0.05));
       }},
  };
}

std::vector<Case> part_cases() {
  using enum FindingKind;
  return {
      {gouge, "Look at the line named: too deep", of_part(plain(2.6)),
       [](Small& s, const Finding& f, const Ran&) { s.depth -= f.value; }, slotted(false)},
      {excess, "A wall not cut to the bottom", of_part(plain(1.3)),
       [](Small& s, const Finding& f, const Ran&) { s.depth += f.value; }, slotted(false)},
      {came_loose, "Keep it tied with supports",
       with_tool("diameter = 6\nflute_length = 25\nstickout = 30\n", 20.5),
       [](Small& s, const Finding&, const Ran&) { s.depth = 18; }},
      {unreached, "Change the split", of_part(plain()),
       [](Small& s, const Finding&, const Ran&) {
         s.setup =
             "[[setups]]\nname = \"B\"\nprogram = \"a.nc\"\nturn = [{ about = \"y\", degrees = "
             "180 }]\nzero = { x = \"centre\", y = \"centre\", z = \"top\" }\n";
       },
       slotted(true)},
      {program, "See the message", of_program("(T1 D8 FLAT)\nG0 X0 Y-25 Z5\nG0 Z-1\nG1 Y25 F900\n"),
       [](Small& s, const Finding& f, const Ran&) {
         EXPECT_NE(f.text.find("declares 6"), std::string::npos) << f.text;
         s.program = replaced(s.program, "D8", "D6");
       }},
      {wrong_zero, "Check which corner, middle or face the program was posted for",
       of_program("G0 X70 Y-25 Z5\nG0 Z-1\nG1 Y25 F900\n"),
       [](Small& s, const Finding&, const Ran&) { s.program = plain().nc(); }},
      {job, "See the message", of_part(plain(), "[7, 0, 0]"),
       [](Small& s, const Finding& f, const Ran&) {
         EXPECT_NE(f.text.find("blank"), std::string::npos) << f.text;
         s = of_part(plain());
       },
       slotted(false)},
      {part_lost, "Look at zero, sides and the part's place", of_part(plain()),
       [](Small& s, const Finding&, const Ran&) { s = of_part(plain(), "[-10, 0, 0]"); },
       checks::box_stl({18, 10, 18.5}, {22, 20, 20})},
  };
}

std::vector<Case> cases() {
  std::vector<Case> out = contact_cases();
  for (Case& c : cutting_cases()) out.push_back(std::move(c));
  for (Case& c : part_cases()) out.push_back(std::move(c));
  return out;
}

// Planted in jobs of their own, below.
const std::map<FindingKind, std::string> of_their_own = {
    {FindingKind::flip_mismatch, "Check the turn"},
    {FindingKind::weak_bridge, "Larger or more bridges"},
};

// No edit of a job or program makes these come or go.
const std::map<FindingKind, std::string> not_by_an_edit = {
    {FindingKind::cross_check,
     "two ways of comparing disagree: a fault of the program itself, planted by its own test"},
};

// The page's row of a kind.
std::string row_of(FindingKind kind) {
  std::ifstream page(std::string(PROVEOUT_SOURCE) + "/docs/findings.md");
  const std::string begins = fmt::format("| `{}` |", name(kind));
  for (std::string line; std::getline(page, line);) {
    if (line.starts_with(begins)) return line;
  }
  return "";
}

std::size_t errors(const Ran& ran) {
  return static_cast<std::size_t>(
      std::count_if(ran.result->findings.begin(), ran.result->findings.end(),
                    [](const Finding& f) { return f.level == Severity::error; }));
}

void follow(const std::vector<Case>& all) {
  for (const Case& c : all) {
    SCOPED_TRACE(name(c.kind));
    EXPECT_NE(row_of(c.kind).find(c.says), std::string::npos) << row_of(c.kind);
    const Ran before = checks::run_small(c.planted, c.stl);
    ASSERT_TRUE(before.result);
    const Finding* f = before.first(c.kind);
    ASSERT_NE(f, nullptr) << before.words();
    Small mended = c.planted;
    c.follow(mended, *f, before);
    const Ran after = checks::run_small(mended, c.stl);
    ASSERT_TRUE(after.result);
    EXPECT_FALSE(after.has(c.kind)) << before.words() << "after:\n" << after.words();
    // Where hardly anything of the part was left, nothing else was told of it.
    if (c.kind != FindingKind::part_lost) {
      EXPECT_LE(errors(after), errors(before)) << after.words();
    }
  }
}

TEST(FindingAdvice, OfContacts) { follow(contact_cases()); }
TEST(FindingAdvice, OfCuts) { follow(cutting_cases()); }
TEST(FindingAdvice, OfTheResult) { follow(part_cases()); }

bool tells(const run::JobResult& r, FindingKind kind) {
  return std::any_of(r.findings.begin(), r.findings.end(),
                     [&](const Finding& f) { return f.kind == kind && f.level != Severity::note; });
}

TEST(FindingAdvice, OfTheTurn) {
  two_sides::Sides sides;
  const std::string right = sides.turn;
  sides.turn = "{ about = \"x\", degrees = 180 }";
  EXPECT_TRUE(tells(two_sides::run(sides), FindingKind::flip_mismatch));
  sides.turn = right;
  EXPECT_FALSE(tells(two_sides::run(sides), FindingKind::flip_mismatch));
}

// A plate outlined over two tabs of 4 mm, as high as said, in board of 2 N/mm2.
TEST(FindingAdvice, OfBridges) {
  const auto with_tabs = [](const std::string& z) {
    const pipeline::WorkFolder work;
    work.file("part.stl", checks::box_stl({20, 12, 0}, {40, 28, 12}));
    work.file("a.nc",
              "G21 G90\nT1 M6\nS18000 M3\nG0 X17 Y9 Z5\nG1 Z-6 F200\nG1 X43 F600\nY31\nX17\nY9\n"
              "G1 Z-12.4 F200\nG1 X25 F600\nZ" +
                  z + "\nX35\nZ-12.4\nX43\nY31\nX35\nZ" + z +
                  "\nX25\nZ-12.4\nX17\nY9\nG0 Z5\nM30\n");
    return work.run(
        "[simulation]\nvoxel = 0.3\n[stock]\nsize = [60, 40, 12]\nmaterial = \"mdf\"\n"
        "[part]\nmesh = \"part.stl\"\n[[tools]]\nnumber = 1\nshape = \"flat\"\ndiameter = 6\n"
        "flute_length = 30\nstickout = 40\n[[setups]]\nname = \"A\"\nprogram = \"a.nc\"\n"
        "zero = { x = \"min\", y = \"min\", z = \"top\" }\n");
  };
  EXPECT_TRUE(tells(with_tabs("-10.5"), FindingKind::weak_bridge));
  EXPECT_FALSE(tells(with_tabs("-6"), FindingKind::weak_bridge));
}

TEST(FindingAdvice, EveryKindHasItsCaseOrSaysWhyNone) {
  std::map<FindingKind, int> times;
  for (const Case& c : cases()) ++times[c.kind];
  for (const auto& [kind, says] : of_their_own) {
    ++times[kind];
    EXPECT_NE(row_of(kind).find(says), std::string::npos) << row_of(kind);
  }
  for (const auto& [kind, why] : not_by_an_edit) {
    ++times[kind];
    EXPECT_GT(why.size(), 20u);
  }
  for (std::size_t k = 0; k < finding_kind_count; ++k) {
    const auto kind = static_cast<FindingKind>(k);
    EXPECT_EQ(times[kind], 1) << name(kind);
    EXPECT_FALSE(row_of(kind).empty()) << name(kind);
  }
}

}  // namespace
}  // namespace proveout::planted
