#include "sim/pipeline/dry_run.h"

#include <fmt/format.h>
#include <sys/resource.h>
#include <tbb/task_arena.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <set>

#include "sim/causes/causes.h"
#include "sim/causes/program_signs.h"
#include "sim/causes/setup_shift.h"
#include "sim/causes/tool_sizes.h"
#include "sim/causes/verdict.h"
#include "sim/checks/came_loose.h"
#include "sim/checks/finish_look.h"
#include "sim/checks/flip_check.h"
#include "sim/checks/holding.h"
#include "sim/checks/inserts.h"
#include "sim/checks/marked.h"
#include "sim/checks/part_check.h"
#include "sim/checks/registry.h"
#include "sim/checks/zero_search.h"
#include "sim/measure/measure.h"
#include "sim/measure/probe.h"
#include "sim/pipeline/layout.h"
#include "sim/pipeline/milled_extent.h"
#include "sim/pipeline/setup_run.h"
#include "sim/run/inputs.h"
#include "sim/run/tool_runs.h"
#include "sim/setup/pose.h"

namespace proveout::pipeline {

namespace {

using Clock = std::chrono::steady_clock;

// A thirtieth of the smallest cutting diameter, but no finer than some million surface voxels make
// wise.
double default_voxel(const job::Job& job, const Box3& blank) {
  double smallest = 1e9;
  for (const auto& t : job.tools) smallest = std::min(smallest, t.diameter);
  const Vec3 s = blank.sizes();
  const double surface = 2 * (s.x() * s.y() + s.y() * s.z() + s.z() * s.x());
  const double finest = std::sqrt(surface * 6 / 20e6);
  const double wanted = std::max({smallest / 30, finest, 0.02});
  // A round figure reads better and repeats: steps of 0.02 mm below 0.2, of 0.1 above.
  const double step = wanted < 0.2 ? 0.02 : 0.1;
  return std::ceil(wanted / step - 1e-9) * step;
}

// Along one edge of the blank (choice).
constexpr double most_voxels_along = 60000;

std::string material_of(const job::Job& job, const RunOptions& options) {
  return options.material.empty() ? job.stock.material : options.material;
}

double peak_memory_mb() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

class DryRun {
 public:
  DryRun(const job::Job& job, std::shared_ptr<const run::Inputs> inputs, const RunOptions& options,
         Diagnostics& diagnostics, PhaseClock& clock)
      : options_(options), diagnostics_(diagnostics), clock_(clock), in_(*inputs) {
    result_.job = job;
    result_.inputs = std::move(inputs);
    result_.material = material_of(job, options);
    result_.voxel = options.voxel > 0          ? options.voxel
                    : job.simulation.voxel > 0 ? job.simulation.voxel
                                               : default_voxel(job, in_.blank);
  }

  JobForecast only_forecast() const {
    JobForecast f{result_.voxel, forecast(forecast_input()), 0};
    for (const run::SetupInputs& setup : in_.setups) f.motions += setup.program->motions.size();
    return f;
  }

  std::optional<run::JobResult> go(Clock::time_point start) {
    const job::Job& job = result_.job;
    if (!fits()) return std::nullopt;
    result_.density_g_cm3 = in_.material.density_g_cm3;
    result_.blank_mm3 = blank_volume();
    result_.assumed.push_back(
        fmt::format("cutting figures of {}: {}", in_.material.name, in_.material.source));
    for (std::size_t i = 0; i < job.setups.size(); ++i) {
      for (const nc::Assumption& a : in_.setups[i].program->assumed) {
        result_.assumed.push_back(
            fmt::format("{}, line {}: {} (machine.reads.{} = \"{}\")",
                        job.setups[i].program.filename().string(), a.line, a.text,
                        nc::read_choices()[static_cast<std::size_t>(a.which)].key,
                        job.machine.reads.chosen(a.which)));
      }
    }
    clock_.time("the blank", [&] { make_stock(); });
    stages_ = std::make_unique<Stages>(options_.stages, before_cutting());
    for (std::size_t i = 0; i < job.setups.size(); ++i) {
      if (!one_setup(i)) return std::nullopt;
    }
    say("measuring", 0.95);
    clock_.time("holding", [&] { hold(checks::judge_holding(result_, in_.material, findings_)); });
    clock_.time("checks of the whole job", [&] {
      const run::JobContext job_context{result_.job, in_.material,
                                        in_.part ? &in_.part->mesh() : nullptr, result_};
      for (const run::Check* check : checks::all_checks()) {
        if (check->after_last != nullptr) check->after_last(job_context, findings_);
      }
    });
    std::optional<solid::FaceTree> blank_mesh;
    if (in_.blank_mesh) blank_mesh.emplace(*in_.blank_mesh);
    const checks::PartCheckInput about_part{
        in_.part.get(), {in_.blank, blank_mesh ? &*blank_mesh : nullptr}, in_.bodies, threads()};
    checks::PartOutcome outcome = clock_.time(
        "part", [&] { return checks::check_part(result_, about_part, in_.material, findings_); });
    result_.finish = clock_.time(
        "finish", [&] { return checks::look_at_finish(result_, outcome.finished, about_part); });
    result_.part = outcome.part;
    for (std::size_t i = 0; i < result_.setups.size(); ++i)
      result_.setups[i].gouge_mm3 = outcome.gouge_mm3[i];
    stock::Stock finished = std::move(outcome.finished);
    result_.part.target = clock_.time("weight to aim at", [&] {
      return checks::weigh_against_target(result_, finished, in_.material.density_g_cm3,
                                          std::max(0.25, result_.voxel));
    });
    if (options_.keep_stock_after_setups)
      result_.finished = std::make_shared<stock::Stock>(std::move(finished));
    look_at_programs();
    if (!clock_.time("fitting to the part", [&] { return fit_shifts(); }) ||
        !clock_.time("other zeros", [&] { return search_zeros(); }))
      return std::nullopt;
    clock_.time("causes", [&] { close(start); });
    return std::move(result_);
  }

 private:
  void hold(checks::HoldingOutcome outcome) {
    for (std::size_t i = 0; i < result_.setups.size(); ++i) {
      result_.setups[i].bridges = std::move(outcome.setups[i].bridges);
      result_.setups[i].holding = outcome.setups[i].holding;
    }
    if (!outcome.assumed.empty()) result_.assumed.push_back(std::move(outcome.assumed));
  }

  bool say(const std::string& what, double share) {
    return !options_.progress || options_.progress(what, share);
  }

  int threads() const {
    const int wanted = options_.threads >= 0 ? options_.threads : result_.job.simulation.threads;
    return wanted > 0 ? wanted : tbb::this_task_arena::max_concurrency();
  }

  ForecastInput forecast_input() const {
    ForecastInput out{in_.blank,  result_.voxel, {},
                      in_.bodies, threads(),     options_.keep_stock_after_setups};
    for (const run::SetupInputs& setup : in_.setups) out.programs.push_back(setup.program.get());
    return out;
  }

  // Numbers of the tools that some program of the job moves.
  std::set<int> tools_used() const {
    std::set<int> used;
    for (const run::SetupInputs& setup : in_.setups) {
      const nc::Program& program = *setup.program;
      for (const nc::Motion& m : program.motions) used.insert(program.states[m.state].tool);
    }
    return used;
  }

  // A blank thinner than two voxels is no volume any more; tools of three voxels are crude.
  bool too_coarse(double thinnest) {
    const Place place{result_.job.file.string(), 0, 0, 0};
    const double voxel = result_.voxel;
    if (2 * voxel > thinnest) {
      diagnostics_.error("voxel-too-coarse", place,
                         fmt::format("a voxel of {:g} mm is too coarse for a blank {:g} mm thick",
                                     voxel, thinnest),
                         fmt::format("give a smaller voxel: at most --voxel {:g}", thinnest / 2));
      return true;
    }
    const std::set<int> used = tools_used();
    for (const auto& t : result_.job.tools) {
      if (3 * voxel <= t.diameter || !used.contains(t.number)) continue;
      diagnostics_.warning(
          "voxel-coarse", place,
          fmt::format(
              "a voxel of {:g} mm is more than a third of T{}'s diameter of {:g} mm: what it "
              "cuts and its engagement are crude",
              voxel, t.number, t.diameter),
          "docs/accuracy.md tells what holds at a thirtieth");
      break;
    }
    return false;
  }

  // Refuses what would not fit before memory is asked for.
  bool fits() {
    const Vec3 s = in_.blank.sizes();
    if (too_coarse(s.minCoeff())) return false;
    const Forecast needs = forecast(forecast_input());
    const double free_mb =
        options_.memory_mb > 0 ? options_.memory_mb : memory_available_mb().value_or(48e3);
    if (options_.expected) options_.expected(needs);
    const bool too_long = s.maxCoeff() / result_.voxel > most_voxels_along;
    if (!too_long && needs.memory_mb <= 1.2 * free_mb) return true;
    const double voxel = result_.voxel;
    diagnostics_.error(
        "voxel-too-fine", {result_.job.file.string(), 0, 0, 0},
        too_long ? fmt::format("along a blank {:g} mm long lie {:.0f} voxels of {:g} mm, more than "
                               "the {:.0f} that are followed",
                               s.maxCoeff(), s.maxCoeff() / voxel, voxel, most_voxels_along)
                 : fmt::format("a voxel of {:g} mm would need about {:.1f} GB for this job, and "
                               "{:.1f} GB are free",
                               voxel, needs.memory_mb / 1e3, free_mb / 1e3),
        what_would_fit(s, free_mb));
    return false;
  }

  // A voxel large enough for the memory and the length may be too coarse for the thickness.
  std::string what_would_fit(const Vec3& blank, double free_mb) const {
    ForecastInput input = forecast_input();
    input.voxel = std::max(input.voxel, rounded_up(blank.maxCoeff() / most_voxels_along));
    const double fitting = voxel_within(input, free_mb);
    if (2 * fitting <= blank.minCoeff())
      return fmt::format("give a larger voxel: --voxel {:.2g} should fit", fitting);
    return fmt::format(
        "no larger voxel helps: {:.2g} mm would fit and is too coarse for a blank {:g} mm thick; "
        "give of the blank only the piece that is milled",
        fitting, blank.minCoeff());
  }

  stock::Stock blank(double voxel) const {
    if (in_.blank_mesh)
      return stock::Stock::mesh(in_.blank_mesh->vertices, in_.blank_mesh->triangles, voxel);
    return stock::Stock::box(result_.job.stock.size, voxel);
  }

  double blank_volume() const {
    if (in_.blank_mesh) return mesh::mass_of(*in_.blank_mesh).volume;
    const auto& size = result_.job.stock.size;
    return size[0] * size[1] * size[2];
  }

  void make_stock() { result_.stock = std::make_shared<stock::Stock>(blank(result_.voxel)); }

  // What the stock depends on before the first motion.
  Fingerprint before_cutting() const {
    Fingerprint f;
    f.add("proveout stage 3");
    f.add(result_.voxel);
    if (in_.blank_mesh)
      f.add(*in_.blank_mesh);
    else
      f.add(result_.job.stock.size);
    if (in_.part) f.add(in_.part->mesh());
    return f;
  }

  // The stock as setup i found it: kept, or cut anew from the blank.
  stock::Stock stock_before(std::size_t i) const {
    if (i > 0 && i <= result_.stock_after.size()) return result_.stock_after[i - 1]->clone();
    return cut_anew(i, result_.voxel);
  }

  // The stock as setup i finds it, cut from a blank of any voxel.
  stock::Stock cut_anew(std::size_t i, double voxel) const {
    stock::Stock stock = blank(voxel);
    cut_on(stock, 0, i);
    return stock;
  }

  // Takes the stock as setup `from` finds it on to what setup `to` finds.
  void cut_on(stock::Stock& stock, std::size_t from, std::size_t to) const {
    stock::CutOptions options;
    options.threads = threads();
    for (std::size_t k = from; k < to; ++k) {
      const run::SetupResult& done = result_.setups[k];
      Stages({}, {}).cut(k + 1, done.source->motions, run::tool_runs(*done.source, in_.bodies),
                         done.stock_from_setup, done.first_id, options, stock);
      measure::keep_one_piece(stock, in_.part.get());
    }
  }

  // An edge is touched within the band: one beside the piece touches nothing.
  bool band_holds_material(const job::Setup& setup) {
    if (!setup.zero.band) return true;
    const Box3 whole = measure::extent(
        *result_.stock, setup::machine_from_stock_rotation(setup.turn), std::nullopt);
    const double height = whole.isEmpty() ? 0 : whole.sizes().z();
    const auto [low, high] = *setup.zero.band;
    if (low <= height && high >= 0) return true;
    std::string remedy =
        "the band counts from the lowest material of the piece, in the setup's position";
    // Heights below 0 are a program's Z from the top.
    if (high < 0 && height + low >= 0)
      remedy += fmt::format("; [{:g}, {:g}] from the top down is [{:.4g}, {:.4g}] in it", low, high,
                            height + low, height + high);
    diagnostics_.error(
        "band-empty", {result_.job.file.string(), setup.line, 0, 0},
        fmt::format("setup {}: the zero's band [{:g}, {:g}] holds no material: the piece is {:.4g} "
                    "mm high there",
                    setup.name, low, high, height),
        remedy);
    return false;
  }

  bool one_setup(std::size_t i) {
    const job::Setup& setup = result_.job.setups[i];
    Box3 milled;
    // Asked whatever the zero lies on: a band counts on milled pieces only, but one beside the
    // piece is a slip there too.
    if (!band_holds_material(setup)) return false;
    if (setup.zero.on == job::ZeroOn::milled) milled = milled_extent(result_, setup, diagnostics_);
    const RigidMotion pose = setup::stock_from_setup(setup, in_.blank, milled);
    const double from =
        0.02 + 0.9 * static_cast<double>(i) / static_cast<double>(result_.job.setups.size());
    const double span = 0.9 / static_cast<double>(result_.job.setups.size());
    const run::SetupContext context{
        result_.job,
        setup,
        in_.material,
        in_.bodies,
        pose,
        in_.blank,
        in_.setups[i].fixtures,
        in_.part ? &in_.part->mesh() : nullptr,
        next_id_,
        threads(),
        i + 1,
        [&](double share) { return say("setup " + setup.name, from + span * share); }};
    const RigidMotion meant = setup::stock_from_setup(setup, in_.blank, milled, false);
    const double highest = setup::highest_near_zero(
        [&](double x, double y) { return measure::highest_on_line(*result_.stock, meant, x, y); });
    const auto before = checks::look_before_turning(result_, *result_.stock, pose);
    const auto start = Clock::now();
    run::SetupResult result =
        run_setup(context, in_.setups[i].program, *result_.stock, *stages_, findings_, clock_);
    cutting_s_ += std::chrono::duration<double>(Clock::now() - start).count();
    if (result.cut.stopped) return false;
    result.zero_in_words = setup::zero_in_words(meant, in_.blank);
    result.zero_touch = setup::zero_touch(setup, in_.blank, milled, result_.voxel, highest);
    result.stock_left_mm3 = measure::volume(*result_.stock);
    next_id_ += static_cast<stock::MotionId>(result.cut.motions.size());
    motions_ += result.cut.motions.size();
    const auto loosening = [&](const Vec3& kept, const Vec3& piece) {
      say("looking when a piece comes free", from + span);
      return checks::find_loosening(stock_before(i), in_.setups[i].program->motions,
                                    run::tool_runs(*in_.setups[i].program, in_.bodies), pose, kept,
                                    piece, threads());
    };
    if (before) {
      result_.flips.push_back(clock_.time("turning over", [&] {
        return checks::check_flip(result_, result, *before,
                                  {setup, in_.blank, milled, in_.part.get(), in_.bodies},
                                  findings_);
      }));
    }
    result.pieces_mm3 = clock_.time("pieces", [&] {
      return checks::check_pieces(result, *result_.stock, in_.part.get(), loosening, findings_);
    });
    if (in_.part) {
      if (!say("measuring what holds the part", from + span)) return false;
      result.bridges = clock_.time("bridges", [&] {
        return checks::bridges_after(result, result_.job, *result_.stock, *in_.part);
      });
    }
    result_.setups.push_back(std::move(result));
    if (options_.keep_stock_after_setups) {
      result_.stock_after.push_back(std::make_shared<stock::Stock>(result_.stock->clone()));
    }
    return say("setup " + setup.name, from + span);
  }

  // Of a part that is cut wrongly: by which shift would each setup cut it rightly? False: asked
  // to stop.
  bool fit_shifts() {
    shifts_.resize(result_.setups.size());
    // What is wrong with the part is told of one setup, whichever of them lies off.
    if (!causes::looks_shifted(findings_.kept())) return true;
    for (std::size_t i = 0; in_.part && i < result_.setups.size(); ++i) {
      const run::SetupResult& s = result_.setups[i];
      if (!say("fitting setup " + s.name + " to the part", 0.955)) return false;
      tbb::task_arena(threads()).execute([&] {
        // A part that lies elsewhere lies so for the first setup as well.
        shifts_[i] = causes::shift_of(s, *result_.stock, *in_.part, result_.job, findings_.kept(),
                                      i == 0 || shifts_.front().found);
      });
    }
    return true;
  }

  // False: asked to stop.
  bool search_zeros() {
    // One coarse stock goes from doubted setup to doubted setup: cut anew from the blank for each,
    // time would grow with the square of their number.
    std::optional<stock::Stock> before;
    std::size_t cut_to = 0;
    for (std::size_t i = 0; i < result_.setups.size(); ++i) {
      const run::SetupResult& done = result_.setups[i];
      const auto why = checks::why_zero_is_doubted(done, result_.job, result_.material, in_.blank);
      // What another tool or blank made of the part fits other zeros by chance.
      if (!why || (!checks::only_air(done) &&
                   causes::comments_contradict(result_, findings_.kept(), shifts_)))
        continue;
      const std::string what = "trying other zeros for setup " + done.name;
      if (!say(what, 0.96)) return false;
      const double voxel = checks::zero_search_voxel(result_.job, in_.blank, result_.voxel);
      if (!before) before = blank(voxel);
      cut_on(*before, cut_to, i);
      cut_to = i;
      auto search =
          checks::search_zero({result_.job, result_.job.setups[i], done, in_.bodies, in_.part.get(),
                               in_.blank, *before, threads(), causes::in_words(shifts_[i], done),
                               [&](double share) { return say(what, 0.96 + 0.03 * share); }});
      if (!search) return false;
      search->why = *why;
      if (const auto first_feed = checks::only_air(done))
        findings_.add(checks::air_finding(*search, done, *first_feed));
      else if (!search->fits.empty())
        findings_.add(checks::zero_finding(*search, done));
      result_.zero_search.push_back(std::move(*search));
    }
    return true;
  }

  // A program's number says nothing of the work; what home is taken to be, and how a word is read
  // that controls read differently, are assumptions, and told among them.
  bool told_elsewhere(const Diagnostic& d) {
    if (d.severity != Severity::note) return false;
    if (d.code == "program-number" || d.code == "dialect-choice") return true;
    if (d.code != "machine-position-unknown") return false;
    result_.assumed.push_back(fmt::format("{}, line {}: {}; {}",
                                          std::filesystem::path(d.place.file).filename().string(),
                                          d.place.line, d.what, d.why.empty() ? d.remedy : d.why));
    return true;
  }

  // What reading a program said is about its setups; all else about the job.
  void add_as_finding(const Diagnostic& d) {
    Finding f;
    f.level = d.severity;
    f.line = d.place.line;
    f.text = d.what;
    f.detail = d.code;
    bool of_a_program = false;
    for (const run::SetupResult& s : result_.setups) {
      if (s.source->files.front() != d.place.file) continue;
      of_a_program = true;
      f.kind = FindingKind::program;
      f.setup = s.name;
      f.file = s.program;
      findings_.add(f);
    }
    if (of_a_program) return;
    f.kind = FindingKind::job;
    f.file = std::filesystem::path(d.place.file).filename().string();
    findings_.add(std::move(f));
  }

  // What the programs say of their tools and their blank, where the job says otherwise.
  void look_at_programs() {
    for (std::size_t i = 0; i < result_.setups.size(); ++i) {
      const run::SetupResult& setup = result_.setups[i];
      for (Finding& f : causes::other_sizes(setup, in_.setups[i], result_.job))
        findings_.add(std::move(f));
      if (const auto cause = causes::length_offset(setup)) {
        Finding f;
        f.kind = FindingKind::program;
        f.level = Severity::warning;
        f.detail = "no-length-offset";
        f.setup = setup.name;
        f.file = setup.program;
        f.text = cause->text;
        findings_.add(std::move(f));
      }
    }
  }

  // What the job file marks as not known, as it was read.
  void list_marks() {
    const auto& read = options_.files.all();
    const bool held = std::any_of(read.begin(), read.end(), [&](const InputFile& file) {
      return file.path == result_.job.file;
    });
    if (!held) return;
    InputFiles files = options_.files;
    Diagnostics ignored;
    if (const auto text =
            files.read(result_.job.file, "job file", ignored, std::uintmax_t{1} << 30))
      checks::add_marked(*text, result_.not_checked);
  }

  void close(Clock::time_point start) {
    for (const run::SetupResult& s : result_.setups) {
      result_.time_s += s.time_s;
      result_.time_low_s += s.time_low_s;
      result_.time_high_s += s.time_high_s;
      result_.removed_mm3 += s.removed_mm3;
    }
    for (const Diagnostic& d : diagnostics_.all()) {
      result_.remarks.push_back(d);
      if (d.severity != Severity::error && !told_elsewhere(d)) add_as_finding(d);
    }
    result_.not_checked = checks::not_checked(
        {result_.job, in_.material, in_.part ? &in_.part->mesh() : nullptr, result_});
    list_marks();
    result_.findings = findings_.take();
    result_.causes = causes::find_causes(result_, shifts_);
    causes::tell_confined(result_, shifts_);
    result_.verdict = causes::verdict(result_);
    result_.run.wall_s = std::chrono::duration<double>(Clock::now() - start).count();
    result_.run.moves_per_s = cutting_s_ > 0 ? static_cast<double>(motions_) / cutting_s_ : 0;
    result_.run.peak_memory_mb = peak_memory_mb();
    result_.run.threads = threads();
    result_.run.tool_runs_cut = stages_->tool_runs_cut();
    result_.run.tool_runs_reused = stages_->tool_runs_reused();
  }

  const RunOptions& options_;
  Diagnostics& diagnostics_;
  PhaseClock& clock_;
  run::JobResult result_;
  const run::Inputs& in_;  // result_.inputs
  std::unique_ptr<Stages> stages_;
  FindingCollector findings_;
  std::vector<causes::ShiftFit> shifts_;  // one a setup
  stock::MotionId next_id_ = 1;
  std::size_t motions_ = 0;
  double cutting_s_ = 0;
};

}  // namespace

std::optional<run::JobResult> dry_run(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics, PhaseClock& clock) {
  const auto start = Clock::now();
  if (options.progress) options.progress("reading", 0);
  auto inputs = clock.time("reading", [&] {
    return run::read_inputs(job, material_of(job, options), options.files, diagnostics);
  });
  if (!inputs) return std::nullopt;
  return DryRun(job, std::move(inputs), options, diagnostics, clock).go(start);
}

std::optional<run::JobResult> dry_run(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics) {
  PhaseClock clock;
  return dry_run(job, options, diagnostics, clock);
}

std::optional<JobForecast> forecast_job(const job::Job& job, const RunOptions& options,
                                        Diagnostics& diagnostics) {
  auto preview = preview_job(job, options, diagnostics);
  if (!preview) return std::nullopt;
  return preview->forecast;
}

std::optional<JobPreview> preview_job(const job::Job& job, const RunOptions& options,
                                      Diagnostics& diagnostics) {
  const auto inputs = run::read_inputs(job, material_of(job, options), options.files, diagnostics);
  if (!inputs) return std::nullopt;
  PhaseClock clock;
  return JobPreview{DryRun(job, inputs, options, diagnostics, clock).only_forecast(),
                    layout(job, *inputs), inputs};
}

}  // namespace proveout::pipeline
