#include "parser/base/diagnostic.h"

#include <algorithm>
#include <utility>

namespace proveout {

namespace {

// How many of the last kept are looked at for one that says less: a choice, so that no number of
// messages costs more than so many steps each.
constexpr std::size_t looked_at = 256;

// The last of the least severe among the last kept, where that is less than `severity`; else end.
std::vector<Diagnostic>::iterator less_than(Severity severity, std::vector<Diagnostic>& kept) {
  auto least = kept.end();
  for (std::size_t k = 0; k < std::min(looked_at, kept.size()); ++k) {
    const auto at = kept.end() - 1 - static_cast<std::ptrdiff_t>(k);
    if (at->severity < severity && (least == kept.end() || at->severity < least->severity))
      least = at;
    if (least != kept.end() && least->severity == Severity::note) break;
  }
  return least;
}

}  // namespace

// Where there is no room an error takes the place of a warning or note, and a warning that of a
// note: a limit must not hide why a file is refused behind what is only noted.
void Diagnostics::add(Diagnostic diagnostic) {
  if (diagnostic.severity == Severity::error) ++errors_;
  if (kept_.size() >= keep_at_most_) {
    ++dropped_;
    const auto room = less_than(diagnostic.severity, kept_);
    if (room == kept_.end()) return;
    kept_.erase(room);
  }
  kept_.push_back(std::move(diagnostic));
}

namespace {
Diagnostic make(Severity severity, std::string code, Place place, std::string what,
                std::string remedy) {
  Diagnostic d;
  d.severity = severity;
  d.code = std::move(code);
  d.place = std::move(place);
  d.what = std::move(what);
  d.remedy = std::move(remedy);
  return d;
}
}  // namespace

void Diagnostics::error(std::string code, Place place, std::string what, std::string remedy) {
  add(make(Severity::error, std::move(code), std::move(place), std::move(what), std::move(remedy)));
}
void Diagnostics::warning(std::string code, Place place, std::string what, std::string remedy) {
  add(make(Severity::warning, std::move(code), std::move(place), std::move(what),
           std::move(remedy)));
}
void Diagnostics::note(std::string code, Place place, std::string what, std::string remedy) {
  add(make(Severity::note, std::move(code), std::move(place), std::move(what), std::move(remedy)));
}

std::string to_text(const Diagnostic& d) {
  std::string text = d.place.file;
  if (d.place.line != 0) text += ':' + std::to_string(d.place.line);
  if (d.place.column != 0) text += ':' + std::to_string(d.place.column);
  if (!text.empty()) text += ": ";
  text += d.severity == Severity::error     ? "error: "
          : d.severity == Severity::warning ? "warning: "
                                            : "note: ";
  text += d.what + " [" + d.code + "]\n";
  if (!d.excerpt.empty()) {
    text += "    " + d.excerpt + '\n';
    if (d.place.column != 0) {
      const std::size_t marks = d.place.length == 0 ? 1 : d.place.length;
      text += "    " + std::string(d.place.column - 1, ' ') + std::string(marks, '^') + '\n';
    }
  }
  if (!d.why.empty()) text += "  why: " + d.why + '\n';
  if (!d.remedy.empty()) text += "  do:  " + d.remedy + '\n';
  return text;
}

}  // namespace proveout
