#include "sim/causes/program_signs.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>
#include <set>
#include <vector>

#include "parser/job/program_reading.h"
#include "parser/nc/program_text.h"

namespace proveout::causes {
namespace {

constexpr double far_too_thin = 0.2;     // of the least chip
constexpr std::size_t fewest_lines = 2;  // in G91, that speak of a G91 left on
constexpr std::size_t most_tried = 3;
constexpr double far_too_thick = 3;  // of the greatest chip
constexpr double slack = 2;          // about the range, once read in the other unit
// Of the time in cut: what a post's table gives for cutting is no ramp and no plunge.
constexpr double cutting = 0.9;

struct Chip {
  double share;    // feed per tooth over diameter
  double seconds;  // in cut
};

// Feed per tooth over diameter below which that share of the time in cut runs; 0: none.
double below_which(std::vector<Chip> chips, double share) {
  std::sort(chips.begin(), chips.end(),
            [](const Chip& a, const Chip& b) { return a.share < b.share; });
  double all = 0, before = 0;
  for (const Chip& c : chips) all += c.seconds;
  for (const Chip& c : chips) {
    before += c.seconds;
    if (before >= share * all) return c.share;
  }
  return 0;
}

std::vector<Chip> chips_of(const run::SetupResult& setup, const job::Job& job) {
  std::vector<Chip> out;
  for (std::size_t k = 0; k < setup.cut.motions.size(); ++k) {
    const nc::Motion& m = setup.source->motions[k];
    const nc::ModalState& s = setup.source->states[m.state];
    if (m.kind == nc::PathKind::rapid || !(setup.cut.motions[k].removed_mm3 > 0)) continue;
    if (k >= setup.plan.motions.size() || !(s.spindle_rpm > 0)) continue;
    const auto tool = std::find_if(job.tools.begin(), job.tools.end(),
                                   [&](const job::Tool& t) { return t.number == s.tool; });
    if (tool == job.tools.end() || tool->flutes < 1 || !(tool->diameter > 0)) continue;
    out.push_back(
        {m.feed / (s.spindle_rpm * tool->flutes * tool->diameter), setup.plan.motions[k].time_s});
  }
  return out;
}

// Whether code stands at a place of a line's words: "G91", not "G91.1" or "G910".
bool code_at(std::string_view line, std::size_t at, std::string_view code) {
  if (line.substr(at, 1) != "G" && line.substr(at, 1) != "g") return false;
  std::size_t k = at + 1;
  while (k < line.size() && (line[k] == '0' || line[k] == ' ')) ++k;
  if (line.substr(k, 2) != code) return false;
  k += 2;
  return k >= line.size() || (line[k] != '.' && !std::isdigit(static_cast<unsigned char>(line[k])));
}

bool has_code(std::string_view text, std::string_view code) {
  bool comment = false, rest = false;  // in brackets; behind a semicolon
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '\n') comment = rest = false;
    if (text[i] == ';' && !comment) rest = true;
    if (text[i] == '(') comment = true;
    if (text[i] == ')') comment = false;
    if (!comment && !rest && code_at(text, i, code)) return true;
  }
  return false;
}

struct LeftOn {
  std::size_t end = 0;     // byte behind the line of the G91
  std::uint32_t line = 0;  // 1-based
  std::size_t lines = 0;   // up to the next G90, or the end
};

// Stretches of a program in G91, the longest first; a return home and its G90 are none.
std::vector<LeftOn> left_on(std::string_view text) {
  std::vector<LeftOn> out;
  bool open = false;
  std::uint32_t line = 0;
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = text.find('\n', at);
    if (end == std::string_view::npos) end = text.size();
    const std::string_view one = text.substr(at, end - at);
    ++line;
    if (has_code(one, "90")) open = false;
    if (open) ++out.back().lines;
    if (has_code(one, "91") && !open) {
      out.push_back({std::min(end + 1, text.size()), line, 0});
      open = true;
    }
    at = end + 1;
  }
  std::erase_if(out, [](const LeftOn& g) { return g.lines < fewest_lines; });
  std::stable_sort(out.begin(), out.end(),
                   [](const LeftOn& x, const LeftOn& y) { return x.lines > y.lines; });
  return out;
}

// How far the program's moves reach out of the blank, mm, in x and y; their start left out.
double out_of_blank(const nc::Program& program, const Box3& blank) {
  double most = 0;
  for (const nc::Motion& m : program.motions) {
    for (int axis = 0; axis < 2; ++axis) {
      most = std::max({most, m.end[axis] - blank.max()[axis], blank.min()[axis] - m.end[axis]});
    }
  }
  return most;
}

// The program's text with every G20 put as G21, or the other way round; comments stay.
std::string with_unit(const std::string& text, bool inches) {
  // Behind a percent sign on a line of its own: what stands before it is no part of the program.
  const std::size_t sign = text.find_first_not_of(" \t\r\n");
  const bool marked = sign != std::string::npos && text[sign] == '%';
  const std::size_t first = marked ? std::min(text.find('\n', sign), text.size() - 1) + 1 : 0;
  std::string out = text.substr(0, first) + (inches ? "G20\n" : "G21\n");
  bool comment = false;
  for (std::size_t i = first; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '(') comment = true;
    if (c == ')' || c == '\n') comment = false;
    const std::string_view line = text;
    if (!comment && (code_at(line, i, "20") || code_at(line, i, "21"))) {
      out += inches ? "G20" : "G21";
      i = text.find('2', i) + 1;
      continue;
    }
    out += c;
  }
  return out;
}

// The larger side of what the feed moves cover, mm, in x and y.
double extent(const nc::Program& program) {
  Box3 out;
  for (const nc::Motion& m : program.motions) {
    if (m.kind != nc::PathKind::rapid) out.extend(m.end);
  }
  return out.isEmpty() ? 0 : std::max(out.sizes().x(), out.sizes().y());
}

}  // namespace

std::optional<run::Cause> length_offset(const run::SetupResult& setup) {
  std::set<int> tools;
  for (const nc::Motion& m : setup.source->motions) {
    const nc::ModalState& s = setup.source->states[m.state];
    if (s.length_offset != 0) return std::nullopt;
    if (s.tool != 0 && m.kind != nc::PathKind::rapid) tools.insert(s.tool);
  }
  if (tools.size() < 2) return std::nullopt;
  run::Cause c;
  c.kind = run::CauseKind::offset;
  c.setup = setup.name;
  c.text = fmt::format(
      "setup {} cuts with {} tools and calls no length offset (G43 H): each but the one the zero "
      "was set with cuts too high or too deep by its difference in length",
      setup.name, tools.size());
  c.remedy = "post G43 H with each tool's number, or set every tool to one length";
  return c;
}

std::optional<run::Cause> spindle(const run::SetupResult& setup) {
  std::set<nc::SpindleTurn> turns;  // while cutting
  std::map<int, std::set<nc::SpindleTurn>> of_tool;
  for (std::size_t k = 0; k < setup.cut.motions.size(); ++k) {
    if (!(setup.cut.motions[k].removed_mm3 > 0)) continue;
    const nc::Motion& m = setup.source->motions[k];
    if (m.kind == nc::PathKind::rapid) continue;
    const nc::ModalState& s = setup.source->states[m.state];
    turns.insert(s.turn);
    of_tool[s.tool].insert(s.turn);
  }
  const std::set<nc::SpindleTurn> standing{nc::SpindleTurn::stopped};
  run::Cause c;
  c.kind = run::CauseKind::spindle;
  c.setup = setup.name;
  c.remedy = "post M3 with an S word before the first cut of each tool";
  if (turns == standing) {
    c.text = fmt::format(
        "setup {} never starts the spindle: all of it is cut with the tool standing", setup.name);
    return c;
  }
  if (turns == std::set{nc::SpindleTurn::counter_clockwise}) {
    c.text = fmt::format(
        "setup {} cuts all of it with the spindle turning counter-clockwise (M4): right-hand "
        "cutters rub backwards and break",
        setup.name);
    c.remedy = "post M3, unless the cutters are left-hand ones";
    return c;
  }
  for (const auto& [tool, its] : of_tool) {
    if (its != standing) continue;
    c.tool = tool;
    c.text = fmt::format(
        "setup {} never starts the spindle for T{}: all of its cuts are made with the tool "
        "standing",
        setup.name, tool);
    return c;
  }
  return std::nullopt;
}

std::optional<run::Cause> feed_unit(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                    const job::Job& job, const cutting::Material& material) {
  const std::vector<Chip> chips = chips_of(setup, job);
  const double middle = below_which(chips, 0.5), chip = below_which(chips, cutting);
  const auto [least, greatest] = material.chip_per_mm_diameter;
  if (!(middle > 0) || !(least > 0)) return std::nullopt;
  const bool thin = middle < far_too_thin * least;
  const bool inches = !inputs.texts.empty() && has_code(*inputs.texts.front(), "20");
  const bool thick = inches && middle > far_too_thick * greatest;
  if (!thin && !thick) return std::nullopt;
  struct Unit {
    double times;
    const char* words;
  };
  // In a program in inches a feed meant in mm a minute is as much too high.
  const std::vector<Unit> units =
      thin ? std::vector<Unit>{{mm_per_inch, "inches a minute"}, {60.0, "mm a second"}}
           : std::vector<Unit>{{1 / mm_per_inch, "mm a minute, and are taken as inches a minute"}};
  std::string words, times, meant;
  for (const Unit& unit : units) {
    const double read = unit.times * chip;
    if (read < least / slack || read > greatest * slack) continue;
    const char* either = words.empty() ? "" : " or ";
    words += either + std::string(unit.words);
    times += either + fmt::format("{:.3g}", unit.times);
    meant += either + fmt::format("{:.2g}", read);
  }
  if (words.empty()) return std::nullopt;
  run::Cause c;
  c.kind = run::CauseKind::units;
  c.setup = setup.name;
  c.text = fmt::format(
      "setup {}'s feeds read like {}: as posted a tooth takes {:.2g} of the tool's diameter where "
      "{} wants {:g} to {:g}, {} times as much would be {}",
      setup.name, words, chip, material.name, least, greatest, times, meant);
  c.remedy = thin ? "set the post's feeds to mm a minute (G94, G21)"
                  : "set the post's feeds to inches a minute behind G20, or post in mm (G21)";
  return c;
}

std::optional<run::Cause> distance_mode(const run::SetupResult& setup,
                                        const run::SetupInputs& inputs, const job::Job& job,
                                        const job::Setup& asked, const Box3& blank) {
  if (inputs.texts.empty() || blank.isEmpty()) return std::nullopt;
  const Vec3 size = blank.sizes();
  const double near = 0.5 * std::max(size.x(), size.y()), far = 2 * near;
  const double before = out_of_blank(*setup.source, blank);
  if (before < far) return std::nullopt;
  const std::string& text = *inputs.texts.front();
  std::vector<LeftOn> stretches = left_on(text);
  if (stretches.size() > most_tried) stretches.resize(most_tried);
  const auto g91 = std::find_if(stretches.begin(), stretches.end(), [&](const LeftOn& g) {
    const std::string with_g90 = text.substr(0, g.end) + "G90\n" + text.substr(g.end);
    Diagnostics ignored;  // of a text nobody posted
    const auto read = nc::program_of(with_g90, asked.program.string(),
                                     job::program_reading(job, &asked), ignored);
    return read && out_of_blank(*read, blank) <= near;
  });
  if (g91 == stretches.end()) return std::nullopt;
  run::Cause c;
  c.kind = run::CauseKind::mode;
  c.setup = setup.name;
  c.text = fmt::format(
      "setup {} is left in G91 after line {}: the moves after it leave the blank by {:.0f} mm, "
      "with G90 they stay about it",
      setup.name, g91->line, before);
  c.remedy = "post G90 after the return to home";
  return c;
}

std::optional<run::Cause> length_unit(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                      const job::Job& job, const job::Setup& asked,
                                      const Box3& blank) {
  if (inputs.texts.empty() || blank.isEmpty() || setup.source->motions.empty()) return std::nullopt;
  const double side = std::max(blank.sizes().x(), blank.sizes().y());
  const double before = out_of_blank(*setup.source, blank), covered = extent(*setup.source);
  const bool too_large = before > 2 * side;
  const bool too_small = covered > 0 && covered < 0.1 * side;
  if (!too_large && !too_small) return std::nullopt;
  const bool inches = has_code(*inputs.texts.front(), "20");
  if (too_large != inches) return std::nullopt;
  Diagnostics ignored;  // of a text nobody posted
  const auto read =
      nc::program_of(with_unit(*inputs.texts.front(), !inches), asked.program.string(),
                     job::program_reading(job, &asked), ignored);
  if (!read || out_of_blank(*read, blank) > 0.5 * side || extent(*read) < 0.25 * side)
    return std::nullopt;
  run::Cause c;
  c.kind = run::CauseKind::units;
  c.setup = setup.name;
  c.text = fmt::format(
      "setup {}'s lengths are read in {}: its moves {}, read in {} they lie about the blank",
      setup.name, inches ? "inches" : "mm",
      inches ? fmt::format("leave the blank by {:.0f} mm", before)
             : fmt::format("cover {:.1f} mm of it", covered),
      inches ? "mm" : "inches");
  c.remedy = inches ? "post G21 for a program in mm" : "post G20 for a program in inches";
  return c;
}

}  // namespace proveout::causes
