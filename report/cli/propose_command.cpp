// propose: a job file from programs, a mesh and a blank.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <iostream>

#include "parser/job/shop.h"
#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/interrupt.h"
#include "report/cli/output_place.h"
#include "report/cli/process.h"
#include "report/cli/progress_line.h"
#include "report/cli/propose_options.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/text/words.h"
#include "sim/propose/blank.h"
#include "sim/propose/job_text.h"

namespace proveout::cli {

namespace po = boost::program_options;
namespace fs = std::filesystem;

namespace {

// One question each; nothing typed leaves it open.
void ask_all(propose::Proposal& proposal) {
  tell("Enter alone leaves a value open: it stays marked in the job file.\n");
  for (const propose::Question& q : propose::questions(proposal)) {
    for (int tries = 0; tries < 3; ++tries) {
      tell("{}{}: ", text::printable(q.text),
           q.usual.empty() ? "" : " [" + text::printable(q.usual) + "]");
      std::fflush(stdout);
      std::string line;
      if (!std::getline(std::cin, line)) return;
      const auto first = line.find_first_not_of(" \t\r");
      if (first == std::string::npos) break;
      const auto last = line.find_last_not_of(" \t\r");
      const std::string why =
          propose::answer(proposal, q.id, std::string_view(line).substr(first, last - first + 1));
      if (why.empty()) break;
      tell("  {}\n", text::printable(why));
    }
  }
}

bool at_terminal() { return ::isatty(STDIN_FILENO) == 1 && ::isatty(STDOUT_FILENO) == 1; }

std::vector<fs::path> inputs_of(const propose::Request& r) {
  std::vector<fs::path> out = r.programs;
  for (const fs::path& p : {r.part, r.tools, r.machine})
    if (!p.empty()) out.push_back(p);
  return out;
}

// A job file somebody may have worked on is not written over.
void need_new_file(const std::string& file) {
  std::error_code ignored;
  if (file != "-" && fs::exists(file, ignored) && !fs::is_other(file, ignored))
    throw UsageError(fmt::format(
        "{} is there already, and may be worked on: name another file with -o, or take it away",
        file));
}

}  // namespace

void add_propose_options(po::options_description& options) {
  auto add = options.add_options();
  add("part", po::value<std::string>()->value_name("PART.stl"), "mesh of what should be left");
  add("blank", po::value<std::string>()->value_name("SIZE"),
      "the blank, x by y by z: 160x60x32, 6.3x2.4x1.25in");
  add("tools", po::value<std::string>()->value_name("FILE.toml"),
      "a file of [[tools]], or a job with them: those the programs use are taken whole");
  add("machine", po::value<std::string>()->value_name("MACHINE"),
      "the machine: a file of its figures, or the name of a kept one");
  add("shop", po::value<std::string>()->value_name("DIR"),
      "the folder of kept machines, tools and materials (default: your own, see 'proveout shop')");
}

bool has_propose_options(const po::variables_map& values) {
  return values.count("part") + values.count("blank") + values.count("tools") +
             values.count("machine") + values.count("shop") !=
         0;
}

propose::Request propose_request(const po::variables_map& values,
                                 const std::vector<std::string>& programs) {
  propose::Request out;
  for (const std::string& p : programs) {
    out.programs.emplace_back(p);
    if (out.programs.back().extension() == ".toml")
      throw UsageError(
          fmt::format("{0} is no NC program: a job file is run by 'proveout run {0}'", p));
  }
  const auto path = [&](const char* option, fs::path& to) {
    if (values.count(option) == 0) return;
    to = values[option].as<std::string>();
    if (to.empty()) throw UsageError(fmt::format("--{} names no file", option));
  };
  path("part", out.part);
  path("tools", out.tools);
  path("machine", out.machine);
  path("shop", out.shop);
  out.name_shop = !out.shop.empty();
  if (out.shop.empty()) out.shop = job::own_shop();
  if (values.count("blank")) {
    out.blank = propose::sizes_from(values["blank"].as<std::string>());
    if (!out.blank)
      throw UsageError(fmt::format("--blank takes three sizes, as 160x60x32, not '{}'",
                                   values["blank"].as<std::string>()));
  }
  if (values.count("material")) out.material = values["material"].as<std::string>();
  if (values.count("threads")) out.threads = std::max(0, values["threads"].as<int>());
  use_no_more_threads_than(out.threads);
  return out;
}

std::optional<propose::Proposal> propose_job(propose::Request request, bool ask, bool quiet) {
  Diagnostics diagnostics;
  std::optional<propose::Proposal> out = propose::read(request, diagnostics);
  std::error_code ignored;
  if (out && !out->machine.empty() && !fs::exists(out->machine, ignored)) {
    std::string kept;
    for (const job::KeptMachine& m : out->shop.machines)
      kept += (kept.empty() ? "" : ", ") + m.name;
    throw UsageError(
        fmt::format("--machine: there is no file '{}', and no machine of that name is "
                    "kept{}",
                    out->machine.string(), kept.empty() ? "" : "; kept are: " + kept));
  }
  if (out && !out->machine.empty() && !job::read_machine(out->machine, diagnostics)) out.reset();
  print(diagnostics, quiet, false);
  if (!out) return std::nullopt;
  if (ask) ask_all(*out);
  ProgressLine progress(!quiet);
  request.progress = [&](const std::string& what, double share) {
    progress.show(what, share);
    return !interrupted();
  };
  Diagnostics later;
  if (!propose::arrange(*out, request, later) || interrupted()) throw Interrupted();
  progress.clear();
  if (later.has_errors()) {
    print(later, quiet, false);
    return std::nullopt;
  }
  return out;
}

std::string open_values(const propose::Proposal& proposal) {
  std::string out;
  for (const propose::Question& q : propose::questions(proposal)) {
    out += text::wrapped(
        text::printable(fmt::format("{}{}", q.text,
                                    q.needed                   ? ": the job cannot run without it"
                                    : q.usual == "not checked" ? ""
                                                               : "; " + q.usual + " stands in")),
        78, 2);
  }
  return out;
}

Status propose_command(const Arguments& arguments) {
  po::options_description options;
  add_propose_options(options);
  auto add = options.add_options();
  add("material", po::value<std::string>()->value_name("NAME"), "what the blank is of");
  add("out,o", po::value<std::string>()->value_name("JOB.toml"),
      "the job file to write (default: beside the first program, named after the part); - is "
      "standard output");
  add("threads", po::value<int>()->value_name("N"), "threads, 0 = all cores (default: 0)");
  add("no-questions", po::bool_switch(), "ask nothing, on a terminal too");
  const auto values =
      parse(arguments, options, {"PROGRAM.nc", "..."},
            "usage: proveout propose SIDE-A.nc [SIDE-B.nc ..] [options]\n\n"
            "Writes a job file from the programs of one part, one a side: tools from\n"
            "comments and motions, zeros from extents, how the sides lie by trying them\n"
            "against the part. Behind each value stands where it comes from; what is not\n"
            "known is marked.");
  if (!values) return ran;
  const auto programs = (*values)["PROGRAM.nc"].as<std::vector<std::string>>();
  const propose::Request request = propose_request(*values, programs);
  std::string file = output_file(*values, "out");
  if (file.empty()) {
    const fs::path name = request.part.empty() ? request.programs.front() : request.part;
    file = (request.programs.front().parent_path() / (name.stem().string() + ".toml")).string();
  }
  need_new_file(file);
  keep_inputs(inputs_of(request), file, "--out");
  const bool to_output = file == "-";
  const bool ask = at_terminal() && !to_output && !(*values)["no-questions"].as<bool>();
  const auto proposal = propose_job(request, ask, to_output);
  if (!proposal) return unusable_input;
  write_text(file, propose::job_text(*proposal, to_output ? fs::path("job.toml") : fs::path(file)));
  if (to_output) return ran;
  tell("{}: {} {}, {} {}\n", text::printable(file), proposal->setups.size(),
       proposal->setups.size() == 1 ? "side" : "sides", proposal->tools.size(),
       proposal->tools.size() == 1 ? "tool" : "tools");
  for (const std::string& r : proposal->remarks)
    std::fputs(text::wrapped(text::printable(r), 80, 0).c_str(), stdout);
  for (const std::string& r : proposal->runner_up)
    std::fputs(text::wrapped("as good: " + text::printable(r), 80, 0).c_str(), stdout);
  const std::string open = open_values(*proposal);
  if (!open.empty()) tell("Not known, and marked with #? in it:\n{}", open);
  tell("Hold zeros, turns and tools against the bench, then: proveout run {}\n",
       text::printable(file));
  return ran;
}

}  // namespace proveout::cli
