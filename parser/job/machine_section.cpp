#include <fmt/format.h>

#include <cmath>

#include "parser/job/sections.h"

namespace proveout::job {

void read_simulation(TableReader& t, Simulation& out) {
  t.number("voxel", out.voxel, Unit::length, Range{1e-3, 1e9, false},
           "edge of a voxel; default: chosen from stock and tools");
  t.whole("threads", out.threads, 0, 4096, "threads; 0 = all cores");
}

namespace {

void read_spindle(TableReader& t, Spindle& out) {
  t.number("min_rpm", out.min_rpm, Unit::plain, not_negative,
           "slowest speed, 1/min; 0 = not checked");
  t.number("max_rpm", out.max_rpm, Unit::plain, not_negative,
           "fastest speed, 1/min; 0 = not checked");
  t.number("power_w", out.power_w, Unit::plain, not_negative,
           "power of the motor, W; 0 = not checked");
  t.number("rated_rpm", out.rated_rpm, Unit::plain, not_negative,
           "below it torque is constant, so power falls, 1/min; default: max_rpm");
  t.number("efficiency", out.efficiency, Unit::plain, Range{0.01, 1, false},
           "power at the nose over power of the motor");
  t.number("spin_up_s", out.spin_up_s, Unit::plain, not_negative, "from rest to speed, s");
  t.pairs("nose", out.nose, Unit::length,
          "diameter, height pairs: cylinders from the holder's top up, for clearances");
  if (out.max_rpm > 0 && out.min_rpm > out.max_rpm) {
    t.error("min_rpm", "job-contradiction",
            fmt::format("the spindle's slowest speed, {:g}, is above its fastest, {:g}",
                        out.min_rpm, out.max_rpm),
            "check min_rpm and max_rpm");
  }
}

void read_waits(TableReader& t, Waits& out, const Spindle& spindle) {
  t.number("spindle_start_s", out.spindle_start_s, Unit::plain, not_negative,
           "at M3 and M4 from rest or to the other side, s");
  t.number("spindle_stop_s", out.spindle_stop_s, Unit::plain, not_negative,
           "at M5, and at M6 while the spindle turns, s");
  t.number("spindle_rpm_per_s", out.spindle_rpm_per_s, Unit::plain, not_negative,
           "how fast the spindle changes speed, 1/min per s; 0 = at once");
  t.number("coolant_on_s", out.coolant_on_s, Unit::plain, not_negative, "at M7 and M8, s");
  t.number("coolant_off_s", out.coolant_off_s, Unit::plain, not_negative, "at M9, s");
  t.number("program_stop_s", out.program_stop_s, Unit::plain, not_negative,
           "until the operator goes on at M0, M1 and M60, s");
  if (spindle.spin_up_s > 0 && (out.spindle_start_s > 0 || out.spindle_rpm_per_s > 0)) {
    t.error("spindle_start_s", "job-contradiction",
            "the spindle's start is given twice: by spin_up_s, and by spindle_start_s or "
            "spindle_rpm_per_s",
            "take spin_up_s out");
  }
}

void read_leeway(TableReader& t, Leeway& out) {
  constexpr Range factor{1e-6, 1e6, false};
  const std::pair<const char*, double Leeway::*> keys[] = {
      {"acceleration", &Leeway::acceleration},
      {"path_tolerance", &Leeway::path_tolerance},
      {"rapid", &Leeway::rapid},
      {"tool_change", &Leeway::tool_change},
      {"overhead", &Leeway::overhead},
      {"spin_up", &Leeway::spin_up},
      {"block_rate", &Leeway::block_rate},
      {"jerk", &Leeway::jerk},
      {"arc_acceleration", &Leeway::arc_acceleration},
      {"spindle_start", &Leeway::spindle_start},
      {"spindle_rate", &Leeway::spindle_rate},
      {"coolant", &Leeway::coolant}};
  for (const auto& [key, member] : keys)
    t.number(key, out.*member, Unit::plain, factor, "factor on this figure");
}

// Each choice of the reader's own table is a key of its own name.
void read_choices(TableReader& t, nc::Reads& out) {
  for (const nc::ReadChoice& choice : nc::read_choices()) {
    std::vector<std::string> words;
    std::string meaning;
    for (std::size_t k = 0; k < choice.words.size() && !choice.words[k].empty(); ++k) {
      words.emplace_back(choice.words[k]);
      meaning += fmt::format("{}{}: {}", k == 0 ? "" : "; ", choice.words[k], choice.meaning[k]);
    }
    const std::string key(choice.key);
    int word = 0;
    t.word(key.c_str(), word, words, meaning.c_str());
    if (t.has(key)) out.declare(choice.which, words[static_cast<std::size_t>(word)]);
  }
  t.wholes("m_without_motion", out.m_without_motion,
           "further M codes that move nothing and are passed over");
}

void read_known_cut(TableReader& t, KnownCut& out) {
  out.line = t.line();
  t.whole("tool", out.tool, 0, 1000000, "number of the tool it was made with");
  t.number("stickout", out.stickout, Unit::length, a_tool_length_or_none,
           "tip to holder's face then; default: the tool's");
  t.text("material", out.material, "what was cut; default: the job's stock material");
  t.number("rpm", out.rpm, Unit::plain, positive, "spindle speed, 1/min");
  t.number("depth", out.depth, Unit::length, an_extent, "axial depth");
  t.number("width", out.width, Unit::length, a_distance, "radial width; default: a full slot");
  int heard = 0;
  t.word("heard", heard, {"quiet", "sings"}, "what was heard: quiet, or singing (chatter)");
  out.sings = heard == 1;
  t.number("pitch_hz", out.pitch_hz, Unit::plain, not_negative,
           "pitch of the singing, Hz, from a spectrum; not a multiple of the tooth passing; "
           "0 = not measured");
  if (!t.present()) return;
  for (const char* key : {"tool", "rpm", "depth", "heard"}) {
    if (!t.has(key))
      t.error(key, "job-key-missing", fmt::format("a known cut says {}", key),
              "give tool, rpm, depth and heard of every known cut");
  }
  const double passing = out.rpm / 60;
  if (out.pitch_hz > 0 && passing > 0) {
    const double turns = out.pitch_hz / passing;
    if (std::abs(turns - std::round(turns)) < 0.01 && turns < 40)
      t.warning("pitch_hz", "job-known-pitch",
                fmt::format("{:g} Hz is {:.0f} times the spindle's turning: that is the cut's own "
                            "sound, not singing",
                            out.pitch_hz, std::round(turns)),
                "look for a line in the spectrum between the multiples");
  }
}

}  // namespace

void read_machine_keys(TableReader& t, Machine& out) {
  t.text("name", out.name, "what the machine is called in reports");
  t.point("travel", out.travel, Unit::length, an_extent,
          "travel of x, y, z; checked when a setup gives zero_in_machine");
  t.point("max_feed", out.max_feed, Unit::feed, a_rate, "fastest feed of x, y, z");
  t.point("rapid", out.rapid, Unit::feed, a_rate, "rapid rate of x, y, z");
  for (int k = 0; k < 3 && t.has("max_feed") && t.has("rapid"); ++k) {
    if (!(out.rapid[k] < out.max_feed[k])) continue;
    t.warning("rapid", "job-slow-rapid",
              fmt::format("the {} axis goes slower in rapids, {:g} mm/min, than it may in feed "
                          "moves, {:g} mm/min",
                          "xyz"[k], out.rapid[k], out.max_feed[k]),
              "check rapid and max_feed against the machine's manual");
    break;
  }
  t.point("accel", out.accel, Unit::length, a_rate, "acceleration of x, y, z, per s2");
  t.point("jerk", out.jerk, Unit::length, not_negative, "jerk of x, y, z, per s3; 0 = not limited");
  t.number("path_tolerance", out.path_tolerance, Unit::length, a_distance,
           "how far a corner may be rounded while G64 without P, or nothing, is in force");
  t.whole("lookahead", out.lookahead, 0, 1000000, "blocks planned ahead; 0 = the whole program");
  t.number("block_rate", out.block_rate, Unit::plain, not_negative,
           "blocks per second the control can take; 0 = not limited");
  t.number("arc_accel", out.arc_accel, Unit::length, not_negative,
           "acceleration across an arc, per s2; 0 = that of the weaker axis of its plane");
  int path = out.rapid_by_axis ? 1 : 0;
  t.word("rapid_path", path, {"straight", "by-axis"},
         "rapids run straight, or each axis by its own ramp");
  out.rapid_by_axis = path == 1;
  t.table(
      "spindle", [&](TableReader& s) { read_spindle(s, out.spindle); }, "the spindle");
  t.point(
      "stiffness", out.stiffness, Unit::plain, Range{1e-3, 1e6, false},
      "of the machine at the spindle's nose along x, y, z, N/um: push with a scale, read a dial "
      "gauge; adds to the tool's bend");
  t.tables(
      "known_cuts",
      [&](TableReader& r) {
        KnownCut cut;
        read_known_cut(r, cut);
        if (r.present()) out.known_cuts.push_back(std::move(cut));
      },
      "cuts heard at this machine, quiet or singing: what chatter is judged by");
  t.number("tool_change_s", out.tool_change_s, Unit::plain, not_negative, "a tool change, s");
  t.number("program_overhead_s", out.program_overhead_s, Unit::plain, not_negative,
           "fixed time a program takes besides its blocks, s");
  t.table(
      "waits", [&](TableReader& w) { read_waits(w, out.waits, out.spindle); },
      "what a program waits for besides tool changes, told apart");
  t.number("time_error", out.time_error, Unit::plain, Range{0, 1, false},
           "relative error of a program's time, one standard deviation, as calibrate writes it");
  t.tables(
      "leeway",
      [&](TableReader& l) {
        out.leeway.emplace_back();
        read_leeway(l, out.leeway.back());
      },
      "a way the figures may be off together, one standard deviation, as calibrate writes it");
  t.number("feed_override", out.feed_override, Unit::plain, Range{0, 10, true},
           "factor on feed moves, for what-if");
  t.number("rapid_override", out.rapid_override, Unit::plain, Range{0, 10, true},
           "factor on rapids, for what-if");
  t.point("start", out.start, Unit::length, a_place,
          "where the tool tip stands when a program starts, in the setup's work coordinates");
  t.table(
      "reads", [&](TableReader& r) { read_choices(r, out.reads); },
      "how the control reads what controls read differently; docs/language.md");
}

}  // namespace proveout::job
