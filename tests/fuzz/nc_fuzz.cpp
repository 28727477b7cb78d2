// Any bytes as an NC program, in both profiles: no crash, motions join end to start, stay finite,
// every message lies inside the text, and the quick way through plain lines says what the full
// reader says.
#include <cmath>
#include <cstdlib>
#include <string_view>

#include "parser/nc/program.h"

namespace {

using namespace proveout;

void must(bool held) {
  if (!held) std::abort();
}

struct Watch : nc::Sink {
  bool any = false;
  std::size_t motions = 0;
  double sum = 0;  // of all ends, feeds and lines: both ways of reading must add up alike
  Vec3 at = Vec3::Zero();
  void motion(const nc::Motion& m, const nc::ModalState&) override {
    must(m.start.allFinite() && m.end.allFinite() && m.centre.allFinite() &&
         std::isfinite(m.sweep));
    must(std::isfinite(m.feed) && m.feed >= 0 && m.line >= 1);
    must((m.start - at).norm() < 1e-3 || !any);
    any = true;
    at = m.end;
    // An arc ends where its centre, start and sweep say, within what rounding allows.
    if (m.kind == nc::PathKind::arc) {
      const double r = nc::arc_radius(m);
      must((nc::point_at(m, 0.999999) - m.end).norm() <= 0.02 + 0.02 * r + 1e-5 * nc::length(m));
    }
    ++motions;
    sum = sum * 0.75 + m.end.x() + 3 * m.end.y() + 5 * m.end.z() + m.feed + m.line + m.state;
  }
  void event(const nc::Event& e, const nc::ModalState&) override { must(std::isfinite(e.value)); }
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  std::size_t lines = 1;
  for (char c : text) lines += c == '\n' || c == '\r' ? 1 : 0;
  for (nc::Profile profile : {nc::Profile::shop, nc::Profile::strict}) {
    nc::ReadOptions options;
    options.profile = profile;
    options.tool_diameters = {{0, 3}, {1, 6}, {2, 4}};
    options.most_repeated = 50000;
    Watch sink;
    Diagnostics diagnostics;
    nc::interpret(text, "fuzz.nc", options, sink, diagnostics);
    options.quick = false;
    Watch full;
    Diagnostics full_diagnostics;
    nc::interpret(text, "fuzz.nc", options, full, full_diagnostics);
    must(full.motions == sink.motions && full.sum == sink.sum);
    must(full_diagnostics.all().size() == diagnostics.all().size());
    for (const auto& d : diagnostics.all()) {
      must(d.place.line <= lines + 1);
      must(!d.code.empty() && !d.what.empty());
      to_text(d);
    }
  }
  return 0;
}
