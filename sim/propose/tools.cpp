#include "sim/propose/tools.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <regex>

#include "parser/job/tool_shape.h"
#include "sim/propose/comment_words.h"

namespace proveout::propose {
namespace {

constexpr std::uint32_t lines_ahead = 4, lines_behind = 2;  // of a comment about a tool change
constexpr double same_size = 0.005;                         // of the size

bool same(double a, double b) { return std::abs(a - b) <= same_size * std::max(a, b); }

// All T words outside of comments.
std::vector<int> tool_numbers(const std::string& words) {
  static const std::regex word("(^|[^A-Z0-9])?T *0*([0-9]{1,5})(?![0-9.])");
  std::vector<int> out;
  using Matches = std::sregex_iterator;
  for (Matches m(words.begin(), words.end(), word), end; m != end; ++m) {
    if (const int number = std::stoi((*m)[2]); number > 0) out.push_back(number);
  }
  return out;
}

struct Said {  // a comment held for a tool
  int number = 0;
  bool names_it = false;  // by its T word, or on the line of its change
  ToolWords words;
  std::optional<ToolWords> other_unit;  // read in the other unit, where no unit is said
  bool in_inches = false;               // how words was read
  std::string from;
};

// Whether a diameter without a unit, in the program's own, is more like one of the other unit:
// an inch program's of an inch and more, a metric one's below a millimetre. Common practice, no
// source: posts write comments in the unit of the drawing, and programs in the machine's.
bool unit_in_doubt(double mm, bool in_inches) {
  return in_inches ? mm >= mm_per_inch - 1e-6 : mm < 1 - 1e-6;
}
// Of a size in doubt, whether the other unit's reading is what stands in: 2 and more are seldom
// inches, and a metric size below one that counts whole 64ths is an inch size.
bool other_unit_stands_in(double mm, bool in_inches) {
  if (in_inches) return mm >= 2 * mm_per_inch - 1e-6;
  return std::abs(64 * mm - std::round(64 * mm)) < 1e-6 && mm >= 1.0 / 64;
}

// The tool changed to in the lines after a comment or right before it, whichever is nearer; 0:
// none, or both as near.
int nearest_change(const std::vector<CommentLine>& lines, std::size_t i, bool in_inches) {
  int after = 0, before = 0;
  std::uint32_t to_after = lines_ahead + 1, to_before = lines_behind + 1;
  for (std::size_t k = i + 1; k < lines.size() && after == 0; ++k) {
    if (lines[k].line > lines[i].line + lines_ahead) break;
    // Another comment with a size of its own begins another tool.
    if (!lines[k].comment.empty() && tool_words(lines[k].comment, in_inches).diameter) break;
    const auto n = tool_numbers(lines[k].words);
    if (n.empty()) continue;
    after = n.front();
    to_after = lines[k].line - lines[i].line;
  }
  for (std::size_t k = i; k-- > 0 && before == 0;) {
    if (lines[k].line + lines_behind < lines[i].line) break;
    const auto n = tool_numbers(lines[k].words);
    if (n.empty()) continue;
    before = n.front();
    to_before = lines[i].line - lines[k].line;
  }
  if (after != 0 && before != 0 && to_after == to_before && after != before) return 0;
  return after != 0 && (before == 0 || to_after <= to_before) ? after : before;
}

// Which tool a comment is about: the T word in it, on its line, in the lines after it, or before.
std::vector<Said> said_in(const ProgramText& program) {
  const std::vector<CommentLine> lines = comment_lines(program.text);
  std::vector<Said> out;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].comment.empty()) continue;
    Said s;
    s.words = tool_words(lines[i].comment, program.in_inches);
    if (!s.words.names_cutter && !s.words.diameter) continue;
    s.in_inches = program.in_inches;
    ToolWords other = tool_words(lines[i].comment, !program.in_inches);
    if (s.words.diameter && other.diameter && !same(*s.words.diameter, *other.diameter))
      s.other_unit = std::move(other);
    s.from =
        fmt::format("{} line {} ({})", program.name, lines[i].line, lines[i].comment.substr(0, 60));
    const auto on_line = tool_numbers(lines[i].words);
    if (s.words.number || !on_line.empty()) {
      s.number = s.words.number.value_or(on_line.empty() ? 0 : on_line.front());
      s.names_it = true;
    } else if (s.words.diameter || !s.words.doubt.empty()) {
      s.number = nearest_change(lines, i, program.in_inches);
    }
    if (s.number > 0) out.push_back(std::move(s));
  }
  return out;
}

class ToolMaker {
 public:
  ToolMaker(ToolProposal& tool, const std::vector<Said>& all) : tool_(tool) {
    for (const Said& s : all) {
      if (s.number == tool.number) said_.push_back(&s);
    }
    // Comments that name the tool come before those that only stand near it.
    std::stable_sort(said_.begin(), said_.end(),
                     [](const Said* a, const Said* b) { return a->names_it > b->names_it; });
  }

  void make() {
    sized(tool_.diameter, &ToolWords::diameter);
    shape();
    sized(tool_.corner_radius, &ToolWords::corner_radius);
    sized(tool_.tip_angle, &ToolWords::angle);
    sized(tool_.tip_diameter, &ToolWords::tip_diameter);
    lengths();
    unit();
    flutes();
    for (const Said* s : said_) {
      if (s->words.hss) tool_.tool_material = {"hss", Basis::said, s->from};
    }
    for (const Said* s : said_) {
      if (!s->words.doubt.empty() && s->names_it) doubt(*s);
    }
    settle_angle();
  }

 private:
  // The first said, unless another comment says otherwise: then it stays open, the first standing
  // in.
  void sized(std::optional<Known<double>>& out, std::optional<double> ToolWords::*field) {
    for (const Said* s : said_) {
      const std::optional<double>& value = s->words.*field;
      if (!value) continue;
      if (!out) {
        out = {*value, Basis::said, s->from};
      } else if (!same(out->value, *value) && out->basis == Basis::said) {
        out->basis = Basis::open;
        out->from = fmt::format("{} says {:.4g}, but {} says {:.4g}", out->from, out->value,
                                s->from, *value);
      }
    }
  }

  void shape() {
    for (const Said* s : said_) {
      if (!s->words.shape) continue;
      if (!tool_.shape) {
        tool_.shape = {*s->words.shape, Basis::said, s->from};
      } else if (tool_.shape->value != *s->words.shape && s->names_it &&
                 tool_.shape->basis == Basis::said) {
        tool_.shape->basis = Basis::open;
        tool_.shape->from += ", but " + s->from + " names another shape";
      }
    }
    if (tool_.shape) return;
    for (const Said* s : said_) {
      if (s->words.other_shape.empty()) continue;
      tool_.shape = {job::ToolShape::flat, Basis::open,
                     fmt::format("{} names {}, for which there is no shape: give its profile",
                                 s->from, s->words.other_shape)};
      return;
    }
  }

  void lengths() {
    for (const Said* s : said_) {
      if (s->words.flute_length && tool_.flute_length.open())
        tool_.flute_length = {*s->words.flute_length, Basis::said, s->from};
      if (s->words.stickout && tool_.stickout.open())
        tool_.stickout = {*s->words.stickout, Basis::said, s->from};
    }
  }

  // A diameter whose unit nobody says, and that is unlikely in the program's: open, with all sizes
  // of its comment that have none either.
  void unit() {
    const auto first = std::find_if(said_.begin(), said_.end(),
                                    [](const Said* s) { return s->words.diameter.has_value(); });
    if (first == said_.end() || !(*first)->other_unit || !tool_.diameter) return;
    const Said& s = **first;
    const double own = *s.words.diameter, other = *s.other_unit->diameter;
    if (!unit_in_doubt(own, s.in_inches)) return;
    const bool swap = other_unit_stands_in(own, s.in_inches);
    const std::string why = fmt::format(
        "{}: no unit is said; {:.4g} mm in the program's, or {:.4g} mm", s.from, own, other);
    const auto doubted = [&](auto& value, const std::optional<double>& here,
                             const std::optional<double>& there) {
      if (here && there && !same(*here, *there)) value = {swap ? *there : *here, Basis::open, why};
    };
    doubted(tool_.diameter, s.words.diameter, s.other_unit->diameter);
    doubted(tool_.corner_radius, s.words.corner_radius, s.other_unit->corner_radius);
    doubted(tool_.tip_diameter, s.words.tip_diameter, s.other_unit->tip_diameter);
    doubted(tool_.flute_length, s.words.flute_length, s.other_unit->flute_length);
    doubted(tool_.stickout, s.words.stickout, s.other_unit->stickout);
  }

  void flutes() {
    tool_.flutes = {2, Basis::open, "not said; 2 is usual"};
    for (const Said* s : said_) {
      if (!s->words.flutes) continue;
      if (tool_.flutes.open()) {
        tool_.flutes = {*s->words.flutes, Basis::said, s->from};
      } else if (tool_.flutes.value != *s->words.flutes) {
        tool_.flutes = {tool_.flutes.value, Basis::open, tool_.flutes.from + ", but " + s->from};
        return;
      }
    }
  }

  // A size in doubt is not taken at all (comment_words); a shape stands in, open.
  void doubt(const Said& s) {
    if (!tool_.shape || tool_.shape->basis != Basis::said) return;
    tool_.shape->basis = Basis::open;
    tool_.shape->from = s.from + ": " + s.words.doubt;
  }

  // Angles of tapers are given per side or whole; drills have one by custom.
  void settle_angle() {
    if (!tool_.shape) return;
    const job::ToolShape shape = tool_.shape->value;
    if (tool_.tip_angle && shape == job::ToolShape::taper) {
      const bool per_side = std::any_of(said_.begin(), said_.end(),
                                        [](const Said* s) { return s->words.angle_per_side; });
      tool_.tip_angle->value *= 2;
      if (!per_side) {
        tool_.tip_angle->basis = Basis::open;
        tool_.tip_angle->from += "; read as per side";
      }
    }
    if (!tool_.tip_angle && shape == job::ToolShape::drill)
      tool_.tip_angle = {118, Basis::open, "not said; 118 is usual"};
    if (!tool_.tip_angle && shape == job::ToolShape::vee)
      tool_.tip_angle = {90, Basis::open, "not said; 60 and 90 are usual"};
    if (!tool_.tip_angle && shape == job::ToolShape::taper)
      tool_.tip_angle = {6, Basis::open, "not said"};
    const bool bull = shape == job::ToolShape::bull;
    if (bull && !tool_.corner_radius && tool_.diameter)
      tool_.corner_radius = {tool_.diameter->value / 6, Basis::open, "not said"};
  }

  ToolProposal& tool_;
  std::vector<const Said*> said_;
};

// Words for the report: "6 mm flat, 3 flutes".
std::string name_of(const ToolProposal& t) {
  std::string out;
  if (t.diameter) out = fmt::format("{:.4g} mm", t.diameter->value);
  if (t.shape) out += (out.empty() ? "" : " ") + std::string(job::info(t.shape->value).word);
  if (!t.flutes.open()) out += fmt::format(", {} flutes", t.flutes.value);
  return out.empty() ? fmt::format("tool {}", t.number) : out;
}

}  // namespace

std::vector<ToolProposal> tools_of(std::span<const ProgramText> programs,
                                   std::span<const job::Tool> from_file,
                                   const std::string& file_name) {
  std::map<int, ToolProposal> tools;
  std::vector<Said> said;
  for (const ProgramText& p : programs) {
    for (const CommentLine& line : comment_lines(p.text)) {
      for (const int number : tool_numbers(line.words)) {
        ToolProposal& tool = tools[number];
        tool.number = number;
        if (tool.used_in.find(p.name) == std::string::npos)
          tool.used_in += (tool.used_in.empty() ? "" : ", ") + p.name;
      }
    }
    auto more = said_in(p);
    said.insert(said.end(), std::make_move_iterator(more.begin()),
                std::make_move_iterator(more.end()));
  }
  // No tool change anywhere: the tool in the spindle, which a comment may name.
  if (tools.empty()) {
    const int number = said.empty() ? 1 : said.front().number;
    tools[number].number = number;
  }
  std::vector<ToolProposal> out;
  for (auto& [number, tool] : tools) {
    const auto whole =
        std::find_if(from_file.begin(), from_file.end(),
                     [wanted = number](const job::Tool& t) { return t.number == wanted; });
    ToolMaker(tool, said).make();
    tool.name = name_of(tool);
    if (whole != from_file.end()) {
      tool.from_file = *whole;
      if (tool.diameter && tool.diameter->basis == Basis::said &&
          !same(tool.diameter->value, whole->diameter))
        tool.name =
            fmt::format("{:.4g} mm in {}, but {}", whole->diameter, file_name, tool.diameter->from);
      else
        tool.name = whole->name;
    }
    out.push_back(std::move(tool));
  }
  return out;
}

namespace {

struct Motions {
  double lowest = 1e9;
  bool feeds = false, sideways = false;
};

std::map<int, Motions> motions_of(const nc::Program& program) {
  std::map<int, Motions> out;
  for (const nc::Motion& m : program.motions) {
    if (m.kind == nc::PathKind::rapid) continue;
    Motions& of = out[program.states[m.state].tool];
    of.feeds = true;
    const Box3 box = nc::bounds(m);
    of.lowest = std::min(of.lowest, box.min().z());
    const Vec3 size = box.sizes();
    of.sideways = of.sideways || size.x() > 1e-6 || size.y() > 1e-6;
  }
  return out;
}

void settle_shape(ToolProposal& t, bool sideways) {
  using enum job::ToolShape;
  if (!t.shape && !sideways) {
    t.shape = {drill, Basis::shown, "it only goes up and down"};
    t.only_plunges = true;
    if (!t.tip_angle) t.tip_angle = {118, Basis::open, "not said; 118 is usual"};
  } else if (!t.shape) {
    t.shape = {flat, Basis::open, "not said; it moves sideways, so it is no drill"};
  } else if (t.shape->value == drill && sideways && t.shape->basis == Basis::said) {
    t.shape->basis = Basis::open;
    t.shape->from += ", but it cuts sideways";
  }
}

}  // namespace

std::set<int> cut_sideways(std::span<const SetupProposal> setups) {
  std::set<int> out;
  for (const SetupProposal& setup : setups) {
    if (!setup.source) continue;
    for (const auto& [number, m] : motions_of(*setup.source)) {
      if (m.sideways) out.insert(number == 0 && setup.tool ? setup.tool->value : number);
    }
  }
  return out;
}

void look_at_motions(std::span<const SetupProposal> setups,
                     std::span<const std::optional<double>> top, std::vector<ToolProposal>& tools) {
  std::map<int, bool> sideways, feeds;
  std::map<int, double> deepest;
  std::map<int, bool> depth_known;
  for (std::size_t i = 0; i < setups.size(); ++i) {
    if (!setups[i].source) continue;
    for (const auto& [number, m] : motions_of(*setups[i].source)) {
      const int whose = number == 0 && setups[i].tool ? setups[i].tool->value : number;
      sideways[whose] = sideways[whose] || m.sideways;
      feeds[whose] = true;
      if (!top[i]) continue;
      deepest[whose] = std::max(deepest[whose], *top[i] - m.lowest);
      depth_known[whose] = true;
    }
  }
  for (ToolProposal& t : tools) {
    if (t.from_file || !feeds[t.number]) continue;
    settle_shape(t, sideways[t.number]);
    t.deepest = depth_known[t.number] ? deepest[t.number] : 0;
    const double width = t.diameter ? t.diameter->value : 0;
    // What stands in must at least hold the deepest cut, and the round end.
    const double least = std::ceil(std::max({t.deepest, width, 1.0}));
    const std::string why = t.deepest > 0
                                ? fmt::format("not known; its tip goes {:.4g} mm deep", t.deepest)
                                : std::string("not known");
    if (t.flute_length.open()) t.flute_length = {least, Basis::open, why};
    if (t.stickout.open())
      t.stickout = {std::max(least, t.flute_length.value) + 2, Basis::open,
                    why + "; measure from the tip to the holder's face"};
    if (t.stickout.value < t.flute_length.value) {
      if (t.flute_length.open()) t.flute_length.value = t.stickout.value;
    }
    if (t.kept.empty()) t.name = name_of(t);
  }
}

std::optional<job::Tool> job_tool(const ToolProposal& p) {
  if (p.from_file) return p.from_file;
  if (!p.shape || !p.diameter) return std::nullopt;
  job::Tool t;
  t.number = p.number;
  t.name = p.name;
  t.shape = p.shape->value;
  t.diameter = p.diameter->value;
  if (t.shape == job::ToolShape::bull && p.corner_radius) t.corner_radius = p.corner_radius->value;
  if (p.tip_angle) t.tip_angle = p.tip_angle->value;
  if (p.tip_diameter) t.tip_diameter = p.tip_diameter->value;
  t.flutes = p.flutes.value;
  t.flute_length = p.flute_length.value;
  t.stickout = p.stickout.value;
  t.holder = p.holder;
  return t;
}

}  // namespace proveout::propose
