// Any bytes as an NC program, in both profiles: no crash, motions join end to start, stay finite,
// every message lies inside the text, the quick way through plain lines says what the full reader
// says, and every word counts: another number in one of them makes another program, or the word is
// reported.
#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <string>
#include <string_view>
#include <vector>

#include "parser/nc/interpreter.h"
#include "parser/nc/program.h"

namespace {

using namespace proveout;

void must(bool held) {
  if (!held) std::abort();
}

struct Watch : nc::Sink {
  bool any = false;
  std::size_t motions = 0;
  double sum = 0;  // of all ends, feeds, lines and events: both ways of reading must add up alike
  std::uint32_t ended_at = 0;  // line of the program's end; 0: none
  Vec3 at = Vec3::Zero();
  void motion(const nc::Motion& m, const nc::ModalState&) override {
    must(m.start.allFinite() && m.end.allFinite() && m.centre.allFinite() &&
         std::isfinite(m.sweep));
    must(std::isfinite(m.feed) && m.feed >= 0 && m.line >= 1);
    must((m.start - at).norm() < 1e-3 || !any);
    any = true;
    at = m.end;
    // An arc ends where its centre, start and sweep say, within what rounding allows.
    if (m.kind == nc::PathKind::arc) {
      const double r = nc::arc_radius(m);
      must((nc::point_at(m, 0.999999) - m.end).norm() <= 0.02 + 0.02 * r + 1e-5 * nc::length(m));
    }
    ++motions;
    sum = sum * 0.75 + m.end.x() + 3 * m.end.y() + 5 * m.end.z() + m.feed + m.line + m.state;
    if (m.kind == nc::PathKind::arc)
      sum += m.centre.x() + 3 * m.centre.y() + 5 * m.centre.z() + m.sweep;
  }
  void event(const nc::Event& e, const nc::ModalState&) override {
    must(std::isfinite(e.value));
    sum = sum * 0.75 + e.value + 7 * static_cast<int>(e.kind);
    if (e.kind == nc::EventKind::program_end) ended_at = e.line;
  }
};

// What a program up to here makes of the machine, and where it was told of a line.
struct Outcome {
  bool ok = false, called = false;
  std::size_t motions = 0;
  double sum = 0;
  std::uint32_t ended_at = 0;
  std::string modes;
  Diagnostics diagnostics;
};

void carry_out(std::string_view text, nc::Profile profile, Outcome& out) {
  nc::ReadOptions options;
  options.profile = profile;
  options.tool_diameters = {{0, 3}, {1, 6}, {2, 4}};
  options.most_repeated = 50000;
  options.every_place = true;
  Watch sink;
  nc::Interpreter interpreter(text, "fuzz.nc", options, sink, out.diagnostics);
  out.ok = interpreter.run();
  out.called = interpreter.chains().size() > 1;
  out.motions = sink.motions;
  out.sum = sink.sum;
  out.ended_at = sink.ended_at;
  out.modes = interpreter.modes_in_words();
}

bool told_of(const Outcome& out, std::uint32_t line, std::size_t column) {
  if (out.diagnostics.dropped() > 0) return true;
  for (const Diagnostic& d : out.diagnostics.all()) {
    if (d.place.line != line || d.place.column == 0) continue;
    if (d.code == "look-ahead-word" || d.code == "line-too-long") return true;
    if (column + 1 >= d.place.column && column < d.place.column - 1 + d.place.length) return true;
  }
  return false;
}

// Texts that jump, call, skip or stop: there a line may not run at all.
bool may_pass_lines_by(std::string_view text) {
  std::string plain;
  for (const char c : text) {
    if (c == ' ' || c == '\t') continue;
    if (std::strchr("/(;%O:#[\r", std::toupper(static_cast<unsigned char>(c))) != nullptr)
      return true;
    plain += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  for (const char* flow : {"GO", "IF", "DO", "END"}) {
    if (plain.find(flow) != std::string::npos) return true;
  }
  for (std::size_t i = 0; i + 1 < plain.size(); ++i) {
    if (plain[i] != 'M' && plain[i] != 'G') continue;
    std::size_t k = i + 1;
    while (k < plain.size() && (plain[k] == '0' || plain[k] == '+')) ++k;
    const std::string_view number = std::string_view(plain).substr(k);
    if (plain[i] == 'M' ? number.starts_with("9") : number.starts_with("65")) return true;
  }
  return false;
}

// One word of one line, drawn by the bytes themselves: with a half more, what comes up to that
// line's end must come out differently, or one of the two is told of there.
void every_word_counts(std::string_view text, nc::Profile profile) {
  if (text.size() > 2000 || may_pass_lines_by(text)) return;
  std::uint64_t hash = 1469598103934665603u;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211u;
  std::vector<std::size_t> words;
  for (std::size_t i = 0; i + 1 < text.size(); ++i) {
    // EQ, GT, LT and AND in front of a number are no words.
    if (i > 0 && std::isalpha(static_cast<unsigned char>(text[i - 1])) != 0) continue;
    if (std::strchr("XYZIJKRPQLFSTDHxyzijkrpqlfstdh", text[i]) != nullptr && text[i] != '\0' &&
        text[i + 1] >= '0' && text[i + 1] <= '9')
      words.push_back(i);
  }
  if (words.empty()) return;
  const std::size_t at = words[hash % words.size()];
  const std::size_t line_end = std::min(text.find('\n', at), text.size());
  const std::size_t line_begin = text.rfind('\n', at) + 1;
  std::size_t end = at + 1;
  while (end < line_end && text[end] >= '0' && text[end] <= '9') ++end;
  if (end - at > 6 || (end < line_end && std::strchr(". \t", text[end]) != nullptr)) return;
  const std::string upto(text.substr(0, line_end));
  std::string other = upto;
  other.insert(end, ".5");
  const auto line = static_cast<std::uint32_t>(
      std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n') + 1);
  Outcome a, b;
  carry_out(upto, profile, a);
  if (!a.ok || a.called || a.ended_at < line) return;  // the line is not carried out
  carry_out(other, profile, b);
  must(!b.ok || a.motions != b.motions || a.sum != b.sum || a.modes != b.modes ||
       told_of(a, line, at - line_begin) || told_of(b, line, at - line_begin));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  std::size_t lines = 1;
  for (char c : text) lines += c == '\n' || c == '\r' ? 1 : 0;
  for (nc::Profile profile : {nc::Profile::shop, nc::Profile::strict}) {
    nc::ReadOptions options;
    options.profile = profile;
    options.tool_diameters = {{0, 3}, {1, 6}, {2, 4}};
    options.most_repeated = 50000;
    Watch sink;
    Diagnostics diagnostics;
    nc::interpret(text, "fuzz.nc", options, sink, diagnostics);
    options.quick = false;
    Watch full;
    Diagnostics full_diagnostics;
    nc::interpret(text, "fuzz.nc", options, full, full_diagnostics);
    must(full.motions == sink.motions && full.sum == sink.sum);
    must(full_diagnostics.all().size() == diagnostics.all().size());
    for (const auto& d : diagnostics.all()) {
      must(d.place.line <= lines + 1);
      must(!d.code.empty() && !d.what.empty());
      to_text(d);
    }
    const char* asked = std::getenv("PROVEOUT_FUZZ_WORDS");
    if (asked == nullptr || std::strcmp(asked, "0") != 0) every_word_counts(text, profile);
  }
  return 0;
}
