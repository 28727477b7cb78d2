// A program written plainly: what it means and nothing else. Absolute, mm, mm/min, one motion a
// block, cycles, offsets, rotations, compensation, subprograms and parameters resolved. Reading the
// text gives the same motions: the ends within 1e-8 mm, for it is written with nine decimals, each
// length and feed with its point.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "parser/nc/program.h"

namespace proveout::nc {

class PlainWriter : public Sink {
 public:
  // Text is handed on block by block, each with its line end.
  using Take = std::function<void(std::string_view block)>;
  // reads: how the control reads that is to read the text; all choices but that of waits give the
  // same text.
  explicit PlainWriter(Take take, const Reads& reads = {});
  void motion(const Motion& motion, const ModalState& state) override;
  void event(const Event& event, const ModalState& state) override;
  void finish();  // the program's end, if no event said so

 private:
  void settle(const ModalState& state);
  void block(const std::string& text);

  Take take_;
  Reads reads_;
  bool begun_ = false, ended_ = false;
  ModalState now_;
  bool path_control_written_ = false;
  Vec3 at_ = Vec3::Zero();
  double feed_ = -1;
};

// The whole program at once.
std::string plain_text(const Program& program, const Reads& reads = {});

// Calls sink for a kept program, in order of execution.
void replay(const Program& program, Sink& sink);

}  // namespace proveout::nc
