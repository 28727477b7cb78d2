#include "sim/run/inputs.h"

#include <fmt/format.h>

#include <set>

#include "parser/job/program_reading.h"
#include "parser/nc/program_text.h"
#include "sim/run/material_names.h"
#include "sim/run/result.h"

namespace proveout::run {
namespace {

constexpr std::uintmax_t most_program_bytes = std::uintmax_t{1} << 34;

// Every tool the program cuts with must be known; each unknown one is named once, at its first
// motion.
bool tools_known(const nc::Program& program, const job::Job& job, const std::string& file,
                 Diagnostics& diagnostics) {
  std::set<int> known, named;
  for (const auto& t : job.tools) known.insert(t.number);
  bool all = true;
  for (const nc::Motion& m : program.motions) {
    const int tool = program.states[m.state].tool;
    if (known.contains(tool) || !named.insert(tool).second) continue;
    // Moves before the first tool change cut nothing that could be named only if they are rapids.
    if (tool == 0 && m.kind == nc::PathKind::rapid) {
      named.erase(tool);
      continue;
    }
    all = false;
    const Place place{file, m.line, 0, 0};
    if (tool == 0) {
      diagnostics.error("no-tool", place,
                        "the program cuts before any tool change (M6) names a tool",
                        "post the tool change, or give the setup tool = NUMBER in the job file");
    } else {
      diagnostics.error("unknown-tool", place,
                        fmt::format("tool T{} is not in the job's tool list", tool),
                        "add it to [[tools]], or post the right number");
    }
  }
  return all;
}

bool offsets_known(const nc::Program& program, const job::Setup& setup, Diagnostics& diagnostics) {
  bool ok = true;
  std::set<int> said;
  for (const nc::Motion& m : program.motions) {
    const int used = program.states[m.state].work_offset;
    if (used == setup.work_offset || setup.offsets.contains(used) || !said.insert(used).second)
      continue;
    ok = false;
    diagnostics.error(
        "work-offset-not-placed", {setup.program.string(), m.line, 0, 0},
        fmt::format("the program runs in work offset {} and the job does not place it",
                    used > 100  ? fmt::format("G54.1 P{}", used - 100)
                    : used <= 6 ? fmt::format("G{}", 53 + used)
                                : fmt::format("G59.{}", used - 6)),
        "give it in [setups.offsets], or name it as the setup's work_offset");
  }
  return ok;
}

// A part far smaller than the blank that would fit it as inches: many small parts come from a long
// bar, and of those nothing is said where the bar is too thin for that.
bool looks_like_inches(const Box3& part, const job::Part& given, const Box3& blank) {
  if (blank.isEmpty() || given.mesh_scale != 1) return false;
  if (part.sizes().maxCoeff() >= 0.1 * blank.sizes().maxCoeff()) return false;
  constexpr double slack = 1.001;  // of coordinates rounded by whoever wrote the mesh
  return (mm_per_inch * part.sizes().array() <= slack * blank.sizes().array()).all();
}

// "0.50 mm at its low x, 12.00 mm at its high z"; empty: it lies within, but for what sizes in
// inches with four decimals are rounded by (0.00005 in, of size and origin both).
std::string reaches_out(const Box3& part, const Box3& blank) {
  constexpr double rounding = 2 * 0.00005 * mm_per_inch + 1e-6;
  std::string out;
  if (blank.isEmpty()) return out;
  for (int axis = 0; axis < 3; ++axis) {
    const double low = blank.min()[axis] - part.min()[axis];
    const double high = part.max()[axis] - blank.max()[axis];
    for (const auto& [by, end] : {std::pair{low, "low"}, {high, "high"}}) {
      if (by <= rounding) continue;
      out += fmt::format("{}{:.{}f} mm at its {} {}", out.empty() ? "" : ", ", by, by < 0.1 ? 4 : 2,
                         end, "xyz"[axis]);
    }
  }
  return out;
}

// The blank's size in the other unit, where that goes with the cuts of the first program and its
// own does not: tenfold off along both sides, as a wrong unit is, and deep enough for the cuts.
std::optional<Vec3> blank_in_other_unit(const Vec3& blank, const Vec3& cuts) {
  const double far = 10, near = 3;
  const auto share = [&](const Vec3& size) -> Eigen::Array2d {
    return size.head<2>().array() / cuts.head<2>().array().max(1e-3);
  };
  const auto goes = [&](const Vec3& size) {
    return (share(size) > 1 / near).all() && (share(size) < far).all() && size.z() > 0.5 * cuts.z();
  };
  const Vec3 smaller = blank / mm_per_inch, larger = blank * mm_per_inch;
  if ((share(blank) > far).all() && goes(smaller)) return smaller;
  if ((share(blank) < 1 / far).all() && goes(larger)) return larger;
  return std::nullopt;
}

// The size of a blank's mesh in the other unit, where as read it is none that is milled on a bench:
// a mesh file does not say its unit, and whoever wrote it may have meant the other.
std::optional<Vec3> mesh_in_other_unit(const Vec3& size, double scale) {
  const double least = 8, most = 3000;  // mm, of the longest side (choice)
  const double longest = size.maxCoeff();
  const Vec3 other = scale == 1 ? Vec3(size * mm_per_inch) : Vec3(size / mm_per_inch);
  const bool odd = scale == 1 ? longest < least : longest > most;
  const double then = other.maxCoeff();
  return odd && then >= least && then <= most ? std::optional(other) : std::nullopt;
}

class Reader {
 public:
  Reader(const job::Job& job, InputFiles read, Diagnostics& diagnostics)
      : job_(job), diagnostics_(diagnostics), files_(std::move(read)) {}

  // Goes on after a mistake, so that all come out at once.
  std::shared_ptr<const Inputs> all(const std::string& material) {
    bool ok = material_named(material);
    ok = blank() && ok;
    ok = part() && ok;
    for (const job::Setup& setup : job_.setups) {
      SetupInputs& in = in_.setups.emplace_back();
      ok = read_fixtures(setup, files_, in.fixtures, diagnostics_) && ok;
      ok = program(setup, in) && ok;
    }
    if (!ok) return nullptr;
    look_at_blank();
    if (in_.part) look_at_part(mesh::bounds(in_.part->mesh()));
    for (const auto& t : job_.tools) in_.bodies.emplace(t.number, solid::make_tool_body(t));
    in_.files = files_.all();
    return std::make_shared<const Inputs>(std::move(in_));
  }

 private:
  bool material_named(const std::string& name) {
    if (auto m = cutting::find_material(name, job_.materials); m && m->cuttable) {
      in_.material = std::move(*m);
      return true;
    }
    std::string known;
    for (const auto& b : cutting::built_in_materials()) {
      if (b.cuttable) known += (known.empty() ? "" : ", ") + b.name;
    }
    const auto meant = material_meant(name);
    diagnostics_.error(
        "material-unknown", of_job_, fmt::format("there is no material '{}'", name),
        (meant ? fmt::format("did you mean \"{}\"? Else use", meant->name) : std::string("use")) +
            " one of " + known + ", or give [materials.\"" + name + "\"]");
    return false;
  }

  bool blank() {
    if (job_.stock.mesh.empty()) {
      in_.blank = Box3(Vec3::Zero(), job_.stock.size);
      return true;
    }
    in_.blank_mesh = mesh_from(files_, {job_.stock.mesh, job_.stock.mesh_scale, Vec3::Zero()},
                               "blank mesh", diagnostics_);
    if (in_.blank_mesh) in_.blank = mesh::bounds(*in_.blank_mesh);
    return in_.blank_mesh.has_value();
  }

  bool part() {
    if (!job_.part) return true;
    const job::Part& p = *job_.part;
    if (auto mesh = mesh_from(files_, {p.mesh, p.mesh_scale, p.origin}, "part mesh", diagnostics_))
      in_.part = std::make_unique<const solid::PartDistance>(std::move(*mesh));
    return in_.part != nullptr;
  }

  bool program(const job::Setup& setup, SetupInputs& in) {
    const auto text = files_.read(setup.program, "NC program", diagnostics_, most_program_bytes);
    if (!text) return false;
    auto read = nc::program_of(*text, setup.program.string(), job::program_reading(job_, &setup),
                               diagnostics_);
    if (!read || !tools_known(*read, job_, setup.program.string(), diagnostics_) ||
        !offsets_known(*read, setup, diagnostics_))
      return false;
    in.program = std::make_shared<const nc::Program>(std::move(*read));
    in.texts.push_back(text);
    return true;
  }

  void look_at_blank() {
    if (in_.setups.empty()) return;
    const bool from_mesh = !job_.stock.mesh.empty();
    Box3 cuts;
    for (const nc::Motion& m : in_.setups.front().program->motions) {
      if (m.kind != nc::PathKind::rapid) cuts.extend(nc::bounds(m));
    }
    if (cuts.isEmpty()) return;
    const Vec3 size = in_.blank.sizes();
    auto other = blank_in_other_unit(size, cuts.sizes());
    if (!other && from_mesh) other = mesh_in_other_unit(size, job_.stock.mesh_scale);
    if (!other) return;
    diagnostics_.warning(
        "blank-unit-doubtful", of_job_,
        fmt::format("the blank is {:.4g} x {:.4g} x {:.4g} mm, the first program's cuts are {:.4g} "
                    "x {:.4g} mm; read in the other unit it would be {:.4g} x {:.4g} x {:.4g} mm",
                    size.x(), size.y(), size.z(), cuts.sizes().x(), cuts.sizes().y(), other->x(),
                    other->y(), other->z()),
        from_mesh
            ? "a mesh is read in mm unless mesh_units says \"inch\": check [stock] mesh_units; "
              "the program's lengths are mm behind G21 and inches behind G20"
            : "lengths are mm unless the file says units = \"inch\", then all of them are "
              "inches; the program's are mm behind G21 and inches behind G20");
  }

  void look_at_part(const Box3& box) {
    const auto out = reaches_out(box, in_.blank);
    if (!out.empty()) {
      diagnostics_.warning(
          "part-outside-blank", of_job_, "the part reaches out of the blank: " + out,
          job_.stock.mesh.empty() ? "check [part] origin and mesh_units, and the blank's size"
                                  : "check [part] origin and mesh_units, and [stock] mesh_units");
    }
    if (looks_like_inches(box, *job_.part, in_.blank)) {
      diagnostics_.warning("part-small", of_job_,
                           fmt::format("the part is only {:.3g} mm long, the blank {:.3g} mm",
                                       box.sizes().maxCoeff(), in_.blank.sizes().maxCoeff()),
                           "check mesh_units: a mesh in inches needs mesh_units = \"inch\"");
    }
  }

  const job::Job& job_;
  Diagnostics& diagnostics_;
  const Place of_job_{job_.file.string(), 0, 0, 0};
  InputFiles files_;
  Inputs in_;
};

}  // namespace

std::shared_ptr<const Inputs> read_inputs(const job::Job& job, const std::string& material,
                                          InputFiles read, Diagnostics& diagnostics) {
  return Reader(job, std::move(read), diagnostics).all(material);
}

const solid::PartDistance* part_of(const JobResult& result) {
  return result.inputs ? result.inputs->part.get() : nullptr;
}

std::string input_name(const InputFile& file, const job::Job& job) {
  const std::filesystem::path folder = job.file.parent_path();
  auto relative = file.path.lexically_normal().lexically_relative(folder.lexically_normal());
  // Named from the root, as what a shop keeps is: the same name however the job is named.
  std::error_code failed;
  if (relative.empty())
    relative = file.path.lexically_normal().lexically_relative(
        std::filesystem::absolute(folder.empty() ? "." : folder, failed).lexically_normal());
  return (relative.empty() ? file.path : relative).generic_string();
}

}  // namespace proveout::run
