#include "sim/after/rewrite.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "parser/nc/word_places.h"

namespace proveout::after {
namespace {

using nc::ExecutedBlock;
using nc::FeedMode;

constexpr double no_feed = std::numeric_limits<double>::quiet_NaN();
constexpr double same = 1e-9;  // relative: two ways of working out one number

bool near(double a, double b) {
  return std::abs(a - b) <= same * std::max(std::abs(a), std::abs(b));
}

struct Number {
  double value = 0;
  std::string text;
};

std::string trimmed(std::string digits) {
  if (digits.find('.') == std::string::npos) return digits;
  while (digits.back() == '0') digits.pop_back();
  if (digits.back() == '.') digits.pop_back();
  return digits;
}

// The largest number not above value with at most so many decimals, and no more of them than a
// thousandth of the value needs.
Number rounded_down(double value, int most_decimals) {
  int decimals = 0;
  while (decimals < most_decimals && std::pow(10.0, -decimals) > 1e-3 * value) ++decimals;
  const double scale = std::pow(10.0, decimals);
  const std::string digits =
      fmt::format("{:.{}f}", std::floor(value * scale * (1 + same)) / scale, decimals);
  return {std::stod(digits), trimmed(digits)};
}

// As many as controls take in practice (no source): three for mm/min, one more for inches and for
// one over minutes, and again for feed per turn.
int decimals_of(const ExecutedBlock& b) {
  const int inch = b.unit == 1 ? 0 : 1;
  return b.feed_mode == FeedMode::per_minute ? 3 + inch
         : b.feed_mode == FeedMode::per_turn ? 4 + inch
                                             : 4;
}

class Rewriter {
 public:
  Rewriter(std::string_view text, std::string name, const nc::Reads& reads,
           const nc::TracedProgram& traced, const WantedFeeds& wanted, Diagnostics& diagnostics)
      : text_(text),
        name_(std::move(name)),
        reads_(reads),
        traced_(traced),
        wanted_(wanted),
        diagnostics_(diagnostics) {
    for (const ExecutedBlock& b : traced.blocks) {
      if (b.feed && !b.feed->computed) (b.feed->pointed ? pointed_feeds_ : bare_feeds_) = true;
    }
  }

  std::optional<Rewritten> run() {
    const std::size_t before = diagnostics_.errors();
    choose_speeds();
    if (diagnostics_.errors() == before) choose_feeds();
    if (diagnostics_.errors() != before) return std::nullopt;
    place_feeds();
    std::string text = written();
    if (diagnostics_.errors() != before) return std::nullopt;
    return Rewritten{std::move(text), std::move(feed_), std::move(rpm_)};
  }

 private:
  struct LineSpeed {
    double rpm = no_feed;  // what its S must be; not yet known: no_feed
    int tool = 0;          // whose motions asked for it
    bool wanted_two = false;
  };
  struct LineFeed {
    const ExecutedBlock* block = nullptr;  // its first execution with feed motions
    double least = std::numeric_limits<double>::infinity(), most = 0;  // what its motions want
    double as_it_is = 0;                                               // F in force at the first
    bool unchanged = true, other_modes = false;
    std::size_t executions = 0;
    std::uint32_t last_block = 0;
    Number number;
  };

  Place place(const ExecutedBlock& b, const std::optional<nc::WordPlace>& word) const {
    return {name_, b.line, word ? word->column + 1 : 1, word ? word->length : b.length};
  }
  void error(const char* code, const ExecutedBlock& b, const std::optional<nc::WordPlace>& word,
             std::string what, std::string remedy) {
    Diagnostic d;
    d.severity = Severity::error;
    d.code = code;
    d.place = place(b, word);
    d.what = std::move(what);
    d.remedy = std::move(remedy);
    d.excerpt = std::string(text_.substr(b.offset, b.length));
    diagnostics_.add(std::move(d));
  }
  bool feeds(std::size_t motion) const {
    return traced_.program.motions[motion].kind != nc::PathKind::rapid;
  }
  const nc::ModalState& state(std::size_t motion) const {
    return traced_.program.states[traced_.program.motions[motion].state];
  }

  // The S word in force for each feed motion gets the speed its tool wants. After a tool change the
  // speed is said again where the spindle is started, so that one tool's S never runs another.
  void choose_speeds() {
    const ExecutedBlock *word = nullptr, *change = nullptr, *start = nullptr;
    // In force where the operator's switches delete word.
    std::vector<const ExecutedBlock*> below;
    rpm_.assign(traced_.program.motions.size(), 0);
    std::size_t motion = 0;
    for (std::uint32_t b = 0; b < traced_.blocks.size(); ++b) {
      const ExecutedBlock& block = traced_.blocks[b];
      if (block.tool_change) {
        change = &block;
        start = nullptr;
      }
      if (block.speed) {
        const auto known = [&](const ExecutedBlock* each) { return each->line == word->line; };
        if (!block.deletable) {
          below.clear();
        } else if (word != nullptr && std::none_of(below.begin(), below.end(), known)) {
          below.push_back(word);
        }
        word = &block;
        change = nullptr;
      }
      if (block.spindle_start) start = &block;
      for (; motion < traced_.block_of_motion.size() && traced_.block_of_motion[motion] <= b;
           ++motion) {
        if (!feeds(motion)) continue;
        const bool none_since = word == nullptr || change != nullptr;
        const ExecutedBlock* commands = none_since && start != nullptr ? start : word;
        if (commands == nullptr) {
          speed_by_hand(motion, block);
          continue;
        }
        ask_speed(*commands, motion);
        if (commands != word) continue;
        for (const ExecutedBlock* each : below) ask_speed(*each, motion);
      }
    }
    for (auto& [line, speed] : speeds_) {
      if (speed.wanted_two || std::isnan(speed.rpm)) continue;
      speed_text_[line] = trimmed(fmt::format("{:.3f}", speed.rpm));
    }
  }

  // No S word and no M3 or M4 to put one beside: the speed is set at the machine.
  void speed_by_hand(std::size_t motion, const ExecutedBlock& block) {
    rpm_[motion] = state(motion).spindle_rpm;
    if (!by_hand_.insert(state(motion).tool).second) return;
    diagnostics_.warning("retime-speed-by-hand", {name_, block.line, 0, 0},
                         fmt::format("no S word and no M3 or M4 come before this line: the program "
                                     "cannot say the {:.0f} 1/min its feeds are made for",
                                     wanted_.rpm[motion]),
                         "set the spindle to that speed by hand, or post S and M3");
  }

  void ask_speed(const ExecutedBlock& commands, std::size_t motion) {
    LineSpeed& speed = speeds_[commands.line];
    const double rpm = wanted_.rpm[motion];
    rpm_[motion] = rpm;
    if (std::isnan(speed.rpm)) {
      speed.rpm = rpm;
      speed.tool = state(motion).tool;
      block_of_line_[commands.line] = &commands;
      return;
    }
    if (near(speed.rpm, rpm) || speed.wanted_two) return;
    speed.wanted_two = true;
    error("retime-speed-shared", commands, commands.speed,
          fmt::format("this speed is that of T{} and of T{}, which want {:.0f} and {:.0f} 1/min",
                      speed.tool, state(motion).tool, speed.rpm, rpm),
          "post an S word for each tool, beside its M3 or M4");
  }

  // F for the motion, as its block would have to say it: the word in force scaled by what the feed
  // changes, so that units and modes need no case of their own; per turn the speed counts too.
  double number_for(std::size_t motion, const ExecutedBlock& block) const {
    const nc::Motion& m = traced_.program.motions[motion];
    double number = block.feed_in_force * (wanted_.feed[motion] / m.feed);
    if (block.feed_mode == FeedMode::per_turn && rpm_[motion] > 0)
      number *= state(motion).spindle_rpm / rpm_[motion];
    return number;
  }

  void choose_feeds() {
    for (std::size_t i = 0; i < traced_.program.motions.size(); ++i) {
      if (!feeds(i)) continue;
      const std::uint32_t b = traced_.block_of_motion[i];
      const ExecutedBlock& block = traced_.blocks[b];
      const double number = number_for(i, block);
      if (block.tapping) hold_pitch(i, block);
      LineFeed& line = lines_[block.line];
      if (line.block == nullptr) {
        line.block = &block;
        line.as_it_is = block.feed_in_force;
      }
      line.other_modes = line.other_modes || line.block->feed_mode != block.feed_mode ||
                         line.block->unit != block.unit;
      line.unchanged =
          line.unchanged && near(number, line.as_it_is) && near(block.feed_in_force, line.as_it_is);
      line.least = std::min(line.least, number);
      line.most = std::max(line.most, number);
      if (line.executions == 0 || line.last_block != b) ++line.executions;
      line.last_block = b;
    }
    for (auto& [number, line] : lines_) settle(line);
  }

  // A tap advances by its pitch each turn: feed over speed may not change.
  void hold_pitch(std::size_t motion, const ExecutedBlock& block) {
    const nc::Motion& m = traced_.program.motions[motion];
    if (near(wanted_.feed[motion] * state(motion).spindle_rpm, m.feed * rpm_[motion])) return;
    if (!tapping_said_.insert(block.line).second) return;
    error("retime-tapping", block, block.feed,
          "this cycle taps: its feed over its speed is the thread's pitch and may not change",
          "leave this tool's feed and speed as they are");
  }

  void settle(LineFeed& line) {
    const ExecutedBlock& b = *line.block;
    if (line.unchanged) {
      line.number = {line.as_it_is, trimmed(fmt::format("{:.6f}", line.as_it_is))};
      if (!near(std::stod(line.number.text), line.as_it_is))
        line.number = rounded_down(line.as_it_is, 9);
      return;
    }
    if (line.other_modes) {
      error("retime-modes-shared", b, b.feed,
            "this line runs in more than one unit or feed mode: no one F is right for all",
            "post the subprogram once for each");
      return;
    }
    line.number = rounded_down(line.least, decimals_of(b));
    if (!(line.number.value >= 0.98 * line.least)) {
      error("retime-digits", b, b.feed,
            fmt::format("F{:.3g} is wanted here, which {} decimals cannot say", line.least,
                        decimals_of(b)),
            "post this move in feed per minute (G94)");
      return;
    }
    if (line.executions > 1 && line.most > 1.001 * line.least) {
      diagnostics_.note("retime-shared", place(b, b.feed),
                        fmt::format("this line runs {} times under loads that allow F{:.4g} to "
                                    "F{:.4g}: it gets the least",
                                    line.executions, line.least, line.most));
    }
  }

  // Which lines must say their F, the words in force followed through the program as it runs; again
  // until a whole round needs no further word, since one changes what is in force behind it.
  void place_feeds() {
    choose_idle();
    bool more = true;
    while (more) {
      more = false;
      double in_force = no_feed;
      std::size_t motion = 0;
      for (std::uint32_t b = 0; b < traced_.blocks.size(); ++b) {
        const ExecutedBlock& block = traced_.blocks[b];
        bool moves = false;
        for (; motion < traced_.block_of_motion.size() && traced_.block_of_motion[motion] <= b;
             ++motion)
          moves = moves || feeds(motion);
        const auto line = lines_.find(block.line);
        const bool said = block.feed || added_.contains(block.line);
        if (moves && line != lines_.end() && !said && in_force != line->second.number.value) {
          added_.insert(block.line);
          more = true;
        }
        if (!block.feed && !added_.contains(block.line)) continue;
        // With the operator's switch a deletable block is passed over, and its word with it.
        in_force = block.deletable ? no_feed : said_by(block);
      }
    }
    feeds_as_written();
  }

  double said_by(const ExecutedBlock& block) const {
    const auto line = lines_.find(block.line);
    if (line != lines_.end()) return line->second.number.value;
    const auto idle = idle_.find(block.line);
    return idle != idle_.end() && !idle->second.text.empty() ? idle->second.value
                                                             : block.feed->value;
  }

  // An F beside no feed motion (alone, on a rapid) becomes that of the first one behind it, where
  // that is the same each time; else it stays, and the motions say their own.
  void choose_idle() {
    const ExecutedBlock* waiting = nullptr;
    std::set<std::uint32_t> keep;
    std::size_t motion = 0;
    for (std::uint32_t b = 0; b < traced_.blocks.size(); ++b) {
      const ExecutedBlock& block = traced_.blocks[b];
      if (block.feed) waiting = lines_.contains(block.line) ? nullptr : &block;
      bool moves = false;
      for (; motion < traced_.block_of_motion.size() && traced_.block_of_motion[motion] <= b;
           ++motion)
        moves = moves || feeds(motion);
      if (!moves || waiting == nullptr) continue;
      const auto next = lines_.find(block.line);
      if (next != lines_.end()) {
        const bool like = waiting->feed_mode == block.feed_mode && waiting->unit == block.unit;
        const auto [known, is_new] = idle_.try_emplace(waiting->line, next->second.number);
        if (!like || (!is_new && known->second.value != next->second.number.value))
          keep.insert(waiting->line);
        block_of_line_.try_emplace(waiting->line, waiting);
      }
      waiting = nullptr;
    }
    for (const std::uint32_t line : keep) idle_[line] = {};
  }

  void feeds_as_written() {
    feed_.assign(traced_.program.motions.size(), 0);
    for (std::size_t i = 0; i < feed_.size(); ++i) {
      if (!feeds(i)) continue;
      const ExecutedBlock& block = traced_.blocks[traced_.block_of_motion[i]];
      const double number = lines_.at(block.line).number.value;
      feed_[i] = traced_.program.motions[i].feed * (number / block.feed_in_force);
      if (block.feed_mode == FeedMode::per_turn && state(i).spindle_rpm > 0)
        feed_[i] *= rpm_[i] / state(i).spindle_rpm;
    }
  }

  struct Edit {
    std::size_t at = 0, length = 0;
    std::string word;
  };

  // Whether a feed here needs its point: everywhere but where the program itself goes without, in
  // mm/min, and nobody said that the control counts steps. With a point all controls read it alike.
  bool needs_point(const ExecutedBlock& b, const std::optional<nc::WordPlace>& word) const {
    const bool bare = word && !word->computed ? !word->pointed : bare_feeds_ && !pointed_feeds_;
    return !bare || b.unit != 1 || b.feed_mode == FeedMode::per_turn ||
           !reads_.is(nc::Read::lengths_without_point, "whole-units") ||
           !reads_.is(nc::Read::feeds_without_point, "whole-units");
  }

  void edit(std::vector<Edit>& edits, const ExecutedBlock& b,
            const std::optional<nc::WordPlace>& word, char letter, Number number) {
    if (number.text.empty()) return;
    if (letter == 'F' && number.text.find('.') == std::string::npos && needs_point(b, word))
      number.text += '.';
    if (ends_in_a_sum(b) && (!word || word->value != number.value)) {
      error("retime-check-sum", b, word,
            fmt::format("this line would say {}{}, and ends in a sum over the bytes it has now: a "
                        "control that holds lines to their sums refuses it",
                        letter, number.text),
            "post the program without sums (*71 and the like)");
      return;
    }
    if (!word) {
      edits.push_back({b.offset + b.words_end, 0, fmt::format(" {}{}", letter, number.text)});
    } else if (word->value != number.value) {
      edits.push_back(
          {b.offset + word->column, word->length, fmt::format("{}{}", letter, number.text)});
    }
  }

  // '*' and digits behind the words: a sum, not the product of a setting.
  bool ends_in_a_sum(const ExecutedBlock& b) const {
    const std::string_view words = text_.substr(b.offset, b.words_end);
    const std::size_t star = words.find_last_not_of("0123456789");
    if (star == std::string_view::npos || words[star] != '*' || star + 1 == words.size())
      return false;
    return words.find('=') == std::string_view::npos || (star > 0 && words[star - 1] == ' ');
  }

  std::string written() {
    std::vector<Edit> edits;
    for (const auto& [line, speed] : speed_text_) {
      const ExecutedBlock& b = *block_of_line_.at(line);
      edit(edits, b, b.speed, 'S', {speeds_.at(line).rpm, speed});
    }
    for (const auto& [number, line] : lines_) {
      if (line.block->feed && !line.unchanged) tell_of_computed(*line.block);
      if (line.block->feed || added_.contains(number))
        edit(edits, *line.block, line.block->feed, 'F', line.number);
    }
    for (const auto& [number, idle] : idle_)
      edit(edits, *idle_block(number), idle_block(number)->feed, 'F', idle);
    // Where both words are added to one line, S comes first: the order they were put in.
    std::stable_sort(edits.begin(), edits.end(),
                     [](const Edit& a, const Edit& b) { return a.at < b.at; });
    std::string out;
    std::size_t at = 0;
    for (const Edit& e : edits) {
      out.append(text_, at, e.at - at);
      out += e.word;
      at = e.at + e.length;
    }
    out.append(text_.substr(at));
    return out;
  }

  // The first execution of a line whose F moves nothing.
  const ExecutedBlock* idle_block(std::uint32_t line) const {
    const auto found =
        std::find_if(traced_.blocks.begin(), traced_.blocks.end(),
                     [line](const ExecutedBlock& b) { return b.line == line && b.feed; });
    return &*found;
  }

  void tell_of_computed(const ExecutedBlock& b) {
    if (!b.feed->computed) return;
    diagnostics_.note("retime-computed", place(b, b.feed),
                      "this feed was worked out by the program; it is written out as a number");
  }

  std::string_view text_;
  std::string name_;
  const nc::Reads& reads_;
  bool bare_feeds_ = false, pointed_feeds_ = false;  // the program has such F words
  const nc::TracedProgram& traced_;
  const WantedFeeds& wanted_;
  Diagnostics& diagnostics_;
  std::map<std::uint32_t, LineSpeed> speeds_;  // by line of the word, or of the M3 or M4
  std::map<std::uint32_t, std::string> speed_text_;
  std::map<std::uint32_t, const ExecutedBlock*> block_of_line_;
  std::map<std::uint32_t, LineFeed> lines_;  // with feed motions
  std::map<std::uint32_t, Number> idle_;     // with F and without; no text: the word stays
  std::set<std::uint32_t> added_;            // lines that get an F they did not have
  std::set<std::uint32_t> tapping_said_;
  std::set<int> by_hand_;
  std::vector<double> feed_, rpm_;
};

// The first motion in which two readings differ in more than feed and state; nullopt: none.
std::optional<std::size_t> other_path(const nc::Program& a, const nc::Program& b) {
  const std::size_t both = std::min(a.motions.size(), b.motions.size());
  for (std::size_t i = 0; i < both; ++i) {
    const nc::Motion &m = a.motions[i], &n = b.motions[i];
    if (m.kind != n.kind || m.plane != n.plane || m.line != n.line || m.start != n.start ||
        m.end != n.end || m.centre != n.centre || m.sweep != n.sweep)
      return i;
  }
  if (a.motions.size() != b.motions.size()) return both;
  return std::nullopt;
}

// All of a state but the speed.
bool same_but_speed(nc::ModalState a, const nc::ModalState& b) {
  a.spindle_rpm = b.spindle_rpm;
  return a == b;
}

// Events but those that only change the speed of a turning spindle.
std::vector<const nc::Event*> lasting_events(const nc::Program& p) {
  std::vector<const nc::Event*> out;
  nc::SpindleTurn turn = nc::SpindleTurn::stopped;
  for (const nc::Event& e : p.events) {
    const nc::SpindleTurn now = p.states[e.state].turn;
    if (e.kind != nc::EventKind::spindle || now != turn) out.push_back(&e);
    turn = now;
  }
  return out;
}

std::optional<std::uint32_t> other_event(const nc::Program& a, const nc::Program& b) {
  const auto first = lasting_events(a), second = lasting_events(b);
  for (std::size_t i = 0; i < std::min(first.size(), second.size()); ++i) {
    const nc::Event &e = *first[i], &f = *second[i];
    if (e.kind != f.kind || e.line != f.line || e.before_motion != f.before_motion ||
        e.value != f.value || e.text != f.text ||
        !same_but_speed(a.states[e.state], b.states[f.state]))
      return e.line;
  }
  if (first.size() != second.size())
    return first.size() > second.size() ? first[second.size()]->line : second[first.size()]->line;
  return std::nullopt;
}

}  // namespace

bool reads_back(std::string_view text, const std::string& name, const nc::ReadOptions& options,
                const nc::Program& program, const std::vector<double>& feed,
                const std::vector<double>& rpm, Diagnostics& diagnostics) {
  const auto disagrees = [&](std::uint32_t line, std::string what) {
    diagnostics.error("retime-disagrees", {name, line, 0, 0},
                      "read back, the rewritten program " + std::move(what),
                      "nothing was written; this is a fault of the rewriting: report it");
    return false;
  };
  Diagnostics of_reading;
  const auto again = nc::read_traced(text, name, options, of_reading);
  if (!again) {
    const Diagnostic* first = nullptr;
    for (const Diagnostic& d : of_reading.all()) {
      if (d.severity == Severity::error && first == nullptr) first = &d;
    }
    return disagrees(first != nullptr ? first->place.line : 0,
                     "is refused: " + (first != nullptr ? first->what : std::string("no motion")));
  }
  const nc::Program& now = again->program;
  if (const auto i = other_path(program, now)) {
    const auto& motions = *i < program.motions.size() ? program.motions : now.motions;
    return disagrees(motions[*i].line, "moves otherwise");
  }
  if (const auto line = other_event(program, now))
    return disagrees(*line, "waits, or changes tool, spindle or coolant, otherwise");
  for (std::size_t i = 0; i < now.motions.size(); ++i) {
    const nc::Motion &m = program.motions[i], &n = now.motions[i];
    const nc::ModalState &was = program.states[m.state], &is = now.states[n.state];
    if (!same_but_speed(was, is)) return disagrees(m.line, "is in another state");
    if (m.kind == nc::PathKind::rapid) continue;
    if (!near(n.feed, feed[i]))
      return disagrees(m.line, fmt::format("feeds at {:.3f} mm/min, not {:.3f}", n.feed, feed[i]));
    if (!near(is.spindle_rpm, rpm[i]))
      return disagrees(m.line,
                       fmt::format("turns at {:.1f} 1/min, not {:.1f}", is.spindle_rpm, rpm[i]));
  }
  return true;
}

std::optional<Rewritten> rewrite(std::string_view text, const std::string& name,
                                 const nc::ReadOptions& options, const nc::Program& program,
                                 const WantedFeeds& wanted, Diagnostics& diagnostics) {
  Diagnostics of_reading;
  const auto traced = nc::read_traced(text, name, options, of_reading);
  if (!traced || other_path(program, traced->program) || other_event(program, traced->program)) {
    diagnostics.error("retime-changed", {name, 0, 0, 0},
                      "the file is not the program that was dry-run",
                      "leave the programs alone while this runs, and run it again");
    return std::nullopt;
  }
  auto made = Rewriter(text, name, options.reads, *traced, wanted, diagnostics).run();
  if (!made) return std::nullopt;
  for (std::size_t i = 0; i < program.motions.size(); ++i) {
    // What was written may fall short of what was wanted, never exceed it.
    if (program.motions[i].kind == nc::PathKind::rapid ||
        made->feed[i] <= wanted.feed[i] * (1 + same))
      continue;
    diagnostics.error("retime-disagrees", {name, program.motions[i].line, 0, 0},
                      fmt::format("the rewritten feed, {:.3f} mm/min, is above the {:.3f} wanted",
                                  made->feed[i], wanted.feed[i]),
                      "nothing was written; this is a fault of the rewriting: report it");
    return std::nullopt;
  }
  if (!reads_back(made->text, name, options, program, made->feed, made->rpm, diagnostics))
    return std::nullopt;
  return made;
}

}  // namespace proveout::after
