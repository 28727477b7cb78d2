// Carries out blocks in the order NISTIR 6556 table 8 gives, and tells the sink what moves.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <unordered_set>
#include <vector>

#include "parser/nc/block.h"
#include "parser/nc/compensation.h"
#include "parser/nc/modal_groups.h"
#include "parser/nc/program.h"
#include "parser/nc/word_places.h"

namespace proveout::nc {

// Below it (mm/min, choice) a move that lasts longer (min, choice) is taken for a slip: a lost
// digit, or a feed per turn in a mode per minute.
inline constexpr double crawling_feed = 10, long_move = 60;

class Interpreter {
 public:
  Interpreter(std::string_view text, const std::string& file_name, const ReadOptions& options,
              Sink& sink, Diagnostics& diagnostics);

  // Before run(): blocks and the motions they make are recorded there; it outlives this.
  void trace_into(TracedProgram& trace) { trace_ = &trace; }
  // Runs the whole program; false where an error left the motion undefined.
  bool run();

  const std::vector<std::vector<std::uint32_t>>& chains() const { return chains_; }
  const std::vector<Assumption>& assumed() const { return assumed_; }

  // Everything a word may have changed besides motions and events, in words: what no motion and no
  // line of this shows, a word did not do. For tests.
  std::string modes_in_words() const;

 private:
  struct Call {               // a subprogram in progress
    std::size_t back_to = 0;  // offset behind the calling line
    std::uint32_t back_line = 0;
    std::string_view text;  // of the calling line
    std::size_t entry = 0;
    std::uint32_t entry_line = 0;
    int repeats = 1, repeats_left = 0;
    std::uint32_t chain_before = 0;
    std::size_t loops_before = 0;
    bool macro = false;  // G65: local parameters of its own
    Parameters::Locals arguments, locals_before;
    Parameters::Use use_before;
    std::vector<std::pair<char, std::size_t>> given;  // arguments' letters and their columns
  };
  struct Loop {  // WHILE .. DO in progress
    int number = 0;
    std::size_t at = 0, end_at = 0;  // offset of its line, and behind its END's
    std::uint32_t line = 0, end_line = 0;
  };
  struct Label {  // a line that begins with N, O or ':' and a number
    int number = 0;
    bool program = false;  // O or ':'
    std::size_t at = 0;
    std::uint32_t line = 0;  // how many lines end before it
  };
  struct PendingCorner {  // a straight move whose end is to be rounded or chamfered
    Motion motion;
    ModalState state;
    double size = 0;  // mm
    bool chamfer = false;
    std::string_view text;
    std::uint32_t line = 0;
    std::size_t column = 0;
  };
  // What an error has left in doubt: messages that rest on it alone would be mistaken.
  struct Doubt {
    static constexpr unsigned place = 7, feed = 8, tool = 16, mode = 32, everything = 63;
  };
  struct Sticky {  // words a cycle remembers
    std::optional<double> retract, depth, peck, dwell, i, j, k;
    bool retract_absolute = true, depth_absolute = true;  // G90 or G91 where they were given
    double retract_level = 0, depth_level = 0;            // what they meant there, mm
  };
  // Cycles that follow each other without G0 to G3 or G80 between them.
  struct Series {
    bool going = false;
    Plane plane = Plane::xy;
    double level = 0;  // along the plane's normal where the tool stood before them, setup frame, mm
  };
  struct WordKinds {  // bit by letter
    std::uint32_t lengths = 0, angles = 0;
  };
  struct WordAt {
    std::string_view text;  // its line
    std::uint32_t line = 0;
    std::size_t column = 0, length = 0;  // bytes; length 0: there is none
    double value = 0;                    // as written
    char letter = '\0';
  };
  struct Numbers {  // whole ones with and without a point, where nobody said how those are read
    WordAt first;   // without a point
    bool angle = false, inch = false;  // of the first
    WordAt shown;                      // with a point that a whole number need not have
    WordAt huge;                       // without a point, too large for what its word may be
    bool huge_inch = false;
    std::uint32_t last_line = 0;  // a line that runs again counts once
    std::uint64_t lines = 0;      // that have one without a point
    // Words that are not 0: of X, Y and Z, and of all.
    std::uint64_t bare_places = 0, padded_places = 0, bare = 0, padded = 0;
  };
  struct NamedTool {  // by a T word that no M6 has followed yet
    int number = 0;
    std::string_view text;
    std::uint32_t line = 0;
    std::size_t column = 0;
  };

  // The line loop (interpreter.cpp).
  bool next_line();
  std::string_view cut_line();
  // Lines of plain straight moves (interpreter_quick.cpp).
  bool usual_state() const;
  bool quick_line();
  bool percent_line();
  bool line(Block& block);
  bool sort_codes(const Block& block);
  bool settle_clash(const Block& block, Code code, Group group);
  bool settle_m(const Block& block, Code code);
  bool execute(const Block& block);
  void begin_trace(const Block& block);
  void end_trace();
  std::uint32_t traced_block(const Motion& motion) const;
  bool modes(const Block& block);
  bool shares_axis_words(const Block& block);
  bool takes_axis_words() const;
  bool passes_over(const Block& block, Code code);
  bool doubtful_code(const Block& block, Code code);
  bool finish_program();
  void set_parameters(const Block& block);
  void set_feed(const Block& block);
  // Numbers without a decimal point (interpreter_numbers.cpp).
  WordKinds word_kinds(const Block& block) const;
  void settle_numbers(Block& block);
  void settle_feed(Block& block, bool inch);
  void watch_numbers(const Block& block);
  void keep_huge(const Block& block, std::uint32_t lengths);
  static std::uint32_t not_zero(const Block& block, std::uint32_t set);
  WordAt leftmost(const Block& block, std::uint32_t set) const;
  void tell_of_arguments(const Block& block);
  void tell_of_numbers();
  bool written_by_whole_units() const;
  void warn_of_number(const WordAt& word, bool inch, bool angle, const std::string& why);
  bool bare_is_plain(bool length, bool feed) const;
  bool beyond_use(char letter, double value) const;
  // Whether the program's manner with points is not settled yet: the first words tell it, and long
  // programs are read no slower for it.
  bool manner_open() const {
    constexpr std::uint64_t enough = 2000;
    return numbers_.bare_places + numbers_.padded_places < enough;
  }
  // Words of this line: of X, Y and Z, and of all.
  void count_numbers(int bare_places, int padded_places, int bare, int padded) {
    if (line_ <= numbers_.last_line) return;
    numbers_.last_line = line_;
    numbers_.lines += bare > 0 ? 1 : 0;
    if (!manner_open()) return;
    numbers_.bare_places += static_cast<std::uint64_t>(bare_places);
    numbers_.padded_places += static_cast<std::uint64_t>(padded_places);
    numbers_.bare += static_cast<std::uint64_t>(bare);
    numbers_.padded += static_cast<std::uint64_t>(padded);
  }
  // Words that nothing on the line has used (interpreter_words.cpp).
  bool account(const Block& block);
  // What a word has left in force, told where something depends on it.
  void name_tool(const Block& block, int number);
  void tell_of_named_tool();
  void watch_length();
  void tell_of_length(const Block& block);
  void tell_of_half_a_place(const Block& block);
  void tell_of_half_an_exit(const Block& block, const Vec3& beside);
  bool rotary_words(const Block& block);
  bool rotary_at_home(const Block& block);
  double seconds_of(const Block& block, char letter, Read which);
  void tell_of_long_wait(const Block& block, char letter, Read which, double seconds);
  // Notes that the program depends on a choice nobody declared.
  void assume(Read which, std::size_t column, std::size_t length, std::string text);
  void recover(const Block& block);
  void settle_doubt(const Block& block);

  // Waits, tools, offsets (interpreter_modes.cpp).
  bool tool_words(const Block& block);
  bool spindle_and_coolant();
  bool dwell(const Block& block);
  double seconds_in_x(const Block& block);
  bool units(int code);
  bool compensation_mode(const Block& block);
  std::optional<double> offset_diameter(const Block& block, std::size_t column);
  bool length_offset(const Block& block);
  bool offset_owner(const Block& block, int number, const OffsetEntry* entry, char letter);
  static int owner_of(const std::map<int, OffsetEntry>& table, int number);
  bool others_take_p(const Block& block) const;
  bool work_offset(const Block& block);
  bool tool_table(const Block& block, int kind);
  bool local_shift(const Block& block);
  // Turned, scaled and mirrored coordinates (interpreter_frames.cpp).
  bool plane_mode(int code);
  bool rotation(const Block& block);
  bool scaling(const Block& block, int code, std::size_t column);
  bool mirroring(const Block& block, int code, std::size_t column);
  bool frame_may_change(std::size_t column, std::string_view what);
  bool means_the_same_by_increments(std::string_view code, std::size_t column,
                                    std::string_view what);
  bool mirrored_in(Plane plane) const;
  std::optional<double> plane_factor(Plane plane) const;
  bool once(const Block& block);
  bool home(const Block& block, bool second);
  bool set_offsets(const Block& block);
  bool shift_zero(const Block& block, int code);
  void stops(const Block& block);

  // Motion (interpreter_motion.cpp).
  bool motion(const Block& block);
  void tell_of_units();
  bool straight(const Block& block, bool rapid);
  bool machine_move(const Block& block, bool rapid);
  bool arc(const Block& block, bool clockwise);
  bool arc_by_radius(const Block& block, Motion& m, double radius, bool clockwise);
  bool arc_by_centre(const Block& block, Motion& m, bool clockwise, bool full_turn);
  bool probe(const Block& block);
  std::optional<double> feed_for(const Block& block, double length);
  double watched(const Block& block, double length, double feed);
  Vec3 target(const Block& block, bool& any) const;
  bool give(const Block& block, const Motion& motion);
  bool along(const Motion& motion, bool by_radius = false);
  bool corner_of(const Block& block, PendingCorner& corner);
  bool round_corner(Motion& next);
  bool corner_left_open();
  bool in_reach(const Block& block, const Vec3& p);
  static bool within_reach(const Vec3& p);
  void emit(Motion motion);
  void emit_straight(const Vec3& to, double feed, bool rapid, const Block* words = nullptr);
  Vec3 left_beside() const;

  // Cycles (interpreter_cycles.cpp).
  bool cycle(const Block& block, int code);
  bool cycle_at(const Block& block, int code, const Vec3& place, double retract, double depth,
                double clear, double feed);
  bool cycle_levels(const Block& block, const Vec3& now, double& retract, double& depth);
  double level_before_series();
  bool cycle_repeats(const Block& block, int code, int& repeats);
  void cycle_words(const Block& block, int code);
  bool bolt_circle(const Block& block, Code code);
  void to_level(double at, double feed, bool rapid);
  void turn_spindle(SpindleTurn turn);
  void peck(double retract, double depth, double step, double feed, bool full_retract);
  void peck_tapping(double retract, double depth, double step, double feed);

  // Round pockets (interpreter_pocket.cpp).
  bool circular_pocket(const Block& block);
  bool pocket_turns(const Block& block, double first, double last, double step, double feed,
                    bool clockwise);

  // Subprograms (interpreter_calls.cpp).
  bool call(const Block& block);
  bool macro_call(const Block& block);
  bool come_back(const Block& block);
  bool enter(const Block& block, std::size_t entry, std::uint32_t entry_line, int repeats,
             const Parameters::Locals* arguments);
  bool go_back(bool& ended);
  void tell_of_unread(const Call& call, std::uint64_t read);
  // Jumps and loops (interpreter_flow.cpp). flow_line: whether the line was of flow alone.
  bool flow_line();
  bool if_line(std::size_t at);
  void while_line(std::size_t at, bool condition);
  void end_line(std::size_t at);
  bool condition(std::size_t& at, bool& held);
  bool jump_to(std::size_t at);
  const Label* label(int number, std::size_t inside, std::size_t column);
  void find_labels();
  bool loop_end(Loop& loop, std::size_t column);
  void find_subprograms();
  void tell_of_second(int number, std::size_t at, std::uint32_t before);
  void tell_of_text_behind();
  void tell_of_programs_behind(std::size_t at, std::uint32_t lines_above);
  // Counts n more lines or moves that stand for others; false, with an error, once there are too
  // many.
  bool count_repeated(std::uint64_t n);
  bool count_cycle_moves(std::uint64_t n);
  void tell_of_repeats();

  bool fail(std::string_view code, std::size_t column, std::size_t length, std::string what,
            std::string remedy = {});
  bool fail_at(const Block& block, char letter, std::string_view code, std::string what,
               std::string remedy = {});
  bool whole(const Block& block, char letter, int low, int high, int& value);
  void event(EventKind kind, double value = 0, std::string text = {});
  std::uint32_t state_index();
  double to_mm(double v) const { return v * scale_; }
  const Vec3& origin() const { return zero_; }  // of program coordinates, setup frame
  const Vec3& offset_of(int work_offset) const;
  Vec3& offset_of(int work_offset);
  void settle_zero();
  Vec3 to_program(const Vec3& setup) const;  // mm
  Vec3 from_program(const Vec3& program) const;
  int normal_axis() const;
  // Whether the code of group 1 takes a cycle's words out of force.
  static bool ends_cycle(int code) { return code >= 0 && (code < 730 || code == 800); }
  bool strict() const { return options_.profile == Profile::strict; }

  std::string_view text_;
  const ReadOptions& options_;
  Sink& sink_;
  Reporter reporter_;
  Parameters parameters_;
  Block block_;
  LineContext context_;
  Compensation compensation_;

  std::size_t at_ = 0;      // offset of the next line
  std::size_t behind_ = 0;  // offset of what follows the program's end; 0: not ended by a block
  struct Found {            // the first of a character at or behind `from`
    std::size_t from = 1, at = 0;
  };
  Found line_feed_, carriage_return_;
  std::uint32_t line_ = 0;  // of the current one
  bool percent_first_ = false, percent_last_ = false, seen_text_ = false;
  bool end_seen_ = false;  // M2 or M30 behind an error, so not carried out
  bool ended_ = false, moved_ = false, units_said_ = false;

  // Codes of the current line, by group; -1: none.
  std::array<int, 24> g_{};
  std::array<std::uint16_t, 24> g_column_{};
  int m_stop_ = -1, m_tool_ = -1, m_spindle_ = -1, m_coolant_[2] = {-1, -1}, m_call_ = -1;
  std::size_t m_column_ = 0;

  // Modal state.
  ModalState state_;
  std::optional<ModalState> told_;
  std::uint32_t told_index_ = 0;
  int motion_mode_ = 10;  // tenths of the G code; 800: none
  Plane plane_ = Plane::xy;
  bool absolute_ = true, absolute_arcs_ = false, return_to_old_ = true;
  FeedMode feed_mode_ = FeedMode::per_minute;
  double feed_ = 0;  // as written, in file units
  bool feed_given_ = false;
  double feed_scale_ = 1;  // mm per unit where it was given
  double scale_ = 1;       // mm per unit
  int next_tool_ = 0;
  bool tool_word_ = false;
  std::optional<NamedTool> named_tool_;
  int first_tool_ = 0;           // the first an M6 put into the spindle
  bool length_used_ = false;     // a G43 with a tool's length has been in force
  bool length_doubt_ = false;    // the length in force is not that of the tool: told at a move in z
  unsigned half_a_place_ = 0;    // bits: X, Y of the first move behind G68 or G16 still to be given
  Vec3 position_;                // setup frame, mm: as programmed, before compensation
  std::uint8_t axes_given_ = 0;  // by the line: bit by axis
  std::optional<Vec3> tool_at_;  // end of the last motion given out
  std::array<Vec3, 10> offsets_{};       // 1..9, setup frame, mm
  std::map<int, Vec3> further_offsets_;  // 101.. = G54.1 P1..
  Vec3 zero_ = Vec3::Zero();             // all of the offsets and shifts in force together
  Vec3 local_shift_ = Vec3::Zero();      // G52
  double tip_shift_ = 0;                 // mm: wear of the H in force
  std::map<int, OffsetEntry> table_d_, table_h_;
  int d_word_ = -1;                                        // last D, -1: none
  std::array<double, 6> rotary_{};                         // A B C U V W as programmed
  Vec3 shift_ = Vec3::Zero(), kept_shift_ = Vec3::Zero();  // G92, mm
  bool rotated_ = false, polar_ = false;
  double rotation_ = 0;                  // rad
  Vec3 rotation_centre_ = Vec3::Zero();  // program coordinates, mm
  bool scaling_ = false, mirroring_ = false;
  Vec3 factor_ = Vec3::Ones(), about_ = Vec3::Zero();  // program coordinates, mm
  std::optional<PendingCorner> corner_;
  int decimals_ = 0;        // most places behind the point of any X, Y, I, J, R so far
  int straight_mode_ = 10;  // the G0 or G1 in force before a cycle
  bool feed_used_ = false, feed_mode_changed_ = false;
  Sticky sticky_;
  Series series_;
  double old_level_ = 0;    // where G98 goes back to, along the plane's normal, program, mm
  double other_level_ = 0;  // where it goes back to on other controls

  bool compensated_ = false;  // cutter compensation has been on
  // Of reads_, for the quick way.
  bool lengths_are_steps_ = false, lengths_declared_ = false;
  bool feeds_are_steps_ = false, feeds_declared_ = false;
  WordKinds bare_;  // of the line's words those without a point
  Numbers numbers_;
  bool feed_told_ = false;  // how an F without a point is read

  TracedProgram* trace_ = nullptr;  // nullptr: nothing is recorded

  Reads reads_;
  std::vector<Assumption> assumed_;
  std::array<bool, static_cast<std::size_t>(Read::count)> assumed_once_{};
  unsigned doubt_ = 0;                           // of Doubt
  std::unordered_set<std::uint64_t> failed_at_;  // in repeats each error once: line and column
  bool seen_words_ = false;
  std::string compensated_at_end_;  // for modes_in_words
  std::size_t begin_ = 0;           // offset of the current line
  bool jumped_ = false;             // some line has run twice: lines are counted
  std::vector<Loop> loops_;
  std::unordered_map<std::size_t, std::pair<std::size_t, std::uint32_t>> loop_ends_;
  std::vector<Label> labels_;
  bool labels_found_ = false;
  std::vector<Call> calls_;
  std::map<std::size_t, std::size_t> called_;  // offsets: where calls entered, behind their M99
  std::uint64_t calls_made_ = 0;
  static constexpr std::uint64_t bytes_a_line = 100;  // a longer line counts as several
  std::uint64_t spelled_out_ = 0;  // what the file's own length allows besides; 0: not looked at
  std::uint64_t repeated_ = 0;     // lines and moves that subprograms and cycles made
  std::uint64_t cycle_moves_ = 0;  // of those, by this block's cycle
  bool subprograms_found_ = false;
  std::unordered_map<int, std::pair<std::size_t, std::uint32_t>> subprograms_;
  std::vector<std::vector<std::uint32_t>> chains_{{}};
  std::map<std::vector<std::uint32_t>, std::uint32_t> chain_numbers_;  // all but the empty one
  std::uint32_t chain_ = 0;
};

}  // namespace proveout::nc
