#include "report/files/moves_csv.h"

#include <fmt/format.h>

#include <iterator>
#include <string>

namespace proveout::files {
namespace {

// A field quoted as RFC 4180 asks where it must be.
std::string field(const std::string& text) {
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

}  // namespace

void write_moves_csv(const run::JobResult& result, std::ostream& stream) {
  stream << "setup,tool,file,line,kind,length,feed,time_s,removed_mm3,axial_depth,radial_width,"
            "engagement_deg,chip_mm,force_n,power_w,bend_mm\n";
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
          "{:.5g},{:.5g}\n",
          setup_field, setup.source->states[m.state].tool, file_field, m.line, kind_name(m.kind),
          nc::length(m), m.feed, setup.plan.motions[i].time_s, setup.cut.motions[i].removed_mm3,
          p.axial_depth, p.radial_width, p.engagement_deg, p.chip_mm, p.force_n, p.power_w,
          p.bend_mm);
      stream.write(row.data(), static_cast<std::streamsize>(row.size()));
    }
  }
}

}  // namespace proveout::files
