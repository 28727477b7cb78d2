// The drawing against the section it shows: true scale, closed paths, the same area.
#include "report/files/section_svg.h"

#include <gtest/gtest.h>

#include <cmath>
#include <sstream>

namespace proveout::files {
namespace {

std::string between(const std::string& text, const std::string& before, const std::string& after) {
  const auto from = text.find(before);
  if (from == std::string::npos) return {};
  const auto to = text.find(after, from + before.size());
  return text.substr(from + before.size(), to - from - before.size());
}

// Area of the path of M x yL x y...Z pieces, by the shoelace formula with y turned up again.
double area_of(const std::string& path) {
  double area = 0;
  std::string piece;
  std::istringstream pieces(path);
  while (std::getline(pieces, piece, 'Z')) {
    for (char& c : piece)
      if (c == 'M' || c == 'L' || c == '\n') c = ' ';
    std::istringstream numbers(piece);
    std::vector<std::pair<double, double>> p;
    for (double x = 0, y = 0; numbers >> x >> y;) p.emplace_back(x, -y);
    for (std::size_t k = 0; k < p.size(); ++k) {
      const auto& [ax, ay] = p[k];
      const auto& [bx, by] = p[(k + 1) % p.size()];
      area += 0.5 * (ax * by - bx * ay);
    }
  }
  return area;
}

TEST(SectionSvg, TrueToScaleAndWhole) {
  stock::Stock stock = stock::Stock::box({31, 17, 9}, 0.25);
  const measure::Section s = measure::section(stock, RigidMotion(Eigen::Translation3d(4, 3, 4.4)));
  const std::string svg = section_svg(s, "pull <b>&</b>");
  EXPECT_NEAR(std::stod(between(svg, "width=\"", "mm\"")), 31 + 10, 0.05);
  EXPECT_NEAR(std::stod(between(svg, "height=\"", "mm\"")), 17 + 10, 0.05);
  std::istringstream box(between(svg, "viewBox=\"", "\""));
  double x = 0, y = 0, wide = 0, high = 0;
  ASSERT_TRUE(box >> x >> y >> wide >> high);
  EXPECT_NEAR(x, -4 - 5, 0.02);
  EXPECT_NEAR(y, -(17 - 3) - 5, 0.02);  // y up on the machine is up in the picture
  EXPECT_NEAR(wide, 41, 0.05);
  EXPECT_NEAR(area_of(between(svg, "d=\"", "\"/>")), 31 * 17, 0.1);
  EXPECT_NE(svg.find("pull &lt;b&gt;&amp;&lt;/b&gt;"), std::string::npos);
  EXPECT_EQ(between(svg, "<desc>", "</desc>").find("1 unit = 1 mm"), 0u);
}

TEST(SectionSvg, NothingThere) {
  const std::string svg = section_svg({}, "air");
  EXPECT_NE(svg.find("0 contours"), std::string::npos);
  EXPECT_EQ(svg.substr(svg.size() - 7), "</svg>\n");
}

}  // namespace
}  // namespace proveout::files
