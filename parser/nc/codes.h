// The messages of the NC reader: stable codes of our own, each with the standard's section. One
// table; the list in docs/language.md is checked against it.
#pragma once

#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>

#include "parser/base/diagnostic.h"

namespace proveout::nc {

struct CodeEntry {
  std::string_view code;
  Severity severity;         // in the shop profile; notes and warnings of it are errors in strict
  std::string_view section;  // where the standard speaks of it, e.g. "NISTIR 6556 3.5.3"
  std::string_view meaning;  // one line
};
std::span<const CodeEntry> code_table();
const CodeEntry* find_code(std::string_view code);

// Turns (code, line, column) into diagnostics with excerpt. Notes and warnings are given once a
// code; of warnings and of words nothing uses it is said at the end how many further lines have
// them.
class Reporter {
 public:
  // every_place: notes and warnings at each of their places.
  Reporter(std::string file, Diagnostics& diagnostics, bool strict, bool every_place = false)
      : file_(std::move(file)),
        diagnostics_(diagnostics),
        strict_(strict),
        every_place_(every_place) {}

  // column: 0-based byte in text; length in bytes. Returns true where reading may go on with this
  // block.
  bool report(std::string_view code, std::string_view text, std::uint32_t line, std::size_t column,
              std::size_t length, std::string what, std::string remedy = {});
  bool failed() const { return failed_; }
  // The next note or warning is given once for each of these, not once a code: which letter, which
  // choice.
  void of(std::string_view variant) { variant_ = variant; }
  // Once, behind the last line: what was told of at its first line and stands on others too.
  void tell_of_further_lines();

 private:
  std::string file_;
  Diagnostics& diagnostics_;
  bool strict_, every_place_;
  bool failed_ = false;
  std::string variant_;
  // Of a code and variant. Lines that run again, by loops and calls, count once; so do lines that a
  // jump back reaches first, so the count of further ones is the least it can be.
  struct Seen {
    std::uint32_t first = 0, last = 0;  // lines
    std::uint64_t further = 0;
  };
  std::map<std::string, Seen, std::less<>> seen_;
};

}  // namespace proveout::nc
