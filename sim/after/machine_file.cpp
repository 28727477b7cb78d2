// The machine file that calibration writes: every key a machine file may have.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <utility>

#include "sim/after/calibrate.h"

namespace proveout::after {
namespace {

std::string nose_of(const job::Spindle& spindle) {
  if (spindle.nose.empty()) return {};
  std::string text;
  for (const auto& [diameter, height] : spindle.nose)
    text += fmt::format("{}[{:.6g}, {:.6g}]", text.empty() ? "" : ", ", diameter, height);
  return "nose = [" + text + "]\n";
}

std::string waits_of(const job::Waits& waits) {
  const std::pair<const char*, double> keys[] = {
      {"spindle_start_s", waits.spindle_start_s},     {"spindle_stop_s", waits.spindle_stop_s},
      {"spindle_rpm_per_s", waits.spindle_rpm_per_s}, {"coolant_on_s", waits.coolant_on_s},
      {"coolant_off_s", waits.coolant_off_s},         {"program_stop_s", waits.program_stop_s}};
  std::string text;
  for (const auto& [key, value] : keys) {
    if (value > 0) text += fmt::format("{} = {:.6g}\n", key, value);
  }
  return text.empty() ? text : "\n[waits]\n" + text;
}

std::string leeway_of(const std::vector<job::Leeway>& all) {
  std::string text;
  for (const job::Leeway& l : all) {
    text += "\n[[leeway]]\n";
    const std::pair<const char*, double> keys[] = {{"acceleration", l.acceleration},
                                                   {"path_tolerance", l.path_tolerance},
                                                   {"rapid", l.rapid},
                                                   {"tool_change", l.tool_change},
                                                   {"overhead", l.overhead},
                                                   {"spin_up", l.spin_up},
                                                   {"block_rate", l.block_rate},
                                                   {"jerk", l.jerk},
                                                   {"arc_acceleration", l.arc_acceleration},
                                                   {"spindle_start", l.spindle_start},
                                                   {"spindle_rate", l.spindle_rate},
                                                   {"coolant", l.coolant}};
    for (const auto& [key, value] : keys) {
      if (value != 1) text += fmt::format("{} = {:.6g}\n", key, value);
    }
  }
  return text;
}

std::string quoted(const std::string& words) {
  std::string out = "\"";
  for (const char c : words) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) >= 32) out += c;
  }
  return out + "\"";
}

// Only what somebody declared: a default that stands in is to be told of again.
std::string reads_of(const nc::Reads& reads) {
  std::string text;
  for (const nc::ReadChoice& choice : nc::read_choices()) {
    if (reads.declared(choice.which))
      text += fmt::format("{} = \"{}\"\n", choice.key, reads.chosen(choice.which));
  }
  if (!reads.m_without_motion.empty())
    text += fmt::format("m_without_motion = [{}]\n", fmt::join(reads.m_without_motion, ", "));
  return text.empty() ? text : "\n[reads]\n" + text;
}

std::string known_cuts_of(const std::vector<job::KnownCut>& cuts) {
  std::string text;
  for (const job::KnownCut& c : cuts) {
    text += fmt::format("\n[[known_cuts]]\ntool = {}\nrpm = {:.6g}\ndepth = {:.6g}\nheard = {}\n",
                        c.tool, c.rpm, c.depth, c.sings ? "\"sings\"" : "\"quiet\"");
    if (c.stickout > 0) text += fmt::format("stickout = {:.6g}\n", c.stickout);
    if (!c.material.empty()) text += fmt::format("material = {}\n", quoted(c.material));
    if (c.width > 0) text += fmt::format("width = {:.6g}\n", c.width);
    if (c.pitch_hz > 0) text += fmt::format("pitch_hz = {:.6g}\n", c.pitch_hz);
  }
  return text;
}

}  // namespace

std::string machine_file(const job::Machine& m, const std::string& note) {
  std::string text;
  for (std::size_t at = 0; at < note.size();) {
    const std::size_t end = std::min(note.find('\n', at), note.size());
    text += "# " + note.substr(at, end - at) + "\n";
    at = end + 1;
  }
  const auto point = [](const Vec3& p) {
    return fmt::format("[{:.6g}, {:.6g}, {:.6g}]", p.x(), p.y(), p.z());
  };
  text += "units = \"mm\"\n";
  if (!m.name.empty()) text += "name = " + quoted(m.name) + "\n";
  if (m.travel) text += fmt::format("travel = {}\n", point(*m.travel));
  text += fmt::format("max_feed = {}\nrapid = {}\naccel = {}\n", point(m.max_feed), point(m.rapid),
                      point(m.accel));
  if ((m.jerk.array() > 0).any()) text += fmt::format("jerk = {}\n", point(m.jerk));
  text += fmt::format("path_tolerance = {:.6g}\nlookahead = {}\n", m.path_tolerance, m.lookahead);
  if (m.arc_accel > 0) text += fmt::format("arc_accel = {:.6g}\n", m.arc_accel);
  if (m.block_rate > 0) text += fmt::format("block_rate = {:.6g}\n", m.block_rate);
  if (m.rapid_by_axis) text += "rapid_path = \"by-axis\"\n";
  text += fmt::format("tool_change_s = {:.6g}\nprogram_overhead_s = {:.6g}\n", m.tool_change_s,
                      m.program_overhead_s);
  if (m.feed_override != 1) text += fmt::format("feed_override = {:.6g}\n", m.feed_override);
  if (m.rapid_override != 1) text += fmt::format("rapid_override = {:.6g}\n", m.rapid_override);
  if (m.time_error > 0) text += fmt::format("time_error = {:.6g}\n", m.time_error);
  if (m.stiffness) text += fmt::format("stiffness = {}\n", point(*m.stiffness));
  text += fmt::format("start = {}\n\n[spindle]\n", point(m.start));
  if (m.spindle.min_rpm > 0) text += fmt::format("min_rpm = {:.6g}\n", m.spindle.min_rpm);
  if (m.spindle.max_rpm > 0) text += fmt::format("max_rpm = {:.6g}\n", m.spindle.max_rpm);
  if (m.spindle.power_w > 0) text += fmt::format("power_w = {:.6g}\n", m.spindle.power_w);
  if (m.spindle.rated_rpm > 0) text += fmt::format("rated_rpm = {:.6g}\n", m.spindle.rated_rpm);
  text += fmt::format("efficiency = {:.6g}\nspin_up_s = {:.6g}\n", m.spindle.efficiency,
                      m.spindle.spin_up_s);
  return text + nose_of(m.spindle) + waits_of(m.waits) + reads_of(m.reads) +
         known_cuts_of(m.known_cuts) + leeway_of(m.leeway);
}

}  // namespace proveout::after
