// Parallel projection that shows a whole box.
#pragma once

#include "parser/base/geometry.h"
#include "report/picture/picture.h"

namespace proveout::picture {

struct Camera {
  Vec3 right, up, towards;  // unit, stock coordinates; towards: into the picture
  Vec3 middle;              // mm: shown in the picture's middle
  double mm_per_pixel = 1;
  int width = 0, height = 0;
  double far = 0;  // mm from the middle's plane, both ways, that holds the whole box

  Vec3 ray_from(double x, double y) const {  // pixels from the top left
    return middle + (x - 0.5 * width) * mm_per_pixel * right +
           (0.5 * height - y) * mm_per_pixel * up - far * towards;
  }
  Eigen::Vector2d pixel(const Vec3& at) const {
    const Vec3 d = at - middle;
    return {0.5 * width + d.dot(right) / mm_per_pixel, 0.5 * height - d.dot(up) / mm_per_pixel};
  }
};

Camera camera_for(const PictureOptions& options, const Box3& box);

}  // namespace proveout::picture
