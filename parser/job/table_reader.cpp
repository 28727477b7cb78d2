#include "parser/job/table_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "parser/job/job.h"
#include "parser/job/toml.h"

namespace proveout::job {
namespace {

const toml::table& as_table(const void* node) { return *static_cast<const toml::table*>(node); }
const toml::node& as_node(const void* node) { return *static_cast<const toml::node*>(node); }

const char* unit_type(Unit unit) {
  switch (unit) {
    case Unit::length:
      return "length";
    case Unit::feed:
      return "feed";
    case Unit::plain:
      break;
  }
  return "number";
}

// The ends of +-1e9 stand for 'any' and are named only to whom they stop. scale: mm per unit of the
// file, whose units the text is in.
std::string range_text(Range r, double v, double scale) {
  if (std::isnan(v)) return "it is no number";
  if (r.high >= 1e9 && !(v <= r.high)) return "no number may be above 1e9";
  if (r.low <= -1e9 && v < r.low) return "no number may be below -1e9";
  const double low = r.low / scale, high = r.high / scale;
  if (r.low <= -1e9) return fmt::format("at most {:g}", high);
  if (r.high >= 1e9) return fmt::format("{} {:g}", r.open_low ? "above" : "at least", low);
  if (r.open_low) return fmt::format("above {:g}, at most {:g}", low, high);
  return fmt::format("{:g} to {:g}", low, high);
}

}  // namespace

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + change});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
      }
    }
  }
  return d[a.size()][b.size()];
}

namespace {

std::string lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

// What the trade calls otherwise. Common practice, no source.
constexpr std::pair<std::string_view, std::string_view> other_words[] = {
    {"end", "flat"},      {"square", "flat"},   {"v-bit", "vee"},       {"v bit", "vee"},
    {"vbit", "vee"},      {"engrav", "vee"},    {"chamfer", "vee"},     {"radius", "bull"},
    {"corner", "bull"},   {"toroid", "bull"},   {"round", "ball"},      {"spot", "drill"},
    {"twist", "drill"},   {"left", "min"},      {"front", "min"},       {"low", "min"},
    {"right", "max"},     {"back", "max"},      {"rear", "max"},        {"high", "max"},
    {"mid", "centre"},    {"max", "top"},       {"upper", "top"},       {"surface", "top"},
    {"min", "bottom"},    {"lower", "bottom"},  {"bed", "bottom"},      {"stock", "blank"},
    {"raw", "blank"},     {"finish", "milled"}, {"machined", "milled"}, {"in", "inch"},
    {"imperial", "inch"}, {"milli", "mm"},      {"metric", "mm"}};

// "ballnose", "Ball end", "tapered", "center": what begins with a word of the list, or is near one.
std::string word_meant(const std::string& given, const std::vector<std::string>& words) {
  for (const std::string& w : words)
    if (w.size() >= 3 && given.starts_with(w)) return w;
  for (const auto& [beginning, word] : other_words) {
    if (given.starts_with(beginning) && std::find(words.begin(), words.end(), word) != words.end())
      return std::string(word);
  }
  return nearest_word(given, words);
}

}  // namespace

std::string nearest_word(std::string_view word, const std::vector<std::string>& words) {
  if (word.size() > 64) return {};
  std::string best;
  std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (const std::string& w : words) {
    const std::size_t d = edit_distance(word, w);
    if (d < least) {
      least = d;
      best = w;
    }
  }
  return best;
}

TableReader::TableReader(FileContext& context, std::string section, const void* node)
    : context_(context), section_(std::move(section)), node_(node) {}

bool TableReader::has(std::string_view key) const {
  return node_ != nullptr && as_table(node_).contains(key);
}

std::uint32_t TableReader::line() const {
  return node_ == nullptr ? 0 : static_cast<std::uint32_t>(as_table(node_).source().begin.line);
}

std::uint32_t TableReader::line_of(std::string_view key) const {
  return place_of(has(key) ? as_table(node_).get(key) : nullptr, key).line;
}

double TableReader::scale(Unit unit) const {
  return unit == Unit::plain ? 1.0 : context_.length_scale;
}

// The key's own place, found in the line before the value where it stands there.
Place TableReader::place_of(const void* node, std::string_view key) const {
  Place p{context_.file, line(), 0, 0};
  if (node == nullptr) return p;
  const auto at = as_node(node).source().begin;
  p.line = static_cast<std::uint32_t>(at.line);
  p.column = static_cast<std::uint32_t>(at.column);
  if (p.line >= 1 && p.line <= context_.lines.size() && !key.empty()) {
    const std::size_t found = context_.lines[p.line - 1].find(key);
    if (found != std::string_view::npos) {
      p.column = static_cast<std::uint32_t>(found) + 1;
      p.length = static_cast<std::uint32_t>(key.size());
    }
  }
  return p;
}

void TableReader::error(std::string_view key, std::string code, std::string what,
                        std::string remedy) {
  say(Severity::error, key, std::move(code), std::move(what), std::move(remedy));
}

void TableReader::warning(std::string_view key, std::string code, std::string what,
                          std::string remedy) {
  say(Severity::warning, key, std::move(code), std::move(what), std::move(remedy));
}

void TableReader::say(Severity severity, std::string_view key, std::string code, std::string what,
                      std::string remedy) {
  if (context_.record != nullptr) return;
  Diagnostic d;
  d.severity = severity;
  d.code = std::move(code);
  d.place = place_of(has(key) ? as_table(node_).get(key) : nullptr, key);
  d.what = std::move(what);
  d.remedy = std::move(remedy);
  if (d.place.line >= 1 && d.place.line <= context_.lines.size()) {
    d.excerpt = std::string(context_.lines[d.place.line - 1].substr(0, 200));
  }
  context_.diagnostics->add(std::move(d));
}

void TableReader::wrong_type(std::string_view key, const std::string& wanted) {
  error(key, "job-wrong-type", fmt::format("{}{} must be {}", section_, key, wanted));
}

const void* TableReader::find(const char* key, const char* type, const char* meaning) {
  known_.emplace_back(key);
  if (context_.record != nullptr) {
    context_.record->push_back({section_, key, type, meaning});
    return nullptr;
  }
  return node_ == nullptr ? nullptr : as_table(node_).get(key);
}

std::optional<double> TableReader::checked(const void* node, std::string_view key, Unit unit,
                                           Range range) {
  const auto value = as_node(node).value<double>();
  if (!value || as_node(node).is_boolean()) {
    wrong_type(key, "a number");
    return std::nullopt;
  }
  const double v = *value * scale(unit);
  if (!std::isfinite(v) || v < range.low || v > range.high || (range.open_low && v == range.low)) {
    error(key, "job-out-of-range",
          fmt::format("{}{} = {:g} is out of range: {}", section_, key, *value,
                      range_text(range, v, scale(unit))));
    return std::nullopt;
  }
  return v;
}

void TableReader::number(const char* key, double& value, Unit unit, Range range,
                         const char* meaning) {
  if (const void* node = find(key, unit_type(unit), meaning)) {
    if (const auto v = checked(node, key, unit, range)) value = *v;
  }
}

void TableReader::number(const char* key, std::optional<double>& value, Unit unit, Range range,
                         const char* meaning) {
  if (const void* node = find(key, unit_type(unit), meaning)) {
    if (const auto v = checked(node, key, unit, range)) value = v;
  }
}

void TableReader::whole(const char* key, int& value, int low, int high, const char* meaning) {
  const void* node = find(key, "whole number", meaning);
  if (node == nullptr) return;
  const auto v = as_node(node).value_exact<std::int64_t>();
  if (!v) {
    wrong_type(key, "a whole number");
  } else if (*v < low || *v > high) {
    error(key, "job-out-of-range",
          fmt::format("{}{} = {} is out of range: {} to {}", section_, key, *v, low, high));
  } else {
    value = static_cast<int>(*v);
  }
}

void TableReader::flag(const char* key, bool& value, const char* meaning) {
  const void* node = find(key, "true or false", meaning);
  if (node == nullptr) return;
  if (const auto v = as_node(node).value_exact<bool>())
    value = *v;
  else
    wrong_type(key, "true or false");
}

void TableReader::text(const char* key, std::string& value, const char* meaning) {
  const void* node = find(key, "text", meaning);
  if (node == nullptr) return;
  if (const auto v = as_node(node).value_exact<std::string>())
    value = *v;
  else
    wrong_type(key, "text in quotes");
}

void TableReader::text_or_whole(const char* key, std::string& value, const char* meaning) {
  const void* node = find(key, "text or whole number", meaning);
  if (node == nullptr) return;
  if (const auto v = as_node(node).value_exact<std::string>())
    value = *v;
  else if (const auto n = as_node(node).value_exact<std::int64_t>())
    value = fmt::format("{}", *n);
  else
    wrong_type(key, "text in quotes, or a whole number");
}

void TableReader::required_text(const char* key, std::string& value, const char* meaning) {
  text(key, value, meaning);
  if (context_.record == nullptr && node_ != nullptr && !has(key)) {
    error("", "job-key-missing", fmt::format("{}{} is missing", section_, key),
          fmt::format("give {} = \"...\": {}", key, meaning));
  }
}

void TableReader::word(const char* key, int& value, const std::vector<std::string>& words,
                       const char* meaning) {
  std::string list;
  for (const auto& w : words) list += (list.empty() ? "" : " | ") + w;
  const void* node = find(key, list.c_str(), meaning);
  if (node == nullptr) return;
  const auto v = as_node(node).value_exact<std::string>();
  // "Y" is y: no two words of a list differ by their case alone.
  const auto found = v ? std::find(words.begin(), words.end(), lower_case(*v)) : words.end();
  if (found != words.end()) {
    value = static_cast<int>(found - words.begin());
    return;
  }
  std::string near = v ? word_meant(lower_case(*v), words) : "";
  // Of axes none is near another: what is proposed for a letter is followed, and turns the part.
  if (near.size() == 1) near.clear();
  error(key, "job-unknown-word", fmt::format("{}{} must be one of {}", section_, key, list),
        near.empty() ? "" : fmt::format("did you mean \"{}\"?", near));
}

std::optional<Vec3> TableReader::point_at(const void* node, std::string_view key, Unit unit,
                                          Range range) {
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr || list->size() != 3) {
    wrong_type(key, "a list of three numbers");
    return std::nullopt;
  }
  Vec3 p;
  for (int i = 0; i < 3; ++i) {
    const auto v = checked(&(*list)[i], key, unit, range);
    if (!v) return std::nullopt;
    p[i] = *v;
  }
  return p;
}

void TableReader::point(const char* key, Vec3& value, Unit unit, Range range, const char* meaning) {
  if (const void* node = find(key, "three numbers", meaning)) {
    if (const auto v = point_at(node, key, unit, range)) value = *v;
  }
}

void TableReader::point(const char* key, std::optional<Vec3>& value, Unit unit, Range range,
                        const char* meaning) {
  if (const void* node = find(key, "three numbers", meaning)) {
    if (const auto v = point_at(node, key, unit, range)) value = v;
  }
}

void TableReader::pair(const char* key, std::optional<std::pair<double, double>>& value, Unit unit,
                       const char* meaning) {
  const void* node = find(key, "two numbers", meaning);
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr || list->size() != 2) return wrong_type(key, "a list of two numbers");
  const Range range = unit == Unit::length ? a_place : any_number;
  const auto a = checked(&(*list)[0], key, unit, range);
  const auto b = checked(&(*list)[1], key, unit, range);
  if (!a || !b) return;
  if (*a > *b) {
    error(key, "job-out-of-range",
          fmt::format("{}{}: the first number must not be above the second", section_, key));
    return;
  }
  value = {*a, *b};
}

void TableReader::band(const char* key, std::optional<Band>& value, Range range,
                       const char* meaning) {
  const void* node = find(key, "number, or three", meaning);
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr) {
    if (const auto one = checked(node, key, Unit::plain, range)) value = Band{*one, *one, *one};
    return;
  }
  if (list->size() != 3) return wrong_type(key, "a number, or a list of three: low, likely, high");
  const auto low = checked(&(*list)[0], key, Unit::plain, range);
  const auto likely = checked(&(*list)[1], key, Unit::plain, range);
  const auto high = checked(&(*list)[2], key, Unit::plain, range);
  if (!low || !likely || !high) return;
  if (*low > *likely || *likely > *high) {
    error(key, "job-out-of-range",
          fmt::format("{}{}: low, likely and high must not fall", section_, key),
          "give them in that order");
    return;
  }
  value = Band{*low, *likely, *high};
}

void TableReader::pairs(const char* key, std::vector<std::pair<double, double>>& value, Unit unit,
                        const char* meaning) {
  const void* node = find(key, "list of pairs", meaning);
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr) return wrong_type(key, "a list of pairs of numbers");
  value.clear();
  for (const toml::node& entry : *list) {
    const toml::array* two = entry.as_array();
    if (two == nullptr || two->size() != 2) return wrong_type(key, "a list of pairs of numbers");
    const Range range = unit == Unit::length ? a_tool_length_or_none : not_negative;
    const auto a = checked(&(*two)[0], key, unit, range);
    const auto b = checked(&(*two)[1], key, unit, range);
    if (!a || !b) return;
    value.emplace_back(*a, *b);
  }
}

void TableReader::wholes(const char* key, std::vector<int>& value, const char* meaning) {
  const void* node = find(key, "list of whole numbers", meaning);
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr || list->empty()) return wrong_type(key, "a list of whole numbers");
  std::vector<int> all;
  for (const toml::node& entry : *list) {
    const auto v = entry.value_exact<std::int64_t>();
    if (!v || *v < 1 || *v > 1000000) return wrong_type(key, "a list of whole numbers from 1 on");
    all.push_back(static_cast<int>(*v));
  }
  value = all;
}

void TableReader::box(const char* key, std::optional<Box3>& value, const char* meaning) {
  const void* node = find(key, "two corners", meaning);
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr || list->size() != 2) {
    return wrong_type(key, "a list of two corners of three numbers each");
  }
  const auto a = point_at(&(*list)[0], key, Unit::length, a_place);
  const auto b = point_at(&(*list)[1], key, Unit::length, a_place);
  if (!a || !b) return;
  if ((b->array() <= a->array()).any()) {
    error(key, "job-out-of-range",
          fmt::format("{}{}: the second corner must be above the first in x, y and z", section_,
                      key));
    return;
  }
  value = Box3(*a, *b);
}

std::optional<std::string> TableReader::file_name(const char* key) const {
  if (!has(key)) return std::nullopt;
  return as_table(node_).get(key)->value_exact<std::string>();
}

void TableReader::table(const char* key, const std::function<void(TableReader&)>& read,
                        const char* meaning) {
  const void* node = find(key, "table", meaning);
  const std::string inner = section_ + key + ".";
  if (context_.record != nullptr) {
    TableReader reader(context_, inner, nullptr);
    read(reader);
    return;
  }
  if (node == nullptr) return;
  const toml::table* t = as_node(node).as_table();
  if (t == nullptr) return wrong_type(key, "a table");
  TableReader reader(context_, inner, t);
  read(reader);
  reader.finish();
}

void TableReader::tables(const char* key, const std::function<void(TableReader&)>& each,
                         const char* meaning) {
  const void* node = find(key, "list of tables", meaning);
  const std::string inner = section_ + key + ".";
  if (context_.record != nullptr) {
    TableReader reader(context_, inner, nullptr);
    each(reader);
    return;
  }
  if (node == nullptr) return;
  const toml::array* list = as_node(node).as_array();
  if (list == nullptr)
    return wrong_type(key, fmt::format("a list of tables, [[{}{}]]", section_, key));
  for (const toml::node& entry : *list) {
    const toml::table* t = entry.as_table();
    if (t == nullptr) {
      wrong_type(key, "a list of tables");
      continue;
    }
    TableReader reader(context_, inner, t);
    each(reader);
    reader.finish();
  }
}

void TableReader::turns(const char* key, const std::function<void(TableReader&)>& each,
                        const char* meaning) {
  tables(key, each, meaning);
}

void TableReader::named_numbers(const char* key,
                                const std::function<void(const std::string&, double)>& each,
                                const char* meaning) {
  const void* node = find(key, "table of numbers", meaning);
  if (node == nullptr) return;
  const toml::table* t = as_node(node).as_table();
  if (t == nullptr) return wrong_type(key, "a table of numbers");
  for (const auto& [name, value] : *t) {
    if (const auto v = checked(&value, name.str(), Unit::plain, not_negative)) {
      each(std::string(name.str()), *v);
    }
  }
}

void TableReader::named_points(const char* key,
                               const std::function<void(const std::string&, const Vec3&)>& each,
                               const char* meaning) {
  const void* node = find(key, "table of points", meaning);
  if (node == nullptr) return;
  const toml::table* t = as_node(node).as_table();
  if (t == nullptr) return wrong_type(key, "a table of points");
  for (const auto& [name, value] : *t) {
    if (const auto v = point_at(&value, name.str(), Unit::length, a_place)) {
      each(std::string(name.str()), *v);
    }
  }
}

void TableReader::named_tables(const char* key,
                               const std::function<void(const std::string&, TableReader&)>& each,
                               const char* meaning) {
  const void* node = find(key, "table of tables", meaning);
  if (context_.record != nullptr) {
    TableReader reader(context_, section_ + key + ".NAME.", nullptr);
    each("NAME", reader);
    return;
  }
  if (node == nullptr) return;
  const toml::table* t = as_node(node).as_table();
  if (t == nullptr) return wrong_type(key, "a table of tables");
  for (const auto& [name, value] : *t) {
    const toml::table* inner = value.as_table();
    if (inner == nullptr) {
      wrong_type(key, "a table of tables");
      continue;
    }
    TableReader reader(context_, section_ + key + "." + std::string(name.str()) + ".", inner);
    each(std::string(name.str()), reader);
    reader.finish();
  }
}

void TableReader::finish() {
  if (node_ == nullptr || context_.record != nullptr) return;
  for (const auto& [key, value] : as_table(node_)) {
    const std::string name(key.str());
    if (std::find(known_.begin(), known_.end(), name) != known_.end()) continue;
    const std::string near = nearest_word(name, known_);
    Diagnostic d;
    d.code = "job-unknown-key";
    d.place = {context_.file, static_cast<std::uint32_t>(key.source().begin.line),
               static_cast<std::uint32_t>(key.source().begin.column),
               static_cast<std::uint32_t>(name.size())};
    d.what = fmt::format("there is no key '{}{}'", section_, name);
    d.remedy = near.empty() ? "see docs/job-file.md for the keys of this table"
                            : fmt::format("did you mean '{}'?", near);
    if (d.place.line >= 1 && d.place.line <= context_.lines.size()) {
      d.excerpt = std::string(context_.lines[d.place.line - 1].substr(0, 200));
    }
    context_.diagnostics->add(std::move(d));
  }
}

}  // namespace proveout::job
