// Twelve sets of programs from four differently worded posts: each value is right, or open and
// asked for, and none is wrong without a word. The table stands in docs/propose.md, which
// PROVEOUT_REWRITE=1 in the environment writes anew.
#include <cstdlib>

#include "sim/propose/propose.h"
#include "tests/report/causes/planted_parts.h"

namespace proveout::planted {
namespace {

namespace fs = std::filesystem;

const std::string page = std::string(PROVEOUT_SOURCE) + "/docs/propose.md";

enum class Post { marked, worded, typed, silent };
enum class Form { both, back_first, front_only, inch, three };

struct Set {
  const char* name;
  Post post;
  Form form;
};

const std::vector<Set> sets = {
    {"D and CR words", Post::marked, Form::both},
    {"the same, back given first", Post::marked, Form::back_first},
    {"the same, in inches", Post::marked, Form::inch},
    {"sentences", Post::worded, Form::both},
    {"the same, front alone", Post::worded, Form::front_only},
    {"the same, three programs", Post::worded, Form::three},
    {"typed by hand", Post::typed, Form::both},
    {"the same, back given first", Post::typed, Form::back_first},
    {"the same, in inches", Post::typed, Form::inch},
    {"no comments", Post::silent, Form::both},
    {"the same, front alone", Post::silent, Form::front_only},
    {"the same, in inches", Post::silent, Form::inch},
};

std::string without_comments(std::string text) {
  for (std::size_t at = text.find('('); at != std::string::npos; at = text.find('('))
    text.erase(at, text.find('\n', at) - at + 1);
  return text;
}

// The same program in the words of a post. side: 1 front, 2 back.
std::string posted_as(Post post, std::string text, int side) {
  const std::size_t start = text.find("G17");
  const std::string body = without_comments(text.substr(start));
  std::string head = "%\n";
  switch (post) {
    case Post::marked:
      head += fmt::format("(SIDE {})\n", side == 1 ? "A" : "B");
      head += "(STOCK 74 X 54 X 22 MM)\n(T1 D=6. CR=0. - ZMIN=-14. - FLAT END MILL)\n";
      if (side == 2) head += "(T2 D=8. CR=0. TAPER=118DEG - ZMIN=-15. - DRILL)\n";
      break;
    case Post::worded:
      head += side == 1 ? "(FIRST SIDE OF THE BRACKET)\n" : "(SECOND SIDE OF THE BRACKET)\n";
      head += side == 1 ? "(ZERO IS THE LOWER LEFT CORNER OF THE BLANK, TOP FACE)\n"
                        : "(TURNED ABOUT X. ZERO: LOWER LEFT CORNER OF THE MILLED BLOCK, TOP)\n";
      head += "(BLANK 74 BY 54 BY 22 MM)\n(TOOL 1: 6 MM THREE FLUTE END MILL)\n";
      if (side == 2) head += "(TOOL 2: 8 MM DRILL)\n";
      break;
    case Post::typed:
      head += fmt::format("(op {})\n(t1 6mm endmill 3fl)\n", side);
      if (side == 2) head += "(t2 8mm drill)\n";
      break;
    case Post::silent:
      break;
  }
  return head + body;
}

std::string in_inches(const std::string& text) {
  std::string out;
  bool comment = false;
  for (std::size_t at = 0; at < text.size();) {
    const char c = text[at];
    if (c == '(') comment = true;
    if (c == ')') comment = false;
    out += c;
    ++at;
    const bool length = std::string("XYZRQF").find(c) != std::string::npos;
    if (comment || !length || at >= text.size() ||
        (std::isdigit(text[at]) == 0 && text[at] != '-' && text[at] != '.'))
      continue;
    std::size_t used = 0;
    const double value = std::stod(text.substr(at, 20), &used);
    out += fmt::format("{:.5f}", value / 25.4);
    at += used;
  }
  const std::size_t unit = out.find("G21");
  return out.replace(unit, 3, "G20");
}

struct Table {
  std::size_t right = 0, asked = 0, wrong = 0;
  std::vector<std::string> open, bad;
  void add(const std::string& what, bool is_open, bool is_right, const std::string& from = {}) {
    ++(is_open ? asked : is_right ? right : wrong);
    if (is_open) open.push_back(what);
    if (!is_open && !is_right) bad.push_back(what + (from.empty() ? "" : " (" + from + ")"));
  }
};

std::string listed(const std::vector<std::string>& of) {
  std::string out;
  for (const std::string& s : of) out += (out.empty() ? "" : ", ") + s;
  return out.empty() ? "-" : out;
}

void judge_tool(const propose::ToolProposal& t, Table& table) {
  const std::string name = fmt::format("T{}", t.number);
  const double diameter = t.number == 1 ? 6 : 8;
  const auto shape = t.number == 1 ? job::ToolShape::flat : job::ToolShape::drill;
  table.add(name + " diameter", !t.diameter || t.diameter->open(),
            t.diameter && std::abs(t.diameter->value - diameter) < 0.01);
  table.add(name + " shape", !t.shape || t.shape->open(), t.shape && t.shape->value == shape);
  table.add(name + " flutes", t.flutes.open(), t.number == 1 ? t.flutes.value == 3 : true);
  table.add(name + " stick-out", t.stickout.open(), false);  // no program knows it
}

void judge(const Set& set, const propose::Proposal& p, Table& table) {
  for (const propose::ToolProposal& t : p.tools) judge_tool(t, table);
  table.add("blank", p.blank.open(), (p.blank.value - Vec3(74, 54, 22)).norm() < 0.01);
  table.add("material", p.material.open(), p.material.value == "6061-T6");
  for (const propose::SetupProposal& s : p.setups) {
    const bool back = s.program.filename() == "back.nc";
    const std::string side = s.program.stem().string();
    table.add("zero of " + side, s.zero.open(),
              s.zero.value.x == job::ZeroEdge::min && s.zero.value.y == job::ZeroEdge::min &&
                  s.zero.value.z == job::ZeroEdge::max &&
                  (s.zero.value.on == job::ZeroOn::milled) == back,
              s.zero.from);
    const bool turned = s.turn.value.size() == 1 && s.turn.value[0].about == job::Axis::x;
    table.add("turn of " + side, s.turn.open(), back ? turned : s.turn.value.empty(), s.turn.from);
  }
  const std::size_t last = p.setups.size() - 1;
  const bool last_is_back = p.setups[last].program.filename() == "back.nc";
  table.add("order", false, set.form == Form::front_only || last_is_back);
  if (p.part)
    table.add("part's origin", p.part->origin.open(),
              (p.part->origin.value - Vec3(5, 5, 2)).cwiseAbs().maxCoeff() < 0.06);
}

// front: face and outside alone; the pocket in a program of its own.
std::pair<std::string, std::string> parted(const std::string& front) {
  const std::size_t pocket = front.find("(POCKET)");
  const std::size_t tool = front.find("(T1"), face = front.find("(FACE)");
  const std::string start = front.substr(0, tool), change = front.substr(tool, face - tool);
  const std::string end = front.substr(front.rfind("M5"));
  return {front.substr(0, pocket) + end, start + change + front.substr(pocket)};
}

propose::Request request_of(const Set& set, const cli::Folder& folder) {
  const Files good = bracket::good();
  const auto put = [&](const std::string& name, const std::string& text, int side) {
    const std::string worded = posted_as(set.post, text, side);
    return fs::path(folder.file(name, set.form == Form::inch ? in_inches(worded) : worded));
  };
  propose::Request r;
  r.part = folder.file("part.stl", good.files.at("part.stl"));
  r.threads = 1;
  // What nobody wrote into the programs is given: the caliper's and the label's.
  if (set.post == Post::typed || set.post == Post::silent) r.blank = Vec3(74, 54, 22);
  r.material = "6061-T6";
  const fs::path back = put("back.nc", good.files.at("back.nc"), 2);
  if (set.form == Form::three) {
    const auto [outside, pocket] = parted(good.files.at("front.nc"));
    r.programs = {put("front.nc", outside, 1), put("pocket.nc", pocket, 1), back};
    return r;
  }
  r.programs = {put("front.nc", good.files.at("front.nc"), 1), back};
  if (set.form == Form::front_only) r.programs.pop_back();
  if (set.form == Form::back_first) std::swap(r.programs[0], r.programs[1]);
  return r;
}

// Its row in the page; empty: none.
std::string kept_row(std::size_t number) {
  std::ifstream file(page);
  const std::string start = fmt::format("| {} |", number);
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with(start)) return line;
  }
  return {};
}

// Rows follow the table's head, by number.
void rewrite(std::size_t number, const std::string& row) {
  std::string text;
  std::ifstream file(page);
  std::size_t rows = 0;  // 0: not in the table yet
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("| set |")) rows = 1;
    if (line.starts_with(fmt::format("| {} |", number))) continue;
    const auto next = line.starts_with("| ") ? std::atoi(line.c_str() + 2) : 0;
    const bool over = rows == 1 && !line.starts_with("| set") && !line.starts_with("|---") &&
                      (next == 0 || next > static_cast<int>(number));
    if (over) {
      text += row + "\n";
      rows = 2;
    }
    text += line + "\n";
  }
  if (rows == 1) text += row + "\n";
  file.close();
  std::ofstream(page) << text;
}

class TwelvePairs : public ::testing::TestWithParam<std::size_t> {};

TEST_P(TwelvePairs, EachValueIsRightOrAskedFor) {
  const Set& set = sets[GetParam()];
  const cli::Folder folder;
  const propose::Request request = request_of(set, folder);
  Diagnostics d;
  auto p = propose::read(request, d);
  ASSERT_TRUE(p) << set.name << (d.all().empty() ? "" : to_text(d.all().front()));
  // Asked, as on a terminal: only what a job cannot run without.
  std::size_t needed = 0;
  for (const propose::Question& q : propose::questions(*p)) {
    if (!q.needed) continue;
    ++needed;
    const bool drill = q.id.find("tools.2") == 0, size = q.id.ends_with("diameter");
    const char* sized = drill ? "8" : "6";
    EXPECT_EQ(propose::answer(*p, q.id, size ? sized : drill ? "drill" : "flat"), "") << q.id;
  }
  ASSERT_TRUE(propose::arrange(*p, request, d));
  Table table;
  judge(set, *p, table);
  EXPECT_EQ(table.wrong, 0u) << listed(table.bad);
  const std::string row =
      fmt::format("| {} | {} | {} | {} | {} | {} | {} |", GetParam() + 1, set.name, table.right,
                  needed, table.asked, table.wrong, listed(table.open));
  EXPECT_GE(table.right * 2, table.right + table.asked) << "being open everywhere is no answer";
  if (std::getenv("PROVEOUT_REWRITE") != nullptr) rewrite(GetParam() + 1, row);
  EXPECT_EQ(kept_row(GetParam() + 1), row) << "run once with PROVEOUT_REWRITE=1";
}

INSTANTIATE_TEST_SUITE_P(Posts, TwelvePairs, ::testing::Range<std::size_t>(0, 12));

}  // namespace
}  // namespace proveout::planted
