// What the programs themselves show of mistakes in posting: length offsets never called, the
// spindle never started, feeds in another unit, a G91 that nothing ends.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "sim/cutting/material.h"
#include "sim/run/cause.h"
#include "sim/run/inputs.h"
#include "sim/run/result.h"

namespace proveout::causes {

// Each gives a cause without its counts, or nullopt where nothing speaks for it.

// Two tools or more move in the program with none of their length offsets in force.
std::optional<run::Cause> length_offset(const run::SetupResult& setup);
// All that the setup, or one of its tools, cuts is cut with the spindle standing, or all of it with
// it turning counter-clockwise.
std::optional<run::Cause> spindle(const run::SetupResult& setup);
// The middle chip (by time in cut) lies far outside the material's range, and that of cuts at full
// feed about inside it once the feed is read as mm/s or as inches a minute, or, where it is too
// thick in a program in inches, as mm a minute. Where two units fit, both are named.
std::optional<run::Cause> feed_unit(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                    const job::Job& job, const cutting::Material& material);
// Read again with G90 after the last G91 that no G90 follows, the moves stay about the blank,
// which they leave far as written.
std::optional<run::Cause> distance_mode(const run::SetupResult& setup,
                                        const run::SetupInputs& inputs, const job::Job& job,
                                        const job::Setup& asked, const Box3& blank);
// Read again in the other unit of length (G20 or G21 put the other way round, or put before it all)
// the moves stay about the blank, which they leave far as written, or cover as they do not now.
std::optional<run::Cause> length_unit(const run::SetupResult& setup, const run::SetupInputs& inputs,
                                      const job::Job& job, const job::Setup& asked,
                                      const Box3& blank);

}  // namespace proveout::causes
