// Sizes and shapes of tools, and the size of the blank, as the comments of programs name them, held
// against what a job declares.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/job/job.h"
#include "sim/run/finding.h"
#include "sim/run/inputs.h"
#include "sim/run/result.h"

namespace proveout::causes {

struct NamedTool {            // what one comment says of a tool
  int number = 0;             // T word in the comment or in the lines after it
  std::uint32_t line = 0;     // 1-based, of the comment
  std::vector<double> sizes;  // as written (fractions: mm), all that may be the diameter, in order
  std::optional<job::ToolShape> shape;  // where the comment's words name one and no other
};

// Comments (in brackets, or behind a semicolon) that name a diameter of a tool: D or DIA with a
// number, a number with MM or a fraction of an inch beside a word for a cutter. Common practice of
// posts, no source.
std::vector<NamedTool> tools_in_comments(std::string_view program);

// Those of them none of whose sizes, read as mm or as inches, is the declared tool's diameter to 2
// %. The first of a tool only. Tools the job does not declare are left out.
std::vector<NamedTool> contradictions(const std::vector<NamedTool>& named,
                                      const std::vector<job::Tool>& tools);

// Those whose words name another shape than the declared tool's: flat, ball, vee, drill (common
// practice, no source). The first of a tool only.
std::vector<NamedTool> other_shapes(const std::vector<NamedTool>& named,
                                    const std::vector<job::Tool>& tools);

// The first blank a comment names: three numbers with x, * or BY between them, beside BLANK, STOCK,
// BLOCK, BILLET or RAW; as written, in order.
struct NamedBlank {
  std::uint32_t line = 0;  // 1-based
  Vec3 size = Vec3::Zero();
};
std::optional<NamedBlank> blank_in_comments(std::string_view program);

// A warning (kind program, detail tool-size-differs or tool-shape-differs) for each contradiction
// about a tool the setup uses, and one (blank-size-differs) where a comment's blank is another than
// the declared one whichever way it lies.
std::vector<Finding> other_sizes(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                 const job::Job& job);

}  // namespace proveout::causes
