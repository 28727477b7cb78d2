#include "parser/nc/program.h"

#include <fmt/format.h>

#include <algorithm>

#include "parser/base/text_file.h"
#include "parser/nc/interpreter.h"
#include "parser/nc/program_text.h"
#include "parser/nc/word_places.h"

namespace proveout::nc {
namespace {

class Collector : public Sink {
 public:
  explicit Collector(Program& program) : program_(program) {}

  void motion(const Motion& motion, const ModalState& state) override {
    keep(motion.state, state);
    program_.motions.push_back(motion);
  }
  void event(const Event& event, const ModalState& state) override {
    keep(event.state, state);
    program_.events.push_back(event);
    program_.events.back().before_motion = program_.motions.size();
  }

 private:
  void keep(std::uint32_t index, const ModalState& state) {
    if (index >= program_.states.size()) program_.states.resize(index + 1);
    program_.states[index] = state;
  }
  Program& program_;
};

// Where a file shows that it is no text: at a NUL, or at the first of many control characters.
std::optional<std::size_t> first_not_of_text(std::string_view text) {
  const std::string_view head = text.substr(0, 65536);
  std::size_t odd = 0, first = 0;
  for (std::size_t i = 0; i < head.size(); ++i) {
    const auto u = static_cast<unsigned char>(head[i]);
    if (u == 0) {
      // Padding behind the end is no reason: some ways to a control write whole pages.
      if (text.find_first_not_of('\0', i) == std::string_view::npos) break;
      return i;
    }
    if (u >= 0x20 || u == '\n' || u == '\r' || u == '\t' || u == 0x1A || u == '\f') continue;
    if (odd++ == 0) first = i;
  }
  return odd * 50 > head.size() ? std::optional(first) : std::nullopt;
}

bool is_program_text(std::string_view text, const std::string& name, Diagnostics& diagnostics) {
  if (text.find_first_not_of(" \t\r\n%") == std::string_view::npos) {
    diagnostics.error("file-empty", {name, 0, 0, 0}, "the program has no blocks",
                      "check what was posted");
    return false;
  }
  if (const auto at = first_not_of_text(text)) {
    diagnostics.error("file-binary", place_in(name, text, *at), "this is no text, so no NC program",
                      "check the file");
    return false;
  }
  return true;
}

// Passes on, and knows whether anything moved.
class MovesAtAll : public Sink {
 public:
  explicit MovesAtAll(Sink& to) : to_(to) {}
  void motion(const Motion& motion, const ModalState& state) override {
    moves = moves || length(motion) > 0;
    to_.motion(motion, state);
  }
  void event(const Event& event, const ModalState& state) override { to_.event(event, state); }
  bool moves = false;

 private:
  Sink& to_;
};

// kept: what is kept besides the motions; trace: may both be nullptr.
bool carry_out_text(std::string_view text, const std::string& name, const ReadOptions& options,
                    Sink& sink, Diagnostics& diagnostics, Program* kept, TracedProgram* trace) {
  if (!is_program_text(text, name, diagnostics)) return false;
  MovesAtAll watched(sink);
  Interpreter interpreter(text, name, options, watched, diagnostics);
  if (trace != nullptr) interpreter.trace_into(*trace);
  const bool ok = interpreter.run();
  if (kept != nullptr) {
    kept->chains = interpreter.chains();
    kept->assumed = interpreter.assumed();
  }
  if (ok && !watched.moves) {
    diagnostics.error("program-never-moves", {name, 0, 0, 0},
                      "no block of this program moves the tool",
                      "check that the whole program was posted");
  }
  return ok && watched.moves;
}

}  // namespace

bool interpret_file(const std::filesystem::path& path, const ReadOptions& options, Sink& sink,
                    Diagnostics& diagnostics) {
  const auto file = open_text_file(path, "NC program", diagnostics);
  return file &&
         carry_out_text(file->bytes(), path.string(), options, sink, diagnostics, nullptr, nullptr);
}

std::optional<Program> program_of(std::string_view text, const std::string& name,
                                  const ReadOptions& options, Diagnostics& diagnostics) {
  Program program;
  program.files.push_back(name);
  program.states.emplace_back();
  program.tool_at_start = options.tool_at_start;
  Collector collector(program);
  if (!carry_out_text(text, name, options, collector, diagnostics, &program, nullptr))
    return std::nullopt;
  return program;
}

std::optional<Program> read_program(const std::filesystem::path& path, const ReadOptions& options,
                                    Diagnostics& diagnostics) {
  const auto file = open_text_file(path, "NC program", diagnostics);
  return file ? program_of(file->bytes(), path.string(), options, diagnostics) : std::nullopt;
}

std::optional<TracedProgram> read_traced(std::string_view text, const std::string& name,
                                         const ReadOptions& options, Diagnostics& diagnostics) {
  TracedProgram traced;
  traced.program.files.push_back(name);
  traced.program.states.emplace_back();
  traced.program.tool_at_start = options.tool_at_start;
  Collector collector(traced.program);
  if (!carry_out_text(text, name, options, collector, diagnostics, &traced.program, &traced))
    return std::nullopt;
  return traced;
}

}  // namespace proveout::nc
