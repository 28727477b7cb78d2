// Any bytes as a job file and as a machine file: no crash, errors have a code and lie inside the
// text, and a job that is accepted has finite figures.
#include <unistd.h>

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "parser/job/job.h"

namespace {

using namespace proveout;

void must(bool held) {
  if (!held) std::abort();
}

const std::filesystem::path& file() {
  static const std::filesystem::path path = std::filesystem::temp_directory_path() /
                                            ("proveout-fuzz-" + std::to_string(getpid()) + ".toml");
  return path;
}

void judge(const Diagnostics& diagnostics, std::size_t lines) {
  for (const auto& d : diagnostics.all()) {
    must(!d.code.empty() && !d.what.empty());
    must(d.place.line <= lines + 1 || d.place.file != file().string());
    to_text(d);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::size_t lines = 1;
  for (std::size_t i = 0; i < size; ++i) lines += data[i] == '\n' || data[i] == '\r' ? 1 : 0;
  std::ofstream(file(), std::ios::binary)
      .write(reinterpret_cast<const char*>(data), std::streamsize(size));
  Diagnostics of_job, of_machine;
  if (const auto job = job::read_job(file(), of_job)) {
    must(!of_job.has_errors());
    must(job->stock.size.allFinite() && std::isfinite(job->simulation.voxel));
    for (const auto& t : job->tools) must(std::isfinite(t.diameter) && t.diameter > 0);
  }
  if (const auto machine = job::read_machine(file(), of_machine)) {
    must(machine->accel.allFinite() && (machine->accel.array() > 0).all());
    must(machine->rapid.allFinite() && (machine->rapid.array() > 0).all());
  }
  judge(of_job, lines);
  judge(of_machine, lines);
  return 0;
}
