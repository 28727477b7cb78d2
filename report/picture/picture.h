// Pictures of a stock without a browser: rays through the level set, parallel projection.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "parser/base/geometry.h"
#include "report/picture/colours.h"
#include "sim/solid/part_distance.h"
#include "sim/stock/stock.h"

namespace proveout::picture {

// Everything on the plane's positive side is left out. stock coordinates, mm; normal: unit.
struct SectionPlane {
  Vec3 through = Vec3::Zero();
  Vec3 normal = Vec3::UnitY();
};

struct LegendEntry {
  Rgb colour;
  std::string text;  // digits, capitals and . + - / only; other letters are left blank
};

struct PictureOptions {
  int width = 1200, height = 800;  // pixels, 16 .. 8192
  RigidMotion stock_from_setup =
      RigidMotion::Identity();  // the picture's z points up as on the machine
  double turned_deg =
      -35;  // about the setup's z, from looking along +y; positive: seen from the right
  double raised_deg = 35;                         // eye above the table; 90: from straight above
  std::function<Rgb(stock::MotionId)> colour_of;  // empty: one colour
  const solid::PartDistance* part = nullptr;      // given: coloured by deviation instead
  double deviation_end = 0.25;                    // mm at either end of the colour scale, > 0
  std::optional<SectionPlane> section;
  std::vector<LegendEntry> legend;  // top left, under each other
  bool zero_mark = true;            // the setup's zero with its three axes
  struct Focus {
    Vec3 at = Vec3::Zero();  // stock coordinates, mm; a ring is drawn round it
    double radius = 15;      // mm shown about it
  };
  std::optional<Focus> focus;  // empty: the whole stock is shown
};

struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;  // rows from the top
  Rgb at(int x, int y) const {
    const std::uint8_t* p = &rgb[3 * (static_cast<std::size_t>(y) * width + x)];
    return {p[0], p[1], p[2]};
  }
};

// Same bytes for any number of threads.
Picture draw(const stock::Stock& stock, const PictureOptions& options);

// As a PNG file's bytes (8 bits, RGB).
std::string png(const Picture& picture);

}  // namespace proveout::picture
