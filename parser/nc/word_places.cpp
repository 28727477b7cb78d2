#include "parser/nc/word_places.h"

#include "parser/nc/interpreter.h"

namespace proveout::nc {
namespace {

// The end of what comes before `end`, without the blanks a reader of expressions has passed.
std::uint32_t without_blanks(std::string_view line, std::uint32_t end) {
  while (end > 0 && (line[end - 1] == ' ' || line[end - 1] == '\t' || line[end - 1] == '\r')) --end;
  return end;
}

std::optional<WordPlace> place_of(const Block& block, char letter, std::string_view line) {
  if (!block.has(letter)) return std::nullopt;
  const auto k = static_cast<std::size_t>(letter - 'A');
  WordPlace place{block.column[k], without_blanks(line, block.end[k]) - block.column[k],
                  block.value[k], false, false};
  const std::string_view number = line.substr(place.column + 1, place.length - 1);
  place.computed = number.find_first_not_of("0123456789.+- \t") != std::string_view::npos;
  place.pointed = !place.computed && block.has_point(letter);
  return place;
}

}  // namespace

void Interpreter::begin_trace(const Block& block) {
  ExecutedBlock made;
  made.line = line_;
  made.offset = static_cast<std::size_t>(context_.text.data() - text_.data());
  made.length = static_cast<std::uint32_t>(context_.text.size());
  made.words_end = without_blanks(context_.text, block.words_end);
  // On the line of a macro call they are its arguments.
  if (g_[static_cast<std::size_t>(Group::once)] != 650) {
    made.feed = place_of(block, 'F', context_.text);
    made.speed = place_of(block, 'S', context_.text);
  }
  made.deletable = block.deleted;
  made.tool_change = m_tool_ == 6;
  made.spindle_start = m_spindle_ == 3 || m_spindle_ == 4;
  trace_->blocks.push_back(made);
}

// What is in force for the block's motions is known once it has been carried out.
void Interpreter::end_trace() {
  ExecutedBlock& made = trace_->blocks.back();
  made.feed_mode = feed_mode_;
  made.unit = scale_;
  made.feed_in_force = feed_;
  made.tapping = motion_mode_ == 840 || motion_mode_ == 740;
  made.probing = motion_mode_ >= 382 && motion_mode_ <= 385;
}

// The block that made a motion: the current one, or, where cutter compensation holds motions back,
// the last of the motion's own line.
std::uint32_t Interpreter::traced_block(const Motion& motion) const {
  std::size_t k = trace_->blocks.size();
  while (k > 0 && trace_->blocks[k - 1].line != motion.line) --k;
  return static_cast<std::uint32_t>(k > 0 ? k - 1 : trace_->blocks.size() - 1);
}

}  // namespace proveout::nc
