// Reading an NC program (ISO 6983 style; RS274/NGC as NISTIR 6556 describes it) into motions.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/nc/motion.h"
#include "parser/nc/reads.h"

namespace proveout::nc {

enum class Profile : std::uint8_t {
  strict,  // the report's letter
  shop     // accepts what posted programs do, with a note each; default
};

// What the program cannot know by itself.
struct ReadOptions {
  Profile profile = Profile::shop;
  bool block_delete = false;  // the operator's switch: skip blocks that start with '/'
  Vec3 start = Vec3::Zero();  // mm, setup frame: the tool tip before the first block
  int tool_at_start = 0;      // number of the tool in the spindle, 0: none
  // 1..9 = G54..G59.3, 101.. = G54.1 P1.., to mm in the setup frame; absent: zero.
  std::map<int, Vec3> work_offsets;
  std::optional<Vec3> zero_in_machine;  // mm, machine frame: where the setup frame's origin lies
  std::map<int, double>
      tool_diameters;                  // mm by tool number, for cutter compensation without D table
  std::map<int, double> tool_lengths;  // mm by tool number, for G43
  std::map<int, OffsetEntry> offsets_d, offsets_h;  // the control's tables, by D and H word
  Reads reads;                                      // the strict profile reads Reads::of_report()
  bool every_place = false;  // notes and warnings at each of their places, not once a program
  // Lines and moves by subprograms and cycles together, besides thirty for each line of the file. A
  // few bytes may ask for billions, and each is held until it is cut: two millions take some 3 s
  // and 0.4 GB, and are twice what a long sculpting program has.
  std::uint64_t most_repeated = 2'000'000;
  bool quick = true;  // plain lines by the quick way; false only to prove both ways alike
};

// Receives what a program means, in order of execution. The simulator, the lister and the
// statistics counter are sinks of the same parser. References are valid during the call only.
class Sink {
 public:
  virtual ~Sink() = default;
  virtual void motion(const Motion& motion, const ModalState& state) = 0;
  virtual void event(const Event& event, const ModalState& state) = 0;
};

// Interprets text (bytes of the file called file_name in messages) and feeds sink. Constant memory
// but for what the sink keeps. Returns false if an error leaves the motion undefined; what came
// before has been delivered. All errors of the text are in diagnostics, capped.
bool interpret(std::string_view text, const std::string& file_name, const ReadOptions& options,
               Sink& sink, Diagnostics& diagnostics);

// As interpret, of a file. Memory does not grow with the file: a large one is mapped. More errors:
// those of open_text_file, file-empty, file-binary, and program-never-moves where nothing moves at
// all.
bool interpret_file(const std::filesystem::path& path, const ReadOptions& options, Sink& sink,
                    Diagnostics& diagnostics);

// A choice of Reads that was not declared, at the first line that depends on it.
struct Assumption {
  Read which = Read::wait_p;
  std::uint32_t line = 0;  // 1-based
  std::string text;        // "P0.5 of G82 is read in seconds"
};

// A program held whole.
struct Program {
  std::vector<std::string> files;  // files[0]: as given
  std::vector<Motion> motions;
  std::vector<Event> events;
  std::vector<ModalState> states;  // states[0]: the state at the start
  std::vector<std::vector<std::uint32_t>>
      chains;             // chains[0] empty; lines of the calls, outermost first
  int tool_at_start = 0;  // number of the tool in the spindle before the first block, 0: none
  std::vector<Assumption> assumed;  // choices nobody declared and this program depends on
};

// Reads and interprets the file at path. nullopt where an error leaves the motion undefined, or
// where nothing moves at all (code program-never-moves).
std::optional<Program> read_program(const std::filesystem::path& path, const ReadOptions& options,
                                    Diagnostics& diagnostics);

}  // namespace proveout::nc
