#include "sim/propose/zeros.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace proveout::propose {
namespace {

using Edge = job::ZeroEdge;

constexpr double near_share = 1.0 / 7, clear_share = 0.5;
constexpr double above_zero = 0.05;  // mm: levels on the zero are neither below nor above it

Box3 feed_box(const nc::Program& program) {
  Box3 out;
  for (const nc::Motion& m : program.motions) {
    if (m.kind != nc::PathKind::rapid) out.extend(nc::bounds(m));
  }
  return out;
}

// How far the middle of the blank would lie from the middle of the cuts.
double off(Edge edge, double middle, double size) {
  const double meant = edge == Edge::min ? size / 2 : edge == Edge::max ? -size / 2 : 0;
  return std::abs(middle - meant);
}

struct EdgeChoice {
  std::vector<Edge> edges;  // nearest first
  bool clear = false;
};

EdgeChoice edges_along(double middle, double size) {
  std::array all = {Edge::centre, Edge::min, Edge::max};
  std::stable_sort(all.begin(), all.end(),
                   [&](Edge a, Edge b) { return off(a, middle, size) < off(b, middle, size); });
  EdgeChoice out;
  const double first = off(all[0], middle, size), second = off(all[1], middle, size);
  out.clear = first <= near_share * size && first <= clear_share * second;
  out.edges.push_back(all[0]);
  if (!out.clear) out.edges.push_back(all[1]);
  return out;
}

EdgeChoice height(const Box3& feeds) {
  if (feeds.min().z() < -above_zero && feeds.max().z() > 3) {
    // Leads and cycles come down from above: what is cut lies below all the same.
    return {{Edge::max}, feeds.max().z() < 30};
  }
  if (feeds.min().z() < -above_zero) return {{Edge::max}, true};
  return {{Edge::min}, feeds.min().z() > above_zero || feeds.max().z() > above_zero};
}

struct Said {
  ZeroWords words;
  std::string from;
};

Said said_of(const ProgramText& text) {
  for (const CommentLine& line : comment_lines(text.text)) {
    if (line.comment.empty()) continue;
    const ZeroWords words = zero_words(line.comment);
    if (words.any())
      return {words,
              fmt::format("{} line {} ({})", text.name, line.line, line.comment.substr(0, 70))};
  }
  return {};
}

// The words' edge first where it is not what the extents say; and whether the two contradict.
bool settle(const std::optional<Edge>& said, EdgeChoice& choice) {
  if (!said) return false;
  const auto at = std::find(choice.edges.begin(), choice.edges.end(), *said);
  const bool against = choice.clear && at == choice.edges.end();
  if (at != choice.edges.end()) choice.edges.erase(at);
  if (!choice.clear || !against) choice.edges.clear();
  choice.edges.insert(choice.edges.begin(), *said);
  choice.clear = choice.clear || !against;
  return against;
}

}  // namespace

ZeroChoices zero_choices(const nc::Program& program, const ProgramText& text, const Vec3& blank,
                         bool first) {
  ZeroChoices out;
  const Box3 feeds = feed_box(program);
  if (feeds.isEmpty()) {
    out.zeros.emplace_back();
    out.from = "the program feeds nowhere";
    return out;
  }
  const Vec3 middle = feeds.center();
  std::array<EdgeChoice, 3> along = {edges_along(middle.x(), blank.x()),
                                     edges_along(middle.y(), blank.y()), height(feeds)};
  const Said said = said_of(text);
  const bool shown = along[0].clear && along[1].clear && along[2].clear;
  bool against = settle(said.words.x, along[0]);
  against = settle(said.words.y, along[1]) || against;
  against = settle(said.words.z, along[2]) || against;
  for (const Edge z : along[2].edges) {
    for (const Edge y : along[1].edges) {
      for (const Edge x : along[0].edges) {
        job::Zero zero;
        zero.x = x;
        zero.y = y;
        zero.z = z;
        out.zeros.push_back(zero);
      }
    }
  }
  out.may_be_milled = !first && said.words.on != job::ZeroOn::blank;
  out.must_be_milled = !first && said.words.on == job::ZeroOn::milled;
  const bool all_said = said.words.x && said.words.y && said.words.z;
  const std::string extents = fmt::format(
      "its feed moves run from X{:.4g} Y{:.4g} Z{:.4g} to X{:.4g} Y{:.4g} Z{:.4g}", feeds.min().x(),
      feeds.min().y(), feeds.min().z(), feeds.max().x(), feeds.max().y(), feeds.max().z());
  if (against) {
    out.contradiction = fmt::format("{} names another zero than {}", said.from, extents);
    out.from = out.contradiction;
  } else if (all_said) {
    out.basis = Basis::said;
    out.from = said.from;
  } else if (shown || out.zeros.size() == 1) {
    out.basis = Basis::shown;
    out.from = extents;
  } else {
    out.from = extents + ", which leaves a choice";
  }
  return out;
}

double top_of(const job::Zero& zero, double height) {
  return zero.z == Edge::min ? height : zero.z == Edge::max ? 0 : height / 2;
}

std::string in_words(const job::Zero& zero) {
  const auto word = [](Edge e, const char* low, const char* high) {
    return e == Edge::min ? low : e == Edge::max ? high : "middle";
  };
  return fmt::format("{}, {}, {} of the {}", word(zero.x, "left", "right"),
                     word(zero.y, "front", "back"), word(zero.z, "bottom", "top"),
                     zero.on == job::ZeroOn::milled ? "milled piece" : "blank");
}

}  // namespace proveout::propose
