#include "sim/propose/kept.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <set>

#include "parser/job/tool_checks.h"
#include "parser/job/tool_shape.h"
#include "sim/propose/comment_words.h"

namespace proveout::propose {
namespace {

bool same(double a, double b) { return std::abs(a - b) <= 0.005 * std::max(a, b); }

std::string words_of(const job::KeptTool& k) {
  std::string out = fmt::format("{:.4g} mm {}", k.tool.diameter, job::info(k.tool.shape).word);
  if (k.keys.contains("stickout")) out += fmt::format(", stands out {:.4g} mm", k.tool.stickout);
  return out;
}

// Why the kept tool is not the program's; empty: nothing is against it. A size in doubt counts as
// the one that stands in.
std::string against(const ToolProposal& t, const job::KeptTool& k, bool sideways) {
  const job::Tool& tool = k.tool;
  if (t.diameter && !same(t.diameter->value, tool.diameter))
    return fmt::format("{} says {:.4g} mm", t.diameter->from, t.diameter->value);
  if (t.shape && t.shape->value != tool.shape)
    return fmt::format("{} says {}", t.shape->from, job::info(t.shape->value).word);
  if (t.corner_radius && tool.shape == job::ToolShape::bull &&
      !same(t.corner_radius->value, tool.corner_radius))
    return fmt::format("{} says a corner of {:.4g} mm", t.corner_radius->from,
                       t.corner_radius->value);
  const bool angled = job::info(tool.shape).tip_angle != job::Asks::nothing;
  if (angled && t.tip_angle && !t.tip_angle->open() &&
      std::abs(t.tip_angle->value - tool.tip_angle) > 0.5)
    return fmt::format("{} says {:.4g} degrees", t.tip_angle->from, t.tip_angle->value);
  if (!t.flutes.open() && k.keys.contains("flutes") && t.flutes.value != tool.flutes)
    return fmt::format("{} says {} flutes", t.flutes.from, t.flutes.value);
  if (sideways && !job::info(tool.shape).mills) return "it cuts sideways";
  return {};
}

void take(ToolProposal& t, const job::KeptTool& k, const std::string& why) {
  const job::Tool& tool = k.tool;
  t.kept = k.name;
  t.kept_why = why + "; " + words_of(k);
  const auto given = [](auto value) {
    return Known<decltype(value)>{value, Basis::given, kept_basis};
  };
  const auto says = [&](const char* key) { return k.keys.contains(key); };
  t.name = tool.name;
  t.shape = given(tool.shape);
  t.diameter = given(tool.diameter);
  t.corner_radius.reset();
  if (tool.shape == job::ToolShape::bull) t.corner_radius = given(tool.corner_radius);
  if (says("tip_angle")) t.tip_angle = given(tool.tip_angle);
  if (says("tip_diameter")) t.tip_diameter = given(tool.tip_diameter);
  if (says("flutes")) t.flutes = given(tool.flutes);
  if (says("flute_length")) t.flute_length = given(tool.flute_length);
  if (says("stickout")) t.stickout = given(tool.stickout);
  if (says("tool_material")) t.tool_material = given(tool.tool_material);
  if (says("holder")) t.holder = tool.holder;
  t.holder_kept = !t.holder.empty();
  // A profile is no value of a proposal's.
  if (tool.shape != job::ToolShape::form) return;
  t.from_file = tool;
  t.from_file->number = t.number;
  job::complete(*t.from_file, says("stickout"));
}

void find_kept(const job::Shop& shop, bool sideways, ToolProposal& t,
               std::vector<std::string>& remarks) {
  std::vector<const job::KeptTool*> numbered, worded;
  const bool sized =
      t.diameter && t.diameter->basis == Basis::said && t.shape && t.shape->basis == Basis::said;
  for (const job::KeptTool& k : shop.tools) {
    const std::string why = against(t, k, sideways);
    if (k.tool.number == t.number) {
      if (why.empty())
        numbered.push_back(&k);
      else
        remarks.push_back(fmt::format("T{} is not the kept tool '{}' of its number, {}: {}",
                                      t.number, k.name, words_of(k), why));
    }
    if (why.empty() && sized) worded.push_back(&k);
  }
  if (numbered.size() == 1) {
    if (!t.diameter)
      remarks.push_back(
          fmt::format("T{} is taken for the kept tool '{}' by its number alone: no comment says "
                      "what it is",
                      t.number, numbered.front()->name));
    return take(t, *numbered.front(), "by its number");
  }
  const auto& several = numbered.empty() ? worded : numbered;
  if (several.size() == 1) {
    remarks.push_back(
        fmt::format("T{} is taken for the kept tool '{}', the only one of that shape "
                    "and size: see that it is this one",
                    t.number, several.front()->name));
    return take(t, *several.front(), "the only one of that shape and size");
  }
  if (several.empty()) return;
  std::string names;
  for (const job::KeptTool* k : several) names += (names.empty() ? "'" : "', '") + k->name;
  remarks.push_back(
      fmt::format("T{} may be one of the kept tools {}': none is taken; number them, "
                  "or give the job's tool kept = \"NAME\"",
                  t.number, names));
}

std::string upper_words(std::string_view text) {
  std::string out = " ";
  for (const char c : text) {
    const bool part = std::isalnum(static_cast<unsigned char>(c)) != 0;
    if (part)
      out += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    else if (out.back() != ' ')
      out += ' ';
  }
  if (out.back() != ' ') out += ' ';
  return out;
}

}  // namespace

void take_kept_tools(const job::Shop& shop, Proposal& p) {
  const std::set<int> sideways = cut_sideways(p.setups);
  for (ToolProposal& t : p.tools) {
    if (!t.from_file) find_kept(shop, sideways.contains(t.number), t, p.remarks);
  }
}

void take_kept_machine(const job::Shop& shop, const std::string& wanted, Proposal& p) {
  for (const job::KeptMachine& m : shop.machines) {
    if (m.name == wanted) p.kept_machine = {m.name, Basis::given, "as asked for"};
  }
  if (!wanted.empty() || shop.machines.empty()) return;
  if (shop.machines.size() == 1)
    p.kept_machine = {shop.machines.front().name, Basis::given, "the only one that is kept"};
}

void take_kept_material(const job::Shop& shop, const std::string& asked,
                        const std::vector<ProgramText>& programs, Proposal& p) {
  const std::string wanted = upper_words(asked);
  for (const std::string& name : shop.materials) {
    if (!asked.empty() && upper_words(name) == wanted) {
      p.material = {name, Basis::given, "as asked for, and kept"};
      p.kept_material = name;
    }
  }
  if (!asked.empty()) return;
  for (const ProgramText& program : programs) {
    for (const CommentLine& line : comment_lines(program.text)) {
      if (line.comment.empty() || tool_words(line.comment, program.in_inches).names_cutter)
        continue;
      const std::string words = upper_words(line.comment);
      for (const std::string& name : shop.materials) {
        if (words.find(upper_words(name)) == std::string::npos || name == p.kept_material) continue;
        const std::string from =
            fmt::format("{} line {} ({})", program.name, line.line, line.comment.substr(0, 60));
        if (p.kept_material.empty()) {
          p.material = {name, Basis::said, from + ", and kept"};
          p.kept_material = name;
        } else {
          p.material.basis = Basis::open;
          p.material.from += ", but " + from + " names another";
        }
      }
    }
  }
}

}  // namespace proveout::propose
