#include "sim/checks/finding_rule.h"

#include <array>

namespace proveout {
namespace {

using enum FindingKind;

constexpr std::array<FindingRule, 28> rules = {{
    {gouge, "the finished surface lies inside the part: material is missing",
     "Look at the line named: too deep, wrong tool, wrong zero, or stock allowance forgotten.",
     "a part mesh"},
    {excess, "material is left on the part beyond the tolerance",
     "A wall not cut to the bottom, a region no tool reached, or a support larger than declared.",
     "a part mesh"},
    {over_depth, "the axial depth met is more than this tool may take in this material",
     "Add passes, or use a tool that may go that deep. The limit comes from the job file or the "
     "material table.",
     ""},
    {over_width, "the radial width met is more than this tool may take", "Reduce the step-over.",
     "a tool limit radial_width"},
    {rapid_contact, "a rapid move runs through material",
     "Raise the retract plane, or approach from above.", ""},
    {shank_contact, "the tool's shank meets material",
     "Use a longer flute or a relieved shank, or clear the wall first.", ""},
    {holder_contact, "the tool's holder meets material",
     "Set the tool further out, as far as stickout_needed says, or cut the wall from the other "
     "side.",
     "a holder on the tool"},
    {fixture_contact, "the tool, its shank or holder meets a fixture",
     "Move the clamp or change the path.", "fixtures in the setup"},
    {below_stock, "the tip goes below the bottom of the stock",
     "Check the zero and the depth; the bed or the vice lies there.", ""},
    {spindle_stopped, "the tool meets material while the spindle stands still",
     "Start the spindle before the first cut and after each stop.", ""},
    {over_travel, "the program leaves the machine's travel",
     "Move the zero or the work; mind the park position and long tools.",
     "zero_in_machine and the machine's travel"},
    {feed_clipped, "the feed asked for is more than the axes can do",
     "The control will run slower here: chip load and time differ from what was programmed.", ""},
    {speed_clipped, "the spindle speed asked for is outside the spindle's range",
     "Correct S for this machine; chip load changes with it.", "the spindle's range"},
    {chip_thick, "the chip is thicker than the material's rule for this diameter",
     "Lower the feed or the width, or raise the speed.", ""},
    {chip_thin, "the chip is too thin to cut: the edge rubs",
     "Raise the feed or lower the speed; check what feed the machine really reaches.", ""},
    {over_power, "the cut needs more power than the spindle has at this speed",
     "Reduce depth, width or feed.", "the spindle's power"},
    {over_bend, "the tool bends more than its limit", "Shorter or thicker tool, lighter cut.", ""},
    {chatter, "the axial depth is beyond the stable limit at this speed, by a rough model",
     "Try the calm speed named; measure or listen before trusting it.", ""},
    {plunge, "the tool goes down too steeply or too fast in material",
     "Ramp or spiral in, or use a slower plunge feed.", ""},
    {came_loose, "a piece comes free of the work before the program ends",
     "Keep it tied with supports, or end the cut there.", ""},
    {flip_mismatch, "the two sides do not meet as declared",
     "Check the turn, the zero and the corner; mark the blank.", "two setups"},
    {unreached, "no setup reaches this part of the surface",
     "Change the split, or plan it by hand.", "a part mesh"},
    {over_reach, "the tool is set further out than its diameter bears",
     "Use the shortest stick-out that clears, or a thicker tool; drills are not judged.", ""},
    {program, "the program's text has something to say", "See the message and docs/language.md.",
     ""},
    {weak_bridge, "the bridges that hold the part bear too little for the forces met",
     "Larger or more bridges, or a lighter cut; the strength is that of the section in shear, and "
     "a "
     "long thin bridge shakes before it shears.",
     "a part mesh"},
    {wrong_zero,
     "another zero than the declared one would fit the program, or the setup removes nothing",
     "Check which corner, middle or face the program was posted for, then the job file.", ""},
    {job, "the job file or a mesh it names has something to say",
     "See the message; keys are in docs/job-file.md.", ""},
    {spindle_reversed, "the tool cuts while the spindle turns counter-clockwise (M4)",
     "Use M3: cutters are taken to be right-hand ones (common practice, no source); a job cannot "
     "declare a left-hand one.",
     ""},
}};

constexpr bool in_order() {
  for (std::size_t i = 0; i < rules.size(); ++i) {
    if (static_cast<std::size_t>(rules[i].kind) != i) return false;
  }
  return true;
}
static_assert(in_order(), "the table follows FindingKind");

}  // namespace

std::span<const FindingRule> finding_rules() { return rules; }
const FindingRule& rule(FindingKind kind) { return rules[static_cast<std::size_t>(kind)]; }

}  // namespace proveout
