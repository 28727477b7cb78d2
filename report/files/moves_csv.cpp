#include "report/files/moves_csv.h"

#include <fmt/format.h>

#include <iterator>
#include <string>

#include "sim/cutting/engaged_area.h"

namespace proveout::files {
namespace {

// What a spreadsheet would take for a formula (OWASP, "CSV Injection": = + - @, a tab or the end of
// a line in front) gets an apostrophe in front, as one types it there for text. So does what begins
// with an apostrophe: taking one off gives the name back.
std::string as_text(const std::string& name) {
  const std::size_t first = name.find_first_not_of(' ');
  const bool formula = first != std::string::npos &&
                       std::string_view("=+-@\t\r\n'").find(name[first]) != std::string_view::npos;
  return formula ? "'" + name : name;
}

// A field quoted as RFC 4180 asks where it must be.
std::string field(const std::string& name) {
  const std::string text = as_text(name);
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

const char* kind_name(nc::PathKind kind) {
  switch (kind) {
    case nc::PathKind::rapid:
      return "rapid";
    case nc::PathKind::line:
      return "line";
    case nc::PathKind::arc:
      break;
  }
  return "arc";
}

const char* sense_name(std::uint8_t sense) {
  switch (sense) {
    case cutting::sense_climb:
      return "climb";
    case cutting::sense_conventional:
      return "conventional";
    case cutting::sense_climb | cutting::sense_conventional:
      return "both";
    default:
      return "";
  }
}

}  // namespace

void write_moves_csv(const run::JobResult& result, std::ostream& stream) {
  stream << "setup,tool,file,line,kind,length,feed,time_s,removed_mm3,axial_depth,radial_width,"
            "engagement_deg,chip_mm,force_n,power_w,bend_mm,sense\n";
  fmt::memory_buffer row;
  for (const auto& setup : result.setups) {
    if (!setup.source) continue;
    const std::string setup_field = field(setup.name);
    const std::string file_field = field(setup.program);
    for (std::size_t i = 0; i < setup.source->motions.size(); ++i) {
      const nc::Motion& m = setup.source->motions[i];
      const run::MotionPeak& p = setup.peaks[i];
      row.clear();
      fmt::format_to(
          std::back_inserter(row),
          "{},{},{},{},{},{:.6g},{:.6g},{:.6g},{:.6g},{:.5g},{:.5g},{:.5g},{:.5g},{:.5g},"
          "{:.5g},{:.5g},{}\n",
          setup_field, setup.source->states[m.state].tool, file_field, m.line, kind_name(m.kind),
          nc::length(m), m.feed, setup.plan.motions[i].time_s, setup.cut.motions[i].removed_mm3,
          p.axial_depth, p.radial_width, p.engagement_deg, p.chip_mm, p.force_n, p.power_w,
          p.bend_mm, sense_name(p.sense));
      stream.write(row.data(), static_cast<std::streamsize>(row.size()));
    }
  }
}

}  // namespace proveout::files
