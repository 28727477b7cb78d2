// The one list of what a dry run looks for. The enumeration (finding.h) and the registry of checks
// (sim/checks/registry.h) are made from it: a kind without its check does not link. Its order is
// the order on every list that people read, and part of SARIF's ruleIndex: add at the end.
#pragma once

#define PROVEOUT_FINDING_KINDS(KIND) \
  KIND(gouge)                        \
  KIND(excess)                       \
  KIND(over_depth)                   \
  KIND(over_width)                   \
  KIND(rapid_contact)                \
  KIND(shank_contact)                \
  KIND(holder_contact)               \
  KIND(fixture_contact)              \
  KIND(below_stock)                  \
  KIND(spindle_stopped)              \
  KIND(over_travel)                  \
  KIND(feed_clipped)                 \
  KIND(speed_clipped)                \
  KIND(chip_thick)                   \
  KIND(chip_thin)                    \
  KIND(over_power)                   \
  KIND(over_bend)                    \
  KIND(chatter)                      \
  KIND(plunge)                       \
  KIND(came_loose)                   \
  KIND(flip_mismatch)                \
  KIND(unreached)                    \
  KIND(over_reach)                   \
  KIND(program)                      \
  KIND(weak_bridge)                  \
  KIND(wrong_zero)                   \
  KIND(job)                          \
  KIND(spindle_reversed)             \
  KIND(cross_check)                  \
  KIND(part_lost)
