#include <png.h>

#include <stdexcept>

#include "report/picture/picture.h"

namespace proveout::picture {

std::string png(const Picture& picture) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(picture.width);
  image.height = static_cast<png_uint_32>(picture.height);
  image.format = PNG_FORMAT_RGB;
  png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::string bytes(size, '\0');
  if (!png_image_write_to_memory(&image, bytes.data(), &size, 0, picture.rgb.data(), 0, nullptr))
    throw std::runtime_error(std::string("the picture cannot be packed: ") + image.message);
  bytes.resize(size);
  return bytes;
}

}  // namespace proveout::picture
