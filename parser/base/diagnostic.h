// What a reader of NC programs, job files or meshes has to say about its input: where, what, why,
// and what to do. Libraries collect these; only the executable's main prints them or chooses an
// exit code.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace proveout {

enum class Severity : std::uint8_t { note, warning, error };

// line and column are 1-based; 0 means the file as a whole. length counts bytes from column.
struct Place {
  std::string file;
  std::uint32_t line = 0;
  std::uint32_t column = 0;
  std::uint32_t length = 0;
};

struct Diagnostic {
  Severity severity = Severity::error;
  std::string code;  // stable, ours, documented in docs/, e.g. "arc-without-centre"
  Place place;
  std::string what;     // what is wrong, one sentence without a full stop
  std::string why;      // what the standard or the job file format says; may be empty
  std::string remedy;   // what to do; may be empty
  std::string excerpt;  // the line of input the place points into; may be empty
};

// Collects diagnostics up to a cap; counts all of them.
class Diagnostics {
 public:
  explicit Diagnostics(std::size_t keep_at_most = 200) : keep_at_most_(keep_at_most) {}

  void add(Diagnostic diagnostic);
  void error(std::string code, Place place, std::string what, std::string remedy = {});
  void warning(std::string code, Place place, std::string what, std::string remedy = {});
  void note(std::string code, Place place, std::string what, std::string remedy = {});

  bool has_errors() const { return errors_ != 0; }
  std::size_t errors() const { return errors_; }
  std::size_t dropped() const { return dropped_; }  // counted but not kept
  const std::vector<Diagnostic>& all() const { return kept_; }

 private:
  std::vector<Diagnostic> kept_;
  std::size_t keep_at_most_;
  std::size_t errors_ = 0;
  std::size_t dropped_ = 0;
};

// "file:line:column: error: what [code]", then the excerpt with a caret, why and remedy, each on
// its own line, broken at 80 columns. No colour.
std::string to_text(const Diagnostic& diagnostic);

}  // namespace proveout
