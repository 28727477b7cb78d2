#include "parser/nc/interpreter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <utility>

#include "parser/nc/modal_groups.h"
#include "parser/nc/suggestions.h"

namespace proveout::nc {

Interpreter::Interpreter(std::string_view text, const std::string& file_name,
                         const ReadOptions& options, Sink& sink, Diagnostics& diagnostics)
    : text_(text),
      options_(options),
      sink_(sink),
      reporter_(file_name, diagnostics, options.profile == Profile::strict, options.every_place),
      position_(options.start),
      table_d_(options.offsets_d),
      table_h_(options.offsets_h),
      reads_(options.profile == Profile::strict ? Reads::of_report() : options.reads) {
  lengths_are_steps_ = !reads_.is(Read::lengths_without_point, "whole-units");
  lengths_declared_ = reads_.declared(Read::lengths_without_point);
  feeds_are_steps_ = !reads_.is(Read::feeds_without_point, "whole-units");
  feeds_declared_ = reads_.declared(Read::feeds_without_point);
  context_.reporter = &reporter_;
  context_.settings = &block_.settings;
  context_.profile = options.profile;
  offsets_.fill(Vec3::Zero());
  for (const auto& [number, origin] : options.work_offsets) {
    if (number >= 1 && number <= 9) offsets_[static_cast<std::size_t>(number)] = origin;
    if (number > 100) further_offsets_[number] = origin;
  }
  settle_zero();
  state_.tool = options.tool_at_start;
  if (text_.substr(0, 3) == "\xEF\xBB\xBF") at_ = 3;  // byte-order mark
  while (!strict() && text_.size() > at_ && text_.back() == '\0') text_.remove_suffix(1);
}

namespace {

// Messages that rest on where the tool stands: of little worth behind an error.
bool rests_on_place(std::string_view code) {
  constexpr std::string_view codes[] = {"arc-radius-zero",       "arc-radius-mismatch",
                                        "arc-radius-same-point", "arc-radius-short",
                                        "arc-radius-rounded",    "corner",
                                        "compensation",          "position-unbounded",
                                        "cycle-retract-below",   "probe"};
  return std::find(std::begin(codes), std::end(codes), code) != std::end(codes);
}

}  // namespace

bool Interpreter::fail(std::string_view code, std::size_t column, std::size_t length,
                       std::string what, std::string remedy) {
  // A line that runs again is not told of again.
  const bool again = !calls_.empty() || jumped_;
  const std::uint64_t key = (std::uint64_t{line_} << 32) + column;
  if (reporter_.failed()) {
    if ((doubt_ & Doubt::place) != 0 && rests_on_place(code)) return false;
    if (again && failed_at_.contains(key)) return false;
  }
  const bool goes_on = reporter_.report(code, context_.text, line_, column, length, std::move(what),
                                        std::move(remedy));
  if (!goes_on && again) failed_at_.insert(key);
  return goes_on;
}

bool Interpreter::fail_at(const Block& block, char letter, std::string_view code, std::string what,
                          std::string remedy) {
  return fail(code, block.column[static_cast<std::size_t>(letter - 'A')], 1, std::move(what),
              std::move(remedy));
}

bool Interpreter::whole(const Block& block, char letter, int low, int high, int& value) {
  const double v = block[letter];
  if (std::abs(v - std::round(v)) > 1e-4) {
    return fail_at(block, letter, "value-not-whole",
                   fmt::format("{}{} must be a whole number", letter, v));
  }
  if (v < low || v > high) {
    return fail_at(block, letter, v < 0 ? "value-negative" : "value-out-of-range",
                   fmt::format("{}{} is out of range: {} to {}", letter, v, low, high));
  }
  value = static_cast<int>(std::lround(v));
  return true;
}

std::uint32_t Interpreter::state_index() {
  if (!told_ || !(*told_ == state_)) {
    if (told_) ++told_index_;
    told_ = state_;
  }
  return told_index_;
}

void Interpreter::event(EventKind kind, double value, std::string text) {
  if (corner_ && !corner_left_open()) return;
  if (reporter_.failed()) return;
  // What is still pending at a compensated corner comes before the wait.
  if (compensation_.on()) compensation_.pause([this](const Motion& m) { emit(m); });
  Event e;
  e.kind = kind;
  e.line = line_;
  e.state = state_index();
  e.value = value;
  e.text = std::move(text);
  sink_.event(e, state_);
}

bool Interpreter::run() {
  while (!ended_ && at_ < text_.size()) {
    if (!next_line()) {
      // Errors of reading are collected to the end; what they leave undefined is not carried out.
      continue;
    }
  }
  return finish_program();
}

bool Interpreter::finish_program() {
  if (corner_) corner_left_open();
  if (behind_ > 0 && calls_.empty() && !reporter_.failed()) tell_of_text_behind();
  for (; !calls_.empty(); calls_.pop_back()) {  // the program ends within them
    const Call& c = calls_.back();
    if (c.macro) tell_of_unread(c, parameters_.swap_use(c.use_before).read);
  }
  if (named_tool_ && named_tool_->number != first_tool_) tell_of_named_tool();
  if (compensation_.on() && !reporter_.failed()) {
    fail("compensation-at-end", 0, 1,
         "the program ends with cutter compensation on: the next one may begin beside its path",
         "post G40 before the end");
  }
  tell_of_numbers();
  compensated_at_end_ = fmt::format("{} {}", compensation_.on(), compensation_.beside());
  compensation_.end([this](const Motion& m) { emit(m); });
  if (!ended_) {
    if (percent_first_ && !percent_last_) {
      fail("percent-missing", 0, 1,
           "the file begins with % and ends without M2, M30 or another %: it may have been cut "
           "short");
    } else if (!percent_last_ && seen_text_ && !end_seen_) {
      fail(
          "end-missing", 0, 1,
          "the program has no M2 or M30: it may have been cut short; its last line is taken as its "
          "end");
    }
    event(EventKind::program_end);
  }
  reporter_.tell_of_further_lines();
  return !reporter_.failed();
}

// The next line without its end: LF, CR LF or a lone CR. What was found of each is kept, so that a
// file that lacks one of them is searched for it once, not once a line.
std::string_view Interpreter::cut_line() {
  const auto first_of = [this](char c, Found& found) {
    if (at_ < found.from || at_ > found.at) {
      const auto* p =
          static_cast<const char*>(std::memchr(text_.data() + at_, c, text_.size() - at_));
      found = {at_, p == nullptr ? text_.size() : static_cast<std::size_t>(p - text_.data())};
    }
    return found.at;
  };
  const std::size_t begin = at_;
  const std::size_t feed = first_of('\n', line_feed_);
  const std::size_t carriage = first_of('\r', carriage_return_);
  const std::size_t end = std::min(feed, carriage);
  const bool both = carriage + 1 == feed && feed < text_.size();
  at_ = std::min(text_.size(), end + (both ? 2 : 1));
  return text_.substr(begin, end - begin);
}

bool Interpreter::next_line() {
  cycle_moves_ = 0;
  const bool counted = !calls_.empty() || jumped_;
  if (counted && !count_repeated(1)) return false;
  if (options_.quick && trace_ == nullptr && usual_state() && quick_line()) return true;
  begin_ = at_;
  context_.text = cut_line();
  context_.line = ++line_;
  context_.begin = 0;
  if (counted && !count_repeated(context_.text.size() / bytes_a_line)) return false;
  block_.settings.clear();
  if (!strict() && flow_line()) return true;
  if (!read_block(context_, parameters_, block_)) {
    seen_text_ = seen_words_ = true;
    doubt_ = Doubt::everything;
    return false;
  }
  if (block_.percent) return percent_line();
  const bool words = block_.present != 0 || block_.g_count != 0 || block_.m_count != 0 ||
                     !block_.settings.empty() || block_.corner.size;
  if (!words && !block_.has_comment && !block_.program_number) return true;
  seen_text_ = true;
  seen_words_ = seen_words_ || words;
  if (block_.deleted && options_.block_delete) return true;
  return line(block_);
}

bool Interpreter::percent_line() {
  // Remarks, an O number or a second % before the first word do not end the program.
  if (!percent_first_ && (!seen_text_ || (!strict() && !seen_words_))) {
    percent_first_ = true;
    return true;
  }
  if (percent_first_ && !seen_words_ && !strict()) return true;
  if (!percent_first_) {
    if (strict())
      return fail("percent-alone", 0, 1, "a lone % where the file did not begin with one");
  }
  percent_last_ = true;
  behind_ = at_;
  at_ = text_.size();
  return true;
}

void Interpreter::set_parameters(const Block& block) {
  for (const Setting& s : block.settings) {
    if (s.value)
      parameters_.set(s.index, *s.value);
    else
      parameters_.unset(s.index);
  }
}

// After an error the tool's place is what the words say it would be, and nothing is given out: so
// that all mistakes are named at once, and none that only follow from another.
bool Interpreter::line(Block& block) {
  if (block.program_number) {
    fail("program-number", 0, 1, fmt::format("program number {}", block.o_number));
    if (calls_.empty() && moved_ && !strict() && !subprograms_found_) {
      fail("program-runs-on", 0, context_.text.size(),
           fmt::format("the program runs on into O{} without an end before it", block.o_number),
           "post M30 before it; another program begins here on some controls");
    }
    // Running into a subprogram's number from above ends the main program.
    if (calls_.empty() && moved_ && subprograms_found_) {
      at_ = text_.size();
      return true;
    }
  }
  decimals_ = std::max(decimals_, std::min(block.decimals, 9));
  const bool sorted = sort_codes(block);
  settle_numbers(block);
  axes_given_ = static_cast<std::uint8_t>(block.present >> ('X' - 'A') & 7u);
  end_seen_ = end_seen_ || m_stop_ == 2 || m_stop_ == 30;
  const bool traced = trace_ != nullptr && sorted && !reporter_.failed();
  if (traced) begin_trace(block);
  const auto own_line = line_;
  bool ok = sorted && execute(block);
  // A call has gone to the subprogram's line: what the call has not used is told of at its own.
  const auto behind_call = std::exchange(line_, own_line);
  ok = ok && account(block);
  if (ok) watch_numbers(block);
  line_ = behind_call;
  if (traced) end_trace();
  set_parameters(block);
  if (!ok) recover(block);
  if (reporter_.failed()) settle_doubt(block);
  return ok;
}

namespace {

// Two motion codes of which one only cancels: what posted preambles write (G0 ... G80).
// A cycle behind its G80 begins anew; before it it would not run at all.
bool harmless_pair(int first, int second) {
  return first == second || first == 800 || (second == 800 && first <= 30);
}

}  // namespace

bool Interpreter::settle_clash(const Block&, Code code, Group group) {
  const auto slot = static_cast<std::size_t>(group);
  const int old = g_[slot];
  if (!strict() &&
      (old == code.tenths || (group == Group::motion && harmless_pair(old, code.tenths)))) {
    fail("group-repeated-harmless", code.column, 2, "two codes of one group, taken together");
    if (old == 800) g_[slot] = code.tenths;
    return true;
  }
  return fail("group-repeated", code.column, 2,
              fmt::format("G{:g} and G{:g} on one line are of one modal group", old / 10.0,
                          code.tenths / 10.0));
}

bool Interpreter::settle_m(const Block&, Code code) {
  const int number = code.tenths / 10;
  int* slot = nullptr;
  switch (group_of_m(number)) {
    case MGroup::stopping:
      slot = &m_stop_;
      break;
    case MGroup::tool_change:
      slot = &m_tool_;
      break;
    case MGroup::spindle:
      slot = &m_spindle_;
      break;
    case MGroup::coolant:
      // M7 and M8 go together; M9 beside either leaves open which comes last.
      slot = m_coolant_[0] < 0 || strict() || (m_coolant_[0] == 9) != (number == 9)
                 ? &m_coolant_[0]
                 : &m_coolant_[1];
      break;
    case MGroup::subprogram:
      slot = &m_call_;
      break;
    case MGroup::override_switch:
      reporter_.of(std::to_string(number));
      return fail(
          "m-code-ignored", code.column, 2,
          fmt::format("M{} lets the operator's overrides act or not: it is passed over", number));
    case MGroup::passed_over:
      reporter_.of(std::to_string(number));
      return fail("m-code-ignored", code.column, 2,
                  fmt::format("M{} moves nothing and is passed over", number));
    case MGroup::unknown:
      if (std::find(reads_.m_without_motion.begin(), reads_.m_without_motion.end(), number) !=
          reads_.m_without_motion.end()) {
        reporter_.of(std::to_string(number));
        return fail("m-code-ignored", code.column, 2,
                    fmt::format("M{} moves nothing, as the job says, and is passed over", number));
      }
      return fail("m-code-unknown", code.column, 2, fmt::format("there is no M{}", number),
                  "take it out; or, where it moves nothing, list it in the job's "
                  "machine.reads.m_without_motion");
  }
  if (*slot >= 0 && *slot != number) {
    return fail("group-repeated", code.column, 2,
                fmt::format("M{} and M{} on one line are of one modal group", *slot, number));
  }
  *slot = number;
  m_column_ = code.column;
  return true;
}

// Words of smoothing, look-ahead and the like: they move nothing, unless axis words stand beside.
bool Interpreter::passes_over(const Block& block, Code code) {
  if (strict()) {
    return fail("g-code-unknown", code.column, 2,
                fmt::format("G{:g} is not of the report", code.tenths / 10.0));
  }
  if ((code.tenths == 50 || code.tenths == 51) && block.any("XYZIJKABC")) {
    return fail(
        "g-code-unknown", code.column, 2,
        fmt::format("G{:g} with axis words is a curve, which is not followed", code.tenths / 10.0),
        "post lines and arcs");
  }
  // What stands beside a code that moves something is that code's.
  if (g_[static_cast<std::size_t>(Group::once)] != 40) block.take_all("PE");
  if (code.tenths == 51) block.take_all("QR");
  reporter_.of(std::to_string(code.tenths));
  return fail("look-ahead-word", code.column, 2,
              fmt::format("G{:g} is passed over", code.tenths / 10.0));
}

// G70 and G71: inch and mm of ISO 6983, or holes on a circle and on an arc.
bool Interpreter::doubtful_code(const Block& block, Code code) {
  const auto slot = static_cast<std::size_t>(Group::units);
  if (reads_.is(Read::g70, "inch")) {
    if (g_[slot] >= 0) return settle_clash(block, code, Group::units);
    g_[slot] = code.tenths == 700 ? 200 : 210;
    g_column_[slot] = code.column;
    return true;
  }
  const auto doubtful = static_cast<std::size_t>(Group::doubtful);
  if (code.tenths == 700 && reads_.is(Read::g70, "bolt-circle")) {
    g_[doubtful] = code.tenths;
    g_column_[doubtful] = code.column;
    return true;
  }
  return fail("g-code-unknown", code.column, 3,
              fmt::format("G{} has more than one meaning: units, or holes on a line or circle",
                          code.tenths / 10),
              "post G20 or G21, or the holes; or say machine.reads.g70 in the job");
}

bool Interpreter::sort_codes(const Block& block) {
  g_.fill(-1);
  m_stop_ = m_tool_ = m_spindle_ = m_coolant_[0] = m_coolant_[1] = m_call_ = -1;
  bool ok = true;
  for (int i = 0; i < block.g_count; ++i) {
    const Code code = block.g[static_cast<std::size_t>(i)];
    const Group group = group_of_g(code.tenths);
    if (group == Group::unknown || group == Group::refused) {
      const std::string near = group == Group::unknown ? near_g_code(code.tenths) : std::string();
      ok = fail("g-code-unknown", code.column, 2,
                fmt::format("G{:g} is not understood", code.tenths / 10.0),
                near.empty() ? "post the program without it: passing over it would change the path"
                             : near) &&
           ok;
      continue;
    }
    if (group == Group::passed_over) {
      ok = passes_over(block, code) && ok;
      continue;
    }
    if (group == Group::doubtful) {
      ok = doubtful_code(block, code) && ok;
      continue;
    }
    const auto slot = static_cast<std::size_t>(group);
    if (g_[slot] >= 0) {
      ok = settle_clash(block, code, group) && ok;
      continue;
    }
    g_[slot] = code.tenths;
    g_column_[slot] = code.column;
  }
  for (int i = 0; i < block.m_count; ++i) {
    ok = settle_m(block, block.m[static_cast<std::size_t>(i)]) && ok;
  }
  return ok;
}

// NISTIR 6556 table 8.
bool Interpreter::execute(const Block& block) {
  if (block.has_comment) {
    std::string_view text = block.comment;
    const std::size_t begin = text.find_first_not_of(" \t");
    if (begin != std::string_view::npos && text.size() - begin >= 4) {
      std::string head;
      std::size_t i = begin;
      for (; i < text.size() && head.size() < 4; ++i) {
        if (text[i] != ' ' && text[i] != '\t')
          head += static_cast<char>(std::toupper(static_cast<unsigned char>(text[i])));
      }
      if (head == "MSG,") event(EventKind::message, 0, std::string(text.substr(i)));
    }
  }
  if (g_[static_cast<std::size_t>(Group::once)] == 650) return macro_call(block);
  feed_used_ = false;
  if (block.has('F') && block['F'] < 0)
    return fail_at(block, 'F', "value-negative", "a feed must not be negative");
  set_feed(block);
  if (block.take('D')) {
    int number = 0;
    if (!whole(block, 'D', 0, 99999, number)) return false;
    if (strict() && g_[static_cast<std::size_t>(Group::compensation)] < 410) {
      return fail_at(block, 'D', "word-idle", "D without G41 or G42");
    }
    if (compensation_.on() && g_[static_cast<std::size_t>(Group::compensation)] < 0 &&
        number != (d_word_ >= 0 ? d_word_ : state_.tool)) {
      return fail_at(block, 'D', "compensation",
                     "another D while cutter compensation is on: some controls take it at once",
                     "post G40, and G41 or G42 with the new D");
    }
    d_word_ = number;
  }
  if (!tool_words(block) || !spindle_and_coolant() || !dwell(block)) return false;
  if (!modes(block)) return false;
  if (block.has('F')) feed_scale_ = scale_;
  if (!shares_axis_words(block) || !once(block) || !rotary_words(block)) return false;
  if (takes_axis_words()) {
    if (g_[static_cast<std::size_t>(Group::once)] == 530) {
      return fail("g53-without-motion", g_column_[static_cast<std::size_t>(Group::once)], 3,
                  "G53 beside a code that takes the axis words moves nothing");
    }
    // A motion code beside them is in force from the next line on.
    const int motion_code = g_[static_cast<std::size_t>(Group::motion)];
    if (motion_code >= 0) motion_mode_ = motion_code;
    if (ends_cycle(motion_code)) {
      sticky_ = {};
      series_ = {};
    }
  } else if (!motion(block)) {
    return false;
  }
  const int holes = g_[static_cast<std::size_t>(Group::doubtful)];
  if (holes >= 0) {
    const Code code{static_cast<std::int16_t>(holes),
                    g_column_[static_cast<std::size_t>(Group::doubtful)]};
    if (!bolt_circle(block, code)) return false;
  }
  if (m_call_ >= 0 && m_stop_ >= 0) {
    return fail(
        "group-repeated", m_column_, 2,
        fmt::format("M{} and M{} on one line: which comes first is not known", m_stop_, m_call_),
        "give each a line of its own");
  }
  if (m_call_ >= 0) return call(block);
  stops(block);
  return true;
}

// A feed belongs to the mode it was given in: behind another G93, G94 or G95 there is none.
void Interpreter::set_feed(const Block& block) {
  const int code = g_[static_cast<std::size_t>(Group::feed_mode)];
  if (code >= 0) {
    const FeedMode mode = code == 930   ? FeedMode::inverse_time
                          : code == 950 ? FeedMode::per_turn
                                        : FeedMode::per_minute;
    if (mode != feed_mode_) {
      feed_mode_changed_ = feed_given_;
      feed_given_ = false;
      feed_ = 0;
    }
    feed_mode_ = mode;
  }
  if (!block.take('F')) return;
  feed_ = block['F'];
  feed_given_ = true;
  doubt_ &= ~Doubt::feed;
}

// G4, G10, G28, G30, G52, G92, G68 and the like: the line's axis words are theirs.
bool Interpreter::takes_axis_words() const {
  const auto code = [this](Group g) { return g_[static_cast<std::size_t>(g)]; };
  const int once_code = code(Group::once);
  return (once_code >= 0 && once_code != 530 && once_code < 921) || code(Group::rotation) == 680 ||
         code(Group::scaling) == 510 || code(Group::mirroring) >= 0;
}

// G10, G28, G30 and G92 take the line's axis words: G0 to G3 or a cycle beside them is an error of
// the report; in practice it says what is in force afterwards (G0 G91 G28 Z0).
bool Interpreter::shares_axis_words(const Block& block) {
  const int once_code = g_[static_cast<std::size_t>(Group::once)];
  const int motion_code = g_[static_cast<std::size_t>(Group::motion)];
  const bool takes = once_code == 100 || once_code == 120 || once_code == 130 || once_code == 280 ||
                     once_code == 300 || once_code == 920;
  if (!takes || motion_code < 0 || motion_code == 800 || !block.any("XYZ")) return true;
  return fail("axis-words-shared", g_column_[static_cast<std::size_t>(Group::motion)], 2,
              fmt::format("G{:g} and G{:g} on one line both use its axis words", motion_code / 10.0,
                          once_code / 10.0));
}

namespace {

// Codes that give coordinates another meaning: none may stand between the two moves of a corner.
constexpr Group frame_groups[] = {Group::rotation,  Group::polar,       Group::scaling,
                                  Group::mirroring, Group::work_offset, Group::tool_length};

}  // namespace

bool Interpreter::modes(const Block& block) {
  const auto code = [&](Group g) { return g_[static_cast<std::size_t>(g)]; };
  const bool frame_code = std::any_of(std::begin(frame_groups), std::end(frame_groups),
                                      [&](Group g) { return code(g) >= 0; });
  if (corner_ && (frame_code || takes_axis_words() || code(Group::once) >= 920))
    return corner_left_open();
  const int plane = code(Group::plane);
  if (plane >= 0 && !plane_mode(plane)) return false;
  if (code(Group::units) >= 0 && !units(code(Group::units))) return false;
  if (!rotation(block)) return false;
  for (const Group group : {Group::scaling, Group::mirroring}) {
    if (code(group) < 0) continue;
    const std::size_t column = g_column_[static_cast<std::size_t>(group)];
    if (strict()) return fail("scaling", column, 3, "the report has no scaling or mirroring");
    if (!(group == Group::scaling ? scaling(block, code(group), column)
                                  : mirroring(block, code(group), column)))
      return false;
  }
  if (code(Group::compensation) >= 0 && !compensation_mode(block)) return false;
  if (code(Group::tool_length) >= 0 && !length_offset(block)) return false;
  if (code(Group::work_offset) >= 0 && !work_offset(block)) return false;
  const int path = code(Group::path_control);
  if (path >= 0) {
    state_.path_control = path == 610   ? PathControl::exact_path
                          : path == 611 ? PathControl::exact_stop
                                        : PathControl::continuous;
    state_.path_tolerance = -1;
    if (path == 640 && g_[static_cast<std::size_t>(Group::once)] != 40 && block.take('P')) {
      if (block['P'] < 0)
        return fail_at(block, 'P', "value-negative", "a tolerance must not be negative");
      fail_at(block, 'P', "tolerance-word", "G64 with a path tolerance P");
      state_.path_tolerance = to_mm(block['P']);
    }
  }
  if (code(Group::distance) >= 0) absolute_ = code(Group::distance) == 900;
  if (code(Group::arc_distance) >= 0) absolute_arcs_ = code(Group::arc_distance) == 901;
  if (code(Group::cycle_return) >= 0) return_to_old_ = code(Group::cycle_return) == 980;
  return true;
}

bool interpret(std::string_view text, const std::string& file_name, const ReadOptions& options,
               Sink& sink, Diagnostics& diagnostics) {
  return Interpreter(text, file_name, options, sink, diagnostics).run();
}

}  // namespace proveout::nc
