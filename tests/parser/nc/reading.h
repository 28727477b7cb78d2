// What these tests share: a program read from text, with all it says and moves.
#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>
#include <vector>

#include "parser/nc/interpreter.h"

namespace proveout::nc {

struct Heard : Sink {
  std::vector<Motion> motions;
  std::vector<Event> events;
  std::string all;  // every motion and event, in words
  void motion(const Motion& m, const ModalState& s) override {
    motions.push_back(m);
    all += fmt::format("{} {} {} {} {} {} {} {} {} {} {} {} {} {} {}\n", static_cast<int>(m.kind),
                       m.start.x(), m.start.y(), m.start.z(), m.end.x(), m.end.y(), m.end.z(),
                       m.centre.x(), m.centre.y(), m.centre.z(), m.sweep, m.feed, s.tool,
                       s.spindle_rpm, static_cast<int>(s.path_control));
  }
  void event(const Event& e, const ModalState& s) override {
    events.push_back(e);
    all += fmt::format("event {} {} {} {} {}\n", static_cast<int>(e.kind), e.value, e.text,
                       static_cast<int>(s.turn), s.flood || s.mist);
  }
};

struct Reading {
  bool ok = false;
  Heard heard;
  Diagnostics diagnostics;
  std::string modes;
  std::vector<Assumption> assumed;

  const Diagnostic* of(std::string_view code) const {
    for (const auto& d : diagnostics.all()) {
      if (d.code == code) return &d;
    }
    return nullptr;
  }
  // The motions that have a length.
  std::vector<Motion> moves() const {
    std::vector<Motion> out;
    for (const Motion& m : heard.motions) {
      if (length(m) > 1e-12) out.push_back(m);
    }
    return out;
  }
  std::string said() const {
    std::string out;
    for (const auto& d : diagnostics.all()) out += to_text(d);
    return out;
  }
};

inline Reading read(std::string_view text, const ReadOptions& options = {}) {
  Reading out;
  Interpreter interpreter(text, "test.nc", options, out.heard, out.diagnostics);
  out.ok = interpreter.run();
  out.modes = interpreter.modes_in_words();
  out.assumed = interpreter.assumed();
  return out;
}

inline ReadOptions reading(std::initializer_list<std::pair<Read, std::string_view>> choices) {
  ReadOptions options;
  options.tool_diameters = {{1, 6}, {2, 8}};
  // Declared, so that a test of another choice hears of that one alone.
  options.reads.declare(Read::lengths_without_point, "whole-units");
  options.reads.declare(Read::feeds_without_point, "whole-units");
  for (const auto& [which, word] : choices) options.reads.declare(which, word);
  return options;
}

}  // namespace proveout::nc
