// Parse, simulate, ask: the worked example of docs/api.md, built against the installed package.
#include <cstdio>

#include "parser/job/job.h"
#include "sim/measure/measure.h"
#include "sim/pipeline/dry_run.h"
#include "sim/run/finding.h"

int main(int count, char** words) {
  using namespace proveout;
  if (count != 2) return 2;
  Diagnostics diagnostics;
  const auto job = job::read_job(words[1], diagnostics);  // parse
  std::optional<run::JobResult> result;
  if (job) {
    pipeline::RunOptions options;
    options.voxel = 0.5;                                     // mm
    result = pipeline::dry_run(*job, options, diagnostics);  // simulate
  }
  for (const Diagnostic& d : diagnostics.all()) std::fprintf(stderr, "%s\n", to_text(d).c_str());
  if (!result) return 2;
  for (const run::SetupResult& setup : result->setups) {  // ask
    std::printf("setup %s: %.0f s, %.0f mm3 removed\n", setup.name.c_str(), setup.time_s,
                setup.removed_mm3);
  }
  std::printf("left: %.0f mm3 in %zu pieces\n", measure::volume(*result->stock),
              measure::pieces(*result->stock).size());
  for (const Finding& f : result->findings) {
    std::printf("%s:%u %s\n", f.file.c_str(), f.line, f.text.c_str());
  }
  return 0;
}
