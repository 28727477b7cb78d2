// calibrate: a machine file whose planned times are those measured.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "parser/base/text_file.h"
#include "parser/job/job.h"
#include "parser/nc/program.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/interrupt.h"
#include "report/cli/output_place.h"
#include "report/cli/progress_line.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/json/result_json.h"
#include "report/text/words.h"
#include "sim/after/calibrate.h"
#include "sim/after/log_readings.h"
#include "sim/after/test_plan.h"
#include "sim/propose/blank.h"
#include "sim/timing/range.h"

namespace proveout::cli {

namespace po = boost::program_options;
namespace fs = std::filesystem;
using after::Figure;

namespace {

constexpr std::uintmax_t most_csv_bytes = 256u << 20;

// Rows of a comma-separated file with a head line; cells trimmed, quotes taken off.
struct CsvRow {
  std::uint32_t line = 0;
  std::vector<std::string> cells;
};

std::string_view trimmed(std::string_view s) {
  const std::size_t first = s.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return s.substr(first, s.find_last_not_of(" \t\r") - first + 1);
}

// The cells of one line; a comma within quotes parts nothing, and two quotes there mean one.
// nullopt: a quote does not close.
std::optional<std::vector<std::string>> cells_of(std::string_view row) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  std::size_t kept = 0;  // bytes of the cell that were quoted, so not to be trimmed
  const auto close = [&] {
    std::string& cell = cells.back();
    if (kept == 0) cell = std::string(trimmed(cell));
    kept = 0;
  };
  for (std::size_t i = 0; i < row.size(); ++i) {
    const char c = row[i];
    if (quoted && c == '"' && i + 1 < row.size() && row[i + 1] == '"') {
      cells.back() += row[++i];
    } else if (c == '"' && (quoted || trimmed(cells.back()).empty())) {
      if (!quoted) cells.back().clear();
      quoted = !quoted;
      kept = 1;
    } else if (c == ',' && !quoted) {
      close();
      cells.emplace_back();
    } else if (quoted || kept == 0) {
      cells.back() += c;
    }
  }
  close();
  if (quoted) return std::nullopt;
  return cells;
}

class Csv {
 public:
  // Mistakes in the form of the table go into diagnostics.
  Csv(const fs::path& path, std::string_view text, Diagnostics& diagnostics)
      : path_(path), diagnostics_(diagnostics) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);  // byte-order mark
    std::uint32_t line = 0;
    for (std::size_t at = 0; at < text.size();) {
      const std::size_t end = std::min(text.find('\n', at), text.size());
      add_line(++line, text.substr(at, end - at));
      at = end + 1;
    }
  }
  const std::vector<CsvRow>& rows() const { return rows_; }
  bool has(std::string_view column) const { return find(column) < head_.size(); }
  bool need(std::string_view column) {
    if (has(column)) return true;
    error("runs-column-missing", head_line_ > 0 ? head_line_ : 1,
          fmt::format("the head line has no column '{}'", column),
          "the columns stand in docs/timing.md");
    return false;
  }
  std::string text(const CsvRow& row, std::string_view column) const {
    const std::size_t c = find(column);
    return c < row.cells.size() ? row.cells[c] : std::string();
  }
  // Absent and empty cells give `otherwise`.
  double number(const CsvRow& row, std::string_view column, double otherwise) {
    const std::string cell = text(row, column);
    if (cell.empty()) return otherwise;
    double value = 0;
    const auto [end, error_code] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
    if (error_code != std::errc() || end != cell.data() + cell.size() || !(value >= 0) ||
        value > 1e9) {
      error("runs-number", row.line,
            fmt::format("'{}' in column '{}' is no number from 0 up", cell, column));
      return otherwise;
    }
    return value;
  }
  void error(const char* code, std::uint32_t line, std::string what, std::string remedy = {}) {
    diagnostics_.error(code, {path_.string(), line, 0, 0}, std::move(what), std::move(remedy));
  }

 private:
  void add_line(std::uint32_t line, std::string_view row) {
    if (trimmed(row).empty() || trimmed(row).front() == '#') return;
    auto cells = cells_of(row);
    if (!cells) {
      error("runs-quote-open", line, "a quote does not close on its line", "close it");
      // Without a head nothing below can be told.
      if (head_line_ == 0) head_line_ = line;
      return;
    }
    if (head_line_ == 0) {
      head_line_ = line;
      set_head(std::move(*cells));
    } else if (!head_.empty() && cells->size() != head_.size()) {
      error(
          "runs-row-length", line,
          fmt::format("the row's cells number {}, the head line's {}", cells->size(), head_.size()),
          "give each column its cell, empty where nothing is known; a decimal comma parts cells");
    } else {
      rows_.push_back({line, std::move(*cells)});
    }
  }
  void set_head(std::vector<std::string> cells) {
    head_ = std::move(cells);
    for (std::size_t i = 0; i < head_.size(); ++i) {
      if (!head_[i].empty() && find(head_[i]) < i) {
        error("runs-column-twice", head_line_,
              fmt::format("the head line has two columns '{}'", head_[i]), "take one out");
      }
    }
  }
  std::size_t find(std::string_view column) const {
    return static_cast<std::size_t>(std::find(head_.begin(), head_.end(), column) - head_.begin());
  }
  fs::path path_;
  Diagnostics& diagnostics_;
  std::uint32_t head_line_ = 0;  // 0: none yet
  std::vector<std::string> head_;
  std::vector<CsvRow> rows_;
};

std::optional<Csv> read_csv(const fs::path& path, Diagnostics& diagnostics) {
  const auto text = read_text_file(path, "table of runs", diagnostics, most_csv_bytes);
  if (!text) return std::nullopt;
  const std::size_t before = diagnostics.errors();
  Csv csv(path, *text, diagnostics);
  if (diagnostics.errors() != before) return std::nullopt;
  return csv;
}

// seconds, line, speed_mm_min: one row per reading.
void read_log(const fs::path& path, after::TimedRun& run, Diagnostics& diagnostics) {
  auto csv = read_csv(path, diagnostics);
  if (!csv || !csv->need("seconds") || !csv->need("line")) return;
  std::vector<after::Reading> readings;
  for (const CsvRow& row : csv->rows()) {
    after::Reading r;
    r.seconds = csv->number(row, "seconds", 0);
    r.line = static_cast<std::uint32_t>(csv->number(row, "line", 0));
    const double speed = csv->number(row, "speed_mm_min", -1);
    r.speed = speed >= 0 ? speed / 60 : -1;
    r.row = row.line;
    readings.push_back(r);
  }
  if (after::in_order(readings, path.string(), diagnostics))
    run.log = after::logged_lines(readings);
}

// Overrides as a factor: 100 typed for 100 % would make a program a hundred times as fast.
bool overrides_are_factors(const after::TimedRun& run, const CsvRow& row, Csv& csv) {
  bool ok = true;
  for (const auto& [column, value] : {std::pair{"feed_override", run.feed_override},
                                      std::pair{"rapid_override", run.rapid_override}}) {
    if (value >= 0.01 && value <= 2) continue;
    csv.error("runs-override", row.line,
              fmt::format("{} = {:g} is out of range: 0.01 to 2", column, value),
              "it is a factor: 1 = 100 %");
    ok = false;
  }
  return ok;
}

// One row of the table, what it names added to inputs; nullopt with errors: it cannot be used.
std::optional<after::TimedRun> read_run(const fs::path& path, const job::Machine& machine,
                                        const CsvRow& row, Csv& csv, std::vector<fs::path>& inputs,
                                        Diagnostics& diagnostics) {
  after::TimedRun run;
  const std::string named = csv.text(row, "program");
  const fs::path program = path.parent_path() / named;
  inputs.push_back(program);
  run.name = program.filename().string();
  run.measured_s = csv.number(row, "measured_s", 0);
  run.feed_override = csv.number(row, "feed_override", 1);
  run.rapid_override = csv.number(row, "rapid_override", 1);
  std::error_code ignored;
  if (named.empty() || !fs::exists(program, ignored)) {
    csv.error("runs-program-missing", row.line,
              named.empty() ? std::string("the row names no program")
                            : fmt::format("there is no program {}", program.string()),
              "paths count from the table's folder");
    return std::nullopt;
  }
  if (const std::string log = csv.text(row, "log"); !log.empty()) {
    inputs.push_back(path.parent_path() / log);
    read_log(inputs.back(), run, diagnostics);
  }
  if (!(run.measured_s > 0) && run.log.empty()) {
    csv.error("runs-time-missing", row.line,
              fmt::format("the run of {} has neither measured_s nor a log", run.name));
    return std::nullopt;
  }
  if (!overrides_are_factors(run, row, csv)) return std::nullopt;
  nc::ReadOptions options;
  options.start = machine.start;
  options.reads = machine.reads;
  auto read = nc::read_program(program, options, diagnostics);
  if (!read) return std::nullopt;
  run.program = std::make_shared<const nc::Program>(std::move(*read));
  if (!run.log.empty()) after::hold_against_program(run, inputs.back().string(), diagnostics);
  return run;
}

std::vector<after::TimedRun> read_runs(const fs::path& path, const job::Machine& machine,
                                       std::vector<fs::path>& inputs, Diagnostics& diagnostics) {
  std::vector<after::TimedRun> runs;
  inputs.push_back(path);
  auto csv = read_csv(path, diagnostics);
  if (!csv || !csv->need("program")) return runs;
  if (!csv->has("log") && !csv->need("measured_s")) return runs;
  for (const CsvRow& row : csv->rows()) {
    if (auto run = read_run(path, machine, row, *csv, inputs, diagnostics))
      runs.push_back(std::move(*run));
  }
  if (runs.empty() && !diagnostics.has_errors()) {
    diagnostics.error("runs-empty", {path.string(), 0, 0, 0}, "there is no run in this table");
  }
  return runs;
}

std::vector<Figure> figures_named(const std::string& words) {
  std::vector<Figure> figures;
  for (std::size_t at = 0; at < words.size();) {
    const std::size_t end = std::min(words.find(',', at), words.size());
    const std::string word = words.substr(at, end - at);
    at = end + 1;
    const auto* found = std::find_if(std::begin(after::all_figures), std::end(after::all_figures),
                                     [&](Figure f) { return word == after::name(f); });
    if (found == std::end(after::all_figures)) {
      throw UsageError(fmt::format("--fit: there is no figure '{}'", word));
    }
    figures.push_back(*found);
  }
  return figures;
}

// "3280 to 6690": three digits are more than runs tell, and powers of ten are hard to read.
std::string within(const after::Fitted& f) {
  const auto plain = [](double v) {
    return v >= 1000 ? fmt::format("{:.0f}", v) : fmt::format("{:.3g}", v);
  };
  return fmt::format("{} to {}", plain(f.after / f.factor), plain(f.after * f.factor));
}

void print(const after::Calibration& c) {
  tell("  {}{}{}{}\n", text::left("figure", 26), text::right("before", 12),
       text::right("fitted", 12), text::right("within", 20));
  for (const auto& f : c.fitted) {
    tell("  {}{}{}{}{}\n", text::left(fmt::format("{}, {}", name(f.figure), unit(f.figure)), 26),
         text::right(fmt::format("{:.4g}", f.before), 12),
         text::right(fmt::format("{:.4g}", f.after), 12), text::right(within(f), 20),
         f.told_by_data ? "" : " *");
  }
  tell("\n  {}{}{}{}\n", text::left("run", 26), text::right("measured", 12),
       text::right("planned", 12), text::right("error", 10));
  for (const auto& r : c.residuals) {
    tell("  {}{}{}{}\n", text::left(text::printable(r.run), 26),
         text::right(text::duration(r.measured_s), 12), text::right(text::duration(r.after_s), 12),
         text::right(fmt::format("{:+.1f} %", 100 * (r.after_s / r.measured_s - 1)), 10));
  }
  for (const auto& r : c.residuals) {
    constexpr double far_off = 0.05;  // choice: what fitted runs of one machine hardly are
    if (std::abs(std::log(r.after_s / r.measured_s)) < far_off) continue;
    tell("{}",
         text::wrapped(fmt::format("{}: {:+.0f} % off even so. Is its time right (in seconds), are "
                                   "the overrides, was this program run? Its plan is not to be "
                                   "trusted, and a run so far off counts less in the fit.",
                                   text::printable(r.run), 100 * (r.after_s / r.measured_s - 1)),
                       80, 0));
  }
  for (const auto& f : c.fitted) {
    if (!f.told_by_data) {
      tell("* {}: these runs hardly tell it; the value leans on the machine file.\n",
           name(f.figure));
    }
  }
  tell("{}", text::wrapped(
                 fmt::format("Nine of ten programs are expected within {:.1f} % of their plan, and "
                             "what the figures above leave open.",
                             100 * timing::nine_of_ten * c.machine.time_error),
                 80, 0));
  for (const auto& [a, b] : c.entangled) {
    tell(
        "{} and {} cannot be told apart by these runs: more of one with less of the other fits as "
        "well.\n",
        name(a), name(b));
  }
}

nlohmann::ordered_json json_of(const after::Calibration& c) {
  nlohmann::ordered_json j = {{"schema", "proveout-calibration/1"},
                              {"figures", nlohmann::ordered_json::array()},
                              {"runs", nlohmann::ordered_json::array()}};
  for (const auto& f : c.fitted) {
    j["figures"].push_back({{"name", name(f.figure)},
                            {"before", json::rounded(f.before)},
                            {"after", json::rounded(f.after)},
                            {"low", json::rounded(f.after / f.factor)},
                            {"high", json::rounded(f.after * f.factor)},
                            {"told_by_data", f.told_by_data}});
  }
  for (const auto& r : c.residuals) {
    j["runs"].push_back({{"program", r.run},
                         {"measured_s", json::rounded(r.measured_s)},
                         {"before_s", json::rounded(r.before_s)},
                         {"planned_s", json::rounded(r.after_s)}});
  }
  return j;
}

constexpr const char* figures_of_runs =
    "acceleration,arc_acceleration,path_tolerance,rapid,tool_change,overhead";
// What programs by stopwatch can tell.
constexpr const char* figures_of_plan =
    "acceleration,arc_acceleration,path_tolerance,rapid,tool_change,overhead,block_rate,jerk,"
    "spindle_start,spindle_rate,coolant";

// A spindle's start is told by spin_up, or by its start and ramp; a file with both is refused.
void one_way_to_start(const std::vector<Figure>& figures, const job::Machine& machine) {
  const auto fits = [&](Figure f) {
    return std::find(figures.begin(), figures.end(), f) != figures.end();
  };
  if (!fits(Figure::spin_up)) return;
  if (fits(Figure::spindle_start) || fits(Figure::spindle_rate))
    throw UsageError("--fit: spin_up and spindle_start, spindle_rate tell the same: take one");
  if (machine.waits.spindle_start_s > 0 || machine.waits.spindle_rpm_per_s > 0)
    throw UsageError(
        "--fit: the machine file gives the spindle's start in waits: fit spindle_start and "
        "spindle_rate instead of spin_up");
}

Vec3 box_named(const std::string& words) {
  const auto box = propose::sizes_from(words);
  if (!box || !(box->minCoeff() > 0))
    throw UsageError("--box takes three lengths above 0, as in 200x150x50");
  return *box;
}

std::string words_of(const std::vector<Figure>& figures) {
  std::string words;
  for (const Figure f : figures) words += (words.empty() ? "" : ",") + std::string(name(f));
  return words;
}

// Programs to be timed by stopwatch, and the table their times go into.
Status write_plan(const po::variables_map& values, const job::Machine& machine,
                  const std::vector<Figure>& figures) {
  if (!values.count("box")) throw UsageError("calibrate --plan needs --box LxWxH, mm free in air");
  if (values.count("out") || values.count("json"))
    throw UsageError("--plan writes programs; --out and --json go with timed runs");
  const std::string folder = values["plan"].as<std::string>();
  need_folder(folder, "--plan");
  std::error_code ignored;
  if (fs::exists(fs::path(folder) / "runs.csv", ignored))
    throw UsageError("--plan: a runs.csv is there already; its times would be lost");
  Diagnostics diagnostics;
  constexpr double seconds = 25;  // each: a stopwatch's 0.2 s are then less than a hundredth
  const auto programs = after::test_programs(
      machine, figures, box_named(values["box"].as<std::string>()), seconds, diagnostics);
  cli::print(diagnostics);
  if (programs.empty()) return unusable_input;
  std::string table =
      "# Time each program from cycle start to its end and fill in measured_s; take out the rows "
      "you\n"
      "# did not time. Then: proveout calibrate runs.csv --machine M.toml --out FITTED.toml \\\n"
      "#   --fit " +
      words_of(figures) + "\nprogram,measured_s\n";
  double all = 0;
  tell("  {}{}  {}\n", text::left("program", 20), text::right("about", 10), "tells");
  for (const auto& p : programs) {
    table += p.name + ",\n";
    all += p.expected_s;
    tell("  {}{}  {}\n", text::left(p.name, 20), text::right(text::duration(p.expected_s), 10),
         p.tells);
  }
  files::make_folder(folder);
  files::FileSet set(stop_if_interrupted);
  for (const auto& p : programs) files::write_whole(fs::path(folder) / p.name, p.text);
  files::write_whole(fs::path(folder) / "runs.csv", table);
  set.commit();
  tell("{}", text::wrapped(
                 fmt::format(
                     "Some {} in all. In air: take the work out, or raise the tool well above it, "
                     "and put the work zero where the box is free in +x and +y. The programs "
                     "leave z alone but for tool changes. Programs named spindle turn it up to the "
                     "machine file's max_rpm: put in no tool that may not turn so fast. "
                     "Run each with the overrides at 100 % "
                     "and a hand on the stop.",
                     text::duration(all)),
                 80, 0));
  return ran;
}

}  // namespace

Status calibrate_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("machine", po::value<std::string>()->value_name("M.toml"), "the machine file to start from");
  add("fit", po::value<std::string>()->value_name("FIGURES"),
      "what to fit, comma-separated; otherwise acceleration,\n"
      "arc_acceleration,path_tolerance,rapid,tool_change,\n"
      "overhead; there are also spin_up, block_rate, jerk,\n"
      "spindle_start, spindle_rate, coolant");
  add("plan", po::value<std::string>()->value_name("DIR"),
      "write short programs there that tell these figures apart, to be timed by stopwatch");
  add("box", po::value<std::string>()->value_name("LxWxH"),
      "with --plan: mm free in air from the work zero in +x, +y, +z");
  add("out", po::value<std::string>()->value_name("FILE"), "write the fitted machine file there");
  add("json", po::value<std::string>()->value_name("FILE"),
      "write the figures there; - is standard output");
  const bool plans = std::any_of(
      arguments.words.begin(), arguments.words.end(),
      [](const std::string& word) { return word == "--plan" || word.starts_with("--plan="); });
  const auto values = parse(
      arguments, options, plans ? std::vector<std::string>{} : std::vector<std::string>{"RUNS.csv"},
      "usage: proveout calibrate RUNS.csv --machine M.toml [options]\n"
      "       proveout calibrate --plan DIR --box LxWxH --machine M.toml\n\n"
      "Machine figures from timed runs. RUNS.csv has a head line and the columns\n"
      "program, measured_s and, where known, feed_override, rapid_override (factors)\n"
      "and log (a file with the columns seconds, line, speed_mm_min).");
  if (!values) return ran;
  if (!values->count("machine")) throw UsageError("calibrate needs --machine M.toml");
  after::Options fit;
  fit.figures = figures_named(values->count("fit") ? (*values)["fit"].as<std::string>()
                              : plans              ? figures_of_plan
                                                   : figures_of_runs);
  const std::string to = output_file(*values, "json"), out = output_file(*values, "out");
  Diagnostics diagnostics;
  const auto machine = job::read_machine((*values)["machine"].as<std::string>(), diagnostics);
  if (plans) {
    cli::print(diagnostics);
    return machine ? write_plan(*values, *machine, fit.figures) : unusable_input;
  }
  if (machine) one_way_to_start(fit.figures, *machine);
  std::vector<after::TimedRun> runs;
  std::vector<fs::path> inputs{(*values)["machine"].as<std::string>()};
  if (machine) {
    runs = read_runs((*values)["RUNS.csv"].as<std::vector<std::string>>().front(), *machine, inputs,
                     diagnostics);
  }
  cli::print(diagnostics);
  if (!machine || runs.empty() || diagnostics.has_errors()) return unusable_input;
  if (!to.empty() && to != "-") keep_inputs(inputs, to, "--json");
  if (!out.empty()) keep_inputs(inputs, out, "--out");
  ProgressLine line(true);
  fit.progress = [&](int done, int most) {
    stop_if_interrupted();
    line.show("fitting", static_cast<double>(done) / most);
  };
  const after::Calibration c = after::fit(*machine, runs, fit);
  line.clear();
  if (!out.empty()) {
    std::string note = fmt::format(
        "Fitted by proveout calibrate to {} timed runs. Figures are estimates.", runs.size());
    for (const auto& f : c.fitted) {
      note += fmt::format("\n{}: {:.4g} {}, within {}{}", name(f.figure), f.after, unit(f.figure),
                          within(f), f.told_by_data ? "" : " (hardly told by the runs)");
    }
    files::write_whole(out, after::machine_file(c.machine, note));
  }
  if (!to.empty()) write_text(to, json::to_bytes(json_of(c)));
  if (to != "-") print(c);
  return ran;
}

}  // namespace proveout::cli
