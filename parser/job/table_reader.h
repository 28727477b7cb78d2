// Reading one TOML table key by key: every key asked for is known, the rest are errors that name
// the nearest known key. The same calls, recorded, make the reference in docs/job-file.md, so the
// two cannot drift apart.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "parser/base/diagnostic.h"
#include "parser/base/geometry.h"

namespace proveout::job {

struct Band;

enum class Unit : std::uint8_t {
  plain,   // a number as it stands
  length,  // mm, or inch where the file says units = "inch"
  feed     // mm/min, or inch/min
};

struct Range {
  double low = -1e9, high = 1e9;
  bool open_low = false;  // low itself is not allowed
};
inline constexpr Range any_number{-1e9, 1e9, false};
inline constexpr Range not_negative{0, 1e9, false};
inline constexpr Range positive{0, 1e9, true};
inline constexpr Range a_share{0, 1, false};
// Lengths in mm. Places stop where NC words do, a kilometre out: time and memory of a run grow with
// distance. No mill holds a cutter a metre wide or a tool ten metres long.
inline constexpr Range a_place{-1e6, 1e6, false};
inline constexpr Range a_distance{0, 1e6, false};
inline constexpr Range an_extent{0, 1e6, true};
inline constexpr Range a_width{0, 1e3, true};
inline constexpr Range a_width_or_none{0, 1e3, false};
inline constexpr Range a_tool_length{0, 1e4, true};
inline constexpr Range a_tool_length_or_none{0, 1e4, false};
// Speeds and accelerations below this are mistakes: a run at them has no end.
inline constexpr Range a_rate{1e-3, 1e9, false};

struct KeyDoc {
  std::string section, key, type, meaning;
};

// What all tables of one file share.
struct FileContext {
  std::string file;                     // in messages
  std::vector<std::string_view> lines;  // for excerpts
  double length_scale = 1;              // mm per length unit of the file
  Diagnostics* diagnostics = nullptr;
  std::vector<KeyDoc>* record = nullptr;  // not null: only write down the keys
};

// A place in the TOML document; hides toml++ from the rooms that ask for keys.
class TableReader {
 public:
  // node: a toml::table, or nullptr for an absent one.
  TableReader(FileContext& context, std::string section, const void* node);

  bool present() const { return node_ != nullptr; }
  bool has(std::string_view key) const;
  std::uint32_t line() const;
  std::uint32_t line_of(std::string_view key) const;

  void number(const char* key, double& value, Unit unit, Range range, const char* meaning);
  void number(const char* key, std::optional<double>& value, Unit unit, Range range,
              const char* meaning);
  void whole(const char* key, int& value, int low, int high, const char* meaning);
  void flag(const char* key, bool& value, const char* meaning);
  void text(const char* key, std::string& value, const char* meaning);
  void text_or_whole(const char* key, std::string& value, const char* meaning);
  void required_text(const char* key, std::string& value, const char* meaning);
  // One of the words; index of the word found.
  void word(const char* key, int& value, const std::vector<std::string>& words,
            const char* meaning);
  void point(const char* key, Vec3& value, Unit unit, Range range, const char* meaning);
  void point(const char* key, std::optional<Vec3>& value, Unit unit, Range range,
             const char* meaning);
  void pair(const char* key, std::optional<std::pair<double, double>>& value, Unit unit,
            const char* meaning);
  void pairs(const char* key, std::vector<std::pair<double, double>>& value, Unit unit,
             const char* meaning);
  // One number, or three that do not fall: low, likely, high.
  void band(const char* key, std::optional<Band>& value, Range range, const char* meaning);
  void wholes(const char* key, std::vector<int>& value, const char* meaning);
  void box(const char* key, std::optional<Box3>& value, const char* meaning);
  void turns(const char* key, const std::function<void(TableReader&)>& each, const char* meaning);

  // A sub-table; absent: nothing is called unless recording.
  void table(const char* key, const std::function<void(TableReader&)>& read, const char* meaning);
  // An array of tables.
  void tables(const char* key, const std::function<void(TableReader&)>& each, const char* meaning);
  // Every entry of a sub-table whose keys are the user's: names with numbers, points or tables.
  void named_numbers(const char* key, const std::function<void(const std::string&, double)>& each,
                     const char* meaning);
  void named_points(const char* key,
                    const std::function<void(const std::string&, const Vec3&)>& each,
                    const char* meaning);
  void named_tables(const char* key,
                    const std::function<void(const std::string&, TableReader&)>& each,
                    const char* meaning);
  // A key that may be a table here or the name of another file: returns the name if it is one.
  std::optional<std::string> file_name(const char* key) const;

  // An error at a key of this table, or at the table itself where the key is not there.
  void error(std::string_view key, std::string code, std::string what, std::string remedy = {});
  // The same of what can be worked with, but is hardly meant.
  void warning(std::string_view key, std::string code, std::string what, std::string remedy = {});

  // Errors for keys nobody asked for. Call last.
  void finish();

 private:
  const void* find(const char* key, const char* type, const char* meaning);
  std::optional<double> checked(const void* node, std::string_view key, Unit unit, Range range);
  std::optional<Vec3> point_at(const void* node, std::string_view key, Unit unit, Range range);
  void wrong_type(std::string_view key, const std::string& wanted);
  void say(Severity severity, std::string_view key, std::string code, std::string what,
           std::string remedy);
  Place place_of(const void* node, std::string_view key) const;
  double scale(Unit unit) const;

  FileContext& context_;
  std::string section_;
  const void* node_;
  std::vector<std::string> known_;
};

// Edit distance (insertions, deletions, changes, neighbours swapped).
std::size_t edit_distance(std::string_view a, std::string_view b);
// The nearest of words within a third of the word's length; empty: none is near.
std::string nearest_word(std::string_view word, const std::vector<std::string>& words);

}  // namespace proveout::job
