#include "report/cli/written_results.h"

#include <fmt/chrono.h>

#include <ctime>
#include <nlohmann/json.hpp>

#include "report/cli/interrupt.h"
#include "report/files/atomic_file.h"
#include "report/files/junit_xml.h"
#include "report/files/moves_csv.h"
#include "report/files/output_names.h"
#include "report/files/sarif.h"
#include "report/files/section_svg.h"
#include "report/json/result_json.h"
#include "report/mesh/mesh_files.h"
#include "report/mesh/path_file.h"
#include "report/page/build/page_of_result.h"
#include "report/page/build/page_tables.h"
#include "report/picture/pictures_of_result.h"
#include "sim/stock/stock_file.h"

namespace proveout::cli {

namespace {

void write_report(const run::JobResult& result, const SimulateOptions& options,
                  const OtherResults& others, files::FileSet& set) {
  page::PageData data = page::page_of_result(result);
  data.about["made"] = fmt::format("{:%Y-%m-%d %H:%M}", fmt::localtime(std::time(nullptr)));
  if (!options.watched.empty()) data.about["watched"] = options.watched;
  if (!others.results.empty()) {
    std::vector<compare::NamedResult> all{{"this run", json::result_json(result), nullptr}};
    all.insert(all.end(), others.results.begin(), others.results.end());
    data.about["comparisons"] = page::side_by_side(compare::compare(all));
  }
  if (result.job.quote)
    data.about["quote"] = page::quote_tables(after::quote(*result.job.quote, result));
  set.write(options.out / files::page_name, page::page_html(data, others.pages));
}

// left.vdb is what `compare` looks for beside a result.
void write_stocks(const run::JobResult& result, const std::filesystem::path& folder,
                  files::FileSet& set) {
  for (std::size_t s = 0; s < result.stock_after.size(); ++s) {
    if (result.stock_after[s])
      set.write(folder / files::setup_file(s, files::stock_ending),
                stock::vdb_bytes(*result.stock_after[s]));
  }
  if (result.finished) set.write(folder / files::left_name, stock::vdb_bytes(*result.finished));
}

}  // namespace

void write_results(const run::JobResult& result, const SimulateOptions& options,
                   const OtherResults& others) {
  files::make_folder(options.out);
  files::FileSet set(stop_if_interrupted);
  nlohmann::ordered_json figures = json::result_json(result);
  if (options.meshes)
    figures["meshes"] = mesh_files::meshes_json(mesh_files::write_meshes(result, options.out, set));
  const std::string json = json::to_bytes(figures);
  set.write(options.out / files::moves_name,
            [&](std::ostream& s) { files::write_moves_csv(result, s); });
  set.write(options.out / files::junit_name,
            files::junit_xml(result, options.fail_on.value_or(Severity::error)));
  set.write(options.out / files::sarif_name, files::sarif(result));
  set.write(options.out / files::result_name, json);
  if (!options.accepted.empty()) set.write(options.accepted, json);
  if (options.html && page::page_built_in()) write_report(result, options, others, set);
  if (options.pictures) picture::write_pictures(result, options.out, set);
  if (options.paths) mesh_files::write_paths(result, options.out, set);
  if (!options.sections.empty()) files::write_sections(result, options.sections, options.out, set);
  if (options.stock_files) write_stocks(result, options.out, set);
  // What cannot be taken back is written last.
  std::error_code ignored;
  const bool through = options.json == "-" ||
                       std::filesystem::is_other(std::filesystem::status(options.json, ignored));
  if (!options.json.empty() && !through) set.write(options.json, json);
  set.commit();
  if (through) write_text(options.json, json);
}

}  // namespace proveout::cli
