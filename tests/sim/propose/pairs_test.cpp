// Pairs of programs of one stepped block in differently worded posts, written here, so that every
// right value is known. A value may be open; one that is sure must be right.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>

#include "parser/job/job.h"
#include "parser/job/marks.h"
#include "sim/propose/job_text.h"
#include "sim/propose/propose.h"

namespace proveout::propose {
namespace {

namespace fs = std::filesystem;

// The blank is 70 x 50 x 20, the part 50 x 30 x 14 in its middle, 3 above the bottom; a step 5 deep
// takes its corner x < 15, y < 10 from above, a pocket 4 deep x 30..45, y 16..26 from below.
const Vec3 blank(70, 50, 20), part(50, 30, 14), origin(10, 10, 3);

struct Post {
  const char* name;
  bool inch = false;
  bool centred = true;                      // zero of side A: middle, else lower left corner
  bool bottom = false;                      // zero on the bottom face instead of the top
  char turned = 'y';                        // how side B was made
  std::vector<const char*> head_a, head_b;  // comments
  bool b_first = false;                     // given the other way round
  bool one_side = false;
};

class Text {
 public:
  Text(const Post& post, const Vec3& zero) : post_(post), zero_(zero) {}
  void line(const std::string& text) { out_ += text + "\n"; }
  // Where the tip goes, mm, on the blank as it lies for that side.
  void move(const char* code, double x, double y, double z) {
    const double u = post_.inch ? 1 / 25.4 : 1;
    line(fmt::format("{} X{:.5f} Y{:.5f} Z{:.5f}", code, u * (x - zero_.x()), u * (y - zero_.y()),
                     u * (z - zero_.z())));
  }
  void cut(std::vector<Vec3> way) {
    move("G0", way.front().x(), way.front().y(), blank.z() + 5);
    for (const Vec3& p : way) move("G1", p.x(), p.y(), p.z());
    move("G0", way.back().x(), way.back().y(), blank.z() + 5);
  }
  // Zigzag over a box's plan with the tool's middle, at depth z.
  void area(double x0, double y0, double x1, double y1, double z) {
    std::vector<Vec3> way;
    const int rows = std::max(1, static_cast<int>(std::ceil((y1 - y0) / 4)));
    for (int k = 0; k <= rows; ++k) {
      const double y = y0 + (y1 - y0) * k / rows;
      way.emplace_back(k % 2 == 0 ? x0 : x1, y, z);
      way.emplace_back(k % 2 == 0 ? x1 : x0, y, z);
    }
    cut(way);
  }
  const std::string& text() const { return out_; }

 private:
  const Post& post_;
  Vec3 zero_;
  std::string out_;
};

void begin(Text& t, const Post& post, const std::vector<const char*>& head) {
  for (const char* h : head) t.line(h);
  t.line(post.inch ? "G20 G17 G90 G94" : "G21 G17 G90 G94");
  t.line("T1 M6");
  t.line(post.inch ? "S12000 M3 F20" : "S12000 M3 F500");
}

Vec3 zero_of(const Post& post, bool centred) {
  return {centred ? blank.x() / 2 : 0, centred ? blank.y() / 2 : 0, post.bottom ? 0 : blank.z()};
}

std::string side_a(const Post& post) {
  Text t(post, zero_of(post, post.centred));
  begin(t, post, post.head_a);
  t.area(0, 0, 70, 50, 17);
  for (const double z : {12.0, 7.0, 3.0})  // round the part, tool radius 3
    t.cut({{7, 7, z}, {63, 7, z}, {63, 43, z}, {7, 43, z}, {7, 7, z}});
  t.area(10, 10, 22, 17, 12);  // the step, to x 25 and y 20 of the blank
  t.line("M30");
  return t.text();
}

// The blank lies turned about its middle: about y, x and z are mirrored; about x, y and z are.
std::string side_b(const Post& post) {
  Text t(post, zero_of(post, post.centred));
  begin(t, post, post.head_b);
  t.area(0, 0, 70, 50, 17);
  const bool y = post.turned == 'y';
  const double x0 = y ? 70 - (10 + 45) : 40, x1 = y ? 70 - (10 + 30) : 55;
  const double y0 = y ? 26 : 50 - 36, y1 = y ? 36 : 50 - 26;
  t.area(x0 + 3, y0 + 3, x1 - 3, y1 - 3, 13);
  t.line("M30");
  return t.text();
}

// Faces of a union of boxes on a grid of cells, as an ASCII STL.
std::string mesh_text() {
  const std::vector<double> xs = {0, 15, 30, 45, 50}, ys = {0, 10, 16, 26, 30}, zs = {0, 4, 9, 14};
  const auto solid = [&](int i, int j, int k) {
    if (i < 0 || j < 0 || k < 0 || i >= 4 || j >= 4 || k >= 3) return false;
    if (i == 0 && j == 0 && k == 2) return false;  // the step
    return !(i == 2 && j == 2 && k == 0);          // the pocket
  };
  std::string out = "solid block\n";
  const auto at = [&](int i, int j, int k) {
    return Vec3(xs[static_cast<std::size_t>(i)], ys[static_cast<std::size_t>(j)],
                zs[static_cast<std::size_t>(k)]);
  };
  const auto triangle = [&](const Vec3& a, const Vec3& b, const Vec3& c) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const Vec3& p : {a, b, c})
      out += fmt::format("vertex {:g} {:g} {:g}\n", p.x(), p.y(), p.z());
    out += "endloop\nendfacet\n";
  };
  for (int i = 0; i < 4; ++i)
    for (int j = 0; j < 4; ++j)
      for (int k = 0; k < 3; ++k) {
        if (!solid(i, j, k)) continue;
        for (int axis = 0; axis < 3; ++axis)
          for (const int side : {0, 1}) {
            std::array<int, 3> n = {i, j, k};
            n[static_cast<std::size_t>(axis)] += side == 0 ? -1 : 1;
            if (solid(n[0], n[1], n[2])) continue;
            std::array<int, 3> c = {i, j, k};
            c[static_cast<std::size_t>(axis)] += side;
            std::array<int, 3> u{}, v{};
            u[static_cast<std::size_t>((axis + 1) % 3)] = 1;
            v[static_cast<std::size_t>((axis + 2) % 3)] = 1;
            const Vec3 p = at(c[0], c[1], c[2]), q = at(c[0] + u[0], c[1] + u[1], c[2] + u[2]);
            const Vec3 r = at(c[0] + u[0] + v[0], c[1] + u[1] + v[1], c[2] + u[2] + v[2]);
            const Vec3 s = at(c[0] + v[0], c[1] + v[1], c[2] + v[2]);
            if (side == 1) {
              triangle(p, q, r);
              triangle(p, r, s);
            } else {
              triangle(p, r, q);
              triangle(p, s, r);
            }
          }
      }
  return out + "endsolid block\n";
}

class Pairs : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (fs::temp_directory_path() / "proveout-propose-XXXXXX").string();
    ASSERT_NE(::mkdtemp(name.data()), nullptr);
    folder_ = name;
    write("block.stl", mesh_text());
  }
  void TearDown() override {
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
  }
  fs::path write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return folder_ / name;
  }

  Request request(const Post& post) const {
    Request r;
    r.programs = {write("a.nc", side_a(post))};
    if (!post.one_side) r.programs.push_back(write("b.nc", side_b(post)));
    if (post.b_first) std::swap(r.programs.front(), r.programs.back());
    r.part = folder_ / "block.stl";
    r.threads = 1;
    return r;
  }

  std::optional<Proposal> proposed(const Request& r, bool answers) const {
    Diagnostics d;
    auto p = read(r, d);
    EXPECT_FALSE(d.has_errors()) << (d.all().empty() ? "" : to_text(d.all().front()));
    if (!p) return p;
    if (answers) {
      for (const Question& q : questions(*p)) {
        if (q.id == "blank") {
          EXPECT_EQ(answer(*p, q.id, "70x50x20"), "");
        }
        if (q.id == "tools.1.diameter") {
          EXPECT_EQ(answer(*p, q.id, "6"), "");
        }
        if (q.id == "tools.1.shape") {
          EXPECT_EQ(answer(*p, q.id, "flat"), "");
        }
      }
    }
    EXPECT_TRUE(arrange(*p, r, d));
    return p;
  }

  // Right, or open.
  static void right(const Post& post, const Proposal& p) {
    SCOPED_TRACE(post.name);
    ASSERT_EQ(p.tools.size(), 1u);
    const ToolProposal& t = p.tools.front();
    if (t.diameter && !t.diameter->open()) {
      EXPECT_NEAR(t.diameter->value, 6, 1e-6);
    }
    if (t.shape && !t.shape->open()) {
      EXPECT_TRUE(t.shape->value == job::ToolShape::flat);
    }
    if (!p.blank.open()) {
      EXPECT_TRUE(p.blank.value.isApprox(blank, 1e-6)) << p.blank.value.transpose();
    }
    for (std::size_t i = 0; i < p.setups.size(); ++i) {
      const SetupProposal& s = p.setups[i];
      EXPECT_EQ(s.program.filename(), i == 0 ? "a.nc" : "b.nc");
      const job::ZeroEdge across = post.centred ? job::ZeroEdge::centre : job::ZeroEdge::min;
      if (!s.zero.open()) {
        EXPECT_EQ(s.zero.value.x, across) << s.zero.from;
        EXPECT_EQ(s.zero.value.y, across) << s.zero.from;
        EXPECT_EQ(s.zero.value.z, post.bottom ? job::ZeroEdge::min : job::ZeroEdge::max)
            << s.zero.from;
      }
      if (i == 1 && !s.turn.open()) {
        ASSERT_EQ(s.turn.value.size(), 1u) << s.turn.from;
        EXPECT_EQ(s.turn.value.front().about, post.turned == 'y' ? job::Axis::y : job::Axis::x)
            << s.turn.from;
      }
    }
    if (p.part && !p.part->origin.open()) {
      EXPECT_LT((p.part->origin.value - origin).cwiseAbs().maxCoeff(), 0.05)
          << p.part->origin.value.transpose() << " " << p.part->origin.from;
    }
  }

  // As the file a user would run: it reads, and each open value has its mark.
  void reads_back(const Proposal& p) const {
    const fs::path file = folder_ / "job.toml";
    const std::string text = job_text(p, file);
    write("job.toml", text);
    Diagnostics d;
    const auto job = job::read_job(file, d);
    ASSERT_TRUE(job) << text << to_text(d.all().front());
    EXPECT_EQ(job->setups.size(), p.setups.size());
    EXPECT_NEAR(job->tools.front().diameter, p.tools.front().diameter->value, 1e-4);
    EXPECT_EQ(job->setups.front().program.lexically_normal(),
              p.setups.front().program.lexically_normal());
    bool stickout = false;
    for (const job::Mark& m : job::marks(text)) stickout = stickout || m.key == "stickout";
    EXPECT_EQ(stickout, p.tools.front().stickout.open());
  }

  fs::path folder_;
};

const std::vector<const char*> tool = {"(T1 D6 FLAT)"}, none = {};

TEST_F(Pairs, EachValueIsRightOrOpen) {
  const std::vector<const char*> spoken_a = {"(SIDE A)", "(STOCK 70 X 50 X 20)", "(ALUMINIUM)",
                                             "(T1 D=6. CR=0. - ZMIN=-17. - FLAT END MILL)",
                                             "(ZERO: MIDDLE OF THE BLANK, TOP FACE)"},
                                 spoken_b = {"(SIDE B)", "(TURNED ABOUT X)",
                                             "(ZERO: MIDDLE OF THE BLANK, TOP FACE)",
                                             "(6 MM FLAT, 3 FLUTES)"};
  int sure = 0;
  for (const Post& post : {
           Post{"middle, top, about y", false, true, false, 'y', tool, tool},
           Post{"middle, top, about x", false, true, false, 'x', tool, tool},
           Post{"corner, top, about y", false, false, false, 'y', tool, tool},
           Post{"corner, bottom, about x", false, false, true, 'x', tool, tool},
           Post{"inch, corner", true, false, false, 'y', {"(T1 1/4 IN BALL)"}, {"(1)"}},
           Post{"all said", false, true, false, 'x', spoken_a, spoken_b},
           Post{"side b first", false, true, false, 'x', spoken_a, spoken_b, true},
           Post{"one side", false, true, false, 'y', tool, none, false, true},
       }) {
    Post made = post;
    if (post.inch) made.head_a = made.head_b = {"(T1 .23622 IN FLAT END MILL)"};
    Request r = request(made);
    if (made.head_a != spoken_a) r.blank = blank;
    const auto p = proposed(r, false);
    ASSERT_TRUE(p) << post.name;
    if (post.inch) {
      EXPECT_NEAR(p->tools.front().diameter->value, 6, 1e-3);
    } else {
      right(made, *p);
    }
    reads_back(*p);
    sure += p->part->origin.open() ? 0 : 1;
    for (const SetupProposal& s : p->setups) {
      EXPECT_FALSE(s.zero.open()) << post.name << ": " << s.zero.from;
      EXPECT_FALSE(s.turn.open()) << post.name << ": " << s.turn.from;
    }
  }
  EXPECT_GE(sure, 7);  // all but at most one are fitted: being open everywhere is no answer
}

TEST_F(Pairs, WithoutCommentsItAsksAndGoesOnByAnswers) {
  const Post post{"no comments", false, true, false, 'x', none, none};
  Request r = request(post);
  Diagnostics d;
  auto silent = read(r, d);
  ASSERT_TRUE(silent);
  EXPECT_FALSE(can_run(*silent));
  EXPECT_TRUE(silent->blank.open());
  EXPECT_TRUE(arrange(*silent, r, d));
  EXPECT_NE(job_text(*silent, folder_ / "j.toml").find("cannot run without it"), std::string::npos);
  const auto asked = questions(*silent);
  ASSERT_FALSE(asked.empty());
  EXPECT_TRUE(asked.front().needed);
  EXPECT_EQ(asked.front().id, "tools.1.diameter");
  const auto p = proposed(r, true);
  ASSERT_TRUE(p);
  right(post, *p);
  EXPECT_FALSE(p->part->origin.open());
  reads_back(*p);
}

// A chamfer's cutter without a size: the job cannot run, and how the sides lie is told by the rest.
TEST_F(Pairs, AToolOfNoKnownSizeLeavesTheOthersToTell) {
  for (const char turned : {'x', 'y'}) {
    const Post post{"chamfer", false, true, false, turned, tool, tool};
    Request r = request(post);
    r.blank = blank;
    std::string text = side_a(post);
    text.replace(text.find("M30"), 3,
                 "(T2 90 DEG CHAMFER)\nT2 M6\nS12000 M3 F300\nG0 X-27 Y-17 Z5\nG1 Z-3.5\n"
                 "X27\nY17\nX-27\nY-17\nG0 Z5\nM30");
    write("a.nc", text);
    Diagnostics d;
    auto p = read(r, d);
    ASSERT_TRUE(p);
    ASSERT_TRUE(arrange(*p, r, d));
    EXPECT_FALSE(can_run(*p));
    const job::Turn turn = p->setups[1].turn.value.at(0);
    EXPECT_EQ(turn.about, turned == 'y' ? job::Axis::y : job::Axis::x) << turned;
    EXPECT_FALSE(p->setups[1].turn.open()) << p->setups[1].turn.from;
    EXPECT_FALSE(p->part->origin.open()) << p->part->origin.from;
    EXPECT_LT((p->part->origin.value - origin).cwiseAbs().maxCoeff(), 0.05);
    EXPECT_NE(p->part->origin.from.find("without T2"), std::string::npos);
    const std::string file = job_text(*p, folder_ / "j.toml");
    EXPECT_NE(file.find("tried without T2"), std::string::npos) << file;
  }
}

// A later side may be zeroed on what the first one milled: without trying, nothing tells.
TEST_F(Pairs, ALaterSidesZeroThatWasNotTriedIsOpen) {
  const Post silent{"no sizes", false, false, false, 'y', none, none};
  const Post known{"sizes", false, false, false, 'y', tool, tool};
  for (const bool with_part : {true, false}) {
    for (const Post& post : {silent, known}) {
      Request r = request(post);
      r.blank = blank;
      if (!with_part) r.part.clear();
      const auto p = proposed(r, false);
      ASSERT_TRUE(p);
      EXPECT_FALSE(p->setups[0].zero.open()) << p->setups[0].zero.from;
      const bool tried = with_part && !post.head_a.empty();
      EXPECT_EQ(p->setups[1].zero.open(), !tried) << with_part << p->setups[1].zero.from;
    }
  }
}

TEST_F(Pairs, WhatCommentsSayAgainstTheMotionsIsOpen) {
  Post post{"wrong words", false, true, false, 'x', tool, tool};
  post.head_a = {"(T1 D6 FLAT)", "(ZERO: FRONT LEFT CORNER, TOP)"};
  Request r = request(post);
  r.blank = blank;
  Diagnostics d;
  const auto p = read(r, d);
  ASSERT_TRUE(p);
  EXPECT_TRUE(p->setups.front().zero.open());
  EXPECT_NE(p->setups.front().zero.from.find("another zero"), std::string::npos);
}

// An answer is not asked over again by what comes after it.
TEST_F(Pairs, AnAnsweredTurnStands) {
  Request r = request({"x", false, true, false, 'x', tool, tool});
  r.part.clear();
  r.blank = blank;
  for (const auto& [word, turns, axis] :
       std::vector<std::tuple<std::string, std::size_t, job::Axis>>{
           {"x", 1, job::Axis::x}, {"y", 1, job::Axis::y}, {"none", 0, job::Axis::y}}) {
    Diagnostics d;
    auto p = read(r, d);
    ASSERT_TRUE(p);
    ASSERT_EQ(answer(*p, "setups.1.turn", word), "");
    ASSERT_TRUE(arrange(*p, r, d));
    const auto& turn = p->setups[1].turn;
    EXPECT_EQ(turn.basis, Basis::given) << word;
    ASSERT_EQ(turn.value.size(), turns) << word;
    if (turns == 1) {
      EXPECT_EQ(turn.value[0].about, axis) << word;
    }
  }
}

// Blank sizes without a unit, in millimetres in an inch program and the other way round: what goes
// with the cuts stands in, and it is open.
TEST_F(Pairs, ABlankInTheOtherUnitIsOpen) {
  for (const bool inch : {true, false}) {
    Post post{"blank in the other unit", inch, true, false, 'x', none, none};
    post.head_a = {inch ? "(STOCK 70 X 50 X 20)" : "(STOCK 2.756 X 1.969 X 0.787)",
                   "(T1 6MM FLAT)"};
    Diagnostics d;
    const auto p = read(request(post), d);
    ASSERT_TRUE(p);
    EXPECT_TRUE(p->blank.open());
    EXPECT_LT((p->blank.value - blank).cwiseAbs().maxCoeff(), 0.02) << p->blank.from;
    post.head_a[0] = inch ? "(STOCK 2.756 X 1.969 X 0.787)" : "(STOCK 70 X 50 X 20)";
    const auto same = read(request(post), d);
    ASSERT_TRUE(same);
    EXPECT_FALSE(same->blank.open()) << same->blank.from;
    EXPECT_LT((same->blank.value - blank).cwiseAbs().maxCoeff(), 0.02);
  }
}

TEST_F(Pairs, AnswersOutOfRangeAreRefused) {
  Request r = request({"x", false, true, false, 'x', tool, tool});
  Diagnostics d;
  auto p = read(r, d);
  ASSERT_TRUE(p);
  for (const auto& [id, text] :
       std::vector<std::pair<std::string, std::string>>{{"tools.1.stickout", "0"},
                                                        {"tools.1.stickout", "long"},
                                                        {"tools.1.flutes", "200"},
                                                        {"blank", "70x50"},
                                                        {"material", "kryptonite"},
                                                        {"tools.1.holder", "25"},
                                                        {"tools.9.stickout", "30"},
                                                        {"nothing", "1"}})
    EXPECT_NE(answer(*p, id, text), "") << id << " " << text;
  EXPECT_EQ(answer(*p, "tools.1.stickout", "1-1/4"), "");
  EXPECT_NEAR(p->tools.front().stickout.value, 31.75, 1e-9);
  EXPECT_FALSE(p->tools.front().stickout.open());
}

}  // namespace
}  // namespace proveout::propose
