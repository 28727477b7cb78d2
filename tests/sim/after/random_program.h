// Random NC programs, as shops post them and as they do not: inch and mm, feed per minute, per turn
// and inverse time, cycles, arcs, subprograms, parameters and expressions for feeds, F on rapids
// and alone, S in all its places, deletable blocks, letters in comments. Two tools of 6 and 4 mm,
// moves within 40 x 40 mm, 2 mm into a block whose top is at 0.
#pragma once

#include <fmt/format.h>

#include <cctype>
#include <cmath>
#include <random>
#include <string>

namespace proveout::after {

class RandomProgram {
 public:
  explicit RandomProgram(unsigned seed) : random_(seed) {
    inch_ = one_in(3);
    per_turn_ = one_in(5);
  }

  std::string text() {
    line(fmt::format("{} G90 {}", inch_ ? "G20" : "G21", per_turn_ ? "G95" : "G94"));
    if (one_in(2)) line("(F1 S2 IN A COMMENT) ; F3");
    line(fmt::format("#7={:g}", feed_number(between(200, 900), 9000)));
    const int tools = one_in(2) ? 2 : 1;
    for (int t = 1; t <= tools; ++t) {
      change_tool(t);
      const int stretches = 2 + pick(4);
      for (int k = 0; k < stretches; ++k) stretch();
      line(fmt::format("G0 Z{}", length(20)));
    }
    line("M30");
    if (called_) subprogram();
    return out_;
  }

 private:
  int pick(int n) { return static_cast<int>(random_() % static_cast<unsigned>(n)); }
  bool one_in(int n) { return pick(n) == 0; }
  double between(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random_);
  }
  void line(std::string words) {
    if (one_in(9)) words += one_in(2) ? " (F9 S9)" : " ; S7";
    out_ += words + (one_in(20) ? "\r\n" : "\n");
  }
  // mm as the program writes them.
  std::string length(double mm) const {
    return inch_ ? fmt::format("{:.4f}", mm / 25.4) : fmt::format("{:.3f}", mm);
  }
  double feed_number(double mm_min, double rpm) const {
    const double v = per_turn_ ? mm_min / rpm : mm_min;
    return std::stod(fmt::format("{:.4f}", inch_ ? v / 25.4 : v));
  }
  std::string feed_word() {
    const double v = feed_number(between(150, 1500), rpm_);
    switch (pick(6)) {
      case 0:
        return "F#7";
      case 1:
        return fmt::format("F[{:g}*2]", v / 2);
      case 2:
        return fmt::format("f {:g}", v);
      default:
        return fmt::format("F{:g}", v);
    }
  }

  void change_tool(int t) {
    rpm_ = t == 1 ? 9000 : 12000;
    const std::string speed = one_in(4) ? fmt::format("S[{}*100]", static_cast<int>(rpm_ / 100))
                                        : fmt::format("S{}", static_cast<int>(rpm_));
    switch (t == 1 ? pick(4) : pick(5)) {
      case 0:
        line(speed);
        line(fmt::format("T{} M6", t));
        line("M3");
        break;
      case 1:
        line(fmt::format("T{} M6 {}", t, speed));
        line("M3");
        break;
      case 2:
        line(fmt::format("T{} M6", t));
        line("M3");
        line(speed);
        break;
      case 3:
        line(fmt::format("T{} M6", t));
        line(speed + " M3");
        break;
      default:  // the second tool says no speed
        line(fmt::format("T{} M6", t));
        line("M3");
        break;
    }
    line(fmt::format("G0 Z{} X0 Y0{}", length(5), one_in(3) ? " " + feed_word() : ""));
    if (one_in(3)) line(feed_word());
    line(fmt::format("G1 Z{} {}", length(2), feed_word()));
    x_ = y_ = 0;
  }

  void stretch() {
    switch (pick(6)) {
      case 0:
        return drill();
      case 1:
        return call();
      case 2:
        return inverse_time();
      default:
        return contour();
    }
  }

  void contour() {
    line(fmt::format("G1 Z{}{}", length(-between(0.2, 2)), one_in(2) ? " " + feed_word() : ""));
    const int moves = 2 + pick(6);
    for (int k = 0; k < moves; ++k) {
      const double x = between(-20, 20), y = between(-20, 20);
      const std::string feed = one_in(3) ? " " + feed_word() : "";
      if (one_in(4)) {
        // Half a turn: the centre midway.
        line(fmt::format("G{} X{} Y{} I{} J{}{}", 2 + pick(2), length(x), length(y),
                         length((x - x_) / 2), length((y - y_) / 2), feed));
      } else {
        line(fmt::format("{}G1 X{} Y{}{}", one_in(12) ? "/" : "", length(x), length(y), feed));
        // Where the switch is on the place is another; only straight moves follow those.
        if (out_.rfind("\n/") != std::string::npos && out_.rfind("\n/") > out_.size() - 60)
          line(fmt::format("X{} Y{}", length(x), length(y)));
      }
      x_ = x;
      y_ = y;
    }
    line(fmt::format("G0 Z{}", length(5)));
  }

  void drill() {
    const bool peck = one_in(2);
    line(fmt::format("G{} {} X{} Y{} Z{} R{}{} {}", one_in(2) ? 98 : 99, peck ? "G83" : "G81",
                     length(between(-20, 20)), length(between(-20, 20)), length(-2), length(1),
                     peck ? " Q" + length(0.8) : "", feed_word()));
    for (int k = pick(3); k > 0; --k)
      line(fmt::format("X{} Y{}", length(x_ = between(-20, 20)), length(y_ = between(-20, 20))));
    line("G80");
    line(fmt::format("G0 Z{} X{} Y{}", length(5), length(x_), length(y_)));
  }

  void inverse_time() {
    line(fmt::format("G1 Z{} {}", length(-between(0.2, 1)), feed_word()));
    line("G93");
    for (int k = 1 + pick(3); k > 0; --k) {
      const double x = between(-20, 20), y = between(-20, 20);
      const double way = std::max(0.5, std::hypot(x - x_, y - y_));
      line(fmt::format("G1 X{} Y{} F{:.3f}", length(x), length(y), between(150, 1500) / way));
      x_ = x;
      y_ = y;
    }
    line(fmt::format("{} F{:g}", per_turn_ ? "G95" : "G94", feed_number(300, rpm_)));
    line(fmt::format("G0 Z{}", length(5)));
  }

  void call() {
    called_ = true;
    line(fmt::format("G0 X0 Y0 Z{}", length(between(-1, 1))));
    if (one_in(2)) line(feed_word());
    line(fmt::format("#3={:g}", feed_number(between(200, 900), rpm_)));
    line(one_in(3) ? "M98 P100 L2" : "M98 P100");
    line(fmt::format("G90 G0 Z{}", length(5)));
    x_ = y_ = 0;
  }

  void subprogram() {
    line("O100");
    line(fmt::format("G91 G1 X{} {}", length(4), one_in(2) ? "F#3" : ""));
    line(fmt::format("Y{}{}", length(4), one_in(2) ? " " + feed_word() : ""));
    line(fmt::format("X-{} Y-{}", length(4), length(4)));
    line("G90");
    line("M99");
  }

  std::mt19937 random_;
  bool inch_ = false, per_turn_ = false, called_ = false;
  double rpm_ = 9000, x_ = 0, y_ = 0;
  std::string out_;
};

inline std::string random_nc(unsigned seed) { return RandomProgram(seed).text(); }

// The bytes of an NC program without its F and S words, which may be numbers, parameters or
// expressions; an own walk, not the reader's.
inline std::string without_feeds(const std::string& text) {
  std::string out;
  int comment = 0;
  bool behind_semicolon = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i], letter = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    if (c == '\n') behind_semicolon = false;
    if (c == '(' && !behind_semicolon) ++comment;
    if (c == ';' && comment == 0) behind_semicolon = true;
    if (comment == 0 && !behind_semicolon && (letter == 'F' || letter == 'S')) {
      std::size_t k = i + 1;
      while (k < text.size() && text[k] == ' ') ++k;
      if (k < text.size() && text[k] == '[') {
        k = text.find(']', k) + 1;
      } else {
        while (k < text.size() && (std::isdigit(static_cast<unsigned char>(text[k])) ||
                                   text[k] == '.' || text[k] == '#'))
          ++k;
      }
      while (!out.empty() && out.back() == ' ') out.pop_back();
      i = k - 1;
      continue;
    }
    if (c == ')' && !behind_semicolon) --comment;
    out += c;
  }
  // A word alone on its line leaves its spaces with neither side.
  std::string tight;
  for (const char c : out) {
    if (c != ' ') tight += c;
  }
  return tight;
}

}  // namespace proveout::after
