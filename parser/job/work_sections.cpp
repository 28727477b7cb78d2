#include <fmt/format.h>

#include <charconv>

#include "parser/job/sections.h"
#include "parser/job/tool_shape.h"

namespace proveout::job {
namespace {

// "G54" .. "G59", "G59.1" .. "G59.3" to 1..9, "G54.1 P1" .. "G54.1 P300" to 101..400; 0: none of
// them.
int work_offset_number(std::string word) {
  for (char& c : word) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  static const std::vector<std::string> names = {"G54", "G55",   "G56",   "G57",  "G58",
                                                 "G59", "G59.1", "G59.2", "G59.3"};
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (word == names[i]) return static_cast<int>(i) + 1;
  }
  const std::string further = "G54.1 P";
  int number = 0;
  if (!word.starts_with(further)) return 0;
  const char* const end = word.data() + word.size();
  const auto read = std::from_chars(word.data() + further.size(), end, number);
  if (read.ec != std::errc() || read.ptr != end || number < 1 || number > 300) return 0;
  return 100 + number;
}

// The file that key names.
std::filesystem::path resolved(TableReader& t, const SectionContext& c, const char* key,
                               const std::string& name) {
  if (name.empty() && t.has(key))
    t.error(key, "job-empty-name", fmt::format("{} names no file", key));
  const std::filesystem::path path(name);
  return path.empty() || path.is_absolute() ? path : c.folder / path;
}

void read_zero(TableReader& t, Zero& out) {
  int on = 0, x = 0, y = 0, z = 0;
  t.word("on", on, {"blank", "milled"},
         "bounding box of the unmachined stock, or of what earlier setups left of it");
  out.on = on == 1 ? ZeroOn::milled : ZeroOn::blank;
  const std::vector<std::string> edges = {"min", "centre", "max"};
  t.word("x", x, edges, "where along the machine's x");
  t.word("y", y, edges, "where along the machine's y");
  t.word("z", z, {"top", "bottom"}, "top or bottom face");
  out.x = static_cast<ZeroEdge>(x);
  out.y = static_cast<ZeroEdge>(y);
  out.z = z == 0 ? ZeroEdge::max : ZeroEdge::min;
  t.point("offset", out.offset, Unit::length, a_place, "added, in the machine's axes");
  t.point("at", out.at, Unit::length, a_place,
          "instead of on, x, y, z: the point in stock coordinates");
  t.pair("band", out.band, Unit::length,
         "with on = \"milled\": only this height range counts, measured from the lowest material");
  if (t.has("at") && (t.has("on") || t.has("x") || t.has("y") || t.has("z"))) {
    t.error("at", "job-contradiction", "'at' stands beside on, x, y or z",
            "give the point, or the place on the box, not both");
  }
}

// The control's table of D or of H: "D5" or "H5" to its entry.
void read_offset_table(TableReader& t, const char* key, char letter,
                       std::map<int, nc::OffsetEntry>& out) {
  const bool diameters = letter == 'D';
  t.named_tables(
      key,
      [&](const std::string& name, TableReader& r) {
        nc::OffsetEntry entry;
        r.whole("tool", entry.tool, 1, 99999, "whose it is; default: the tool of this number");
        if (diameters)
          r.number("diameter", entry.diameter, Unit::length, a_width_or_none,
                   "in the control's table; default: the tool's");
        r.number("wear", entry.wear, Unit::length, Range{-100, 100, false},
                 diameters ? "added to the diameter" : "added to the length");
        int number = 0;
        const char* const end = name.data() + name.size();
        const auto read = std::from_chars(name.data() + 1, end, number);
        if (!r.present()) return;
        if (name.size() < 2 || name[0] != letter || read.ec != std::errc() || read.ptr != end ||
            number < 1 || number > 99999) {
          t.error(key, "job-unknown-key",
                  fmt::format("{} has no entry '{}': they are called {}1, {}2 and so on", key, name,
                              letter, letter));
          return;
        }
        out[number] = entry;
      },
      diameters ? "the control's table of cutter diameters, by D word"
                : "the control's table of tool lengths, by H word");
}

void read_fixture(TableReader& t, const SectionContext& c, Fixture& out) {
  t.text("name", out.name, "what it is called in findings");
  t.box("box", out.box, "two corners, in the setup's work coordinates");
  std::string mesh;
  t.text("mesh", mesh, "instead of box: a closed mesh, in the setup's work coordinates");
  out.mesh = resolved(t, c, "mesh", mesh);
  int units = 0;
  t.word("mesh_units", units, {"mm", "inch"}, "units of the mesh");
  out.mesh_scale = units == 1 ? mm_per_inch : 1.0;
  t.point("origin", out.origin, Unit::length, a_place,
          "where the mesh's own 0,0,0 lies in the setup's work coordinates");
  if (t.present() && t.has("box") == t.has("mesh")) {
    t.error("", "job-contradiction", "a fixture needs either box or mesh");
  }
}

}  // namespace

void read_stock(TableReader& t, const SectionContext& c, Stock& out) {
  t.point("size", out.size, Unit::length, positive,
          "size of the blank; stock coordinates run from 0,0,0 (lower, left, front) to it");
  t.text("material", out.material, "a built-in material or one of [materials.NAME]");
  std::string mesh;
  t.text("mesh", mesh, "instead of size: a closed mesh, in stock coordinates");
  out.mesh = resolved(t, c, "mesh", mesh);
  int units = 0;
  t.word("mesh_units", units, {"mm", "inch"}, "units of the mesh");
  out.mesh_scale = units == 1 ? mm_per_inch : 1.0;
  if (t.present() && t.has("size") == t.has("mesh")) {
    t.error("", "job-contradiction",
            t.has("size") ? "[stock] has both size and mesh" : "[stock] needs size or mesh");
  } else if (t.has("mesh_units") && !t.has("mesh")) {
    t.error("mesh_units", "job-contradiction",
            "[stock] has mesh_units and no mesh: size is in the job file's own units");
  }
}

void read_part(TableReader& t, const SectionContext& c, Part& out) {
  std::string mesh;
  t.required_text("mesh", mesh, "closed triangle mesh of what should be left");
  out.mesh = resolved(t, c, "mesh", mesh);
  int units = 0;
  t.word("mesh_units", units, {"mm", "inch"}, "units of the mesh");
  out.mesh_scale = units == 1 ? mm_per_inch : 1.0;
  t.point("origin", out.origin, Unit::length, a_place,
          "where the mesh's own 0,0,0 lies in stock coordinates");
  t.table(
      "tolerance",
      [&](TableReader& r) {
        r.number("gouge", out.gouge_tolerance, Unit::length, a_distance,
                 "material that may be missing");
        r.number("excess", out.excess_tolerance, Unit::length, a_distance,
                 "material that may be left");
      },
      "how far the surface may lie from the part");
  t.number("target_mass_g", out.target_mass_g, Unit::plain, not_negative,
           "mass the part should have, g");
  t.tables(
      "supports",
      [&](TableReader& r) {
        std::optional<Box3> box;
        r.box("box", box, "two corners, stock coordinates");
        if (r.present() && !r.has("box")) r.error("", "job-key-missing", "a support needs a box");
        if (box) out.supports.push_back(*box);
      },
      "where tabs or frame are meant to stay: no excess there, and taken off before the part is "
      "weighed");
}

void read_tool(TableReader& t, Tool& out) {
  out.line = t.line();
  t.whole("number", out.number, 1, 99999, "T number");
  t.text("name", out.name, "what it is called in reports");
  int shape = static_cast<int>(out.shape);
  std::vector<std::string> shapes;
  for (const ToolShapeInfo& known : tool_shapes()) shapes.emplace_back(known.word);
  t.word("shape", shape, shapes, "cutting end");
  out.shape = static_cast<ToolShape>(shape);
  t.number("diameter", out.diameter, Unit::length, a_width,
           "of the cutting part (taper, vee: the largest; form: its profile's)");
  t.number("corner_radius", out.corner_radius, Unit::length, a_width_or_none,
           "bull, which needs it: radius of the corner");
  t.number("tip_diameter", out.tip_diameter, Unit::length, a_width_or_none,
           "taper and vee: flat at the tip");
  t.number(
      "tip_angle", out.tip_angle, Unit::plain, Range{1, 179, false},
      "drill: point angle, default 118; vee and taper, which need it: included angle, degrees");
  t.pairs("profile", out.profile, Unit::length, "form: radius, height pairs from the tip up");
  t.whole("flutes", out.flutes, 1, 100, "cutting edges");
  t.number("helix_angle", out.helix_angle, Unit::plain, Range{-80, 80, false},
           "of the flutes, degrees");
  t.flag("centre_cutting", out.centre_cutting, "false: the tip must not plunge");
  t.number("flute_length", out.flute_length, Unit::length, a_tool_length,
           "length that cuts; default: stickout");
  t.number("stickout", out.stickout, Unit::length, a_tool_length, "tip to the holder's face");
  t.number("shank_diameter", out.shank_diameter, Unit::length, a_width, "default: diameter");
  t.pairs("holder", out.holder, Unit::length,
          "diameter, height pairs: cylinders from the holder's face up");
  int material = out.tool_material == "hss" ? 1 : 0;
  t.word("tool_material", material, {"carbide", "hss"}, "of the tool");
  out.tool_material = material == 1 ? "hss" : "carbide";
  const auto limits = [](TableReader& r, ToolLimits& l) {
    r.number("axial_depth", l.axial_depth, Unit::length, a_tool_length, "greatest axial depth");
    r.number("radial_width", l.radial_width, Unit::length, a_tool_length, "greatest radial width");
    r.number("plunge_feed", l.plunge_feed, Unit::feed, positive, "fastest feed straight down");
  };
  t.table(
      "limits", [&](TableReader& r) { limits(r, out.limits); }, "what the tool may take");
  t.named_tables(
      "limits_in", [&](const std::string& name, TableReader& r) { limits(r, out.limits_in[name]); },
      "the same for one stock material");
}

void read_setup(TableReader& t, const SectionContext& c, Setup& out) {
  out.line = t.line();
  t.required_text("name", out.name, "what it is called in reports");
  std::string program;
  t.required_text("program", program, "the NC program");
  out.program = resolved(t, c, "program", program);
  t.whole("tool", out.tool, 1, 99999,
          "tool in the spindle before the program's first M6; default: none");
  t.tables(
      "turn",
      [&](TableReader& r) {
        Turn turn;
        int about = 1;
        r.word("about", about, {"x", "y", "z"}, "the machine's axis turned about");
        r.number("degrees", turn.degrees, Unit::plain, Range{-360, 360, false},
                 "right-handed angle");
        turn.about = static_cast<Axis>(about);
        if (r.present()) out.turn.push_back(turn);
      },
      "rotations of the stock about its own centre, in this order, from its first orientation");
  t.table(
      "zero", [&](TableReader& r) { read_zero(r, out.zero); }, "where the work zero lies");
  std::string word = "G54";
  t.text("work_offset", word, "which of G54 .. G59.3, G54.1 P1 .. that zero is; default: G54");
  out.work_offset = work_offset_number(word);
  if (out.work_offset == 0) {
    t.error("work_offset", "job-unknown-word",
            "work_offset must be G54 .. G59, G59.1, G59.2, G59.3 or G54.1 P1 .. P300");
    out.work_offset = 1;
  }
  t.named_points(
      "offsets",
      [&](const std::string& name, const Vec3& p) {
        const int number = work_offset_number(name);
        if (number == 0) {
          t.error("offsets", "job-unknown-key",
                  fmt::format("offsets has no work offset '{}'", name));
        } else {
          out.offsets[number] = p;
        }
      },
      "further work offsets, relative to the zero");
  read_offset_table(t, "offsets_d", 'D', out.offsets_d);
  read_offset_table(t, "offsets_h", 'H', out.offsets_h);
  int located = 0;
  t.word("located_by", located, {"unstated", "corner", "pins", "centre"},
         "how the blank is put down; enters the flip check");
  out.located_by = static_cast<LocatedBy>(located);
  t.point("locating_error", out.locating_error, Unit::length, a_place,
          "what if it lies this far off, in the machine's axes");
  t.table(
      "errors",
      [&](TableReader& r) {
        Errors errors;
        r.point("zero", errors.zero, Unit::length, a_distance,
                "how far the zero may lie off either way, in the machine's axes");
        r.number("pin_clearance", errors.pin_clearance, Unit::length, a_distance,
                 "hole over pin, on diameter");
        r.number("pin_distance", errors.pin_distance, Unit::length, a_distance, "from pin to pin");
        r.number(
            "squareness", errors.squareness, Unit::plain, not_negative,
            "by which the machine's x leans along its y over 100 of the same unit, either way");
        r.number("thickness", errors.thickness, Unit::length, a_distance,
                 "how far the blank's thickness may be off either way");
        if (r.present()) out.errors = errors;
      },
      "what may be off, for the spread of the seam");
  t.point("zero_in_machine", out.zero_in_machine, Unit::length, a_place,
          "where the zero lies in machine coordinates");
  t.tables(
      "fixtures",
      [&](TableReader& r) {
        Fixture fixture;
        read_fixture(r, c, fixture);
        if (r.present()) out.fixtures.push_back(std::move(fixture));
      },
      "what must not be touched");
}

void read_material(TableReader& t, Material& out) {
  t.number("density_g_cm3", out.density_g_cm3, Unit::plain, positive, "density, g/cm3");
  t.band(
      "ktc", out.ktc, positive,
      "force over chip thickness along the edge's motion, N/mm2; one number, or low, likely, high");
  t.band("kte", out.kte, not_negative,
         "force of the edge itself along its motion, N/mm; one number, or low, likely, high");
  t.band("krc", out.krc, not_negative,
         "the same as ktc towards the tool's axis; default: 0.3 of ktc");
  t.band("kre", out.kre, not_negative,
         "the same as kte towards the tool's axis; default: 0.7 of kte");
  t.number("kc11", out.kc11, Unit::plain, positive,
           "a power law instead: specific cutting force at 1 mm chip thickness, N/mm2");
  t.number("mc", out.mc, Unit::plain, Range{0, 1, false},
           "the power law's exponent; default: 0.25");
  t.number("kr", out.kr, Unit::plain, Range{0, 5, false}, "radial over tangential force");
  if (out.kc11 && (out.ktc || out.kte || out.krc || out.kre)) {
    t.error("kc11", "job-contradiction",
            "kc11 is a force law of its own beside ktc, kte, krc and kre", "keep one of the two");
  }
  if (out.mc && !out.kc11) {
    t.error("mc", "job-contradiction", "mc is the exponent of kc11, which is not given",
            "give kc11 too, or leave mc out");
  }
  t.number("shear_n_mm2", out.shear_n_mm2, Unit::plain, positive, "shear strength, N/mm2");
  t.pair("cutting_speed", out.cutting_speed, Unit::plain, "least and greatest, carbide, m/min");
  t.pair("chip_per_mm_diameter", out.chip_per_mm_diameter, Unit::plain,
         "least and greatest chip per tooth, mm per mm of diameter");
  t.number("depth_per_diameter", out.depth_per_diameter, Unit::plain, positive,
           "greatest axial depth over diameter in a full slot");
}

void read_quote(TableReader& t, Quote& out) {
  t.wholes("batch", out.batch, "batch sizes");
  t.number("blank_cost", out.blank_cost, Unit::plain, not_negative, "of one blank");
  t.number("machine_rate_per_h", out.machine_rate_per_h, Unit::plain, not_negative,
           "machine, per hour");
  t.number("labour_rate_per_h", out.labour_rate_per_h, Unit::plain, not_negative,
           "labour, per hour");
  t.number("setup_min", out.setup_min, Unit::plain, not_negative,
           "setting up, once a batch, minutes");
  t.number("handling_min", out.handling_min, Unit::plain, not_negative,
           "loading, turning over, cleaning, unloading: each part and setup, minutes");
  t.flag("changes_attended", out.changes_attended,
         "whether the operator changes tools (true) or the machine does");
  t.number("finishing_min", out.finishing_min, Unit::plain, not_negative,
           "by hand, each part, minutes");
  t.number("scrap", out.scrap, Unit::plain, Range{0, 0.95, false}, "share of parts lost");
  const auto by_tool = [&t](const char* key, std::map<int, double>& to) {
    return [&t, key, &to](const std::string& name, double value) {
      int number = 0;
      const auto [end, error] = std::from_chars(name.data(), name.data() + name.size(), number);
      if (error != std::errc() || end != name.data() + name.size() || number <= 0)
        t.error(key, "job-unknown-key", fmt::format("'{}' is no tool number", name));
      else
        to[number] = value;
    };
  };
  t.named_numbers("tool_life_min", by_tool("tool_life_min", out.tool_life_min),
                  "minutes in cut a tool lasts, by number");
  t.named_numbers("tool_cost", by_tool("tool_cost", out.tool_cost), "price of a tool, by number");
}

}  // namespace proveout::job
