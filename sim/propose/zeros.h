// Where a program's zero can lie: as its comments say, as its extents leave.
#pragma once

#include <string>
#include <vector>

#include "sim/propose/comment_words.h"
#include "sim/propose/proposal.h"
#include "sim/propose/tools.h"

namespace proveout::propose {

struct ZeroChoices {
  std::vector<job::Zero> zeros;  // the likeliest first; more than one: the extents leave a choice
  Basis basis = Basis::open;     // of the first
  std::string from;
  std::string contradiction;   // a comment says other than the extents; empty: it does not
  bool may_be_milled = false;  // a later side's zero may lie on what earlier sides milled
  bool must_be_milled = false;
};

// blank: mm, as it lies in this setup (its box's sizes along the machine's axes). The middle of the
// feed moves is held against the middle the blank would have with its zero at each edge: within a
// seventh of its width is near, and less than half as far as the next is clear. Heights: cuts below
// zero alone speak for the top, cuts above it alone for the bottom.
ZeroChoices zero_choices(const nc::Program& program, const ProgramText& text, const Vec3& blank,
                         bool first);

// Height of the blank's top in the setup's frame, mm, with that zero; nullopt where it has none.
double top_of(const job::Zero& zero, double height);

// "middle of the blank, top"
std::string in_words(const job::Zero& zero);

}  // namespace proveout::propose
