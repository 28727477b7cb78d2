#include "report/page/build/finish_places.h"

#include <algorithm>

namespace proveout::page {

nlohmann::ordered_json finish_places(const measure::Finish& finish, ColumnWriter& columns,
                                     std::size_t most) {
  std::vector<measure::FinishPlace> places = finish.places;
  if (places.size() > most) {
    std::stable_sort(places.begin(), places.end(),
                     [](const auto& a, const auto& b) { return a.height > b.height; });
    places.resize(most);
  }
  const auto made = [&](const measure::FinishPlace& place) {
    return finish.lines[place.line].second;
  };
  std::stable_sort(places.begin(), places.end(),
                   [&](const auto& a, const auto& b) { return made(a) < made(b); });
  const std::size_t count = places.size();
  return {{"at", columns.add(count, 3, 0.005,
                             [&](std::size_t i, int axis) { return places[i].at[axis]; })},
          {"height",
           columns.add(count, 1, 0.0001, [&](std::size_t i, int) { return places[i].height; })},
          {"made", columns.add(count, 1, 1, [&](std::size_t i, int) { return made(places[i]); })},
          {"of", finish.places.size()}};
}

}  // namespace proveout::page
