#include "report/mesh/path_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "report/files/atomic_file.h"
#include "report/files/output_names.h"

namespace proveout::mesh_files {
namespace {

constexpr double chord_mm = 0.01;

int chords(const nc::Motion& m) {
  if (m.kind != nc::PathKind::arc) return 1;
  const double r = std::max(nc::arc_radius(m), chord_mm);
  const double step = 2 * std::acos(std::max(0.0, 1 - chord_mm / r));
  return std::clamp(static_cast<int>(std::ceil(std::abs(m.sweep) / step)), 1, 10000);
}

class Writer {
 public:
  explicit Writer(const run::SetupResult& setup) : setup_(setup), motions_(setup.source->motions) {}

  std::string file() {
    gather();
    auto to = std::back_inserter(out_);
    fmt::format_to(
        to,
        "<?xml version=\"1.0\"?>\n<VTKFile type=\"PolyData\" version=\"0.1\" "
        "byte_order=\"LittleEndian\">\n<PolyData>\n<Piece NumberOfPoints=\"{}\" "
        "NumberOfVerts=\"0\" "
        "NumberOfLines=\"{}\" NumberOfStrips=\"0\" NumberOfPolys=\"0\">\n<Points>\n<DataArray "
        "type=\"Float64\" NumberOfComponents=\"3\" format=\"ascii\">\n",
        points_, ends_.size());
    out_ += places_;
    out_ +=
        "</DataArray>\n</Points>\n<Lines>\n<DataArray type=\"Int64\" Name=\"connectivity\" "
        "format=\"ascii\">\n";
    for (std::size_t i = 0; i < points_; ++i) fmt::format_to(to, "{}\n", i);
    out_ += "</DataArray>\n<DataArray type=\"Int64\" Name=\"offsets\" format=\"ascii\">\n";
    for (std::size_t end : ends_) fmt::format_to(to, "{}\n", end);
    out_ += "</DataArray>\n</Lines>\n<CellData>\n";
    cells();
    out_ += "</CellData>\n</Piece>\n</PolyData>\n</VTKFile>\n";
    return std::move(out_);
  }

 private:
  void gather() {
    auto to = std::back_inserter(places_);
    for (const nc::Motion& m : motions_) {
      const int n = chords(m);
      for (int i = 0; i <= n; ++i) {
        const Vec3 p = setup_.stock_from_setup * nc::point_at(m, static_cast<double>(i) / n);
        fmt::format_to(to, "{:.6g} {:.6g} {:.6g}\n", p.x(), p.y(), p.z());
      }
      points_ += static_cast<std::size_t>(n) + 1;
      ends_.push_back(points_);
    }
  }

  template <class Value>
  void cell(const char* name, const char* type, Value&& value) {
    fmt::format_to(std::back_inserter(out_),
                   "<DataArray type=\"{}\" Name=\"{}\" format=\"ascii\">\n", type, name);
    for (std::size_t i = 0; i < motions_.size(); ++i)
      fmt::format_to(std::back_inserter(out_), "{:.6g}\n", static_cast<double>(value(i)));
    out_ += "</DataArray>\n";
  }

  void cells() {
    cell("line", "Int32", [&](std::size_t i) { return motions_[i].line; });
    cell("tool", "Int32",
         [&](std::size_t i) { return setup_.source->states[motions_[i].state].tool; });
    cell("rapid", "Int32",
         [&](std::size_t i) { return motions_[i].kind == nc::PathKind::rapid ? 1 : 0; });
    double start = 0;
    std::vector<double> starts, feeds;
    for (std::size_t i = 0; i < motions_.size(); ++i) {
      const double s = setup_.plan.motions[i].time_s;
      starts.push_back(start);
      feeds.push_back(s > 0 ? nc::length(motions_[i]) / s * 60 : 0);
      start += s;
    }
    cell("start_s", "Float64", [&](std::size_t i) { return starts[i]; });
    cell("feed", "Float64", [&](std::size_t i) { return feeds[i]; });
    cell("removed_mm3", "Float64",
         [&](std::size_t i) { return setup_.cut.motions[i].removed_mm3; });
    cell("axial_depth", "Float64", [&](std::size_t i) { return setup_.peaks[i].axial_depth; });
    cell("engagement_deg", "Float64",
         [&](std::size_t i) { return setup_.peaks[i].engagement_deg; });
    cell("chip_mm", "Float64", [&](std::size_t i) { return setup_.peaks[i].chip_mm; });
    cell("force_n", "Float64", [&](std::size_t i) { return setup_.peaks[i].force_n; });
    cell("power_w", "Float64", [&](std::size_t i) { return setup_.peaks[i].power_w; });
    cell("bend_mm", "Float64", [&](std::size_t i) { return setup_.peaks[i].bend_mm; });
  }

  const run::SetupResult& setup_;
  const std::vector<nc::Motion>& motions_;
  std::string out_, places_;
  std::size_t points_ = 0;
  std::vector<std::size_t> ends_;
};

}  // namespace

std::string vtp(const run::SetupResult& setup) { return Writer(setup).file(); }

void write_paths(const run::JobResult& result, const std::filesystem::path& folder,
                 files::FileSet& set) {
  for (std::size_t s = 0; s < result.setups.size(); ++s)
    set.write(folder / files::setup_file(s, files::path_ending), vtp(result.setups[s]));
}

}  // namespace proveout::mesh_files
