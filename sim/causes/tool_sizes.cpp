#include "sim/causes/tool_sizes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <regex>
#include <set>

#include "parser/job/find_tool.h"
#include "parser/job/tool_shape.h"

namespace proveout::causes {
namespace {

constexpr double same_size = 0.02;         // of the diameter
constexpr std::size_t most_comment = 200;  // characters looked at
constexpr std::uint32_t lines_ahead = 4;   // a comment above the block that changes the tool

std::string upper(std::string_view text) {
  std::string out(text.substr(0, most_comment));
  for (char& c : out) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return out;
}

struct Line {
  std::uint32_t number = 0;    // 1-based
  std::string words, comment;  // upper case
};

Line split(std::string_view line) {
  Line out;
  bool inside = false;
  for (std::size_t i = 0; i < line.size() && i < 4 * most_comment; ++i) {
    const char c = line[i];
    if (!inside && c == ';') {
      out.comment += line.substr(i + 1);
      break;
    }
    if (c == '(' || c == ')') {
      inside = c == '(';
      if (!inside) out.comment += ' ';
      continue;
    }
    (inside ? out.comment : out.words) += c;
  }
  out.words = upper(out.words);
  out.comment = upper(out.comment);
  return out;
}

// Those with a comment or a tool word: most lines of a long program are plain moves.
std::vector<Line> lines_of(std::string_view program) {
  std::vector<Line> out;
  std::uint32_t number = 0;
  for (std::size_t at = 0; at < program.size();) {
    std::size_t end = program.find('\n', at);
    if (end == std::string_view::npos) end = program.size();
    const std::string_view line = program.substr(at, end - at);
    ++number;
    if (line.find_first_of("(;Tt") != std::string_view::npos) {
      out.push_back(split(line));
      out.back().number = number;
    }
    at = end + 1;
  }
  return out;
}

int tool_word(const std::string& text) {
  static const std::regex word("(^|[^A-Z0-9])T *0*([0-9]{1,5})(?![0-9.])");
  std::smatch m;
  return std::regex_search(text, m, word) ? std::stoi(m[2]) : 0;
}

double number(const std::string& text) {
  double value = 0;
  try {
    value = std::stod(text);
  } catch (const std::exception&) {
    return 0;
  }
  return value > 0 && value < 1000 ? value : 0;
}

std::vector<double> sizes_in(const std::string& comment) {
  static const std::regex marked("(^|[^A-Z])(D|DIA|DIAM|DIAMETER)\\.? *[=:]? *([0-9]*\\.?[0-9]+)");
  static const std::regex in_mm("([0-9]*\\.?[0-9]+) *MM(?![A-Z])");
  static const std::regex fraction("([0-9]{1,3}) */ *([0-9]{1,3})");
  static const std::regex cutter(
      "MILL|DRILL|BALL|FLAT|BULL|CUTTER|REAM|CHAMFER|VEE|TAPER|FLUTE|NOSE|TOOL");
  // "T1 6 MM": behind the number and nothing else; "3.3 DRILL": before the word, with a point, for
  // drills are numbered too ("#7 DRILL").
  static const std::regex behind("(?:^|[^A-Z0-9])T *[0-9]{1,5} *[-:=]? *([0-9]*\\.?[0-9]+) *MM *$");
  static const std::regex before("(?:^|[^A-Z0-9.#])([0-9]*\\.[0-9]+) *(?:DRILL|END ?MILL|BALL)");
  std::vector<double> out;
  const auto add = [&](double mm) {
    if (mm > 0 && std::isfinite(mm)) out.push_back(mm);
  };
  const bool of_cutter = std::regex_search(comment, cutter);
  using Matches = std::sregex_iterator;
  for (Matches m(comment.begin(), comment.end(), marked), end; m != end; ++m) {
    // "D1" without anything else is an offset's number rather than a size.
    const bool plain = (*m)[2] == "D" && (*m)[3].str().find('.') == std::string::npos &&
                       (*m)[0].str().find('=') == std::string::npos;
    if (!plain || of_cutter) add(number((*m)[3]));
  }
  if (!of_cutter) {
    std::smatch m;
    if (out.empty() && std::regex_search(comment, m, behind)) add(number(m[1]));
    return out;
  }
  for (Matches m(comment.begin(), comment.end(), before), end; m != end; ++m) add(number((*m)[1]));
  for (Matches m(comment.begin(), comment.end(), in_mm), end; m != end; ++m) add(number((*m)[1]));
  for (Matches m(comment.begin(), comment.end(), fraction), end; m != end; ++m) {
    const double below = number((*m)[2]);
    if (below > 0) add(mm_per_inch * number((*m)[1]) / below);
  }
  return out;
}

// Words for a shape; a cutter that ends round or pointed is often called an end mill too, so that
// FLAT alone speaks for a flat one.
std::optional<job::ToolShape> shape_in(const std::string& of) {
  // A slot drill is an end mill, flat or round; what is called mill and drill both is told by
  // neither. Common practice, no source.
  static const std::regex slot_drill("SLOT[ -]?DRILL"), mill("MILL");
  const std::string comment = std::regex_replace(of, slot_drill, " ");
  const bool milled = std::regex_search(comment, mill);
  static const std::pair<std::regex, job::ToolShape> words[] = {
      {std::regex("(^|[^A-Z])BALL(NOSE|[^A-Z]|$)"), job::ToolShape::ball},
      {std::regex("(^|[^A-Z])FLAT([^A-Z]|$)"), job::ToolShape::flat},
      {std::regex("(^|[^A-Z])DRILL([^A-Z]|$)"), job::ToolShape::drill},
      {std::regex("(^|[^A-Z])(VEE|V-?BIT)([^A-Z]|$)"), job::ToolShape::vee}};
  std::optional<job::ToolShape> out;
  for (const auto& [word, shape] : words) {
    if (!std::regex_search(comment, word)) continue;
    if (out || (milled && shape == job::ToolShape::drill)) return std::nullopt;
    out = shape;
  }
  return out;
}

bool is_size(double named, double diameter) {
  const auto same = [&](double mm) { return std::abs(mm - diameter) <= same_size * diameter; };
  return same(named) || same(named * mm_per_inch) || same(named / mm_per_inch);
}

}  // namespace

std::vector<NamedTool> tools_in_comments(std::string_view program) {
  const std::vector<Line> lines = lines_of(program);
  std::vector<NamedTool> out;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].comment.empty()) continue;
    NamedTool named;
    named.sizes = sizes_in(lines[i].comment);
    if (named.sizes.empty()) continue;
    named.shape = shape_in(lines[i].comment);
    named.number = tool_word(lines[i].comment);
    for (std::size_t k = i;
         named.number == 0 && k < lines.size() && lines[k].number < lines[i].number + lines_ahead;
         ++k) {
      // Another comment with a size of its own begins another tool.
      if (k > i && !sizes_in(lines[k].comment).empty()) break;
      named.number = tool_word(lines[k].words);
    }
    if (named.number == 0) continue;
    named.line = lines[i].number;
    out.push_back(std::move(named));
  }
  return out;
}

std::vector<NamedTool> contradictions(const std::vector<NamedTool>& named,
                                      const std::vector<job::Tool>& tools) {
  std::vector<NamedTool> out;
  std::set<int> said;
  for (const NamedTool& n : named) {
    const job::Tool* tool = job::find_tool(tools, n.number);
    if (tool == nullptr) continue;
    const bool fits = std::any_of(n.sizes.begin(), n.sizes.end(),
                                  [&](double size) { return is_size(size, tool->diameter); });
    if (!fits && said.insert(n.number).second) out.push_back(n);
  }
  return out;
}

std::vector<NamedTool> other_shapes(const std::vector<NamedTool>& named,
                                    const std::vector<job::Tool>& tools) {
  using enum job::ToolShape;
  std::vector<NamedTool> out;
  std::set<int> said;
  for (const NamedTool& n : named) {
    const job::Tool* tool = job::find_tool(tools, n.number);
    if (tool == nullptr || !n.shape || *n.shape == tool->shape) continue;
    const bool plain = std::set{flat, ball, drill, vee}.contains(tool->shape);
    if (plain && said.insert(n.number).second) out.push_back(n);
  }
  return out;
}

std::optional<NamedBlank> blank_in_comments(std::string_view program) {
  static const std::regex of_blank("(^|[^A-Z])(BLANK|STOCK|BLOCK|BILLET|RAW)([^A-Z]|$)");
  static const std::string size = "([0-9]*\\.?[0-9]+) *(?:MM|IN|INCH)?";
  static const std::regex three(size + " *(?:X|\\*|BY) *" + size + " *(?:X|\\*|BY) *" + size);
  for (const Line& line : lines_of(program)) {
    std::smatch m;
    if (!std::regex_search(line.comment, of_blank) || !std::regex_search(line.comment, m, three))
      continue;
    const Vec3 named(number(m[1]), number(m[2]), number(m[3]));
    if ((named.array() > 0).all()) return NamedBlank{line.number, named};
  }
  return std::nullopt;
}

namespace {

Finding remark(const run::SetupResult& setup, std::uint32_t line, const char* detail) {
  Finding f;
  f.kind = FindingKind::program;
  f.level = Severity::warning;
  f.detail = detail;
  f.setup = setup.name;
  f.file = setup.program;
  f.line = line;
  return f;
}

Vec3 sorted(Vec3 v) {
  std::sort(v.data(), v.data() + 3);
  return v;
}

// Whichever way the blank lies for the program that names it, in mm or inches.
bool same_blank(const Vec3& named, const Vec3& size) {
  const Vec3 a = sorted(named), b = sorted(size);
  for (const double unit : {1.0, mm_per_inch}) {
    if (((unit * a - b).array().abs() <= same_size * b.array()).all()) return true;
  }
  return false;
}

}  // namespace

std::vector<Finding> other_sizes(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                 const job::Job& job) {
  std::set<int> used;
  for (const nc::ModalState& s : setup.source->states) used.insert(s.tool);
  std::vector<Finding> out;
  if (inputs.texts.empty()) return out;
  const std::string& text = *inputs.texts.front();
  const std::vector<NamedTool> named = tools_in_comments(text);
  for (const NamedTool& n : contradictions(named, job.tools)) {
    if (!used.contains(n.number)) continue;
    Finding f = remark(setup, n.line, "tool-size-differs");
    f.tool = n.number;
    f.value = n.sizes.front();
    f.limit = job::find_tool(job.tools, n.number)->diameter;
    f.unit = "mm";
    f.text = fmt::format(
        "the program's comment names a tool of {:.4g} for T{}, the job declares {:g} mm", f.value,
        n.number, f.limit);
    out.push_back(std::move(f));
  }
  for (const NamedTool& n : other_shapes(named, job.tools)) {
    if (!used.contains(n.number)) continue;
    Finding f = remark(setup, n.line, "tool-shape-differs");
    f.tool = n.number;
    f.text = fmt::format("the program's comment names a {} tool for T{}, the job declares {}",
                         job::info(*n.shape).word, n.number,
                         job::info(job::find_tool(job.tools, n.number)->shape).word);
    out.push_back(std::move(f));
  }
  const std::optional<NamedBlank> blank = blank_in_comments(text);
  if (blank && job.stock.mesh.empty() && !same_blank(blank->size, job.stock.size)) {
    Finding f = remark(setup, blank->line, "blank-size-differs");
    f.text = fmt::format(
        "the program's comment names a blank of {:g} x {:g} x {:g}, the job declares {:g} x {:g} x "
        "{:g} mm",
        blank->size.x(), blank->size.y(), blank->size.z(), job.stock.size.x(), job.stock.size.y(),
        job.stock.size.z());
    out.push_back(std::move(f));
  }
  return out;
}

}  // namespace proveout::causes
