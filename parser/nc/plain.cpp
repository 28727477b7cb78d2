#include "parser/nc/plain.h"

#include <fmt/format.h>

#include <cmath>

namespace proveout::nc {
namespace {

// Nine decimals, no trailing zeros, never an exponent.
std::string number(double value) {
  if (std::abs(value) < 5e-10) return "0";
  std::string s = fmt::format("{:.9f}", value);
  while (s.back() == '0') s.pop_back();
  if (s.back() == '.') s.pop_back();
  return s;
}

// With a point, so that a control that counts steps reads it alike.
std::string length_or_feed(double value) {
  std::string s = number(value);
  if (s != "0" && s.find('.') == std::string::npos) s += '.';
  return s;
}

std::string coordinates(const Vec3& p) {
  return fmt::format("X{} Y{} Z{}", length_or_feed(p.x()), length_or_feed(p.y()),
                     length_or_feed(p.z()));
}

const char* plane_code(Plane plane) {
  switch (plane) {
    case Plane::xy:
      return "G17";
    case Plane::zx:
      return "G18";
    case Plane::yz:
      return "G19";
  }
  return "G17";
}

std::string arc_words(const Motion& m) {
  const Vec3 c = m.centre - m.start;
  const char* turn = m.sweep > 0 ? "G3" : "G2";
  std::string words = fmt::format("{} {} {} ", plane_code(m.plane), turn, coordinates(m.end));
  switch (m.plane) {
    case Plane::xy:
      words += fmt::format("I{} J{}", length_or_feed(c.x()), length_or_feed(c.y()));
      break;
    case Plane::zx:
      words += fmt::format("I{} K{}", length_or_feed(c.x()), length_or_feed(c.z()));
      break;
    case Plane::yz:
      words += fmt::format("J{} K{}", length_or_feed(c.y()), length_or_feed(c.z()));
      break;
  }
  // A whole turn more than the end tells: a practice, P counts turns.
  const int turns = static_cast<int>(std::ceil(std::abs(m.sweep) / (2 * pi) - 1e-9));
  if (turns > 1) words += fmt::format(" P{}", turns);
  return words;
}

const char* control_code(PathControl control) {
  switch (control) {
    case PathControl::exact_path:
      return "G61";
    case PathControl::exact_stop:
      return "G61.1";
    case PathControl::continuous:
      return "G64";
  }
  return "G64";
}

}  // namespace

PlainWriter::PlainWriter(Take take, const Reads& reads) : take_(std::move(take)), reads_(reads) {}

void PlainWriter::block(const std::string& text) {
  if (!begun_) {
    begun_ = true;
    take_("G17 G21 G40 G49 G54 G80 G90 G94\n");
  }
  take_(text + "\n");
}

// Modes that matter to what follows.
void PlainWriter::settle(const ModalState& s) {
  if (s.path_control != now_.path_control || s.path_tolerance != now_.path_tolerance ||
      !path_control_written_) {
    path_control_written_ = true;
    const bool tolerance = s.path_control == PathControl::continuous && s.path_tolerance >= 0;
    block(fmt::format("{}{}", control_code(s.path_control),
                      tolerance ? " P" + number(s.path_tolerance) : std::string()));
  }
  if (s.length_offset != now_.length_offset) {
    block(s.length_offset == 0 ? "G49" : fmt::format("G43 H{}", s.length_offset));
  }
  if (s.mist != now_.mist || s.flood != now_.flood) {
    if ((now_.mist && !s.mist) || (now_.flood && !s.flood)) block("M9");
    if (s.mist) block("M7");
    if (s.flood) block("M8");
  }
  if (s.spindle_rpm != now_.spindle_rpm || s.turn != now_.turn) {
    const char* code = s.turn == SpindleTurn::stopped     ? "M5"
                       : s.turn == SpindleTurn::clockwise ? "M3"
                                                          : "M4";
    block(fmt::format("S{} {}", number(s.spindle_rpm), code));
  }
  now_ = s;
}

void PlainWriter::motion(const Motion& m, const ModalState& state) {
  if (!begun_ && m.start.norm() > 0) {
    // Where the tool stands is no motion; readers take it from their options.
    block(fmt::format("(starts at {})", coordinates(m.start)));
  }
  settle(state);
  std::string text = m.kind == PathKind::rapid  ? "G0 " + coordinates(m.end)
                     : m.kind == PathKind::line ? "G1 " + coordinates(m.end)
                                                : arc_words(m);
  if (m.kind != PathKind::rapid && m.feed != feed_) {
    text += " F" + length_or_feed(m.feed);
    feed_ = m.feed;
  }
  block(text);
  at_ = m.end;
}

void PlainWriter::event(const Event& e, const ModalState& state) {
  switch (e.kind) {
    case EventKind::tool_change:
      block(fmt::format("T{} M6", state.tool));
      now_.tool = state.tool;
      now_.turn = SpindleTurn::stopped;  // a change stops the spindle
      now_.spindle_rpm = state.spindle_rpm;
      settle(state);
      break;
    case EventKind::dwell:
      settle(state);
      // With a point they are seconds by all choices but one.
      block("G4 P" + (reads_.is(Read::wait_p, "milliseconds") ? number(1000 * e.value)
                                                              : length_or_feed(e.value)));
      break;
    case EventKind::stop:
      settle(state);
      block(fmt::format("M{}", static_cast<int>(e.value)));  // M0, M1 or M60
      break;
    case EventKind::program_end:
      settle(state);
      block("M30");
      ended_ = true;
      break;
    case EventKind::message: {
      std::string text;
      for (const char c : e.text) {
        if (c != '(' && c != ')' && c != '\n' && c != '\r') text += c;
      }
      block("(MSG," + text + ")");
      break;
    }
    case EventKind::spindle:
    case EventKind::coolant:
      settle(state);
      break;
  }
}

void PlainWriter::finish() {
  if (begun_ && !ended_) block("M30");
  ended_ = true;
}

void replay(const Program& program, Sink& sink) {
  std::size_t e = 0;
  const auto events_before = [&](std::size_t motion) {
    for (; e < program.events.size() && program.events[e].before_motion <= motion; ++e) {
      sink.event(program.events[e], program.states[program.events[e].state]);
    }
  };
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    events_before(i);
    sink.motion(program.motions[i], program.states[program.motions[i].state]);
  }
  events_before(program.motions.size());
}

std::string plain_text(const Program& program, const Reads& reads) {
  std::string text;
  PlainWriter writer([&](std::string_view block) { text += block; }, reads);
  replay(program, writer);
  writer.finish();
  return text;
}

}  // namespace proveout::nc
