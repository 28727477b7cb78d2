#include "report/cli/written_results.h"

#include <nlohmann/json.hpp>

#include "report/files/atomic_file.h"
#include "report/files/junit_xml.h"
#include "report/files/moves_csv.h"
#include "report/files/sarif.h"
#include "report/keyframes/page_of_result.h"
#include "report/page_data/page_data.h"
#include "report/json/result_json.h"

namespace proveout::cli {

void write_results(const run::JobResult& result, const SimulateOptions& options) {
  const std::string json = json::result_json(result).dump(
                               1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
  files::make_folder(options.out);
  files::write_whole(options.out / "moves.csv", [&](std::ostream& s) { files::write_moves_csv(result, s); });
  files::write_whole(options.out / "junit.xml", files::junit_xml(result, options.fail_on.value_or(Severity::error)));
  files::write_whole(options.out / "findings.sarif", files::sarif(result));
  files::write_whole(options.out / "result.json", json);
  if (options.html) page::write_page(page::page_of_result(result), options.out / "report.html");
  if (!options.json.empty()) write_text(options.json, json);
}

}  // namespace proveout::cli
