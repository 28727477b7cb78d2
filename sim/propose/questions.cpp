#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "parser/job/tool_shape.h"
#include "sim/propose/blank.h"
#include "sim/propose/comment_tokens.h"
#include "sim/propose/propose.h"
#include "sim/run/material_names.h"

namespace proveout::propose {
namespace {

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return out;
}

// Lengths in the text, mm where no unit or fraction says inches.
std::vector<double> lengths(std::string_view text) {
  std::vector<double> out;
  for (const Token& t : tokens_of(upper(text))) {
    if (!t.number) continue;
    const bool inch = t.fraction || t.unit == TokenUnit::inch;
    out.push_back(t.value * (inch ? mm_per_inch : 1));
  }
  return out;
}

std::string tool_id(const ToolProposal& t, const char* key) {
  return fmt::format("tools.{}.{}", t.number, key);
}

void ask_of_tool(const ToolProposal& t, std::vector<Question>& out) {
  const auto ask = [&](const char* key, const std::string& text, const std::string& usual) {
    out.push_back({tool_id(t, key), fmt::format("T{} ({}): {}", t.number, t.name, text), usual,
                   usual.empty()});
  };
  if (!t.diameter) {
    ask("diameter", "its diameter", "");
  } else if (t.diameter->open()) {
    ask("diameter", "its diameter (" + t.diameter->from + ")",
        fmt::format("{:.4g}", t.diameter->value));
  }
  if (!t.shape || t.shape->open()) {
    std::string words;
    for (const auto& s : job::tool_shapes())
      if (s.shape != job::ToolShape::form)
        words += (words.empty() ? "" : ", ") + std::string(s.word);
    ask("shape", "its shape: " + words,
        t.shape ? std::string(job::info(t.shape->value).word) : "flat");
  }
  if (t.shape) {
    const auto& shape = job::info(t.shape->value);
    const auto open = [](const std::optional<Known<double>>& k) { return k && k->open(); };
    if (shape.corner_radius != job::Asks::nothing && open(t.corner_radius))
      ask("corner_radius", "its corner radius", fmt::format("{:.4g}", t.corner_radius->value));
    if (shape.tip_angle != job::Asks::nothing && open(t.tip_angle))
      ask("tip_angle", "the whole angle of its point, degrees",
          fmt::format("{:.4g}", t.tip_angle->value));
  }
  if (t.flutes.open()) ask("flutes", "how many flutes", fmt::format("{}", t.flutes.value));
  if (t.flute_length.open())
    ask("flute_length", "how long its flutes are, mm", fmt::format("{:.4g}", t.flute_length.value));
  if (t.stickout.open())
    ask("stickout", "how far it stands out of the holder, tip to face, mm",
        fmt::format("{:.4g}", t.stickout.value));
  if (t.holder.empty())
    out.push_back({tool_id(t, "holder"),
                   fmt::format("T{}: its holder from the face up, diameter x height pairs, mm, as "
                               "25x20 40x30",
                               t.number),
                   "not checked", false});
}

std::string take_length(std::string_view text, Known<double>& out, double low, double high) {
  const auto all = lengths(text);
  if (all.size() != 1) return "one number is wanted";
  if (!(all.front() >= low && all.front() <= high))
    return fmt::format("from {:g} to {:g} is possible", low, high);
  out = {all.front(), Basis::given, "answered"};
  return {};
}

std::string take_length(std::string_view text, std::optional<Known<double>>& out, double low,
                        double high) {
  Known<double> value;
  std::string why = take_length(text, value, low, high);
  if (why.empty()) out = value;
  return why;
}

std::string answer_of_tool(ToolProposal& t, std::string_view key, std::string_view text) {
  if (key == "diameter") return take_length(text, t.diameter, 0.01, 500);
  if (key == "corner_radius")
    return take_length(text, t.corner_radius, 0, t.diameter ? t.diameter->value / 2 : 250);
  if (key == "tip_angle") return take_length(text, t.tip_angle, 1, 179);
  if (key == "flute_length") return take_length(text, t.flute_length, 0.1, 1000);
  if (key == "stickout") {
    Known<double> value;
    std::string why = take_length(text, value, 0.1, 1000);
    if (!why.empty()) return why;
    if (!t.flute_length.open() && value.value < t.flute_length.value)
      return fmt::format("the flutes are {:g} long", t.flute_length.value);
    t.stickout = value;
    t.flute_length.value = std::min(t.flute_length.value, value.value);
    return {};
  }
  if (key == "flutes") {
    Known<double> value;
    std::string why = take_length(text, value, 1, 20);
    if (why.empty())
      t.flutes = {static_cast<int>(std::lround(value.value)), Basis::given, "answered"};
    return why;
  }
  if (key == "shape") {
    for (const auto& s : job::tool_shapes()) {
      if (upper(s.word) != upper(text) || s.shape == job::ToolShape::form) continue;
      t.shape = {s.shape, Basis::given, "answered"};
      if (s.shape == job::ToolShape::drill && !t.tip_angle)
        t.tip_angle = {118, Basis::open, "not said; 118 is usual"};
      if ((s.shape == job::ToolShape::vee || s.shape == job::ToolShape::taper) && !t.tip_angle)
        t.tip_angle = {s.shape == job::ToolShape::vee ? 90.0 : 6.0, Basis::open, "not said"};
      if (s.shape == job::ToolShape::bull && !t.corner_radius)
        t.corner_radius = {t.diameter ? t.diameter->value / 6 : 1, Basis::open, "not said"};
      return {};
    }
    return "one of flat, ball, bull, taper, vee, drill is wanted";
  }
  if (key == "holder") {
    const auto all = lengths(text);
    if (all.empty() || all.size() % 2 != 0) return "pairs are wanted: diameter x height";
    std::vector<std::pair<double, double>> pairs;
    for (std::size_t i = 0; i < all.size(); i += 2) {
      if (!(all[i] > 0 && all[i] < 1000 && all[i + 1] > 0 && all[i + 1] < 1000))
        return "diameters and heights are above 0";
      pairs.emplace_back(all[i], all[i + 1]);
    }
    t.holder = std::move(pairs);
    return {};
  }
  return "there is no such question";
}

std::string answer_of_setup(SetupProposal& s, std::string_view key, std::string_view text) {
  if (key == "turn") {
    const std::string word = upper(text);
    if (word == "X" || word == "Y") {
      const job::Axis axis = word == "X" ? job::Axis::x : job::Axis::y;
      s.turn = {{{axis, 180}}, Basis::given, "answered"};
      s.said_turn = job::Turn{axis, 180};
      return {};
    }
    if (word == "NONE") {
      s.turn = {{}, Basis::given, "answered"};
      s.said_turn = job::Turn{job::Axis::y, 0};
      return {};
    }
    return "x, y or none is wanted";
  }
  const auto all = lengths(text);
  if (all.size() != 6) return "two corners are wanted: six numbers, in the setup's coordinates";
  Box3 box;
  box.extend(Vec3(all[0], all[1], all[2]));
  box.extend(Vec3(all[3], all[4], all[5]));
  s.fixtures.push_back(box);
  return {};
}

}  // namespace

std::vector<Question> questions(const Proposal& p) {
  std::vector<Question> out;
  if (p.blank.open()) {
    std::string usual;
    if (!p.blank.value.isZero())
      usual =
          fmt::format("{:g}x{:g}x{:g}", p.blank.value.x(), p.blank.value.y(), p.blank.value.z());
    out.push_back({"blank", "the blank, x by y by z (" + p.blank.from + ")", usual, usual.empty()});
  }
  if (p.material.open())
    out.push_back({"material", "what the blank is of (" + p.material.from + ")", p.material.value});
  for (const ToolProposal& t : p.tools)
    if (!t.from_file) ask_of_tool(t, out);
  for (std::size_t i = 1; i < p.setups.size(); ++i) {
    if (p.setups[i].turn.open() && !p.part)
      out.push_back({fmt::format("setups.{}.turn", i),
                     fmt::format("{}: turned over about x or y, or none", p.setups[i].name), "y"});
  }
  if (p.machine.empty() && p.kept_machine.value.empty()) {
    std::string kept;
    for (const job::KeptMachine& m : p.shop.machines) kept += m.name + ", ";
    out.push_back({"machine",
                   kept.empty() ? "a TOML file of the machine's figures"
                                : "the machine: " + kept + "or a TOML file of its figures",
                   "not checked"});
  }
  for (std::size_t i = 0; i < p.setups.size(); ++i) {
    if (p.setups[i].fixtures.empty())
      out.push_back({fmt::format("setups.{}.fixture", i),
                     fmt::format("{}: a clamp or the vice, as two corners x y z x y z in the "
                                 "program's coordinates",
                                 p.setups[i].name),
                     "not checked"});
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Question& a, const Question& b) { return a.needed > b.needed; });
  return out;
}

std::string answer(Proposal& p, const std::string& id, std::string_view text) {
  if (id == "blank") {
    const auto size = sizes_from(text);
    if (!size) return "three sizes are wanted, as 160x60x32";
    p.blank = {*size, Basis::given, "answered"};
    if (p.part) p.part->origin.from = "not tried; the middle of the blank stands in";
    return {};
  }
  if (id == "material") {
    for (const std::string& kept : p.shop.materials) {
      if (kept != text) continue;
      p.material = {kept, Basis::given, "answered, and kept"};
      p.kept_material = kept;
      return {};
    }
    p.kept_material.clear();
    const auto meant = run::material_meant(text);
    if (!meant) return fmt::format("'{}' is no built-in material", text);
    p.material = {meant->name, Basis::given, meant->exact ? "answered" : meant->words};
    return {};
  }
  if (id == "machine") {
    for (const job::KeptMachine& m : p.shop.machines) {
      if (m.name != text) continue;
      p.kept_machine = {m.name, Basis::given, "answered"};
      return {};
    }
    std::error_code ignored;
    if (!std::filesystem::is_regular_file(std::filesystem::path(text), ignored))
      return "there is no such file";
    p.machine = std::filesystem::path(text);
    return {};
  }
  const std::size_t first = id.find('.'), second = id.find('.', first + 1);
  if (second == std::string::npos) return "there is no such question";
  const int number = std::atoi(id.substr(first + 1, second - first - 1).c_str());
  const std::string key = id.substr(second + 1);
  if (id.starts_with("tools.")) {
    for (ToolProposal& t : p.tools)
      if (t.number == number) return answer_of_tool(t, key, text);
  } else if (static_cast<std::size_t>(number) < p.setups.size()) {
    return answer_of_setup(p.setups[static_cast<std::size_t>(number)], key, text);
  }
  return "there is no such question";
}

}  // namespace proveout::propose
