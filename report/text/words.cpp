#include "report/text/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace proveout::text {
namespace {

bool starts_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }

constexpr char32_t no_character = 0xFFFFFFFF;

struct Character {
  char32_t code = no_character;
  std::size_t bytes = 1;
};

// The character that begins there; no_character, a byte long, where it is no UTF-8 (RFC 3629: not
// the shortest form, a surrogate, above 10FFFF, cut short).
Character character_at(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char first = byte(at);
  if (first < 0x80) return {first, 1};
  const std::size_t bytes = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : 2;
  constexpr char32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
  if (first < 0xC2 || first > 0xF4 || at + bytes > text.size()) return {};
  char32_t code = first & (0x7Fu >> bytes);
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(at + i) & 0xC0u) != 0x80u) return {};
    code = (code << 6) | (byte(at + i) & 0x3Fu);
  }
  const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
  if (code < least[bytes] || code > 0x10FFFF || surrogate) return {};
  return {code, bytes};
}

// '?' for every character that is not kept.
template <class Kept>
std::string with_marks(std::string_view text, Kept&& kept) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const Character c = character_at(text, at);
    if (c.code != no_character && kept(c.code)) {
      out += text.substr(at, c.bytes);
    } else {
      out += '?';
    }
    at += c.bytes;
  }
  return out;
}

}  // namespace

std::string duration(double seconds) {
  constexpr double most = 1e11;  // whatever a damaged result says, it fits the whole numbers below
  seconds = std::clamp(std::isnan(seconds) ? 0 : seconds, 0.0, most);
  const long long s = std::llround(seconds);
  if (s < 60) return fmt::format("{} s", s);
  if (s < 3600) return fmt::format("{} min {:02} s", s / 60, s % 60);
  const long long minutes = std::llround(seconds / 60);
  return fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
}

std::string place(const Finding& f) {
  if (f.file.empty()) return f.detail == "uncut" ? "in no program" : "the job";
  if (f.line == 0) return f.file;
  if (f.last_line > f.line) return fmt::format("{}:{}-{}", f.file, f.line, f.last_line);
  return fmt::format("{}:{}", f.file, f.line);
}

std::string needs_in_words(const pipeline::Forecast& needs) {
  // No more digits than the forecast is worth.
  const double s = needs.seconds;
  const double unit = s < 10 ? 1 : s < 60 ? 10 : s < 600 ? 60 : 600;
  const std::string time = s < 1 ? "a second or so"
                                 : fmt::format("about {} (a third to three times that)",
                                               duration(std::ceil(s / unit) * unit));
  const std::string memory = needs.memory_mb < 1000
                                 ? fmt::format("{:.0f} MB", std::ceil(needs.memory_mb / 50) * 50)
                                 : fmt::format("{:.1f} GB", needs.memory_mb / 1000);
  return time + " and " + memory + " of memory";
}

std::string one_line(const Finding& f) {
  std::string out = fmt::format("{} {}", name(f.level), name(f.kind));
  if (!f.setup.empty()) out += " " + f.setup;
  if (f.tool != 0) out += fmt::format(" T{}", f.tool);
  if (!f.file.empty()) out += " " + place(f);
  out += " " + f.text;
  if (f.count > 1) out += fmt::format(" (x{})", f.count);
  return printable(out);
}

std::string wrapped(std::string_view text, std::size_t width, std::size_t indent) {
  const std::string margin(indent, ' ');
  std::string out, line;
  std::size_t at = 0;
  while (at < text.size()) {
    std::size_t end = text.find(' ', at);
    if (end == std::string_view::npos) end = text.size();
    const std::string_view word = text.substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    if (!line.empty() && indent + columns(line) + 1 + columns(word) > width) {
      out += margin + line + "\n";
      line.clear();
    }
    if (!line.empty()) line += ' ';
    line += word;
  }
  if (!line.empty()) out += margin + line + "\n";
  return out;
}

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), starts_character));
}

std::string shortened(std::string_view text, std::size_t width) {
  if (columns(text) <= width) return std::string(text);
  std::string out;
  std::size_t used = 0;
  for (char c : text) {
    if (starts_character(c) && ++used >= width) break;
    out += c;
  }
  return out + "…";
}

std::string left(std::string_view text, std::size_t width) {
  std::string out = shortened(text, width);
  out.append(width - columns(out), ' ');
  return out;
}

std::string right(std::string_view text, std::size_t width) {
  const std::string out = shortened(text, width);
  return std::string(width - columns(out), ' ') + out;
}

std::string printable(std::string_view text) {
  // UAX 9, table of explicit formatting characters: embeddings, overrides, isolates.
  const auto turns_round = [](char32_t c) {
    return (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
  };
  return with_marks(
      text, [&](char32_t c) { return c >= 0x20 && (c < 0x7F || c > 0x9F) && !turns_round(c); });
}

std::string xml_text(std::string_view text) {
  return with_marks(text, [](char32_t c) {
    return c == '\t' || c == '\n' || c == '\r' || (c >= 0x20 && c != 0xFFFE && c != 0xFFFF);
  });
}

const std::vector<std::string>& cautions() {
  static const std::vector<std::string> all = {
      "This checks the programs against what the job file declares. It cannot see the bench: a "
      "wrong "
      "tool, zero, blank or clamp there makes every figure wrong.",
      "Not modelled: lost steps, backlash, a loose collet or clamp, tool wear, heat, chip welding, "
      "warping, what the operator overrides. Forces and powers are rough, within a factor of two "
      "or "
      "so.",
      "Before metal: measure blank and stick-out, trace the outline above the work, run it in air, "
      "then with low rapids and a hand on the stop. Stay with the machine.",
      "Follow the machine's and the tools' manuals and local rules, and ask a qualified person "
      "where "
      "in doubt. Whoever presses start decides."};
  return all;
}

}  // namespace proveout::text
