#include "report/text/finish_table.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/text/words.h"
#include "sim/measure/finish.h"

namespace proveout::text {
namespace {

constexpr std::size_t most_lines = 5;  // choice

std::string made_by(const run::JobResult& r, stock::MotionId by) {
  const auto origin = r.origin(by);
  if (!origin) return "-";
  const run::SetupResult& s = r.setups[origin->setup];
  return fmt::format("{}:{}", s.program, s.source->motions[origin->motion].line);
}

}  // namespace

std::string finish_table(const run::JobResult& r) {
  if (!r.finish) return "\nTo file and sand: not looked at, that needs the part's mesh ([part]).\n";
  if (r.finish->lines.empty()) return "";
  const measure::Finish& f = *r.finish;
  std::string head =
      fmt::format("To file and sand: {} {}, {:.0f} mm in all, the highest {:.3f} mm; above ",
                  f.lines.size(), f.lines.size() == 1 ? "line" : "lines", f.length, f.highest);
  for (std::size_t i = 0; i < f.area_mm2.size(); ++i) {
    head += fmt::format("{}{:g} mm {:.4g} mm2", i > 0 ? ", " : "", measure::finish_heights[i],
                        f.area_mm2[i]);
  }
  std::string out = "\n" + wrapped(head, 80, 0);
  out += "  " + left("between", 9) + right("long mm", 9) + right("high mm", 9) + "  made by\n";
  for (const std::size_t i : measure::finish_lines_to_show(f, most_lines)) {
    const measure::FinishLine& l = f.lines[i];
    const std::string makers = made_by(r, l.first) + ", " + made_by(r, l.second);
    out += "  " + left(measure::word(l.between), 9) + right(fmt::format("{:.1f}", l.length), 9) +
           right(fmt::format("{:.3f}", l.height), 9) + "  " + shortened(printable(makers), 49) +
           "\n";
  }
  return out;
}

}  // namespace proveout::text
