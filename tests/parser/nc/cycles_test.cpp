// The program of appendix C.3 of NISTIR 6556 (every canned cycle in the three planes), against the
// sequence of moves that section 3.5.16 of the report spells out in words, written down here a
// second time.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>

#include "parser/nc/program.h"

namespace proveout::nc {
namespace {

struct Heard : Sink {
  std::vector<std::string> steps;
  static std::string place(const Vec3& p) {
    const auto inch = [](double mm) {
      const double v = std::round(mm / mm_per_inch * 1e6) / 1e6;
      return v == 0 ? 0.0 : v;
    };
    return fmt::format("{:.4f} {:.4f} {:.4f}", inch(p.x()), inch(p.y()), inch(p.z()));
  }
  void motion(const Motion& m, const ModalState&) override {
    if (length(m) > 0)
      steps.push_back((m.kind == PathKind::rapid ? "rapid " : "feed ") + place(m.end));
  }
  void event(const Event& e, const ModalState& s) override {
    if (e.kind == EventKind::dwell) steps.push_back(fmt::format("wait {:g}", e.value));
    if (e.kind == EventKind::stop) steps.push_back("stop");
    if (e.kind == EventKind::spindle)
      steps.push_back(s.turn == SpindleTurn::stopped     ? "spindle off"
                      : s.turn == SpindleTurn::clockwise ? "spindle cw"
                                                         : "spindle ccw");
  }
};

// Section 3.5.16 in a plane whose first, second and normal axes are given. Inches; G98: a cycle
// ends at the level it began at, or at R where that is higher.
struct ByTheText {
  int first, second, normal;
  Vec3 at = Vec3::Zero();
  std::vector<std::string> steps;
  double retract = 0, depth = 0, clear = 0;
  const char* turning = "spindle cw";

  void go(const char* how, const Vec3& to) {
    if ((to - at).norm() > 1e-9)
      steps.push_back(std::string(how) + " " + Heard::place(to * mm_per_inch));
    at = to;
  }
  void level(const char* how, double to) {
    Vec3 p = at;
    p[normal] = to;
    go(how, p);
  }
  void across(double u, double v) {
    Vec3 p = at;
    p[first] = u;
    p[second] = v;
    go("rapid", p);
  }
  void set(double r, double z) {
    retract = r;
    depth = z;
    if (at[normal] < r) level("rapid", r);
    clear = at[normal];
  }
  // "Preliminary and in-between motion", absolute.
  void begin(double u, double v, double r, double z) {
    set(r, z);
    across(u, v);
    level("rapid", r);
  }
  void say(std::string what) { steps.push_back(std::move(what)); }
  void wait(double s) { say(fmt::format("wait {:g}", s)); }

  void g81() {
    level("feed", depth);
    level("rapid", clear);
  }
  void g82(double p) {
    level("feed", depth);
    wait(p);
    level("rapid", clear);
  }
  void g83(double q) {
    // "Rapid back down to the current hole bottom, backed off a bit": the amount is ours (0.01
    // inch).
    for (double bottom = retract - q; bottom > depth; bottom -= q) {
      level("feed", bottom);
      level("rapid", retract);
      level("rapid", bottom + 0.01);
    }
    level("feed", depth);
    level("rapid", clear);
  }
  void g84() {
    level("feed", depth);
    say("spindle ccw");
    level("feed", clear);
    say("spindle cw");
  }
  void g85() {
    level("feed", depth);
    level("feed", clear);
  }
  void g86_or_88(double p, bool by_hand) {
    level("feed", depth);
    wait(p);
    say("spindle off");
    if (by_hand) say("stop");
    level("rapid", clear);
    say(turning);
  }
  void g89(double p) {
    level("feed", depth);
    wait(p);
    level("feed", clear);
  }
  // Back boring: begin at R is not part of it, the tool goes across first.
  void g87(double u, double v, double r, double z, double du, double dv, double k) {
    set(r, z);
    across(u, v);
    across(u + du, v + dv);
    say("spindle off");
    level("rapid", depth);
    across(u, v);
    say(turning);
    level("feed", k);
    level("feed", depth);
    say("spindle off");
    across(u + du, v + dv);
    level("rapid", clear);
    across(u, v);
    say(turning);
  }
};

// The lines all three planes share, from G83 on; offset: what the program adds in the first plane.
void from_g83(ByTheText& t) {
  t.begin(5, 6, 0.2, -1.1);
  t.g83(0.21);
  t.begin(6, 7, 0.2, -1.1);
  t.g84();
  t.begin(7, 8, 0.2, -1.1);
  t.g85();
  t.begin(8, 9, 0.2, -1.1);
  t.g86_or_88(902.61, false);
  t.g87(9, 10, 0.2, -1.1, 0.231, 0, -3);
  // G91: across by 1 and 0, R 0.2 above where the tool stands, depth 1.1 below R, K from the depth.
  const double r = t.at[t.normal] + 0.2;
  t.g87(10, 10, r, r - 1.1, 0.231, 0, r - 1.1 - 3);
}

// Appendix C.3 leaves the second of two back bores in G91, and the lines behind it follow
// incrementally.
void behind_g87(ByTheText& t, double p88, double p89, double u88, double v88, double u89,
                double v89) {
  const auto next = [&](double du, double dv) {
    const double r = t.at[t.normal] + 0.2;
    t.begin(t.at[t.first] + du, t.at[t.second] + dv, r, r - 1.1);
  };
  next(u88, v88);
  t.g86_or_88(p88, true);
  next(u89, v89);
  t.g89(p89);
}

std::vector<std::string> expected() {
  std::vector<std::string> steps = {"spindle cw"};
  ByTheText t{0, 1, 2, Vec3::Zero(), {}};
  const auto plane = [&](int first, int second, int normal) {
    t.first = first;
    t.second = second;
    t.normal = normal;
    t.begin(3, 4, 0.2, -1.1);  // n30
    t.g81();
    for (int i = 0; i < 3; ++i) {  // n40: G91, R0: stays at 0.2; the depth lies 1.1 below
      t.begin(4 + i, 4, 0.2, 0.2 - 1.1);
      t.g81();
    }
  };
  plane(0, 1, 2);
  // n50: y-2 r0.1, still G91 with x not given.
  t.begin(6, 2, 0.3, 0.3 - 1.1);
  t.g81();
  t.begin(4, 5, 0.2, -1.1);  // n60
  t.g82(0.6);
  t.begin(2, 5, 0.2, -3.0);  // n70
  t.g82(0.6);
  for (int i = 0; i < 4; ++i) {  // n80: R0 from where it stands, depth 3 below
    t.begin(0 - 2 * i, 7 + 2 * i, t.at[2], t.at[2] - 3.0);
    t.g82(0.6);
  }
  from_g83(t);
  behind_g87(t, 0.3333, 1.272, 10, 11, 11, 12);
  // n160 on: counter-clockwise.
  t.say("spindle ccw");
  t.turning = "spindle ccw";
  const auto next_r = [&] { return t.at[2] + 0.2; };  // G91, R0.2
  double r = next_r();
  t.begin(t.at[0] + 8, t.at[1] + 9, r, r - 1.1);
  t.g86_or_88(902.61, false);
  r = next_r();
  t.g87(t.at[0] + 9, t.at[1] + 10, r, r - 1.1, 0.231, 0, r - 1.1 - 3);
  r = next_r();
  t.begin(t.at[0] + 10, t.at[1] + 11, r, r - 1.1);
  t.g86_or_88(0.3333, true);
  steps.insert(steps.end(), t.steps.begin(), t.steps.end());
  return steps;
}

// The report's own readings where practice reads differently (ways out of boring, kept levels).
ReadOptions by_the_report() {
  ReadOptions options;
  options.reads = Reads::of_report();
  return options;
}

TEST(AppendixC3, CyclesInTheFirstPlaneStepByStep) {
  std::ifstream file(std::string(PROVEOUT_REFERENCE_DATA) + "/c3_canned_cycles.ngc");
  if (!file) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
  std::string text, line;
  while (std::getline(file, line) && line.rfind("n0220", 0) != 0) text += line + "\n";
  Heard heard;
  Diagnostics diagnostics;
  ASSERT_TRUE(interpret(text + "m2\n", "c3", by_the_report(), heard, diagnostics));
  const auto wanted = expected();
  for (std::size_t i = 0; i < std::min(wanted.size(), heard.steps.size()); ++i)
    ASSERT_EQ(heard.steps[i], wanted[i]) << "step " << i;
  EXPECT_EQ(heard.steps.size(), wanted.size());
}

// The second and third part of the program are the first with the axes handed round (its own lines
// say so: x, y, z, i, j, k become z, x, y, k, i, j and y, z, x, j, k, i).
TEST(AppendixC3, CyclesInTheOtherPlanesAreTheSameHandedRound) {
  std::ifstream file(std::string(PROVEOUT_REFERENCE_DATA) + "/c3_canned_cycles.ngc");
  if (!file) GTEST_SKIP() << "PROVEOUT_REFERENCE_DATA is not there";
  std::string second, third, line;
  std::string* into = nullptr;
  while (std::getline(file, line)) {
    if (line.rfind("n0220", 0) == 0) into = &second;
    if (line.rfind("n0420", 0) == 0) into = &third;
    if (into != nullptr) *into += line + "\n";
  }
  const auto steps = [](const std::string& text) {
    Heard heard;
    Diagnostics diagnostics;
    const bool ok = interpret("g20 f16 s1234\n" + text, "c3", by_the_report(), heard, diagnostics);
    EXPECT_TRUE(ok) << to_text(diagnostics.all().back());
    return heard.steps;
  };
  // By the text, in the plane of those lines: the tool stands at zero, so the old level is below R.
  const auto by_text = [](int first, int second_axis, int normal) {
    ByTheText t{first, second_axis, normal, Vec3::Zero(), {}};
    t.say("spindle cw");
    return t;
  };
  for (const auto& [text, first, second_axis, normal] :
       {std::tuple(second, 2, 0, 1), std::tuple(third, 1, 2, 0)}) {
    ByTheText t = by_text(first, second_axis, normal);
    t.begin(3, 4, 0.2, -1.1);  // g81
    t.g81();
    for (int i = 0; i < 3; ++i) {
      t.begin(4 + i, 4, 0.2, 0.2 - 1.1);
      t.g81();
    }
    t.begin(4, 5, 0.2, -1.1);  // g82 g90
    t.g82(0.6);
    for (int i = 0; i < 4; ++i) {
      t.begin(2 - 2 * i, 7 + 2 * i, 0.2, 0.2 - 1.1);
      t.g82(0.6);
    }
    from_g83(t);
    behind_g87(t, 0.3333, 1.272, 10, 11, 11, 12);
    const auto got = steps((normal == 0 ? "m3\n" : "") + text + "m2\n");
    for (std::size_t i = 0; i < std::min(t.steps.size(), got.size()); ++i)
      ASSERT_EQ(got[i], t.steps[i]) << "plane with normal axis " << normal << ", step " << i;
    EXPECT_EQ(got.size(), t.steps.size());
  }
}

}  // namespace
}  // namespace proveout::nc
