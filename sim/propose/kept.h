// What a shop keeps (parser/job/shop.h), put to a proposal: tools by number and words, its machine,
// its materials.
#pragma once

#include <string>
#include <vector>

#include "parser/job/shop.h"
#include "sim/propose/proposal.h"
#include "sim/propose/tools.h"

namespace proveout::propose {

// A tool of the programs is a kept one where that has its number and nothing the comments and
// motions say is against it; else where exactly one kept tool has the diameter and the shape that a
// comment says, and all else it says. Taken by words alone, by number alone, or not for what is
// said against it: a remark tells. Tools of a file (ToolProposal::from_file) are left alone.
void take_kept_tools(const job::Shop& shop, Proposal& proposal);

// The machine called wanted; without a name the only one that is kept.
void take_kept_machine(const job::Shop& shop, const std::string& wanted, Proposal& proposal);

// The kept material of the name asked for, or that a comment has in it as words of its own. Signs
// and case do not count.
void take_kept_material(const job::Shop& shop, const std::string& asked,
                        const std::vector<ProgramText>& programs, Proposal& proposal);

}  // namespace proveout::propose
