#include "parser/job/tool_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "parser/job/tool_shape.h"

namespace proveout::job {
namespace {

// What says, of one tool, where a key contradicts another.
struct ToolChecker {
  TableReader& table;
  const Tool& tool;
  const ToolKeys& also;

  bool has(const char* key) const { return table.has(key) || also.keys.contains(key); }

  void bad(const char* key, const std::string& what, const std::string& remedy = {}) const {
    table.error(key, "job-bad-tool", fmt::format("tool {}: {}", tool.number, what), remedy);
  }
  void needs(const char* key, const char* what, const char* remedy = "") const {
    if (!has(key)) table.error("", "job-key-missing", what, remedy);
  }

  void check() const {
    if (also.needs_number)
      needs("number", "a tool needs a number", "give number = 1: that of its T word");
    needs("shape", "a tool needs a shape",
          "give shape = \"flat\", or ball, bull, taper, vee, drill or form");
    look_at_unit();
    const ToolShapeInfo& shape = info(tool.shape);
    if (shape.profile == Asks::must) {
      check_form();
    } else {
      needs("diameter", "a tool needs a diameter", "give diameter = 6: measure it");
    }
    if (tool.corner_radius > tool.diameter / 2 + 1e-9) {
      bad("corner_radius", "the corner radius is more than half the diameter");
    }
    if (shape.corner_radius == Asks::must && !(tool.corner_radius > 0)) {
      bad("corner_radius", "a bull nose needs a corner radius",
          "give corner_radius, or the shape \"flat\"");
    }
    if (tool.tip_diameter > tool.diameter) bad("tip_diameter", "the tip is wider than the tool");
    if (tool.stickout > 0 && tool.flute_length > tool.stickout) {
      bad("flute_length", "the flutes are longer than the stick-out",
          "stickout counts from the tip to the holder's face");
    }
    for (std::size_t i = 1; i < tool.profile.size(); ++i) {
      if (tool.profile[i].second < tool.profile[i - 1].second) {
        bad("profile", "the profile's heights must not fall");
        break;
      }
    }
    check_end();
    tell_of_idle_keys();
  }

  // Sizes that no tool of a small shop has, and that one in the other unit has. Common practice, no
  // source.
  void look_at_unit() const {
    constexpr double widest = 100, furthest_out = 300, least_out = 3;  // mm
    const auto look = [&](const char* key, const char* what, double mm, double least, double most) {
      if (!table.has(key) || (mm >= least && mm <= most)) return;
      const double other = mm > most ? mm / mm_per_inch : mm * mm_per_inch;
      // One that is odd either way has another fault.
      if (mm <= 0 || other < least || other > most) return;
      table.warning(
          key, "job-unit-doubtful",
          fmt::format("tool {}: {} {:.4g} mm; read in the other unit it would be {:.4g} mm",
                      tool.number, what, mm, other),
          "lengths are mm unless the file says units = \"inch\", then all of them are inches");
    };
    if (tool.diameter > widest) look("diameter", "its diameter is", tool.diameter, 0, widest / 4);
    look("stickout", "it stands out", tool.stickout, least_out, furthest_out);
  }

  // The cutting end: nothing of it can be guessed, and the flutes must hold all of a round one.
  void check_end() const {
    if (info(tool.shape).tip_angle == Asks::must) {
      needs("tip_angle", "a vee or taper tool needs its included angle, tip_angle",
            "give tip_angle = 90: the whole angle of its point, degrees");
    }
    const double round = info(tool.shape).round_end(tool);
    if (tool.flute_length > 0 && tool.flute_length < round - 1e-9) {
      bad(table.has("flute_length") ? "flute_length" : "stickout",
          fmt::format("what cuts is {:g} mm high and ends within the round end of {:g} mm",
                      tool.flute_length, round),
          "flute_length counts from the tip up");
    }
  }

  // A form tool is its profile: all else said of its size must agree.
  void check_form() const {
    if (tool.profile.size() < 2) {
      return bad("profile", "a form tool needs a profile of at least two points");
    }
    double widest = 0;
    for (const auto& [radius, height] : tool.profile) widest = std::max(widest, 2 * radius);
    if (!(widest > 0)) return bad("profile", "the profile has no width");
    if (!(tool.profile.back().second > tool.profile.front().second)) {
      return bad("profile", "the profile has no height");
    }
    if (widest > a_width.high) bad("profile", "the profile is wider than a metre");
    const double as_written = 0.01;  // mm: a radius may be a rounded half
    if (std::abs(tool.diameter - widest) > as_written) {
      bad("diameter",
          fmt::format("the diameter is {:.7g} mm, the profile's {:.7g} mm", tool.diameter, widest),
          "leave out the diameter: a form tool's is that of its profile");
    }
    const double high = tool.profile.back().second;
    if (has("stickout") && high > tool.stickout + 1e-9) {
      bad("profile",
          fmt::format("the profile is {:g} mm high, the stick-out {:g} mm", high, tool.stickout),
          "stickout counts from the tip to the holder's face");
    } else if (has("flute_length") && high > tool.flute_length + 1e-9) {
      bad("profile",
          fmt::format("the profile is {:g} mm high, the flutes {:g} mm", high, tool.flute_length),
          "a profile is of what cuts: what is above it belongs to shank_diameter");
    }
  }

  // Keys of another shape: whoever gives them may have another tool in mind.
  void tell_of_idle_keys() const {
    const ToolShapeInfo& shape = info(tool.shape);
    const auto idle = [&](const char* key, const char* whose) {
      table.warning(
          key, "job-idle-key",
          fmt::format("tool {}: {} is for {}, it is not looked at", tool.number, key, whose),
          "check the shape");
    };
    // What says the same as the shape does no harm.
    const bool round = std::abs(tool.corner_radius - shape.round_end(tool)) < 1e-6;
    if (tool.corner_radius > 0 && shape.tip_diameter != Asks::nothing) {
      table.warning(
          "corner_radius", "job-idle-key",
          fmt::format("tool {}: its tip is taken as flat, without the corner", tool.number),
          "a form tool's profile can have it");
    } else if (tool.corner_radius > 0 && shape.corner_radius == Asks::nothing && !round) {
      idle("corner_radius", "bull noses");
    }
    const double flat = 2 * shape.outline(tool, tool.flute_length).front().radius;
    const bool as_flat = std::abs(tool.tip_diameter - flat) < 1e-6;
    if (tool.tip_diameter > 0 && shape.tip_diameter == Asks::nothing && !as_flat) {
      idle("tip_diameter", "taper and vee tools");
    }
    if (!tool.profile.empty() && shape.profile == Asks::nothing) idle("profile", "form tools");
  }
};

}  // namespace

void complete(Tool& tool, bool says_stickout) {
  const bool profiled = info(tool.shape).profile == Asks::must;
  if (profiled && tool.diameter == 0) {
    for (const auto& p : tool.profile) tool.diameter = std::max(tool.diameter, 2 * p.first);
  }
  if (tool.stickout == 0)
    tool.stickout = tool.flute_length > 0 ? tool.flute_length : 5 * tool.diameter;
  if (profiled && !says_stickout && !tool.profile.empty())
    tool.stickout = std::max(tool.stickout, tool.profile.back().second);
  if (tool.flute_length == 0) tool.flute_length = tool.stickout;
}

void check_tool(TableReader& table, const Tool& tool, const ToolKeys& also) {
  ToolChecker{table, tool, also}.check();
}

}  // namespace proveout::job
