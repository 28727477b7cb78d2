// time and list: answers from one program alone, without stock.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "parser/job/job.h"
#include "parser/job/program_reading.h"
#include "parser/nc/difference.h"
#include "parser/nc/plain.h"
#include "parser/nc/program.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/output_place.h"
#include "report/cli/standard_output.h"
#include "report/json/result_json.h"
#include "report/text/words.h"
#include "sim/run/tool_summary.h"
#include "sim/timing/plan.h"
#include "sim/timing/range.h"
#include "sim/timing/shares.h"

namespace proveout::cli {

namespace po = boost::program_options;

namespace {

std::string argument(const po::variables_map& values, const char* name) {
  return values[name].as<std::vector<std::string>>().front();
}

// How a program is read that stands alone, or in that job.
nc::ReadOptions reading(const std::string& path, const job::Machine& machine, const job::Job* job,
                        bool strict) {
  const job::Setup* setup = nullptr;
  if (job != nullptr) {
    for (const auto& s : job->setups) {
      if (s.program.filename() == std::filesystem::path(path).filename()) setup = &s;
    }
  }
  nc::ReadOptions options = job::program_reading(job != nullptr ? *job : job::Job(), setup);
  options.profile = strict ? nc::Profile::strict : nc::Profile::shop;
  options.start = machine.start;
  options.reads = machine.reads;
  return options;
}

std::optional<nc::Program> read(const std::string& path, const job::Machine& machine,
                                const job::Job* job, bool strict, std::size_t most_messages) {
  Diagnostics diagnostics(most_messages);
  auto program = nc::read_program(path, reading(path, machine, job, strict), diagnostics);
  print(diagnostics);
  return program;
}

}  // namespace

namespace {

// What keeps feed moves below 80 % of their feed, largest first.
void print_slow(const std::vector<run::ToolResult>& tools) {
  std::array<double, timing::slowed_by_count> by{};
  double feed = 0, slow = 0;
  for (const auto& t : tools) {
    feed += t.feed_s;
    slow += t.slow_s;
    for (std::size_t i = 0; i < by.size(); ++i) by[i] += t.slow_by_s[i];
  }
  if (!(slow > 0)) return;
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < by.size(); ++i) {
    if (by[i] > 0.005 * feed) order.push_back(i);
  }
  std::stable_sort(order.begin(), order.end(), [&](auto a, auto b) { return by[a] > by[b]; });
  std::string why;
  for (const std::size_t i : order) {
    why += fmt::format("{}{} {:.0f} %", why.empty() ? ": " : ", ",
                       timing::name(static_cast<timing::SlowedBy>(i)), 100 * by[i] / feed);
  }
  tell("Of feed time {:.0f} % runs below 80 % of the feed{}\n", 100 * slow / feed, why);
}

// What binds, on one machine or on two side by side, and both their times.
struct Timed {
  timing::Plan plan;
  timing::TimeRange range;
  std::array<double, timing::share_count> shares{};
};
Timed timed(const nc::Program& program, const job::Machine& machine) {
  Timed t{timing::plan(program, machine), timing::time_range(program, machine), {}};
  t.shares = timing::shares(program, machine, t.plan);
  return t;
}

nlohmann::ordered_json shares_json(const Timed& t) {
  nlohmann::ordered_json json = nlohmann::ordered_json::object();
  for (std::size_t i = 0; i < t.shares.size(); ++i)
    json[timing::name(static_cast<timing::Share>(i))] = json::rounded(t.shares[i]);
  return json;
}

void print_shares(const std::vector<const Timed*>& machines) {
  tell("What binds:\n");
  for (std::size_t i = 0; i < timing::share_count; ++i) {
    const bool shown = std::any_of(machines.begin(), machines.end(), [i](const Timed* t) {
      return t->shares[i] >= 0.005 * t->plan.time_s;
    });
    if (!shown) continue;
    std::string row = "  " + text::left(timing::name(static_cast<timing::Share>(i)), 16);
    for (const Timed* t : machines) {
      row += text::right(text::duration(t->shares[i]), 14) +
             text::right(fmt::format("{:.1f}%", 100 * t->shares[i] / t->plan.time_s), 8);
    }
    tell("{}\n", row);
  }
}

void print_two(const Timed& one, const Timed& other) {
  tell("  {}{}{}\n", text::left("", 16), text::right("this machine", 22),
       text::right("the other", 22));
  const auto row = [](const char* what, const std::string& a, const std::string& b) {
    tell("  {}{}{}\n", text::left(what, 16), text::right(a, 22), text::right(b, 22));
  };
  row("time", text::duration(one.plan.time_s), text::duration(other.plan.time_s));
  row("  at least", text::duration(one.range.low_s), text::duration(other.range.low_s));
  row("  at most", text::duration(one.range.high_s), text::duration(other.range.high_s));
  if (one.plan.time_s > 0)
    row("times as long", "1", fmt::format("{:.3f}", other.plan.time_s / one.plan.time_s));
}

}  // namespace

Status time_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("job", po::value<std::string>()->value_name("JOB.toml"),
      "the job whose machine and tools to use");
  add("machine", po::value<std::string>()->value_name("M.toml"), "a machine file");
  add("against", po::value<std::string>()->value_name("M.toml"),
      "another machine file: its time and what binds there, side by side");
  add("feed-override", po::value<double>()->value_name("FACTOR"),
      "what if feeds were turned to this factor");
  add("rapid-override", po::value<double>()->value_name("FACTOR"), "what if rapids were");
  add("json", po::value<std::string>()->value_name("FILE"),
      "write the figures there; - is standard output");
  add_messages(options);
  const auto values =
      parse(arguments, options, {"PROGRAM.nc"},
            "usage: proveout time PROGRAM.nc [options]\n\nTime and travel only, no stock.");
  if (!values) return ran;
  Diagnostics diagnostics;
  job::Job job;
  std::vector<std::filesystem::path> inputs{argument(*values, "PROGRAM.nc")};
  if (values->count("job")) {
    auto read_job = job::read_job((*values)["job"].as<std::string>(), diagnostics);
    print(diagnostics);
    if (!read_job) return unusable_input;
    job = std::move(*read_job);
    const auto of_job = inputs_of(job);
    inputs.insert(inputs.end(), of_job.begin(), of_job.end());
  } else if (values->count("machine")) {
    auto machine = job::read_machine((*values)["machine"].as<std::string>(), diagnostics);
    print(diagnostics);
    if (!machine) return unusable_input;
    job.machine = *machine;
    inputs.emplace_back((*values)["machine"].as<std::string>());
  }
  std::optional<job::Machine> against;
  if (values->count("against")) {
    inputs.emplace_back((*values)["against"].as<std::string>());
    Diagnostics of_other;
    against = job::read_machine(inputs.back(), of_other);
    print(of_other);
    if (!against) return unusable_input;
  }
  const std::string to = output_file(*values, "json");
  if (!to.empty() && to != "-") keep_inputs(inputs, to, "--json");
  for (const auto& [option, factor] : {std::pair{"feed-override", &job.machine.feed_override},
                                       {"rapid-override", &job.machine.rapid_override}}) {
    if (!values->count(option)) continue;
    const double given = (*values)[option].as<double>();
    if (!(given > 0 && given <= 10))
      throw UsageError(fmt::format("--{} is a factor above 0, at most 10", option));
    *factor *= given;
    if (against)
      (option == std::string("feed-override") ? against->feed_override : against->rapid_override) *=
          given;
  }
  auto program = read(argument(*values, "PROGRAM.nc"), job.machine, &job, false, messages(*values));
  if (!program) return unusable_input;
  run::SetupResult setup;
  setup.source = std::make_shared<const nc::Program>(std::move(*program));
  setup.plan = timing::plan(*setup.source, job.machine);
  setup.cut.motions.resize(setup.source->motions.size());
  setup.peaks.resize(setup.source->motions.size());
  const auto tools = run::tool_summary(setup, setup, job);
  const Timed here = timed(*setup.source, job.machine);
  const timing::TimeRange& range = here.range;
  std::optional<Timed> there;
  if (against) {
    // Read as that machine's control reads it: its feeds and lengths may be others.
    const std::string path = argument(*values, "PROGRAM.nc");
    Diagnostics of_reading(messages(*values));
    const auto as_there = nc::read_program(path, reading(path, *against, &job, false), of_reading);
    if (!as_there) {
      print(of_reading);
      return unusable_input;
    }
    there = timed(*as_there, *against);
  }
  nlohmann::ordered_json json = {{"schema", "proveout-time/1"},
                                 {"time_s", json::rounded(setup.plan.time_s)},
                                 {"time_low_s", json::rounded(range.low_s)},
                                 {"time_high_s", json::rounded(range.high_s)},
                                 {"naive_s", json::rounded(setup.plan.naive_s)},
                                 {"shares_s", shares_json(here)},
                                 {"tools", nlohmann::ordered_json::array()}};
  std::string text =
      fmt::format("  {}{}{}{}{}{}{}\n", text::left("tool", 20), text::right("time", 12),
                  text::right("feed", 12), text::right("rapid", 12), text::right("waits", 12),
                  text::right("feed m", 7), text::right("slow", 5));
  for (const auto& t : tools) {
    nlohmann::ordered_json by = nlohmann::ordered_json::object();
    for (std::size_t i = 0; i < t.slow_by_s.size(); ++i) {
      if (t.slow_by_s[i] > 0)
        by[timing::name(static_cast<timing::SlowedBy>(i))] = json::rounded(t.slow_by_s[i]);
    }
    json["tools"].push_back({{"number", t.number},
                             {"time_s", json::rounded(t.time_s())},
                             {"feed_s", json::rounded(t.feed_s)},
                             {"rapid_s", json::rounded(t.rapid_s)},
                             {"dwell_s", json::rounded(t.dwell_s)},
                             {"change_s", json::rounded(t.change_s)},
                             {"spin_up_s", json::rounded(t.spin_up_s)},
                             {"feed_mm", json::rounded(t.feed_mm)},
                             {"rapid_mm", json::rounded(t.rapid_mm)},
                             {"slow_s", json::rounded(t.slow_s)},
                             {"slow_by_s", by},
                             {"moves", t.moves}});
    text += fmt::format(
        "  {}{}{}{}{}{}{}\n",
        text::left(fmt::format("T{} {}", t.number, text::printable(t.name)), 20),
        text::right(text::duration(t.time_s()), 12), text::right(text::duration(t.feed_s), 12),
        text::right(text::duration(t.rapid_s), 12),
        text::right(text::duration(t.dwell_s + t.change_s + t.spin_up_s), 12),
        text::right(fmt::format("{:.2f}", t.feed_mm / 1000), 7),
        text::right(fmt::format("{:.0f}%", t.feed_s > 0 ? 100 * t.slow_s / t.feed_s : 0), 5));
  }
  if (there) {
    json["against"] = {{"time_s", json::rounded(there->plan.time_s)},
                       {"time_low_s", json::rounded(there->range.low_s)},
                       {"time_high_s", json::rounded(there->range.high_s)},
                       {"shares_s", shares_json(*there)}};
  }
  if (!to.empty()) write_text(to, json::to_bytes(json));
  if (to == "-") return ran;
  std::fputs(text.c_str(), stdout);
  tell(
      "Time {}, an estimate ({} to {});\n"
      "length over feed alone gives {}\n",
      text::duration(setup.plan.time_s), text::duration(range.low_s), text::duration(range.high_s),
      text::duration(setup.plan.naive_s));
  print_slow(tools);
  if (there) {
    print_two(here, *there);
    print_shares({&here, &*there});
  } else {
    print_shares({&here});
  }
  if (!values->count("job") && !values->count("machine")) {
    tell(
        "Assumed: a machine with 5 m/min and 0.4 m/s2 in x and y; name yours with --machine or "
        "--job.\n");
  }
  return ran;
}

namespace {

void print_totals(const nc::Statistics& t) {
  tell("rapids    {:>9}  {:>12.3f} mm\n", t.rapids, t.rapid_mm);
  tell("lines     {:>9}\narcs      {:>9}  {:>12.3f} mm with lines\n", t.lines, t.arcs, t.feed_mm);
  tell("feeds     {:g} to {:g} mm/min\n", t.least_feed, t.largest_feed);
  for (const auto& [what, extent] :
       {std::pair{"cutting", &t.cutting}, {"programmed", &t.programmed}}) {
    for (int k = 0; k < 3; ++k) {
      if (!extent->has(k)) {
        tell("{} {:<11}  never moved\n", "XYZ"[k], what);
        continue;
      }
      tell("{} {:<11}  {:.4f} to {:.4f} mm\n", "XYZ"[k], what, extent -> low[k], extent -> high[k]);
    }
  }
  tell("changes   {:>9}\nstops     {:>9}\ndwells    {:>9.1f} s\n", t.tool_changes, t.stops,
       t.dwell_s);
}

// The job of --job: how its control reads, its tools and offsets. False: it cannot be used.
bool take_job(const po::variables_map& values, std::optional<job::Job>& job) {
  if (values.count("job") == 0) return true;
  Diagnostics diagnostics;
  job = job::read_job(values["job"].as<std::string>(), diagnostics);
  print(diagnostics);
  return job.has_value();
}

job::Machine machine_of(const std::optional<job::Job>& job) {
  return job ? job->machine : job::Machine();
}

}  // namespace

Status differ_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("tolerance", po::value<double>()->value_name("MM")->default_value(1e-6, "0.000001"),
      "places that differ by less are the same");
  add("strict", po::bool_switch(), "read to the letter of NISTIR 6556");
  add("job", po::value<std::string>()->value_name("JOB.toml"),
      "read both as this job's control does, with its tools and offsets");
  add_messages(options);
  const auto values =
      parse(arguments, options, {"FIRST.nc", "SECOND.nc"},
            "usage: proveout differ FIRST.nc SECOND.nc [options]\n\n"
            "Whether two programs mean the same, whatever they look like; exit status 1 if\nnot.");
  if (!values) return ran;
  const double tolerance = (*values)["tolerance"].as<double>();
  if (!(tolerance >= 0 && tolerance < 1e6)) throw UsageError("--tolerance is a length from 0 up");
  const bool strict = (*values)["strict"].as<bool>();
  const std::size_t most = messages(*values);
  std::optional<job::Job> job;
  if (!take_job(*values, job)) return unusable_input;
  const job::Machine machine = machine_of(job);
  const job::Job* const given = job ? &*job : nullptr;
  const auto first = read(argument(*values, "FIRST.nc"), machine, given, strict, most);
  const auto second = read(argument(*values, "SECOND.nc"), machine, given, strict, most);
  if (!first || !second) return unusable_input;
  const auto found = nc::first_difference(*first, *second, tolerance);
  if (!found) {
    tell("Both mean the same: {} motions.\n", first->motions.size());
    return ran;
  }
  const auto where = [](std::uint32_t line) {
    return line == 0 ? std::string("its end") : fmt::format("line {}", line);
  };
  tell("They part at motion {}: {} of the first, {} of the second.\nThe second {}.\n",
       found->motion, where(found->first_line), where(found->second_line), found->what);
  return Status::found;
}

Status list_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("strict", po::bool_switch(), "read to the letter of NISTIR 6556");
  add("plain", po::bool_switch(), "as a plain program: one motion a block, everything resolved");
  add("totals", po::bool_switch(), "only counts, lengths and extents");
  add("job", po::value<std::string>()->value_name("JOB.toml"),
      "read as this job's control does, with its tools and offsets");
  add_messages(options);
  const auto values =
      parse(arguments, options, {"PROGRAM.nc"},
            "usage: proveout list PROGRAM.nc [options]\n\n"
            "Every motion and wait the program means, one a line, all modes resolved.");
  if (!values) return ran;
  const bool strict = (*values)["strict"].as<bool>();
  const std::size_t most = messages(*values);
  std::optional<job::Job> job;
  if (!take_job(*values, job)) return unusable_input;
  const job::Machine machine = machine_of(job);
  const job::Job* const given = job ? &*job : nullptr;
  if ((*values)["totals"].as<bool>()) {
    // Counted while it is read: a program of any length fits.
    nc::Statistics totals;
    Diagnostics diagnostics(most);
    const std::string path = argument(*values, "PROGRAM.nc");
    const bool ok =
        nc::interpret_file(path, reading(path, machine, given, strict), totals, diagnostics);
    print(diagnostics);
    if (!ok) return unusable_input;
    print_totals(totals);
    return ran;
  }
  const auto program = read(argument(*values, "PROGRAM.nc"), machine, given, strict, most);
  if (!program) return unusable_input;
  if ((*values)["plain"].as<bool>()) {
    nc::PlainWriter writer(
        [](std::string_view block) { std::fwrite(block.data(), 1, block.size(), stdout); },
        machine.reads);
    nc::replay(*program, writer);
    writer.finish();
    return ran;
  }
  std::size_t e = 0;
  const auto events_before = [&](std::size_t motion) {
    for (; e < program->events.size() && program->events[e].before_motion <= motion; ++e) {
      const nc::Event& event = program->events[e];
      const nc::ModalState& s = program->states[event.state];
      switch (event.kind) {
        case nc::EventKind::tool_change:
          tell("{:>7}  tool {}\n", event.line, s.tool);
          break;
        case nc::EventKind::spindle:
          tell("{:>7}  spindle {} {:g}\n", event.line,
               s.turn == nc::SpindleTurn::stopped     ? "off"
               : s.turn == nc::SpindleTurn::clockwise ? "clockwise"
                                                      : "counter-clockwise",
               s.spindle_rpm);
          break;
        case nc::EventKind::dwell:
          tell("{:>7}  wait {:g} s\n", event.line, event.value);
          break;
        case nc::EventKind::stop:
          tell("{:>7}  stop\n", event.line);
          break;
        case nc::EventKind::program_end:
          tell("{:>7}  end\n", event.line);
          break;
        case nc::EventKind::message:
          tell("{:>7}  message {}\n", event.line, text::printable(event.text));
          break;
        case nc::EventKind::coolant:
          tell("{:>7}  coolant {}\n", event.line, s.flood || s.mist ? "on" : "off");
          break;
      }
    }
  };
  for (std::size_t i = 0; i < program->motions.size(); ++i) {
    events_before(i);
    const nc::Motion& m = program->motions[i];
    if (m.kind == nc::PathKind::arc) {
      tell(
          "{:>7}  arc   {:.4f} {:.4f} {:.4f}  about {:.4f} {:.4f} {:.4f} by {:.3f} deg in {}  "
          "F{:g}\n",
          m.line, m.end.x(), m.end.y(), m.end.z(), m.centre.x(), m.centre.y(), m.centre.z(),
          m.sweep * deg_per_rad,
          m.plane == nc::Plane::xy   ? "xy"
          : m.plane == nc::Plane::zx ? "zx"
                                     : "yz",
          m.feed);
    } else if (m.kind == nc::PathKind::rapid) {
      tell("{:>7}  rapid {:.4f} {:.4f} {:.4f}\n", m.line, m.end.x(), m.end.y(), m.end.z());
    } else {
      tell("{:>7}  line  {:.4f} {:.4f} {:.4f}  F{:g}\n", m.line, m.end.x(), m.end.y(), m.end.z(),
           m.feed);
    }
  }
  events_before(program->motions.size());
  return ran;
}

}  // namespace proveout::cli
