#include "sim/propose/job_text.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <system_error>

#include "parser/job/toml_text.h"
#include "parser/job/tool_shape.h"
#include "sim/propose/zeros.h"

namespace proveout::propose {
namespace {

namespace fs = std::filesystem;

using job::toml_text;

// On one line, and without what TOML forbids in comments.
std::string plain(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte == '\t')
      out += ' ';
    else
      out += byte < 0x20 || byte == 0x7f || byte >= 0x80 ? '?' : c;
  }
  return out;
}

std::string number(double value) {
  const double settled = std::round(1e4 * value) / 1e4 + 0.0;
  return fmt::format("{:g}", settled == std::round(settled) && std::abs(settled) < 1e6
                                 ? settled
                                 : std::stod(fmt::format("{:.4f}", settled)));
}
std::string list(const Vec3& v) {
  return fmt::format("[{}, {}, {}]", number(v.x()), number(v.y()), number(v.z()));
}
std::string box(const Box3& b) { return fmt::format("[{}, {}]", list(b.min()), list(b.max())); }

class Writer {
 public:
  Writer(const Proposal& p, fs::path job_file) : p_(p), folder_(job_file.parent_path()) {}

  std::string all() {
    head();
    stock();
    part();
    machine();
    for (const ToolProposal& t : p_.tools) tool(t);
    for (const SetupProposal& s : p_.setups) setup(s);
    kept_material();
    shop();
    return std::move(out_);
  }

 private:
  void line(const std::string& text = {}) { out_ += text + "\n"; }

  // key = value, then where it comes from; marked where it is open.
  template <class Value>
  void known(const std::string& key, const std::string& value, const Known<Value>& k,
             const char* kinds) {
    if (k.from == kept_basis) return;  // it stands in the shop's folder
    const std::string what = fmt::format("{} = {}", key, value);
    if (k.open())
      line(fmt::format("{:<24} #? {}: {}", what, kinds, plain(k.from)));
    else
      line(fmt::format("{:<24} # {}: {}", what, name(k.basis), plain(k.from)));
  }

  std::string path(const fs::path& file) const {
    std::error_code ignored;
    const fs::path near = fs::proximate(file, folder_.empty() ? "." : folder_, ignored);
    return toml_text((near.empty() ? file : near).generic_string());
  }

  void head() {
    line(
        fmt::format("# {}: proposed from its programs. Behind each value stands where it comes "
                    "from:",
                    plain(p_.name)));
    line("#   given   by you: an option, an answer, a file");
    line("#   said    in a comment of a program");
    line("#   shown   by the motions or the mesh, which leave no choice");
    line("#   fitted  the best of what was tried against the part: hold it against the bench");
    line(
        "# Behind '#?' nothing is known: what stands there is only usual. `run` lists those under");
    line("# 'not checked' until the '#?' is taken away. docs/propose.md");
    for (const std::string& r : p_.remarks) line("# - " + plain(r));
    for (const std::string& r : p_.runner_up) line("# - as good: " + plain(r));
    line("name = " + toml_text(p_.name));
    line();
  }

  void stock() {
    line("[stock]");
    const char* kinds = "rapid-contact, holder-contact, over-depth, below-stock";
    if (p_.blank.value.isZero())
      line(fmt::format("# size = [x, y, z]       #? {}: {}", kinds, plain(p_.blank.from)));
    else
      known("size", list(p_.blank.value), p_.blank, kinds);
    known("material", toml_text(p_.material.value), p_.material,
          "over-depth, chip-thick, chip-thin, over-power, over-bend");
    line();
  }

  void part() {
    if (!p_.part) {
      line("# No [part]: gouges and what is left are not looked for.");
      line();
      return;
    }
    line("[part]");
    line("mesh = " + path(p_.part->mesh));
    if (p_.part->scale.value != 1) known("mesh_units", "\"inch\"", p_.part->scale, "gouge, excess");
    known("origin", list(p_.part->origin.value), p_.part->origin, "gouge, excess, unreached");
    if (!p_.part->supports.value.empty()) {
      line("# Left standing beside the part by the programs, so taken for supports: no excess is");
      line("# told there. Strike out what is not meant to stay.");
      for (const Box3& b : p_.part->supports.value) {
        line("[[part.supports]]");
        known("box", box(b), p_.part->supports, "excess, came-loose");
      }
    }
    line();
  }

  void kept_material() {
    if (p_.kept_material.empty()) return;
    line(fmt::format("[materials.{}]", toml_text(p_.kept_material)));
    line("kept = " + toml_text(p_.kept_material) + "  # its figures stand in the shop's materials");
    line();
  }

  // A key of the job itself: it must stand before the first table.
  void shop() {
    const bool kept = !p_.kept_material.empty() || !p_.kept_machine.value.empty() ||
                      std::any_of(p_.tools.begin(), p_.tools.end(),
                                  [](const ToolProposal& t) { return !t.kept.empty(); });
    if (kept && p_.name_shop)
      out_.insert(out_.find("name = "), "shop = " + path(p_.shop.folder) + "  # given\n");
  }

  void machine() {
    if (!p_.kept_machine.value.empty()) {
      line("[machine]");
      line(fmt::format("kept = {:<16} # {}: {}", toml_text(p_.kept_machine.value),
                       name(p_.kept_machine.basis), plain(p_.kept_machine.from)));
      line();
      return;
    }
    if (!p_.machine.empty()) {
      // A key of the job itself: it must stand before the first table.
      const std::string entry = "machine = " + path(p_.machine) + "  # given\n";
      out_.insert(out_.find("name = "), entry);
      return;
    }
    line("[machine]");
    line(
        "#? feed-clipped, speed-clipped, over-power, over-travel: the machine is not known, feeds "
        "and times are of a usual benchtop router");
    line("# max_feed = [5000, 5000, 1500]  # and rapid, accel, travel, spindle: docs/job-file.md");
    line();
  }

  void pairs(const char* key, const std::vector<std::pair<double, double>>& of) {
    std::string text;
    for (const auto& [a, b] : of)
      text += fmt::format("{}[{}, {}]", text.empty() ? "" : ", ", number(a), number(b));
    if (!of.empty()) line(fmt::format("{} = [{}]", key, text));
  }

  void limits(const std::string& key, const job::ToolLimits& l) {
    std::string text;
    const auto add = [&](const char* what, double value) {
      if (value > 0)
        text += fmt::format("{}{} = {}", text.empty() ? "" : ", ", what, number(value));
    };
    add("axial_depth", l.axial_depth);
    add("radial_width", l.radial_width);
    add("plunge_feed", l.plunge_feed);
    if (!text.empty()) line(fmt::format("{} = {{ {} }}", key, text));
  }

  void whole_tool(const job::Tool& t) {
    const job::ToolShapeInfo& shape = job::info(t.shape);
    line("name = " + toml_text(t.name));
    line(fmt::format("shape = \"{}\"", shape.word));
    line("diameter = " + number(t.diameter));
    if (shape.corner_radius != job::Asks::nothing)
      line("corner_radius = " + number(t.corner_radius));
    if (shape.tip_diameter != job::Asks::nothing && t.tip_diameter > 0)
      line("tip_diameter = " + number(t.tip_diameter));
    if (shape.tip_angle != job::Asks::nothing) line("tip_angle = " + number(t.tip_angle));
    pairs("profile", t.profile);
    line(fmt::format("flutes = {}", t.flutes));
    line("helix_angle = " + number(t.helix_angle));
    if (!t.centre_cutting) line("centre_cutting = false");
    line("flute_length = " + number(t.flute_length));
    line("stickout = " + number(t.stickout));
    if (t.shank_diameter > 0) line("shank_diameter = " + number(t.shank_diameter));
    pairs("holder", t.holder);
    line("tool_material = " + toml_text(t.tool_material));
    limits("limits", t.limits);
    for (const auto& [material, l] : t.limits_in) limits("limits_in." + toml_text(material), l);
  }

  void tool(const ToolProposal& t) {
    line("[[tools]]");
    line(fmt::format("number = {:<15} # {}", t.number,
                     t.used_in.empty() ? "no program changes tools" : plain("in " + t.used_in)));
    if (!t.kept.empty())
      line(fmt::format("kept = {:<16} # given: {}", toml_text(t.kept), plain(t.kept_why)));
    if (t.from_file && !t.kept.empty()) return line();
    if (t.from_file) {
      line("# all of it given: " + plain(p_.tools_file.filename().string()));
      whole_tool(*t.from_file);
      line();
      return;
    }
    if (t.kept.empty()) line("name = " + toml_text(t.name));
    if (t.shape)
      known("shape", fmt::format("\"{}\"", job::info(t.shape->value).word), *t.shape,
            "gouge, excess, plunge");
    if (t.diameter)
      known("diameter", number(t.diameter->value), *t.diameter, "gouge, excess, over-width");
    else
      line(
          "# diameter =             #? gouge, excess: not known, and the job cannot run without "
          "it");
    if (t.shape) {
      const job::ToolShapeInfo& shape = job::info(t.shape->value);
      const auto if_asked = [&](job::Asks asks, const char* key,
                                const std::optional<Known<double>>& k) {
        if (asks != job::Asks::nothing && k) known(key, number(k->value), *k, "gouge, excess");
      };
      if_asked(shape.corner_radius, "corner_radius", t.corner_radius);
      if_asked(shape.tip_diameter, "tip_diameter", t.tip_diameter);
      if_asked(shape.tip_angle, "tip_angle", t.tip_angle);
    }
    known("flutes", fmt::format("{}", t.flutes.value), t.flutes,
          "chip-thick, chip-thin, over-power");
    known("flute_length", number(t.flute_length.value), t.flute_length, "shank-contact");
    known("stickout", number(t.stickout.value), t.stickout,
          "holder-contact, over-bend, over-reach");
    if (!t.holder.empty() && !t.holder_kept) pairs("holder", t.holder);
    if (t.holder.empty())
      line(
          "# holder = [[25, 20]]    #? holder-contact: not known; diameter, height from its face "
          "up");
    if (t.tool_material)
      known("tool_material", toml_text(t.tool_material->value), *t.tool_material, "chip-thick");
    if (t.kept.empty())
      line("# limits = { axial_depth = 2, plunge_feed = 400 }  # what you let it take");
    line();
  }

  static std::string turns(const std::vector<job::Turn>& turn) {
    std::string out;
    for (const job::Turn& t : turn)
      out += fmt::format("{}{{ about = \"{}\", degrees = {} }}", out.empty() ? "" : ", ",
                         "xyz"[static_cast<int>(t.about)], number(t.degrees));
    return "[" + out + "]";
  }

  static std::string zero_table(const job::Zero& z) {
    const auto word = [](job::ZeroEdge e) {
      return e == job::ZeroEdge::min ? "min" : e == job::ZeroEdge::max ? "max" : "centre";
    };
    std::string out = fmt::format("{{ on = \"{}\", x = \"{}\", y = \"{}\", z = \"{}\"",
                                  z.on == job::ZeroOn::milled ? "milled" : "blank", word(z.x),
                                  word(z.y), z.z == job::ZeroEdge::min ? "bottom" : "top");
    if (z.on == job::ZeroOn::milled && z.band)
      out += fmt::format(", band = [{}, {}]", number(z.band->first), number(z.band->second));
    return out + " }";
  }

  void setup(const SetupProposal& s) {
    line("[[setups]]");
    line("name = " + toml_text(s.name));
    line("program = " + path(s.program));
    if (s.tool) known("tool", fmt::format("{}", s.tool->value), *s.tool, "gouge, excess");
    if (!s.turn.value.empty() || &s != &p_.setups.front())
      known("turn", turns(s.turn.value), s.turn, "flip-mismatch, gouge, excess, rapid-contact");
    known("zero", zero_table(s.zero.value), s.zero,
          "gouge, excess, rapid-contact, below-stock, wrong-zero");
    if (s.work_offset > 1)
      line(fmt::format("work_offset = \"{}\"    # shown: the only one its motions run in",
                       offset_name(s.work_offset)));
    for (const int offset : s.further_offsets)
      line(
          fmt::format("# offsets = {{ \"{}\" = [x, y, z] }}  #? gouge: its place is not known, and "
                      "the job cannot run without it",
                      offset_name(offset)));
    for (const Box3& b : s.fixtures) {
      line("[[setups.fixtures]]");
      line("box = " + box(b) + "  # given");
    }
    if (s.fixtures.empty())
      line("#? fixture-contact: clamps, vice and bed are not known; give [[setups.fixtures]]");
    line();
  }

  static std::string offset_name(int number) {
    return number > 100  ? fmt::format("G54.1 P{}", number - 100)
           : number <= 6 ? fmt::format("G{}", 53 + number)
                         : fmt::format("G59.{}", number - 6);
  }

  const Proposal& p_;
  fs::path folder_;
  std::string out_;
};

}  // namespace

std::string_view name(Basis basis) {
  switch (basis) {
    case Basis::given:
      return "given";
    case Basis::said:
      return "said";
    case Basis::shown:
      return "shown";
    case Basis::fitted:
      return "fitted";
    case Basis::open:
      break;
  }
  return "not known";
}

std::string job_text(const Proposal& proposal, const std::filesystem::path& job_file) {
  return Writer(proposal, job_file).all();
}

}  // namespace proveout::propose
