#include "report/text/opening_words.h"

#include <fmt/format.h>

#include <array>

namespace proveout::text {

std::string plural(std::size_t n, const char* word) {
  return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
}

std::string job_in_words(const run::JobResult& r) {
  const Vec3& size = r.job.stock.size;
  const std::string blank =
      r.job.stock.mesh.empty()
          ? fmt::format("blank {:g} x {:g} x {:g} mm", size.x(), size.y(), size.z())
          : "blank " + r.job.stock.mesh.filename().string();
  return fmt::format("{}: {} in {}, voxel {:g} mm", r.job.name, blank, r.material, r.voxel);
}

std::string counts_in_words(const run::JobResult& r) {
  std::array<std::size_t, 3> count{};
  for (const auto& f : r.findings) ++count[static_cast<std::size_t>(f.level)];
  return fmt::format("{}, {}, {}", plural(count[2], "error"), plural(count[1], "warning"),
                     plural(count[0], "note"));
}

std::string cause_in_words(const run::Cause& c) {
  return fmt::format("{} (goes with {}; {} left)", c.text, plural(c.explains, "finding"),
                     c.remains);
}

Ink ink_of(Severity level) {
  return level == Severity::error ? Ink::red : level == Severity::warning ? Ink::yellow : Ink::blue;
}

}  // namespace proveout::text
