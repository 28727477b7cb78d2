#include "sim/propose/blank.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "sim/propose/comment_words.h"
#include "sim/run/material_names.h"

namespace proveout::propose {
namespace {

std::string place(const ProgramText& p, const CommentLine& line) {
  return fmt::format("{} line {} ({})", p.name, line.line, line.comment.substr(0, 60));
}

// Words that say nothing of a material though they resemble one: a comment's everyday words are
// many, and only its own names and everyday names count there.
std::optional<std::string> material_in(const CommentLine& line) {
  const auto words = plain_words(line.comment);
  for (std::size_t i = 0; i < words.size(); ++i) {
    for (std::size_t length : {2u, 1u}) {
      if (i + length > words.size()) continue;
      const std::string word = length == 2 ? words[i] + " " + words[i + 1] : words[i];
      const auto meant = run::material_meant(word);
      // "read as" is a guess at a spelling: not from a comment's words.
      if (!meant || (!meant->exact && meant->words.find("taken as") == std::string::npos)) continue;
      return meant->name;
    }
  }
  return std::nullopt;
}

// About the feed moves of the first program, mm.
Box3 first_cuts(std::span<const SetupProposal> setups) {
  Box3 feeds;
  if (setups.empty() || !setups.front().source) return feeds;
  for (const nc::Motion& m : setups.front().source->motions) {
    if (m.kind != nc::PathKind::rapid) feeds.extend(nc::bounds(m));
  }
  return feeds;
}

// Whether a blank of that size is what cuts of that size are made in: not much smaller, and no
// tenfold larger in both directions, as the wrong unit makes it.
bool goes_with(const Vec3& blank, const Vec3& cuts) {
  const double share = blank.head<2>().maxCoeff() / std::max(cuts.head<2>().maxCoeff(), 1e-3);
  return share > 0.3 && share < 10;
}

// A size without a unit is the program's, where that goes with the cuts; else the other unit's, and
// open.
void doubt_unit(Known<Vec3>& blank, const Vec3& other, std::span<const SetupProposal> setups) {
  const Box3 cuts = first_cuts(setups);
  if (cuts.isEmpty() || blank.value.isApprox(other, 1e-6)) return;
  if (goes_with(blank.value, cuts.sizes()) || !goes_with(other, cuts.sizes())) return;
  blank.from += fmt::format(
      ": no unit is said; in the program's it would be {:.4g} x {:.4g} x {:.4g} mm, which does not "
      "go with the cuts",
      blank.value.x(), blank.value.y(), blank.value.z());
  blank.value = other;
  blank.basis = Basis::open;
}

}  // namespace

Known<Vec3> blank_said(std::span<const ProgramText> programs,
                       std::span<const SetupProposal> setups) {
  Known<Vec3> out{Vec3::Zero(), Basis::open, "not known: measure the blank"};
  for (const ProgramText& p : programs) {
    for (const CommentLine& line : comment_lines(p.text)) {
      if (line.comment.empty()) continue;
      const auto size = blank_words(line.comment, p.in_inches);
      if (!size) continue;
      if (out.value.isZero()) {
        out = {*size, Basis::said, place(p, line)};
        if (const auto other = blank_words(line.comment, !p.in_inches))
          doubt_unit(out, *other, setups);
      } else if (!out.value.isApprox(*size, 1e-3)) {
        out.basis = Basis::open;
        out.from += ", but " + place(p, line) + " says otherwise";
      }
    }
  }
  return out;
}

Known<Vec3> blank_shown(std::span<const SetupProposal> setups, const Vec3& part,
                        double largest_tool) {
  const Box3 feeds = first_cuts(setups);
  if (feeds.isEmpty()) return {part, Basis::open, "not known: measure the blank"};
  Vec3 size = feeds.sizes();
  // Tools run beside the blank by their radius at least, and lead in from further out.
  size.head<2>().array() -= largest_tool;
  size.z() = feeds.min().z() < 0 ? -feeds.min().z() : feeds.max().z();
  size = size.cwiseMax(part).cwiseMax(1.0);
  for (int axis = 0; axis < 3; ++axis) size[axis] = std::ceil(size[axis] - 1e-6);
  return {size, Basis::open,
          "not known: measure the blank; what stands here is about the cuts of the first program"};
}

Known<std::string> material_of(const std::string& given, std::span<const ProgramText> programs) {
  if (!given.empty()) {
    const auto meant = run::material_meant(given);
    if (!meant)
      return {given, Basis::given,
              "as asked for; no built-in material: give [materials] its figures"};
    return {meant->name, Basis::given, meant->exact ? "as asked for" : meant->words};
  }
  Known<std::string> out{"6061-T6", Basis::open, "not known"};
  for (const ProgramText& p : programs) {
    for (const CommentLine& line : comment_lines(p.text)) {
      if (line.comment.empty()) continue;
      // A tool's own material is none of the blank's.
      if (const ToolWords w = tool_words(line.comment, p.in_inches); w.names_cutter) continue;
      const auto name = material_in(line);
      if (!name) continue;
      if (out.open() && out.from == "not known") {
        out = {*name, Basis::said, place(p, line)};
      } else if (out.value != *name) {
        out.basis = Basis::open;
        out.from += ", but " + place(p, line) + " names another";
        return out;
      }
    }
  }
  return out;
}

std::optional<Vec3> sizes_from(std::string_view text) {
  std::string comment = "BLANK ";
  for (const char c : text)
    comment += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return blank_words(comment, false);
}

}  // namespace proveout::propose
