#include "parser/nc/codes.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace proveout::nc {
namespace {

constexpr auto E = Severity::error;
constexpr auto W = Severity::warning;
constexpr auto N = Severity::note;
constexpr std::string_view practice = "common practice, no source";

constexpr std::array table = std::to_array<CodeEntry>({
    // The file.
    {"file-empty", E, practice, "the program has no blocks"},
    {"file-binary", E, practice, "the file is not text"},
    {"percent-alone", E, "NISTIR 6556 A.1", "a lone % line where the file did not begin with one"},
    {"percent-missing", W, "NISTIR 6556 3.1",
     "the file begins with % and ends with neither M2, M30 nor %"},
    {"percent-text", W, practice, "words behind % on its line"},
    {"end-missing", W, "NISTIR 6556 3.1", "neither M2, M30 nor % ends the program"},
    {"text-behind-end", W, practice,
     "blocks, or another program, behind the program's end, which are not read"},
    {"program-runs-on", W, practice, "an O number behind moves, and no end before it"},
    {"program-never-moves", E, practice, "no block of the program moves the tool"},
    // Reading a line.
    {"line-too-long", N, "NISTIR 6556 3.3", "a line has more than 256 characters"},
    {"character-not-allowed", E, "NISTIR 6556 3.3", "a character that begins no word"},
    {"letter-not-allowed", E, "NISTIR 6556 3.3, table 3", "a letter the language does not know"},
    {"number-missing", E, "NISTIR 6556 3.3.2.1", "a letter without a number"},
    {"number-spaced", W, practice, "white space within a number, where a letter may be missing"},
    {"number-huge", E, practice, "a number no machine has room for"},
    {"comment-open", E, "NISTIR 6556 3.3.4", "a comment that does not close on its line"},
    {"comment-nested", N, "NISTIR 6556 3.3.4", "a comment inside a comment"},
    {"semicolon-comment", N, "NISTIR 6556 E.2", "a comment behind a semicolon"},
    {"line-number", N, "NISTIR 6556 3.3.1",
     "a line number with more than five digits or not first"},
    {"program-number", N, practice, "an O number or ':' names the program"},
    {"word-repeated", E, "NISTIR 6556 3.3.5", "a letter twice on a line"},
    {"group-repeated", E, "NISTIR 6556 3.3.5", "two codes of one modal group on a line"},
    {"group-repeated-harmless", N, practice, "two codes of one group where the meaning is clear"},
    {"too-many-codes", E, "NISTIR 6556 3.3.5", "more codes on a line than it may have"},
    {"g-code-unknown", E, "NISTIR 6556 3.3.2.1, table 5", "a G code that is not understood"},
    {"m-code-unknown", E, "NISTIR 6556 3.3.2.1, table 7", "an M code that is not understood"},
    {"m-code-ignored", N, practice, "an M code that moves nothing and is passed over"},
    {"value-negative", E, "NISTIR 6556 table 14", "a negative number where none may be"},
    {"value-not-whole", E, "NISTIR 6556 table 14", "a fraction where a whole number must be"},
    {"value-out-of-range", E, "NISTIR 6556 table 14", "a number beyond what its word may be"},
    {"word-unused", N, "NISTIR 6556 3.5",
     "a word that nothing on the line uses and that moves nothing"},
    {"word-idle", W, "NISTIR 6556 3.5",
     "a word that could move, repeat, wait or shape, and that nothing on the line uses"},
    {"further-lines", N, practice, "how many further lines have what was told of at the first"},
    {"dialect-choice", N, practice, "a word that controls read differently, read one way"},
    {"point-missing", W, practice,
     "a length without a decimal point where points are the rule, or beyond any use"},
    {"argument-without-point", W, practice,
     "an argument of a macro without a decimal point, where the control counts steps"},
    {"block-delete-switch", N, practice, "a block delete with the number of its switch"},
    {"two-slashes", E, practice, "'//' before words that may or may not run"},
    {"check-sum", N, practice, "a sum over the line's bytes"},
    {"channel", N, practice, "the number of a channel of the control"},
    {"other-dialect", E, practice, "a word of another dialect"},
    {"parameter-index", E, "NISTIR 6556 3.3.2.2", "a parameter that is not #1 to #5399"},
    {"parameter-unset", W, practice, "a parameter that nothing in the program has set before it"},
    {"parameter-vacant", E, practice, "a local parameter that a macro's call did not set"},
    {"control-value", E, practice, "a value of the control's own that is not known"},
    {"control-value-set", W, practice,
     "a value of the control's own is set: what the control does with it is not followed"},
    {"expression-dialect", W, practice, "an expression that controls work out differently"},
    {"expression", E, "NISTIR 6556 3.3.2.3", "an expression that cannot be read or worked out"},
    {"setting", E, "NISTIR 6556 3.3.3", "a parameter setting that cannot be read"},
    // Motion.
    {"axis-words-missing", E, "NISTIR 6556 3.5.1, 3.5.2", "a motion or setting without axis words"},
    {"axis-words-contested", E, "NISTIR 6556 3.4", "two codes of a line want the axis words"},
    {"axis-words-idle", E, "NISTIR 6556 3.5.15", "axis words while no motion is in force"},
    {"rotary-axis", E, practice, "a rotary or further axis that would move"},
    {"rotary-idle", N, practice, "a word of a rotary axis that moves nothing"},
    {"feed-missing", E, "NISTIR 6556 2.1.2.5", "a feed move while the feed is 0 or not given"},
    {"feed-crawls", W, practice, "a move that takes over an hour at a feed below 10 mm/min"},
    {"feed-units", W, "NISTIR 6556 4.3.3.3", "a feed given in the other unit of length"},
    {"feed-on-rapid-only", N, practice, "feed in inverse time on a line that ignores it"},
    {"inverse-feed-missing", E, "NISTIR 6556 3.5.19", "G93 and no F on a feed move's line"},
    {"spindle-for-feed", E, practice, "feed per turn while the spindle speed is 0"},
    {"spindle-off-for-feed", W, practice, "feed per turn while the spindle stands"},
    {"arc-end-missing", E, "NISTIR 6556 3.5.3", "an arc without an end point in its plane"},
    {"arc-full-turn", N, "NISTIR 6556 3.5.3", "an arc without end point is taken as a full turn"},
    {"arc-without-centre", E, "NISTIR 6556 3.5.3", "an arc with neither centre nor radius"},
    {"axis-words-shared", N, "NISTIR 6556 3.4",
     "a motion code beside a code that takes the axis words"},
    {"arc-both-forms", E, "NISTIR 6556 3.5.3", "an arc with centre and radius"},
    {"corner", E, practice, "a corner word that cannot be followed"},
    {"arc-offset-idle", N, "NISTIR 6556 3.5.3", "a centre offset outside the arc's plane"},
    {"arc-radius-zero", E, practice, "an arc of no radius"},
    {"arc-radius-mismatch", E, "NISTIR 6556 3.5.3.2", "start and end lie at different radii"},
    {"arc-radius-rounded", N, practice, "start and end radii differ by rounding"},
    {"arc-radius-same-point", E, "NISTIR 6556 3.5.3.1", "radius format with the end at the start"},
    {"arc-radius-short", E, practice, "the radius does not reach from start to end"},
    {"arc-turns", E, practice, "the number of turns is not a whole number from 1 on"},
    {"arc-more-turns", N, practice, "P of an arc, taken as the number of its turns"},
    {"position-unbounded", E, practice, "a position farther out than a kilometre"},
    // Waits, tools, offsets.
    {"dwell-missing", E, "NISTIR 6556 3.5.4", "a dwell without its time"},
    {"dwell-word", N, practice, "a dwell time in X or in milliseconds"},
    {"dwell-long", W, practice, "a wait so long that another unit may be meant"},
    {"surface-speed", E, practice, "a spindle speed in surface speed"},
    {"tool-change-without-number", E, "NISTIR 6556 3.6.3", "M6 before any T"},
    {"tool-not-changed", W, practice, "a tool is named, and no M6 puts it into the spindle"},
    {"length-offset", E, "NISTIR 6556 3.5.11", "a tool length offset that cannot be used"},
    {"length-offset-missing", N, practice, "G43 without H takes the tool's own"},
    {"length-offset-other-tool", W, practice, "the length offset is another tool's"},
    {"length-offset-ended", W, practice,
     "a move in z with no tool length in force, behind one that had one"},
    {"length-offset-set", W, practice, "the program sets lengths of tools itself"},
    {"diameter-offset-set", W, practice, "the program sets diameters of tools itself"},
    {"diameter-offset-other-tool", W, practice, "the diameter offset is another tool's"},
    {"machine-position-unknown", N, practice,
     "machine coordinates without the zero's machine position"},
    {"machine-position-needed", E, "NISTIR 6556 3.5.12",
     "a machine coordinate that cannot be placed"},
    {"machine-move-by-increments", W, practice, "G53 under G91, which controls read differently"},
    {"g53-without-motion", E, "NISTIR 6556 3.5.12", "G53 without G0 or G1"},
    {"g10", E, "NISTIR 6556 3.5.5", "a G10 that cannot be used"},
    {"work-offset-changed", W, practice, "the program sets work offsets itself"},
    {"g92-used", W, "NISTIR 6556 3.5.18", "the program shifts its zero with G92"},
    {"units-changed", N, "NISTIR 6556 4.3.3.3", "the units change within the program"},
    {"units-missing", W, practice, "the program moves before saying inch or mm"},
    {"compensation", E, "NISTIR 6556 3.5.10, B.5", "cutter compensation that cannot be done"},
    {"compensation-at-end", N, practice, "the program ends with cutter compensation on"},
    {"compensation-half-left", W, practice,
     "the first move behind cutter compensation gives one of X and Y, where the other is off its "
     "place"},
    {"compensation-at-home", W, practice, "a way home while cutter compensation is on"},
    {"probe", E, "NISTIR 6556 3.5.9", "a probe move that cannot be followed"},
    {"probe-assumed", W, "NISTIR 6556 3.5.9", "a probe move is taken to its end"},
    {"look-ahead-word", N, practice, "a word for the control's look-ahead, passed over"},
    {"tolerance-word", N, practice, "G64 with a tolerance P"},
    {"rotation", E, practice, "a coordinate rotation or polar word that cannot be used"},
    {"rotation-half-given", W, practice,
     "the first move of turned or polar coordinates gives one of two numbers"},
    {"scaling", E, practice, "scaling or mirroring that cannot be followed"},
    {"work-offset", E, practice, "a work offset that cannot be used"},
    {"further-offset", N, practice, "G54 with P, taken as G54.1 P"},
    {"home", E, practice, "a move home that cannot be followed"},
    // Cycles.
    {"cycle-depth-missing", E, "NISTIR 6556 3.5.16", "a cycle without its depth"},
    {"cycle-retract-missing", E, "NISTIR 6556 3.5.16", "a cycle without its R"},
    {"cycle-retract-below", E, "NISTIR 6556 3.5.16", "R lies below the depth"},
    {"cycle-repeats", E, "NISTIR 6556 3.5.16",
     "repeats that are not a whole number or not read so"},
    {"cycle-pecks", N, practice, "tapping by steps, which controls leave in different ways"},
    {"cycle-stored", N, practice, "a cycle with repeats 0: its words are kept, nothing is drilled"},
    {"cycle-word", E, "NISTIR 6556 3.5.16", "a word of the cycle is missing or out of range"},
    {"cycle-spindle", E, "NISTIR 6556 3.5.16", "the cycle needs the spindle turning another way"},
    {"cycle-feed-mode", E, "NISTIR 6556 3.5.16", "a cycle in inverse time feed"},
    {"circular-pocket", E, practice, "a circular pocket that cannot be followed"},
    {"pocket-way-in", W, practice, "the way into a circular pocket, which controls choose"},
    {"cycle-plane", N, practice, "a cycle in another plane than xy"},
    // Subprograms.
    {"subprogram-missing", E, practice, "no O number of the file has this subprogram"},
    {"subprogram-twice", W, practice, "an O number twice in one file: the first is called"},
    {"subprogram-depth", E, practice, "subprograms call each other too deep"},
    {"subprogram-count", E, practice, "more subprogram calls than are followed"},
    {"too-many-repeats", E, practice, "more lines and moves by repeats than are followed"},
    {"subprogram-return", N, practice, "M99 in the main program, taken as its end"},
    {"flow-word", E, practice, "a macro or flow word, which is not followed"},
    {"flow", E, practice, "a jump or loop that cannot be followed"},
    {"macro-call", E, practice, "a macro call that cannot be followed"},
});

}  // namespace

std::span<const CodeEntry> code_table() { return table; }

const CodeEntry* find_code(std::string_view code) {
  const auto it =
      std::find_if(table.begin(), table.end(), [&](const CodeEntry& e) { return e.code == code; });
  return it == table.end() ? nullptr : &*it;
}

bool Reporter::report(std::string_view code, std::string_view text, std::uint32_t line,
                      std::size_t column, std::size_t length, std::string what,
                      std::string remedy) {
  const CodeEntry* entry = find_code(code);
  Severity severity = entry == nullptr ? Severity::error : entry->severity;
  const bool of_standard = entry != nullptr && entry->section != practice;
  if (strict_ && of_standard && severity == Severity::note && code != "end-missing" &&
      code != "units-changed" && code != "word-unused" && code != "arc-offset-idle") {
    severity = Severity::error;
  }
  if (strict_ && code == "word-idle") severity = Severity::error;
  const std::string key = std::string(code) + ' ' + std::exchange(variant_, {});
  if (severity != Severity::error) {
    const auto [at, is_new] = seen_.try_emplace(key, Seen{line, line, 0});
    Seen& seen = at->second;
    if (!is_new && line > seen.last) {
      seen.last = line;
      ++seen.further;
    }
    if (!is_new && !every_place_) return true;
  }
  Diagnostic d;
  d.severity = severity;
  d.code = std::string(code);
  d.place = {file_, line, static_cast<std::uint32_t>(column) + 1,
             static_cast<std::uint32_t>(std::max<std::size_t>(length, 1))};
  d.what = std::move(what);
  if (of_standard) d.why = std::string(entry->section) + ": " + std::string(entry->meaning);
  d.remedy = std::move(remedy);
  if (column < 200) {
    d.excerpt = std::string(text.substr(0, 200));
    d.place.length = static_cast<std::uint32_t>(std::min<std::size_t>(
        d.place.length, d.excerpt.size() > column ? d.excerpt.size() - column : 1));
  }
  for (char& c : d.excerpt) {
    if (static_cast<unsigned char>(c) < 0x20 || static_cast<unsigned char>(c) >= 0x7F)
      c = c == '\t' ? ' ' : '?';
  }
  diagnostics_.add(std::move(d));
  if (severity == Severity::error) failed_ = true;
  return severity != Severity::error;
}

void Reporter::tell_of_further_lines() {
  if (every_place_) return;
  for (const auto& [key, seen] : std::exchange(seen_, {})) {
    const std::string_view code = std::string_view(key).substr(0, key.find(' '));
    const CodeEntry* const entry = find_code(code);
    const bool tells = entry != nullptr && entry->severity == Severity::warning;
    if (seen.further == 0 || !(tells || code == "word-unused")) continue;
    Diagnostic d;
    d.severity = Severity::note;
    d.code = "further-lines";
    d.place = {file_, seen.last, 0, 0};
    d.what = fmt::format(
        "what line {} was told of ({}) stands on {} further line{} at least, the "
        "last this one",
        seen.first, code, seen.further, seen.further == 1 ? "" : "s");
    diagnostics_.add(std::move(d));
  }
}

}  // namespace proveout::nc
