// A value for each constant of an enum, with the table's length checked when it is compiled.
//
//   enum class Colour { red, green, blue };
//   constexpr auto names = enum_table<Colour, Colour::blue>(std::array{"red", "green", "blue"});
//   names[Colour::green]
//
// The enum counts from 0; `last` is its last constant. A constant added behind it without `last`
// being told is caught by the assertion at the first look-up, so declare `last` beside the enum.
#pragma once

#include <array>
#include <cstddef>

#include "parser/base/assert.h"

namespace proveout {

template <class Enum, Enum last, class Value>
class EnumTable {
 public:
  static constexpr std::size_t size = static_cast<std::size_t>(last) + 1;
  constexpr explicit EnumTable(const std::array<Value, size>& values) : values_(values) {}
  constexpr const Value& operator[](Enum key) const {
    PROVEOUT_ASSERT(static_cast<std::size_t>(key) < size, key, size);
    return values_[static_cast<std::size_t>(key)];
  }

 private:
  std::array<Value, size> values_;
};

template <class Enum, Enum last, class Value, std::size_t count>
constexpr EnumTable<Enum, last, Value> enum_table(const std::array<Value, count>& values) {
  static_assert(count == EnumTable<Enum, last, Value>::size, "one value for each constant");
  return EnumTable<Enum, last, Value>(values);
}

}  // namespace proveout
