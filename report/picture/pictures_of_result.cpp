#include "report/picture/pictures_of_result.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <vector>

#include "report/files/atomic_file.h"
#include "report/files/output_names.h"
#include "report/picture/picture.h"
#include "sim/measure/measure.h"
#include "sim/run/inputs.h"

namespace proveout::picture {
namespace {

constexpr Rgb uncut{206, 208, 212};

// One colour a tool number, in order of first use over all setups.
std::map<int, Rgb> tool_colours(const run::JobResult& result) {
  std::map<int, Rgb> colours;
  for (const run::SetupResult& setup : result.setups)
    for (const run::ToolResult& tool : setup.tools)
      colours.try_emplace(tool.number, distinct_colour(static_cast<int>(colours.size())));
  return colours;
}

PictureOptions by_tool(const run::JobResult& result, std::size_t setup,
                       const std::map<int, Rgb>& colours) {
  PictureOptions options;
  options.stock_from_setup = result.setups[setup].stock_from_setup;
  options.colour_of = [&](stock::MotionId id) {
    const auto origin = result.origin(id);
    if (!origin) return uncut;
    const nc::Program& program = *result.setups[origin->setup].source;
    const auto found = colours.find(program.states[program.motions[origin->motion].state].tool);
    return found == colours.end() ? uncut : found->second;
  };
  options.legend.push_back({uncut, "BLANK"});
  for (const auto& [number, colour] : colours)
    options.legend.push_back({colour, fmt::format("T{}", number)});
  return options;
}

// The worst finding of each kind that has a place, errors and warnings, at most this many.
constexpr std::size_t most_close_ups = 4;

std::vector<const Finding*> close_ups(const run::JobResult& result) {
  std::vector<const Finding*> out;
  for (const Finding& f : result.findings) {  // worst first
    if (f.level == Severity::note || f.line == 0 || out.size() == most_close_ups) continue;
    const bool shown = std::any_of(out.begin(), out.end(), [&](const Finding* g) {
      return g->kind == f.kind && g->setup == f.setup;
    });
    if (!shown) out.push_back(&f);
  }
  return out;
}

void write_close_ups(const run::JobResult& result, const std::map<int, Rgb>& colours,
                     const solid::PartDistance* part, const std::filesystem::path& folder,
                     files::FileSet& set) {
  int number = 0;
  for (const Finding* f : close_ups(result)) {
    ++number;
    std::size_t s = 0;
    while (s + 1 < result.setups.size() && result.setups[s].name != f->setup) ++s;
    const bool of_part = f->kind == FindingKind::gouge || f->kind == FindingKind::excess;
    const stock::Stock* stock = !of_part && s < result.stock_after.size()
                                    ? result.stock_after[s].get()
                                    : result.stock.get();
    if (stock == nullptr) continue;
    PictureOptions options = by_tool(result, s, colours);
    if (of_part && part != nullptr) {
      options.part = part;
      options.deviation_end = deviation_end(*result.job.part);
      options.legend.clear();  // no tool's colour is in it
    }
    options.legend.insert(options.legend.begin(), {Rgb{213, 94, 0}, fmt::format("L {}", f->line)});
    options.focus = PictureOptions::Focus{result.setups[s].stock_from_setup * f->at, 15};
    options.zero_mark = false;
    set.write(folder / fmt::format("finding-{}.png", number), png(draw(*stock, options)));
  }
}

}  // namespace

void write_pictures(const run::JobResult& result, const std::filesystem::path& folder,
                    files::FileSet& set) {
  const std::map<int, Rgb> colours = tool_colours(result);
  const stock::Stock* last = nullptr;
  for (std::size_t s = 0; s < result.setups.size(); ++s) {
    const stock::Stock* stock =
        s < result.stock_after.size() ? result.stock_after[s].get() : nullptr;
    if (stock == nullptr && s + 1 == result.setups.size()) stock = result.stock.get();
    if (stock == nullptr) continue;
    last = stock;
    PictureOptions options = by_tool(result, s, colours);
    set.write(folder / files::setup_file(s, files::picture_ending), png(draw(*stock, options)));
    const Box3 box = measure::extent(*stock, Eigen::Matrix3d::Identity());
    if (box.isEmpty()) continue;
    // The half towards the eye is taken away: the setup's negative y.
    options.section = SectionPlane{box.center(), -options.stock_from_setup.linear().col(1)};
    set.write(folder / files::setup_file(s, files::cut_open_ending), png(draw(*stock, options)));
  }
  const solid::PartDistance* const part = run::part_of(result);
  write_close_ups(result, colours, part, folder, set);
  if (last == nullptr || part == nullptr) return;
  PictureOptions options;
  options.stock_from_setup = result.setups.back().stock_from_setup;
  options.part = part;
  options.deviation_end = deviation_end(*result.job.part);
  set.write(folder / files::deviation_name, png(draw(*last, options)));
}

}  // namespace proveout::picture
