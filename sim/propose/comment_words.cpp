#include "sim/propose/comment_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <initializer_list>
#include <set>

#include "sim/propose/comment_tokens.h"

namespace proveout::propose {
namespace {

using Words = std::initializer_list<std::string_view>;

bool is_one_of(std::string_view word, Words of) {
  return std::find(of.begin(), of.end(), word) != of.end();
}
bool begins_with(std::string_view word, Words of) {
  return std::any_of(of.begin(), of.end(), [&](auto w) { return word.starts_with(w); });
}

// Numbers in words, as far as flutes go.
int in_words(std::string_view word) {
  constexpr std::string_view names[] = {"ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX"};
  for (int i = 0; i < 6; ++i)
    if (word == names[i]) return i + 1;
  return word == "SINGLE" ? 1 : word == "DOUBLE" ? 2 : 0;
}

double mm_of(const Token& t, bool in_inches) {
  const bool inch =
      t.fraction || t.unit == TokenUnit::inch || (t.unit == TokenUnit::none && in_inches);
  return t.value * (inch && t.unit != TokenUnit::mm ? mm_per_inch : 1.0);
}

bool is_tool_size(double mm) { return mm > 0.01 && mm < 500; }

class ToolReader {
 public:
  ToolReader(const std::string& comment, bool in_inches)
      : in_inches_(in_inches), t_(tokens_of(comment)) {}

  ToolWords read() {
    number();
    shape();
    flutes();
    named_sizes();
    angles();
    pairs();
    diameter();
    if (!w_.shape && w_.corner_radius && w_.diameter && *w_.corner_radius > 0) by_corner();
    if (w_.shape == job::ToolShape::flat) by_corner();
    if (w_.shape == job::ToolShape::ball && !w_.diameter && w_.corner_radius)
      w_.diameter = 2 * *w_.corner_radius;
    return w_;
  }

 private:
  const Token* next(std::size_t i) const { return i + 1 < t_.size() ? &t_[i + 1] : nullptr; }
  bool has_word(Words words) const {
    return std::any_of(t_.begin(), t_.end(),
                       [&](const Token& t) { return !t.number && is_one_of(t.word, words); });
  }
  bool has_beginning(Words words) const {
    return std::any_of(t_.begin(), t_.end(),
                       [&](const Token& t) { return !t.number && begins_with(t.word, words); });
  }

  void number() {
    for (Token& t : t_) {
      if (!t.number || t.taken) continue;
      const bool tool = is_one_of(t.word, {"T", "TOOL"}) && !t.point && !t.fraction &&
                        t.unit == TokenUnit::none && t.behind.empty();
      if (!tool || t.value < 1 || t.value > 99999) continue;
      if (!w_.number) w_.number = static_cast<int>(t.value);
      t.taken = true;
    }
    // "TOOL 3": the word and the number apart.
    for (std::size_t i = 0; i + 1 < t_.size(); ++i) {
      Token& n = t_[i + 1];
      if (t_[i].number || t_[i].word != "TOOL" || !n.number || n.taken || n.point || n.fraction ||
          n.unit != TokenUnit::none || !n.word.empty() || !n.behind.empty())
        continue;
      if (!w_.number) w_.number = static_cast<int>(n.value);
      n.taken = true;
    }
  }

  void shape() {
    using enum job::ToolShape;
    std::vector<job::ToolShape> found;
    const bool slot_drill = slot_drill_words();
    const auto add = [&](job::ToolShape s) {
      if (std::find(found.begin(), found.end(), s) == found.end()) found.push_back(s);
    };
    if (has_beginning({"BALL"})) add(ball);
    if (has_beginning({"BULL", "TORIC", "TOROID"})) add(bull);
    const bool taper_angle = std::any_of(
        t_.begin(), t_.end(), [](const Token& t) { return t.number && t.word == "TAPER"; });
    if (has_beginning({"TAPER"}) && !taper_angle) add(taper);
    if (has_word({"VEE", "VBIT", "VGROOVE"}) ||
        has_beginning({"ENGRAV", "CHAMFER", "COUNTERSINK"}) || vee_words())
      add(vee);
    if (has_beginning({"DRILL", "SPOT"}) && !slot_drill) add(drill);
    const bool flat_words = slot_drill ||
                            has_word({"FLAT", "SQUARE", "ENDMILL", "FACEMILL", "UPCUT", "DOWNCUT",
                                      "COMPRESSION", "SLOTTER"}) ||
                            end_mill_words();
    const bool drills = std::find(found.begin(), found.end(), drill) != found.end();
    if (has_word({"TAP", "TAPPING", "THREADMILL"}) && !drills)
      w_.other_shape = "a tap or thread mill";
    if (has_beginning({"REAM"})) w_.other_shape = "a reamer";
    if (has_word({"DOVETAIL", "TSLOT", "LOLLIPOP", "BORING"})) w_.other_shape = "a form of its own";
    w_.names_cutter = !found.empty() || flat_words || !w_.other_shape.empty() ||
                      has_word({"MILL", "CUTTER", "NOSE", "TOOL", "BIT"});
    w_.hss = has_word({"HSS", "COBALT"});
    w_.carbide = has_word({"CARBIDE", "SOLID"}) && has_word({"CARBIDE"});
    if (!w_.other_shape.empty()) return;
    if (found.size() == 1) {
      w_.shape = found.front();
    } else if (found.size() > 1) {
      w_.doubt = "two shapes are named";
    } else if (flat_words) {
      w_.shape = flat;
    }
  }

  bool pair_of(std::string_view a, Words b) const {
    for (std::size_t i = 0; i + 1 < t_.size(); ++i)
      if (!t_[i].number && !t_[i + 1].number && t_[i].word == a && is_one_of(t_[i + 1].word, b))
        return true;
    return false;
  }
  bool slot_drill_words() const { return has_word({"SLOTDRILL"}) || pair_of("SLOT", {"DRILL"}); }
  bool end_mill_words() const {
    return pair_of("END", {"MILL", "MILLS", "CUTTER"}) || pair_of("FACE", {"MILL"}) ||
           pair_of("SHELL", {"MILL"}) || has_word({"EM", "FEM"});
  }
  bool vee_words() const { return pair_of("V", {"BIT", "GROOVE", "CUTTER", "TOOL", "CARVE"}); }

  void flutes() {
    const auto set = [&](int n) {
      if (n >= 1 && n <= 20) w_.flutes = n;
    };
    for (std::size_t i = 0; i < t_.size(); ++i) {
      Token& t = t_[i];
      const Token* after = next(i);
      const bool flute_word = after != nullptr && !after->number &&
                              (begins_with(after->word, {"FLUTE"}) ||
                               is_one_of(after->word, {"FL", "FLT", "FLTS", "F", "EDGE", "EDGES"}));
      if (!t.number) {
        if (const int n = in_words(t.word); n > 0 && flute_word) set(n);
        continue;
      }
      const bool whole = !t.point && !t.fraction && t.unit == TokenUnit::none && !t.comma;
      if (t.taken || !whole) continue;
      const bool behind = is_one_of(t.behind, {"FL", "FLT", "FLTS", "F", "FLUTE", "FLUTES", "Z"});
      const bool before = is_one_of(t.word, {"FLUTES", "FLUTE", "FLTS", "Z"});
      if (!behind && !before && !(flute_word && t.word.empty() && t.behind.empty())) continue;
      set(static_cast<int>(t.value));
      t.taken = true;
    }
  }

  // Sizes whose word stands before or behind them.
  void named_sizes() {
    for (std::size_t i = 0; i < t_.size(); ++i) {
      Token& t = t_[i];
      if (!t.number || t.taken) continue;
      std::string word = t.word;
      if (word.empty() && i > 0 && !t_[i - 1].number) word = t_[i - 1].word;
      const std::string after = next(i) != nullptr && !next(i)->number ? next(i)->word : "";
      const double mm = mm_of(t, in_inches_);
      const bool corner = is_one_of(word, {"R", "CR", "RAD", "RADIUS", "CORNER"}) ||
                          (t.word.empty() && (is_one_of(after, {"RAD", "RADIUS", "CORNER"}) ||
                                              is_one_of(t.behind, {"R", "RAD"})));
      const bool flute = is_one_of(word, {"LOC", "LCF", "CL"}) || length_behind(i, "FLUTE", word);
      const bool out = is_one_of(word, {"STICKOUT", "OUT", "PROJECTION", "OVERHANG", "STICK"}) ||
                       is_one_of(after, {"STICKOUT"}) || (after == "STICK" && t.word.empty());
      const bool tip = is_one_of(word, {"TIP", "TD"}) && t.unit != TokenUnit::degrees;
      const bool other = is_one_of(word, {"L", "LEN", "LENGTH", "OAL", "LONG", "SHANK", "SHK",
                                          "DEEP", "DEPTH", "H", "N", "S", "F", "RPM", "FEED"}) ||
                         is_one_of(after, {"LONG", "DEEP", "SHANK", "SHK", "DEPTH", "RPM", "OAL"});
      const bool named = corner || flute || out;
      // ZMIN=-23.5, H1, S18000: no size of the tool.
      const bool no_size = !named && !tip &&
                           (other || (!t.word.empty() && !is_diameter_word(t.word) &&
                                      !is_shape_word(t.word) && t.unit != TokenUnit::degrees));
      if ((t.comma && named) || no_size) {
        t.taken = true;
      } else if (corner) {
        take(t, w_.corner_radius, mm);
      } else if (flute) {
        take(t, w_.flute_length, mm);
      } else if (out) {
        take(t, w_.stickout, mm);
      } else if (tip) {
        take(t, w_.tip_diameter, mm);
      }
    }
  }

  bool length_behind(std::size_t i, std::string_view first, const std::string& word) const {
    // "FLUTE LENGTH 22", "FLUTE 22 MM": the latter is a length only where it cannot be a count.
    if (word != "LENGTH" || i < 2) return false;
    const std::size_t at = t_[i].word.empty() ? i - 2 : i - 1;
    return !t_[at].number && t_[at].word.starts_with(first);
  }

  static void take(Token& t, std::optional<double>& into, double mm) {
    t.taken = true;
    if (mm >= 0 && mm < 1000 && !into) into = mm;
  }

  static bool is_diameter_word(std::string_view word) {
    return is_one_of(word, {"D", "DIA", "DIAM", "DIAMETER"});
  }
  static bool is_shape_word(std::string_view word) {
    return begins_with(word, {"BALL", "BULL", "FLAT", "DRILL", "ENDMILL", "MILL", "CUTTER", "VEE",
                              "TAPER", "SPOT", "SLOT", "EM", "SQUARE", "NOSE", "BIT"});
  }

  void angles() {
    for (std::size_t i = 0; i < t_.size(); ++i) {
      Token& t = t_[i];
      if (!t.number || t.taken) continue;
      const bool degrees = t.unit == TokenUnit::degrees;
      const bool named = is_one_of(t.word, {"TAPER", "ANGLE", "POINT", "A", "ANG"}) &&
                         t.unit == TokenUnit::none && t.value > 20;
      if (!degrees && !named) continue;
      t.taken = true;
      if (!(t.value > 0 && t.value < 180)) continue;
      if (w_.angle && *w_.angle != t.value) w_.doubt = "two angles are named";
      w_.angle = t.value;
      const Token* after = next(i);
      if (has_word({"SIDE", "HALF"}) && after != nullptr) w_.angle_per_side = true;
    }
  }

  // "6MM X 22 MM": the length behind the diameter.
  void pairs() {
    for (std::size_t i = 2; i < t_.size(); ++i) {
      if (!t_[i].number || t_[i - 1].number || t_[i - 1].word != "X" || !t_[i - 2].number) continue;
      if (mm_of(t_[i], in_inches_) < mm_of(t_[i - 2], in_inches_) && !t_[i - 2].taken)
        w_.doubt = "of two sizes it is not said which is the diameter";
      t_[i].taken = true;
    }
  }

  // Sizes marked as diameters first, then those beside a word for a cutter, then the only one left.
  void diameter() {
    std::vector<double> marked, beside, loose;
    bool comma = false;
    for (std::size_t i = 0; i < t_.size(); ++i) {
      const Token& t = t_[i];
      if (!t.number || t.taken) continue;
      const bool after_d = i > 0 && !t_[i - 1].number && is_diameter_word(t_[i - 1].word);
      const bool before_d = next(i) != nullptr && !next(i)->number && t.word.empty() &&
                            is_one_of(next(i)->word, {"DIA", "DIAM", "DIAMETER"});
      const bool is_marked = is_diameter_word(t.word) || is_one_of(t.behind, {"D", "DIA"}) ||
                             (after_d && t.word.empty()) || before_d;
      // "D1" alone is an offset's number.
      if (is_marked && !w_.names_cutter && t.word == "D" && !t.point && t.unit == TokenUnit::none)
        continue;
      const bool sized = t.unit == TokenUnit::mm || t.unit == TokenUnit::inch || t.fraction;
      const bool near =
          is_shape_word(t.word) || is_shape_word(t.behind) || cutter_at(i, -1) || cutter_at(i, +1);
      const double mm = mm_of(t, in_inches_);
      if (!is_tool_size(mm) || (!is_marked && !w_.names_cutter)) continue;
      if (is_marked || near || sized) comma = comma || t.comma;
      if (is_marked) {
        marked.push_back(mm);
      } else if (near) {
        beside.push_back(mm);
      } else if (sized) {
        loose.push_back(mm);
      }
    }
    const std::vector<double>& of = !marked.empty() ? marked : !beside.empty() ? beside : loose;
    if (of.empty()) return;
    if (comma) {
      w_.doubt = "a comma in a size may be a point or part a list";
    } else if (std::any_of(of.begin(), of.end(), [&](double d) {
                 return std::abs(d - of.front()) > 0.02 * of.front();
               })) {
      w_.doubt = fmt::format("two sizes are named, {:.4g} and {:.4g} mm", of.front(), of.back());
    } else {
      w_.diameter = of.front();
    }
  }

  bool cutter_at(std::size_t i, int way) const {
    const std::size_t at = i + static_cast<std::size_t>(way);
    if (way < 0 ? i == 0 : at >= t_.size()) return false;
    if (t_[at].number) return false;
    const std::string_view word = t_[at].word;
    return is_shape_word(word) || is_one_of(word, {"END", "FACE", "CARBIDE", "HSS", "V"});
  }

  void by_corner() {
    if (!w_.diameter || !w_.corner_radius) return;
    const double r = *w_.corner_radius, half = *w_.diameter / 2;
    if (r <= 0) {
      if (!w_.shape) w_.shape = job::ToolShape::flat;
    } else if (std::abs(r - half) < 0.005 * half) {
      if (!w_.shape)
        w_.shape = job::ToolShape::ball;
      else
        w_.doubt = "a flat end is named with the radius of a ball";
    } else if (r < half) {
      w_.shape = job::ToolShape::bull;
    } else {
      w_.doubt = "the radius named is more than half the diameter";
    }
  }

  bool in_inches_;
  std::vector<Token> t_;
  ToolWords w_;
};

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return out;
}

bool says_one_of(const std::vector<Token>& tokens, Words words) {
  return std::any_of(tokens.begin(), tokens.end(),
                     [&](const Token& t) { return is_one_of(t.word, words); });
}

}  // namespace

std::vector<CommentLine> comment_lines(std::string_view program) {
  std::vector<CommentLine> out;
  std::uint32_t number = 0;
  for (std::size_t at = 0; at < program.size();) {
    const std::size_t end = std::min(program.find('\n', at), program.size());
    const std::string_view line = program.substr(at, std::min<std::size_t>(end - at, 2000));
    ++number;
    at = end + 1;
    if (line.find_first_of("(;Tt") == std::string_view::npos) continue;
    CommentLine one;
    one.line = number;
    bool inside = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const char c = line[i];
      if (!inside && c == ';') {
        one.comment += line.substr(i + 1);
        break;
      }
      if (c == '(' || c == ')') {
        inside = c == '(';
        if (!inside) one.comment += ' ';
        continue;
      }
      (inside ? one.comment : one.words) += c;
    }
    one.comment = upper(one.comment);
    while (!one.comment.empty() && std::isspace(static_cast<unsigned char>(one.comment.back())))
      one.comment.pop_back();
    one.words = upper(one.words);
    if (!one.comment.empty() || one.words.find('T') != std::string::npos)
      out.push_back(std::move(one));
  }
  return out;
}

ToolWords tool_words(const std::string& comment, bool in_inches) {
  return ToolReader(comment, in_inches).read();
}

std::optional<Vec3> blank_words(const std::string& comment, bool in_inches) {
  const std::vector<Token> tokens = tokens_of(comment);
  if (!says_one_of(tokens,
                   {"STOCK", "BLANK", "BILLET", "MATERIAL", "RAW", "BAR", "PLATE", "BOARD"}))
    return std::nullopt;
  if (says_one_of(tokens, {"MILLED", "FINISHED", "MACHINED", "PART"})) return std::nullopt;
  // Three sizes in a row, with X or axis letters between; one unit behind the last is of all.
  for (std::size_t i = 0; i < tokens.size(); ++i) {
    std::vector<const Token*> sizes;
    for (std::size_t k = i; k < tokens.size() && sizes.size() < 3; ++k) {
      const Token& t = tokens[k];
      const bool follows = sizes.empty() || !tokens[k - 1].number || is_one_of(t.word, {"Y", "Z"});
      if (t.number && !t.comma && !t.taken && t.behind.empty() && follows) {
        sizes.push_back(&t);
      } else if (t.number || sizes.empty() || !is_one_of(t.word, {"X", "BY", "Y", "Z"})) {
        break;
      }
    }
    if (sizes.size() < 3) continue;
    TokenUnit unit = TokenUnit::none;
    for (const Token* t : sizes) unit = t->unit != TokenUnit::none ? t->unit : unit;
    Vec3 out;
    for (int axis = 0; axis < 3; ++axis) {
      Token t = *sizes[static_cast<std::size_t>(axis)];
      if (t.unit == TokenUnit::none) t.unit = unit;
      out[axis] = mm_of(t, in_inches);
    }
    if ((out.array() > 0.1).all() && (out.array() < 1e4).all()) return out;
  }
  return std::nullopt;
}

ZeroWords zero_words(const std::string& comment) {
  const std::vector<Token> t = tokens_of(comment);
  ZeroWords out;
  if (!says_one_of(t, {"ZERO", "ORIGIN", "DATUM", "WCS", "XYZ", "XY", "WPZ"})) return out;
  using enum job::ZeroEdge;
  const bool middle = says_one_of(t, {"MIDDLE", "CENTRE", "CENTER", "CTR", "CENTRED", "CENTERED"});
  if (says_one_of(t, {"LEFT", "LH"})) out.x = min;
  if (says_one_of(t, {"RIGHT", "RH"})) out.x = max;
  if (says_one_of(t, {"FRONT", "LOWER", "NEAR"})) out.y = min;
  if (says_one_of(t, {"BACK", "REAR", "UPPER", "FAR"})) out.y = max;
  if (middle && !out.x) out.x = centre;
  if (middle && !out.y) out.y = centre;
  const bool top = says_one_of(t, {"TOP", "SURFACE"});
  const bool bottom =
      says_one_of(t, {"BOTTOM", "BED", "SPOILBOARD", "TABLE", "UNDERSIDE", "WASTEBOARD"});
  if (top != bottom) out.z = top ? max : min;
  if (says_one_of(t, {"MILLED", "FINISHED", "MACHINED"})) {
    out.on = job::ZeroOn::milled;
  } else if (says_one_of(t, {"BLANK", "STOCK", "RAW", "BILLET"})) {
    out.on = job::ZeroOn::blank;
  }
  return out;
}

std::optional<job::Turn> turn_words(const std::string& comment) {
  const std::vector<Token> t = tokens_of(comment);
  if (!std::any_of(t.begin(), t.end(), [](const Token& w) {
        return begins_with(w.word, {"TURN", "FLIP", "ROTAT"});
      }))
    return std::nullopt;
  job::Turn turn{job::Axis::y, 180};
  bool axis = false;
  for (std::size_t i = 0; i < t.size(); ++i) {
    if (t[i].number) {
      const bool degrees = t[i].unit == TokenUnit::degrees || t[i].value == 180 ||
                           t[i].value == 90 || t[i].value == 270;
      if (degrees) turn.degrees = t[i].value;
      continue;
    }
    if (t[i].word.size() != 1 || t[i].word[0] < 'X' || t[i].word[0] > 'Z') continue;
    if (i == 0) continue;
    const bool about = (is_one_of(t[i - 1].word, {"ABOUT", "AROUND", "OVER", "IN", "THE"}) ||
                        begins_with(t[i - 1].word, {"TURN", "FLIP", "ROTAT"}));
    const bool named = i + 1 < t.size() && t[i + 1].word == "AXIS";
    if (!about && !named) continue;
    // "FLIP IN X" may be said of a turn about y.
    if (is_one_of(t[i - 1].word, {"OVER", "IN"}) && !named) return std::nullopt;
    turn.about = static_cast<job::Axis>(t[i].word[0] - 'X');
    axis = true;
  }
  if (!axis) return std::nullopt;
  return turn;
}

std::optional<int> side_words(const std::string& comment) {
  const std::vector<Token> t = tokens_of(comment);
  for (std::size_t i = 0; i < t.size(); ++i) {
    const bool word = is_one_of(t[i].word, {"SIDE", "OP", "SETUP", "OPERATION"});
    if (!word) continue;
    if (t[i].number) {
      if (t[i].value >= 1 && t[i].value < 100 && !t[i].point) return static_cast<int>(t[i].value);
      continue;
    }
    if (i > 0 && is_one_of(t[i - 1].word, {"FIRST", "TOP"})) return 1;
    if (i > 0 && is_one_of(t[i - 1].word, {"SECOND", "BOTTOM"})) return 2;
    if (i + 1 == t.size()) continue;
    const Token& after = t[i + 1];
    if (after.number && after.word.empty() && !after.point && after.value >= 1 && after.value < 100)
      return static_cast<int>(after.value);
    if (!after.number && after.word.size() == 1 && after.word[0] <= 'F')
      return after.word[0] - 'A' + 1;
  }
  return std::nullopt;
}

std::vector<std::string> plain_words(const std::string& comment) {
  std::vector<std::string> out;
  std::string word;
  for (const char c : comment + " ") {
    if (std::isalnum(static_cast<unsigned char>(c)) || c == '-') {
      word += c;
    } else if (!word.empty()) {
      out.push_back(std::move(word));
      word.clear();
    }
  }
  return out;
}

}  // namespace proveout::propose
