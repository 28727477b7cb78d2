#include "sim/propose/propose.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <regex>
#include <set>

#include "parser/base/input_files.h"
#include "parser/job/program_reading.h"
#include "parser/job/read_job.h"
#include "parser/job/tool_shape.h"
#include "parser/mesh/mesh.h"
#include "parser/nc/program_text.h"
#include "sim/propose/arrange.h"
#include "sim/propose/blank.h"
#include "sim/propose/comment_words.h"
#include "sim/propose/kept.h"
#include "sim/propose/supports.h"
#include "sim/propose/tools.h"
#include "sim/propose/zeros.h"

namespace proveout::propose {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t most_program_bytes = std::uintmax_t{1} << 34;

// The unit in force where the tools are named: the first G20 or G21 outside of comments.
bool in_inches(std::string_view text) {
  bool comment = false;
  for (std::size_t i = 0; i + 2 < text.size(); ++i) {
    const char c = text[i];
    if (c == '(' || c == ';') comment = true;
    if (c == '\n' || c == ')') comment = false;
    if (comment || (c != 'G' && c != 'g')) continue;
    std::size_t k = i + 1;
    while (k < text.size() && (text[k] == '0' || text[k] == ' ')) ++k;
    const bool ends =
        k + 2 >= text.size() || (text[k + 2] != '.' && (text[k + 2] < '0' || text[k + 2] > '9'));
    if (ends && text.substr(k, 2) == "20") return true;
    if (ends && text.substr(k, 2) == "21") return false;
  }
  return false;
}

ProgramText text_of(const SetupProposal& s) {
  return {s.program.filename().string(), s.text, in_inches(s.text)};
}
std::vector<ProgramText> texts_of(const Proposal& p) {
  std::vector<ProgramText> out;
  for (const SetupProposal& s : p.setups) out.push_back(text_of(s));
  return out;
}

// The order of the sides: as their comments number them, else as they were given.
void order(std::vector<SetupProposal>& setups, std::vector<std::string>& remarks) {
  std::vector<std::pair<int, std::size_t>> said;
  for (std::size_t i = 0; i < setups.size(); ++i) {
    for (const CommentLine& line : comment_lines(setups[i].text)) {
      if (line.comment.empty()) continue;
      if (const auto n = side_words(line.comment)) {
        said.emplace_back(*n, i);
        break;
      }
    }
  }
  std::set<int> different;
  for (const auto& [number, i] : said) different.insert(number);
  if (said.size() != setups.size() || different.size() != setups.size()) return;
  if (std::is_sorted(said.begin(), said.end())) return;
  std::sort(said.begin(), said.end());
  std::vector<SetupProposal> sorted;
  std::string words;
  for (const auto& [number, i] : said) {
    words += (words.empty() ? "" : ", ") + setups[i].program.filename().string();
    sorted.push_back(std::move(setups[i]));
  }
  setups = std::move(sorted);
  remarks.push_back("the sides in the order their comments number them, not as they were given: " +
                    words);
}

void name_setups(std::vector<SetupProposal>& setups) {
  std::set<std::string> names;
  for (SetupProposal& s : setups) {
    s.name = s.program.stem().string();
    for (int n = 2; !names.insert(s.name).second; ++n)
      s.name = fmt::format("{} {}", s.program.stem().string(), n);
  }
}

job::Job job_of(const Proposal& p) {
  job::Job job;
  job.stock.size = p.blank.value;
  for (const ToolProposal& t : p.tools) {
    if (auto tool = job_tool(t)) job.tools.push_back(std::move(*tool));
  }
  return job;
}

// T words may not name the tool a program starts with.
void tool_in_spindle(const Proposal& p, SetupProposal& s) {
  const bool before_change =
      std::any_of(s.source->motions.begin(), s.source->motions.end(), [&](const nc::Motion& m) {
        return m.kind != nc::PathKind::rapid && s.source->states[m.state].tool == 0;
      });
  if (!before_change) return;
  const bool only = p.tools.size() == 1;
  s.tool = {p.tools.front().number, only ? Basis::shown : Basis::open,
            only ? "the program changes no tool, and there is one"
                 : "it cuts before any tool change; the first tool stands in"};
}

void offsets(SetupProposal& s) {
  std::vector<int> used;
  for (const nc::Motion& m : s.source->motions) {
    if (m.kind == nc::PathKind::rapid) continue;
    const int offset = s.source->states[m.state].work_offset;
    if (std::find(used.begin(), used.end(), offset) == used.end()) used.push_back(offset);
  }
  if (used.empty()) return;
  s.work_offset = used.front();
  s.further_offsets.assign(used.begin() + 1, used.end());
}

// Tools that no program feeds with need no figures.
void drop_idle(Proposal& p) {
  std::set<int> used;
  for (const SetupProposal& s : p.setups) {
    for (const nc::Motion& m : s.source->motions) {
      const int tool = s.source->states[m.state].tool;
      if (m.kind != nc::PathKind::rapid || tool != 0) used.insert(tool);
    }
  }
  if (used.contains(0)) return;  // the one in the spindle may be any of them
  std::erase_if(p.tools, [&](const ToolProposal& t) { return !used.contains(t.number); });
}

bool read_programs(Proposal& p, Diagnostics& diagnostics) {
  job::Job job = job_of(p);
  bool ok = true;
  for (SetupProposal& s : p.setups) {
    auto program =
        nc::program_of(s.text, s.program.string(), job::program_reading(job, nullptr), diagnostics);
    if (program)
      s.source = std::make_shared<const nc::Program>(std::move(*program));
    else
      ok = false;
  }
  return ok;
}

std::optional<job::Turn> said_turn(const SetupProposal& s, std::string& from) {
  for (const CommentLine& line : comment_lines(s.text)) {
    if (line.comment.empty()) continue;
    const auto turn = turn_words(line.comment);
    if (!turn) continue;
    from = fmt::format("{} line {} ({})", s.program.filename().string(), line.line,
                       line.comment.substr(0, 70));
    return turn;
  }
  return std::nullopt;
}

ZeroChoices choices_of(const Proposal& p, std::size_t i) {
  const SetupProposal& s = p.setups[i];
  return zero_choices(*s.source, text_of(s), p.blank.value.cwiseMax(1e-3), i == 0);
}

// Zeros and turns as words and extents tell, before anything is tried.
void settle_zeros(Proposal& p) {
  for (std::size_t i = 0; i < p.setups.size(); ++i) {
    SetupProposal& s = p.setups[i];
    const ZeroChoices choices = choices_of(p, i);
    s.zero = {choices.zeros.front(), choices.basis, choices.from};
    if (choices.must_be_milled) s.zero.value.on = job::ZeroOn::milled;
    if (i == 0) {
      s.turn = {{}, Basis::shown, "the first side"};
      continue;
    }
    if (s.turn.basis == Basis::given) continue;  // an answer goes before any comment
    std::string from;
    s.said_turn = said_turn(s, from);
    if (s.said_turn)
      s.turn = {{*s.said_turn}, Basis::said, from};
    else
      s.turn = {{{job::Axis::y, 180}}, Basis::open, "not said; turned over about y is usual"};
  }
}

void look_deep(Proposal& p) {
  std::vector<std::optional<double>> tops;
  for (const SetupProposal& s : p.setups)
    tops.push_back(p.blank.value.z() > 0 || s.zero.value.z == job::ZeroEdge::max
                       ? std::optional(top_of(s.zero.value, p.blank.value.z()))
                       : std::nullopt);
  look_at_motions(p.setups, tops, p.tools);
}

bool read_part(const Request& request, Proposal& p, Box3& bounds, Diagnostics& diagnostics) {
  if (request.part.empty()) return true;
  const auto mesh = mesh::read_mesh(request.part, 1, Vec3::Zero(), "part mesh", diagnostics);
  if (!mesh) return false;
  bounds = mesh::bounds(*mesh);
  p.part.emplace();
  p.part->mesh = request.part;
  p.part->scale = {1, Basis::shown, "its size goes with the blank's"};
  return true;
}

// A mesh in inches fits the blank only so.
void look_at_scale(Proposal& p, const Box3& bounds) {
  if (!p.part || p.blank.value.isZero()) return;
  const double size = bounds.sizes().maxCoeff(), room = p.blank.value.maxCoeff();
  if (size < 0.1 * room && mm_per_inch * size < 1.001 * room)
    p.part->scale = {mm_per_inch, Basis::open, "read as inches: in mm it would be very small"};
  p.part->origin = {0.5 * p.blank.value - p.part->scale.value * bounds.center(), Basis::open,
                    "not tried; the middle of the blank stands in"};
}

// Of one's own things one that cannot be read is no reason to propose nothing.
void read_shop(const Request& request, Proposal& p, Diagnostics& diagnostics) {
  Diagnostics of_shop;
  p.shop = job::read_shop(request.shop, of_shop);
  p.name_shop = request.name_shop;
  for (Diagnostic d : of_shop.all()) {
    if (d.severity == Severity::error) d.why = "it is left out here";
    d.severity = std::min(d.severity, Severity::warning);
    diagnostics.add(std::move(d));
  }
}

void take_kept(const Request& request, const std::vector<ProgramText>& texts, Proposal& p) {
  take_kept_tools(p.shop, p);
  // Offsets of a cutter are read by its size.
  if (std::any_of(p.tools.begin(), p.tools.end(),
                  [](const ToolProposal& t) { return !t.kept.empty(); })) {
    Diagnostics said_already;
    read_programs(p, said_already);
  }
  std::error_code ignored;
  const bool file = fs::is_regular_file(request.machine, ignored);
  take_kept_machine(p.shop, file ? "" : request.machine.string(), p);
  if (file) p.kept_machine = {};
  if (p.kept_machine.value.empty()) p.machine = request.machine;
  take_kept_material(p.shop, request.material, texts, p);
}

}  // namespace

std::optional<Proposal> read(const Request& request, Diagnostics& diagnostics) {
  Proposal p;
  InputFiles files;
  bool ok = true;
  for (const fs::path& path : request.programs) {
    const auto text = files.read(path, "NC program", diagnostics, most_program_bytes);
    if (!text) {
      ok = false;
      continue;
    }
    SetupProposal s;
    s.program = path;
    s.text = *text;
    p.setups.push_back(std::move(s));
  }
  std::vector<job::Tool> from_file;
  if (!request.tools.empty()) {
    auto tools = job::read_tools(request.tools, diagnostics);
    if (!tools) return std::nullopt;
    from_file = std::move(*tools);
    p.tools_file = request.tools;
  }
  Box3 part;
  ok = read_part(request, p, part, diagnostics) && ok;
  if (!ok || p.setups.empty()) return std::nullopt;
  order(p.setups, p.remarks);
  name_setups(p.setups);
  p.name = request.part.empty() ? p.setups.front().name : request.part.stem().string();
  const auto texts = texts_of(p);
  p.tools = tools_of(texts, from_file, request.tools.filename().string());
  if (!read_programs(p, diagnostics)) return std::nullopt;
  drop_idle(p);
  for (SetupProposal& s : p.setups) {
    tool_in_spindle(p, s);
    offsets(s);
  }
  p.material = material_of(request.material, texts);
  read_shop(request, p, diagnostics);
  take_kept(request, texts, p);
  double largest = 0;
  for (const ToolProposal& t : p.tools)
    if (const auto tool = job_tool(t)) largest = std::max(largest, tool->diameter);
  p.blank = blank_said(texts, p.setups);
  if (request.blank)
    p.blank = {*request.blank, Basis::given, "as asked for"};
  else if (p.blank.value.isZero())
    p.blank = blank_shown(p.setups, part.isEmpty() ? Vec3(Vec3::Zero()) : part.sizes(), largest);
  look_at_scale(p, part);
  settle_zeros(p);
  look_deep(p);
  return p;
}

bool can_run(const Proposal& p) {
  const bool tools = std::all_of(p.tools.begin(), p.tools.end(),
                                 [](const ToolProposal& t) { return job_tool(t).has_value(); });
  const bool placed = std::all_of(p.setups.begin(), p.setups.end(),
                                  [](const SetupProposal& s) { return s.further_offsets.empty(); });
  return tools && placed && (p.blank.value.array() > 0).all();
}

namespace {

// "T4, T5": tools of no known size or shape, which trying how the sides lie goes without.
std::string unknown_tools(const Proposal& p) {
  std::string out;
  for (const ToolProposal& t : p.tools) {
    if (!job_tool(t)) out += fmt::format("{}T{}", out.empty() ? "" : ", ", t.number);
  }
  return out;
}
std::string unless_all_known(const Proposal& p) {
  const std::string unknown = unknown_tools(p);
  return unknown.empty() ? "" : ", cut without " + unknown;
}

// Whether something that is known cuts on every side, so that trying how they lie can tell.
bool can_place(const Proposal& p) {
  const auto known = [&](int number) {
    return std::any_of(p.tools.begin(), p.tools.end(), [&](const ToolProposal& t) {
      return t.number == number && job_tool(t).has_value();
    });
  };
  return (p.blank.value.array() > 0).all() &&
         std::all_of(p.setups.begin(), p.setups.end(), [&](const SetupProposal& s) {
           const std::vector<nc::Motion>& motions = s.source->motions;
           return s.further_offsets.empty() &&
                  std::any_of(motions.begin(), motions.end(), [&](const nc::Motion& m) {
                    const int tool = s.source->states[m.state].tool;
                    return m.kind != nc::PathKind::rapid &&
                           known(tool == 0 && s.tool ? s.tool->value : tool);
                  });
         });
}

// What the fit alone decided stays open where another arrangement fits as well.
void open_where_as_good(SetupProposal& s, std::size_t i, const Arranged& a) {
  const Side& taken = a.best.sides[i];
  for (const Arrangement& rival : a.as_good) {
    const Side& other = rival.sides[i];
    if (s.turn.basis == Basis::fitted && in_words(other.turn) != in_words(taken.turn)) {
      s.turn.basis = Basis::open;
      s.turn.from += ", and " + in_words(other.turn) + " fits as well";
    }
    if (s.zero.basis == Basis::fitted && in_words(other.zero) != in_words(taken.zero)) {
      s.zero.basis = Basis::open;
      s.zero.from += ", and the " + in_words(other.zero) + " fits as well";
    }
  }
}

// Extents alone do not tell a later side's zero on the blank from one on what an earlier side
// milled a little further in.
void open_untried(Proposal& p) {
  for (std::size_t i = 1; i < p.setups.size(); ++i) {
    Known<job::Zero>& zero = p.setups[i].zero;
    if (zero.basis != Basis::shown || zero.value.on != job::ZeroOn::blank) continue;
    zero.basis = Basis::open;
    zero.from += "; whether on the blank or on what an earlier side milled, was not tried";
  }
}

// Takes over what was found; words of comments keep their basis where it agrees with them.
void take(Proposal& p, const Arranged& a, bool with_part) {
  for (std::size_t i = 0; i < p.setups.size(); ++i) {
    SetupProposal& s = p.setups[i];
    const Side& side = a.best.sides[i];
    const auto same_turn = [&] {
      if (side.turn.size() != s.turn.value.size()) return false;
      return side.turn.empty() || (side.turn.front().about == s.turn.value.front().about &&
                                   side.turn.front().degrees == s.turn.value.front().degrees);
    };
    const bool same_zero = side.zero.x == s.zero.value.x && side.zero.y == s.zero.value.y &&
                           side.zero.z == s.zero.value.z && side.zero.on == s.zero.value.on;
    s.zero.value.band = side.zero.band;
    if (!with_part || !a.fitted) continue;
    const std::string fit = fmt::format("{:.0f} % of what was milled lies on the part{}",
                                        100 * a.best.on, unless_all_known(p));
    if (!same_turn()) {
      const bool against = s.turn.basis <= Basis::said;
      s.turn = {
          side.turn, against ? Basis::open : Basis::fitted,
          against ? fmt::format("{}, but {} fits the part better", s.turn.from, in_words(side.turn))
                  : fmt::format("{}: {}", in_words(side.turn), fit)};
    } else if (s.turn.open()) {
      s.turn.basis = Basis::fitted;
      s.turn.from = in_words(side.turn) + ": " + fit;
    }
    if (!same_zero) {
      const bool against = s.zero.basis <= Basis::said;
      s.zero = {side.zero, against ? Basis::open : Basis::fitted,
                against ? s.zero.from + ", but the " + in_words(side.zero) + " fits the part better"
                        : in_words(side.zero) + ": " + fit};
    } else if (s.zero.open()) {
      s.zero.basis = Basis::fitted;
      s.zero.from = in_words(side.zero) + ": " + fit + " (" + s.zero.from + ")";
    }
    open_where_as_good(s, i, a);
  }
}

std::string rival_words(const Proposal& p, const Arrangement& rival, const Arrangement& best) {
  std::string out;
  for (std::size_t i = 0; i < p.setups.size(); ++i) {
    const bool same_turn = in_words(rival.sides[i].turn) == in_words(best.sides[i].turn);
    const bool same_zero = in_words(rival.sides[i].zero) == in_words(best.sides[i].zero);
    if (same_turn && same_zero) continue;
    out += fmt::format("{}{} {}, zero {}", out.empty() ? "" : "; ", p.setups[i].name,
                       in_words(rival.sides[i].turn), in_words(rival.sides[i].zero));
  }
  if (out.empty())
    out = fmt::format("the part at [{:.1f}, {:.1f}, {:.1f}]", rival.origin.x(), rival.origin.y(),
                      rival.origin.z());
  return out;
}

void take_part(Proposal& p, const ArrangeInput& in, const Arranged& a) {
  PartProposal& part = *p.part;
  if (!a.fitted) {
    part.origin.from = fmt::format(
        "of {} arrangements tried none lays what is milled on the part; the middle of the blank "
        "stands in",
        a.tried);
    p.remarks.push_back("no arrangement tried fits the part: look at zeros, turns, blank and mesh");
    return;
  }
  for (const Arrangement& rival : a.as_good) p.runner_up.push_back(rival_words(p, rival, a.best));
  double kerf = 1e9;
  for (const ToolProposal& t : p.tools)
    if (const auto tool = job_tool(t); tool && job::mills(*tool))
      kerf = std::min(kerf, tool->diameter);
  const double finest = std::cbrt(in.blank.prod() / 4e6);
  const double voxel = std::min(0.5 * a.voxel, std::max(kerf / 12, finest));
  const stock::Stock stock = cut_as(in, a.best, voxel);
  const FinalOrigin origin = settle_origin(in, a.best, stock, a.voxel);
  part.origin = {
      origin.taken, Basis::fitted,
      fmt::format("{:.0f} % of what was milled lies on it there, {:.1f} % inside it; the "
                  "fit says [{:.2f}, {:.2f}, {:.2f}]{}",
                  100 * origin.on, 100 * origin.inside, origin.fitted.x(), origin.fitted.y(),
                  origin.fitted.z(), unless_all_known(p))};
  if (const std::string unknown = unknown_tools(p); !unknown.empty()) {
    p.remarks.push_back("how the sides lie was tried without " + unknown +
                        ", whose sizes are not known; supports were not looked for");
    return;
  }
  if (kerf > 1e8 || kerf < 4 * voxel) return;
  Standing left = standing(stock, *in.part, origin.taken, kerf);
  part.supports = {std::move(left.supports), Basis::fitted, "left standing by the programs"};
  p.remarks.insert(p.remarks.end(), left.remarks.begin(), left.remarks.end());
}

// Whether an arrangement fits the part; nullopt: progress asked to stop.
std::optional<bool> try_sides(Proposal& p, const Request& request, Diagnostics& diagnostics) {
  if (!can_place(p)) return false;
  ArrangeInput in;
  in.blank = p.blank.value;
  in.threads = request.threads;
  in.progress = [&](double share) {
    return !request.progress || request.progress("trying how the sides lie", share);
  };
  for (const ToolProposal& t : p.tools) {
    if (const auto tool = job_tool(t)) in.bodies.emplace(t.number, solid::make_tool_body(*tool));
  }
  std::optional<solid::PartDistance> part;
  if (p.part) {
    auto mesh =
        mesh::read_mesh(p.part->mesh, p.part->scale.value, Vec3::Zero(), "part mesh", diagnostics);
    if (!mesh) return false;
    in.part = &part.emplace(std::move(*mesh));
  }
  for (std::size_t i = 0; i < p.setups.size(); ++i) {
    SetupProposal& s = p.setups[i];
    // The tool in the spindle is told to the reader of the program.
    if (s.tool) {
      job::Job job = job_of(p);
      job::Setup setup;
      setup.tool = s.tool->value;
      Diagnostics ignored;
      auto again =
          nc::program_of(s.text, s.program.string(), job::program_reading(job, &setup), ignored);
      if (again) s.source = std::make_shared<const nc::Program>(std::move(*again));
    }
    in.sides.push_back({s.name, s.source, choices_of(p, i), s.said_turn});
  }
  const auto arranged = arrange(in);
  if (!arranged) return std::nullopt;
  take(p, *arranged, in.part != nullptr);
  if (in.part != nullptr) take_part(p, in, *arranged);
  look_deep(p);
  return in.part != nullptr && arranged->fitted;
}

}  // namespace

bool arrange(Proposal& p, const Request& request, Diagnostics& diagnostics) {
  settle_zeros(p);
  const std::optional<bool> fits = try_sides(p, request, diagnostics);
  if (!fits) return false;
  if (!*fits) open_untried(p);
  return true;
}

}  // namespace proveout::propose
