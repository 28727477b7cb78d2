// Lines, letters and marks drawn over a finished picture.
#pragma once

#include <string_view>

#include "report/picture/camera.h"

namespace proveout::picture {

void draw_line(Picture& picture, const Eigen::Vector2d& from, const Eigen::Vector2d& to,
               double width, Rgb colour);
// Letters of 5 x 7 dots; (x, y): top left; dot: pixels per dot.
void draw_text(Picture& picture, int x, int y, int dot, std::string_view text, Rgb colour);
void draw_zero(Picture& picture, const Camera& camera, const RigidMotion& stock_from_setup);
void draw_ring(Picture& picture, const Camera& camera, const Vec3& at);
void draw_scale_bar(Picture& picture, const Camera& camera);
void draw_legend(Picture& picture, const PictureOptions& options);

}  // namespace proveout::picture
