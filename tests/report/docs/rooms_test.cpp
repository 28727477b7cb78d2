// The rooms of the house know each other one way only, in the order docs/architecture.md states.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <vector>

namespace proveout {
namespace {

namespace fs = std::filesystem;

const fs::path source = PROVEOUT_SOURCE;

std::string text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// "sim solid < stock < ..." becomes sim/solid, sim/stock, ...: a room's place in the order.
std::map<std::string, int> stated_order() {
  std::map<std::string, int> place;
  const std::string page = text_of(source / "docs/architecture.md");
  const std::regex line("(^|\n)(parser|sim|report) +([^\n]* < [^\n]*)"), word("[a-z_/]+");
  for (std::sregex_iterator i(page.begin(), page.end(), line), end; i != end; ++i) {
    const std::string layer = (*i)[2], rooms = (*i)[3];
    for (std::sregex_iterator w(rooms.begin(), rooms.end(), word); w != end; ++w)
      place.emplace(layer + "/" + w->str(), static_cast<int>(place.size()));
  }
  return place;
}

// Rooms with C++ in them, and those whose headers each includes, with one of the includes.
using Known = std::map<std::string, std::map<std::string, std::string>>;
Known rooms_known_to_rooms() {
  Known known;
  const std::regex include("\n#include \"((parser|sim|report)/[^\"]+)\"");
  for (const char* layer : {"parser", "sim", "report"}) {
    for (const auto& entry : fs::recursive_directory_iterator(source / layer)) {
      const fs::path file = entry.path().lexically_relative(source);
      if (file.extension() != ".cpp" && file.extension() != ".h") continue;
      const std::string room = file.parent_path().generic_string();
      auto& of_room = known[room];
      const std::string text = "\n" + text_of(source / file);
      for (std::sregex_iterator i(text.begin(), text.end(), include), end; i != end; ++i) {
        const std::string other = fs::path((*i)[1].str()).parent_path().generic_string();
        if (other != room) of_room.emplace(other, file.generic_string() + ": " + (*i)[1].str());
      }
    }
  }
  return known;
}

TEST(Rooms, KnowOnlyThoseBeforeThem) {
  const std::map<std::string, int> place = stated_order();
  const Known known = rooms_known_to_rooms();
  ASSERT_GT(place.size(), 20u);
  int seen = 0;
  for (const auto& [room, others] : known) {
    ASSERT_TRUE(place.contains(room)) << room << " has no place in docs/architecture.md";
    for (const auto& [other, where] : others) {
      ASSERT_TRUE(place.contains(other)) << where;
      EXPECT_LT(place.at(other), place.at(room)) << where;
      ++seen;
    }
  }
  for (const auto& [room, at] : place) EXPECT_TRUE(known.contains(room)) << room << " is no room";
  EXPECT_GT(seen, 80);
}

// Told from the files alone, whatever the page says: from no room do includes lead back to it.
TEST(Rooms, RunInNoCircle) {
  const Known known = rooms_known_to_rooms();
  for (const auto& [room, unused] : known) {
    std::set<std::string> reached;
    std::vector<std::string> next = {room};
    while (!next.empty()) {
      const std::string from = next.back();
      next.pop_back();
      const auto others = known.find(from);
      if (others == known.end()) continue;
      for (const auto& [other, where] : others->second)
        if (reached.insert(other).second) next.push_back(other);
    }
    EXPECT_FALSE(reached.contains(room)) << room << " includes what includes it";
  }
}

}  // namespace
}  // namespace proveout
