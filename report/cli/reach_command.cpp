// reach: what each setup and tool can reach of the part, before any program exists.
#include <fmt/format.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "report/cli/commands.h"
#include "report/cli/input_guard.h"
#include "report/cli/output_place.h"
#include "report/cli/standard_output.h"
#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/json/reach_json.h"
#include "report/json/result_json.h"
#include "report/text/words.h"
#include "sim/reach/reach.h"

namespace proveout::cli {

namespace po = boost::program_options;
using Json = nlohmann::ordered_json;

namespace {

void print_reach(const reach::Reach& r) {
  const auto share = [&](double area) { return 100 * area / r.surface_mm2; };
  for (const auto& s : r.setups) {
    tell("Setup {}: sees {:.1f} % of the surface, some tool reaches {:.1f} %\n",
         text::printable(s.name), share(s.seen_mm2), share(s.reached_mm2));
    if (s.inside_corner) {
      const Vec3& at = s.inside_radius_at;
      tell("  smallest inside radius of an upright wall: {}, e.g. at {:.1f}, {:.1f}, {:.1f}\n",
           s.inside_radius > 0 ? fmt::format("{:.2f} mm", s.inside_radius) : "sharp", at.x(),
           at.y(), at.z());
    }
    for (const auto& t : s.tools) {
      if (!(t.reached_mm2 > 0)) continue;
      tell("  {} reaches {:5.1f} %, as set {:5.1f} %; needs {:.1f} mm out, has {:.1f}\n",
           text::left(fmt::format("{} {}", t.number, text::printable(t.name)), 24),
           share(t.reached_mm2), share(t.reached_as_set_mm2), t.stickout_needed, t.stickout);
      if (t.largest_for_mm2 > 0)
        tell("  {} largest that fits on {:.1f} %: {:.1f} mm out, {:.1f} diameters\n",
             text::left("", 24), share(t.largest_for_mm2), t.stickout_there,
             t.stickout_there / t.diameter);
    }
  }
  const auto line = [&](double area, const char* what, const Vec3& at) {
    if (area > 0)
      tell("{} {:.1f} mm2 ({:.1f} %), e.g. at {:.1f}, {:.1f}, {:.1f} in stock coordinates\n", what,
           area, share(area), at.x(), at.y(), at.z());
  };
  line(r.undercut_mm2, "No setup sees", r.undercut_at);
  line(r.too_tight_mm2, "No tool fits on", r.too_tight_at);
  std::fputs(text::wrapped(
                 fmt::format("Told to {:.2f} mm, over the part alone: the stock around "
                             "it, supports and fixtures are not in it. Drills count in "
                             "bores of their size. `run` tells what the programs themselves meet.",
                             r.step),
                 80, 0)
                 .c_str(),
             stdout);
}

}  // namespace

Status reach_command(const Arguments& arguments) {
  po::options_description options;
  auto add = options.add_options();
  add("out,o", po::value<std::string>()->value_name("DIR"), "write result.json there");
  add("step", po::value<double>()->default_value(0)->value_name("MM"),
      "of the height maps; 0: from tools and part");
  add("json", po::value<std::string>()->value_name("FILE"),
      "write the result as JSON; - is standard output");
  add("quiet", po::bool_switch(), "no summary");
  const auto values =
      parse(arguments, options, {"JOB.toml"},
            "usage: proveout reach JOB.toml [options]\n\n"
            "Before any program exists: which of the part's surface each setup and\n"
            "tool can reach, and the stick-out it takes.");
  if (!values) return ran;
  const double step = (*values)["step"].as<double>();
  if (!(step >= 0 && step <= 100)) throw UsageError("--step takes millimetres, 0 to 100");
  const std::filesystem::path folder =
      values->count("out") ? (*values)["out"].as<std::string>() : std::string();
  if (values->count("out")) need_folder(folder, "--out");
  const std::string json = values->count("json") ? (*values)["json"].as<std::string>() : "";
  if (values->count("json")) need_place_for(json, "--json", folder);
  Diagnostics diagnostics;
  const auto job =
      job::read_job((*values)["JOB.toml"].as<std::vector<std::string>>().front(), diagnostics);
  std::optional<mesh::Mesh> mesh;
  if (job && job->part)
    mesh = mesh::read_mesh(job->part->mesh, job->part->mesh_scale, job->part->origin, "part mesh",
                           diagnostics);
  print(diagnostics);
  if (!job) return unusable_input;
  if (!json.empty() && json != "-") keep_inputs(inputs_of(*job), json, "--json");
  if (!folder.empty()) keep_inputs(inputs_of(*job), folder / files::result_name, "--out");
  if (!job->part) throw UsageError("the job has no [part]: reach is told from its mesh");
  if (!mesh) return unusable_input;
  const Vec3 size = mesh::bounds(*mesh).sizes();
  if (step > 0 && size.maxCoeff() / step > 6000)
    throw UsageError("--step is too fine for this part");
  const reach::Reach r = reach::reach(*job, *mesh, step);
  const Json out = json::reach_result(job->name, r);
  if (!folder.empty()) {
    files::make_folder(folder);
    files::write_whole(folder / files::result_name, json::to_bytes(out));
  }
  if (!json.empty()) write_text(json, json::to_bytes(out));
  if (json != "-" && !(*values)["quiet"].as<bool>()) print_reach(r);
  return ran;
}

}  // namespace proveout::cli
