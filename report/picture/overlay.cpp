#include "report/picture/overlay.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace proveout::picture {
namespace {

constexpr Rgb ink{40, 44, 52};

void blend(Picture& picture, int x, int y, Rgb colour, double share) {
  if (x < 0 || y < 0 || x >= picture.width || y >= picture.height || share <= 0) return;
  std::uint8_t* p = &picture.rgb[3 * (static_cast<std::size_t>(y) * picture.width + x)];
  const std::uint8_t c[3] = {colour.red, colour.green, colour.blue};
  for (int k = 0; k < 3; ++k)
    p[k] = static_cast<std::uint8_t>(std::lround(p[k] + std::min(1.0, share) * (c[k] - p[k])));
}

void fill(Picture& picture, int x0, int y0, int x1, int y1, Rgb colour) {
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) blend(picture, x, y, colour, 1);
}

// Seven rows of five dots, the leftmost dot in bit 4.
const std::map<char, std::array<std::uint8_t, 7>>& letters() {
  static const std::map<char, std::array<std::uint8_t, 7>> dots = {
      {'0', {14, 17, 19, 21, 25, 17, 14}}, {'1', {4, 12, 4, 4, 4, 4, 14}},
      {'2', {14, 17, 1, 2, 4, 8, 31}},     {'3', {31, 2, 4, 2, 1, 17, 14}},
      {'4', {2, 6, 10, 18, 31, 2, 2}},     {'5', {31, 16, 30, 1, 1, 17, 14}},
      {'6', {6, 8, 16, 30, 17, 17, 14}},   {'7', {31, 1, 2, 4, 8, 8, 8}},
      {'8', {14, 17, 17, 14, 17, 17, 14}}, {'9', {14, 17, 17, 15, 1, 2, 12}},
      {'.', {0, 0, 0, 0, 0, 12, 12}},      {'-', {0, 0, 0, 31, 0, 0, 0}},
      {'+', {0, 4, 4, 31, 4, 4, 0}},       {'/', {1, 1, 2, 4, 8, 16, 16}},
      {'T', {31, 4, 4, 4, 4, 4, 4}},       {'X', {17, 17, 10, 4, 10, 17, 17}},
      {'Y', {17, 17, 10, 4, 4, 4, 4}},     {'Z', {31, 1, 2, 4, 8, 16, 31}},
      {'M', {17, 27, 21, 21, 17, 17, 17}}, {'B', {30, 17, 17, 30, 17, 17, 30}},
      {'L', {16, 16, 16, 16, 16, 16, 31}}, {'A', {14, 17, 17, 31, 17, 17, 17}},
      {'N', {17, 25, 21, 19, 17, 17, 17}}, {'K', {17, 18, 20, 24, 20, 18, 17}},
      {'O', {14, 17, 17, 17, 17, 17, 14}}, {'V', {17, 17, 17, 17, 17, 10, 4}},
      {'E', {31, 16, 16, 30, 16, 16, 31}}, {'R', {30, 17, 17, 30, 20, 18, 17}},
      {'F', {31, 16, 16, 30, 16, 16, 16}}, {'I', {14, 4, 4, 4, 4, 4, 14}},
      {'P', {30, 17, 17, 30, 16, 16, 16}}};
  return dots;
}

}  // namespace

void draw_line(Picture& picture, const Eigen::Vector2d& from, const Eigen::Vector2d& to,
               double width, Rgb colour) {
  const Eigen::Vector2d along = to - from;
  const double length2 = std::max(1e-12, along.squaredNorm());
  const double reach = 0.5 * width + 1;
  const int x0 = static_cast<int>(std::floor(std::max(0.0, std::min(from.x(), to.x()) - reach)));
  const int y0 = static_cast<int>(std::floor(std::max(0.0, std::min(from.y(), to.y()) - reach)));
  const int x1 =
      static_cast<int>(std::min(picture.width - 1.0, std::max(from.x(), to.x()) + reach));
  const int y1 =
      static_cast<int>(std::min(picture.height - 1.0, std::max(from.y(), to.y()) + reach));
  for (int y = y0; y <= y1; ++y) {
    for (int x = x0; x <= x1; ++x) {
      const Eigen::Vector2d p = Eigen::Vector2d(x + 0.5, y + 0.5) - from;
      const double t = std::clamp(p.dot(along) / length2, 0.0, 1.0);
      blend(picture, x, y, colour, 0.5 * width + 0.5 - (p - t * along).norm());
    }
  }
}

void draw_text(Picture& picture, int x, int y, int dot, std::string_view text, Rgb colour) {
  for (const char c : text) {
    const auto found = letters().find(c);
    for (int r = 0; found != letters().end() && r < 7; ++r)
      for (int b = 0; b < 5; ++b)
        if (found->second[r] >> (4 - b) & 1)
          fill(picture, x + b * dot, y + r * dot, x + (b + 1) * dot, y + (r + 1) * dot, colour);
    x += 6 * dot;
  }
}

void draw_ring(Picture& picture, const Camera& camera, const Vec3& at) {
  const Eigen::Vector2d middle = camera.pixel(at);
  const double radius = 0.05 * std::min(picture.width, picture.height);
  const int dot = std::max(1, picture.width / 500);
  constexpr int pieces = 48;
  // White under red, so that it reads on any ground.
  for (const auto& [width, colour] :
       {std::pair{2.0 * dot + 2, Rgb{255, 255, 255}}, {1.4 * dot, Rgb{213, 94, 0}}}) {
    for (int k = 0; k < pieces; ++k) {
      const double a = 2 * pi * k / pieces, b = 2 * pi * (k + 1) / pieces;
      draw_line(picture, middle + radius * Eigen::Vector2d(std::cos(a), std::sin(a)),
                middle + radius * Eigen::Vector2d(std::cos(b), std::sin(b)), width, colour);
    }
  }
}

void draw_zero(Picture& picture, const Camera& camera, const RigidMotion& stock_from_setup) {
  const double length = 0.11 * std::min(camera.width, camera.height) * camera.mm_per_pixel;
  const Vec3 zero = stock_from_setup.translation();
  const Eigen::Vector2d from = camera.pixel(zero);
  const int dot = std::max(1, picture.width / 500);
  for (int a = 0; a < 3; ++a) {
    const Rgb colour = distinct_colour(std::array{5, 2, 4}[a]);
    const Eigen::Vector2d to = camera.pixel(zero + length * stock_from_setup.linear().col(a));
    const Eigen::Vector2d d = to - from;
    if (d.norm() < 4) continue;  // it points at the eye
    const Eigen::Vector2d u = d.normalized(), across(-u.y(), u.x());
    const double head = 4.0 * dot;
    draw_line(picture, from, to, 1.4 * dot + 2, {255, 255, 255});
    for (const double side : {-1.0, 1.0})
      draw_line(picture, to, to - head * u + side * 0.6 * head * across, 1.4 * dot + 2,
                {255, 255, 255});
    for (const double side : {-1.0, 1.0})
      draw_line(picture, to, to - head * u + side * 0.6 * head * across, 1.4 * dot, colour);
    draw_line(picture, from, to, 1.4 * dot, colour);
    const Eigen::Vector2d label = to + 7 * dot * u - Eigen::Vector2d(2.5 * dot, 3.5 * dot);
    const std::string letter(1, "XYZ"[a]);
    const int x = static_cast<int>(label.x()), y = static_cast<int>(label.y());
    for (int k = 0; k < 9; ++k)  // a light rim, so that it reads on any ground
      draw_text(picture, x + k % 3 * dot - dot, y + k / 3 * dot - dot, dot, letter,
                {255, 255, 255});
    draw_text(picture, x, y, dot, letter, colour);
  }
  draw_line(picture, from, from, 6.0 * dot, ink);
  draw_line(picture, from, from, 3.0 * dot, {255, 255, 255});
}

void draw_scale_bar(Picture& picture, const Camera& camera) {
  const double most = 0.2 * picture.width * camera.mm_per_pixel;
  const double ten = std::pow(10.0, std::floor(std::log10(most)));
  const double mm = most >= 5 * ten ? 5 * ten : most >= 2 * ten ? 2 * ten : ten;
  const int dot = std::max(1, picture.width / 600);
  const double y = picture.height - 12.0 * dot, x = 12.0 * dot, end = x + mm / camera.mm_per_pixel;
  draw_line(picture, {x, y}, {end, y}, dot, ink);
  for (const double at : {x, end})
    draw_line(picture, {at, y - 3 * dot}, {at, y + 3 * dot}, dot, ink);
  draw_text(picture, static_cast<int>(x), static_cast<int>(y) - 13 * dot, dot,
            fmt::format("{:g} MM", mm), ink);
}

void draw_legend(Picture& picture, const PictureOptions& options) {
  const int dot = std::max(1, picture.width / 600);
  const int x = 12 * dot;
  int y = 12 * dot;
  if (options.part != nullptr) {  // the colour scale, with its ends in mm and in words
    const int wide = 120 * dot;
    for (int k = 0; k < wide; ++k)
      fill(picture, x + k, y, x + k + 1, y + 8 * dot, deviation_colour(2.0 * k / (wide - 1) - 1));
    draw_text(picture, x, y + 11 * dot, dot, fmt::format("-{:g}", options.deviation_end), ink);
    draw_text(picture, x + wide / 2 - 2 * dot, y + 11 * dot, dot, "0", ink);
    const std::string end = fmt::format("+{:g} MM", options.deviation_end);
    draw_text(picture, x + wide - 6 * dot * static_cast<int>(end.size() - 3), y + 11 * dot, dot,
              end, ink);
    const std::string_view into = "INTO PART", on = "LEFT ON";
    draw_text(picture, x, y + 21 * dot, dot, into, ink);
    draw_text(picture, x + wide - 6 * dot * static_cast<int>(on.size()), y + 21 * dot, dot, on,
              ink);
    y += 36 * dot;
  }
  for (const LegendEntry& entry : options.legend) {
    fill(picture, x, y, x + 8 * dot, y + 8 * dot, entry.colour);
    draw_text(picture, x + 12 * dot, y, dot, entry.text, ink);
    y += 12 * dot;
  }
}

}  // namespace proveout::picture
