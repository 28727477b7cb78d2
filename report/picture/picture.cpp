#include "report/picture/picture.h"

#include <fmt/format.h>
#include <openvdb/tools/RayIntersector.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "report/picture/camera.h"
#include "report/picture/overlay.h"
#include "sim/measure/measure.h"
#include "sim/stock/distance_reader.h"

namespace proveout::picture {
namespace {

constexpr Rgb plain{196, 200, 206};

// What a ray met.
struct Hit {
  bool any = false, on_section = false;
  double far = 0;  // mm along the ray
  Vec3 at = Vec3::Zero(), normal = Vec3::Zero();
  Rgb colour;
};

using Intersector = openvdb::tools::LevelSetRayIntersector<openvdb::FloatGrid>;
using Ray = openvdb::math::Ray<double>;

// The stock's distances as the library that follows rays wants them. Its unit of length is a step
// of the stock's own whole numbers, so that none has to be changed.
openvdb::FloatGrid::Ptr in_steps(const stock::Stock::Fields& fields) {
  auto grid = openvdb::FloatGrid::create(stock::Stock::Fields::band_steps);
  grid->setTree(std::make_shared<openvdb::FloatTree>(fields.steps->tree()));
  auto transform =
      openvdb::math::Transform::createLinearTransform(stock::Stock::Fields::steps_a_voxel);
  transform->postTranslate(
      openvdb::Vec3d((0.5 - stock::Stock::Fields::first) * stock::Stock::Fields::steps_a_voxel));
  grid->setTransform(transform);
  grid->setGridClass(openvdb::GRID_LEVEL_SET);
  return grid;
}

// Follows rays through one stock; one per thread, for its accessors remember where they were.
class Tracer {
 public:
  Tracer(const stock::Stock::Fields& fields, const Intersector* rays, const PictureOptions& options)
      : options_(options),
        fields_(fields),
        steps_a_mm_(1 / static_cast<double>(fields.mm_a_step())),
        rays_(rays != nullptr ? std::optional(*rays) : std::nullopt),
        distance_(fields),
        provenance_(fields.provenance->tree()) {}

  Hit follow(const Vec3& from, const Vec3& along) {
    Hit hit;
    double t = 0, end = 1e6;
    bool opened = false;
    if (options_.section && !within_section(from, along, t, end, opened)) return hit;
    if (opened && distance_(from + t * along) < 0)
      return {true, true, t, from + t * along, options_.section->normal, section_colour};
    if (!meet(from, along, t, end, &hit.normal)) return hit;
    hit.any = true;
    hit.far = t;
    hit.at = from + t * along;
    hit.colour = colour(hit.at);
    return hit;
  }

  // Share of short rays over the surface that find no material near by, 0..1. Of eight directions
  // two are tried, which two says quarter (0..3): the four rays of a pixel together try all.
  double open(const Hit& hit, int quarter) {
    const Vec3 n = hit.normal;
    const Vec3 side = (std::abs(n.x()) < 0.7 ? Vec3::UnitX() : Vec3::UnitY()).cross(n).normalized();
    const Vec3 other = n.cross(side);
    double sum = 0;
    for (int k = quarter; k < directions; k += 4) {
      const double turn = 2 * pi * k / directions, lift = k % 2 ? 0.45 : 1.1;
      const Vec3 along = (std::cos(turn) * side + std::sin(turn) * other + lift * n).normalized();
      double t = 0;
      const Vec3 from = hit.at + 0.8 * fields_.voxel * n;
      sum += meet(from, along, t, near_by) ? t / near_by : 1;
    }
    return 4 * sum / directions;
  }

 private:
  static constexpr int directions = 8;
  static constexpr double near_by = 7;  // mm
  static constexpr Rgb section_colour{222, 206, 170};

  bool within_section(const Vec3& from, const Vec3& along, double& t, double& end,
                      bool& cut) const {
    const double above =
        (from + t * along - options_.section->through).dot(options_.section->normal);
    const double rate = along.dot(options_.section->normal);
    if (above <= 0) {  // on the side that stays; it may leave it
      if (rate > 0) end = std::min(end, t - above / rate);
      return t < end;
    }
    if (rate >= 0) return false;
    t -= above / rate;
    cut = true;
    return t < end;
  }

  // Moves t (mm) to the first place on the surface; false: none before end.
  bool meet(const Vec3& from, const Vec3& along, double& t, double end, Vec3* normal = nullptr) {
    if (!rays_) return false;
    const Vec3 eye = steps_a_mm_ * from;
    const Ray ray({eye.x(), eye.y(), eye.z()}, {along.x(), along.y(), along.z()}, t * steps_a_mm_,
                  end * steps_a_mm_);
    openvdb::Vec3d at, outwards;
    double time = 0;
    if (!rays_->intersectsWS(ray, at, outwards, time)) return false;
    t = time / steps_a_mm_;
    if (normal != nullptr) *normal = Vec3(outwards.x(), outwards.y(), outwards.z());
    return true;
  }

  Rgb colour(const Vec3& at) const {
    if (options_.part != nullptr) {
      const double end = options_.deviation_end;
      const double share = options_.part->at_mostly_near(at, 5 * end) / end;
      return share > deviation_grey_ends ? plain : deviation_colour(share);
    }
    if (!options_.colour_of) return plain;
    return options_.colour_of(
        static_cast<stock::MotionId>(provenance_.getValue(fields_.holding(at))));
  }

  const PictureOptions& options_;
  const stock::Stock::Fields& fields_;
  double steps_a_mm_;
  std::optional<Intersector> rays_;  // none: there is no surface
  stock::FieldSampler distance_;
  openvdb::tree::ValueAccessor<const openvdb::Int32Tree, false> provenance_;
};

std::uint8_t byte(double v) {
  return static_cast<std::uint8_t>(std::lround(std::clamp(v, 0.0, 255.0)));
}

// Light from the upper left over the eye's shoulder, and a little from everywhere.
Eigen::Vector3d lit(const Hit& hit, double open, const Camera& camera) {
  const Vec3 key = (-0.45 * camera.right + 0.75 * camera.up - 0.6 * camera.towards).normalized();
  const Vec3 fill = (0.8 * camera.right + 0.1 * camera.up - 0.6 * camera.towards).normalized();
  const double light = (0.36 + 0.58 * std::max(0.0, hit.normal.dot(key)) +
                        0.18 * std::max(0.0, hit.normal.dot(fill))) *
                       (0.45 + 0.55 * open);
  return light * Eigen::Vector3d(hit.colour.red, hit.colour.green, hit.colour.blue);
}

// 1 where the surface breaks between neighbouring rays, 0 where it goes on. spacing: mm of the
// rays.
double break_between(const Hit& a, const Hit& b, double spacing, double voxel,
                     const Vec3& towards) {
  if (a.any != b.any || a.on_section != b.on_section) return 1;
  if (!a.any) return 0;
  const double facing = std::max(0.15, std::abs(a.normal.dot(towards)));
  if (std::abs(a.far - b.far) > 3 * spacing / facing + 2 * voxel) return 1;
  return std::clamp((0.9 - a.normal.dot(b.normal)) * 2.0, 0.0, 0.6);
}

struct Rows {  // of rays, two by two a pixel
  int width = 0, height = 0;
  std::vector<Hit> hits;
  std::vector<double> open;
  const Hit& at(int x, int y) const {
    return hits[static_cast<std::size_t>(std::clamp(y, 0, height - 1)) * width +
                std::clamp(x, 0, width - 1)];
  }
};

Eigen::Vector3d ray_colour(const Rows& rows, int x, int y, const Camera& camera, double voxel) {
  const Hit& hit = rows.at(x, y);
  const double down = static_cast<double>(y) / rows.height;
  Eigen::Vector3d colour(250 - 22 * down, 251 - 20 * down, 253 - 16 * down);
  if (hit.any && hit.on_section) {
    const bool hatch = ((x + y) / 4) % 6 == 0;  // as a drawing marks cut material
    colour =
        Eigen::Vector3d(hit.colour.red, hit.colour.green, hit.colour.blue) * (hatch ? 0.82 : 1);
  } else if (hit.any) {
    colour = lit(hit, rows.open[static_cast<std::size_t>(y) * rows.width + x], camera);
  }
  const double spacing = 0.5 * camera.mm_per_pixel;
  const double edge =
      std::max(break_between(hit, rows.at(x + 1, y), spacing, voxel, camera.towards),
               break_between(hit, rows.at(x, y + 1), spacing, voxel, camera.towards));
  return colour + 0.62 * edge * (Eigen::Vector3d(30, 34, 42) - colour);
}

Rows trace(const stock::Stock& stock, const PictureOptions& options, const Camera& camera) {
  Rows rows{2 * camera.width, 2 * camera.height, {}, {}};
  const std::size_t count = static_cast<std::size_t>(rows.width) * rows.height;
  rows.hits.resize(count);
  rows.open.assign(count, 1);
  const stock::Stock::Fields& fields = stock.fields();
  const openvdb::FloatGrid::Ptr grid = in_steps(fields);
  std::optional<Intersector> rays;
  if (!grid->empty()) rays.emplace(*grid);
  tbb::parallel_for(0, rows.height, [&](int y) {
    Tracer tracer(fields, rays ? &*rays : nullptr, options);
    for (int x = 0; x < rows.width; ++x) {
      const std::size_t n = static_cast<std::size_t>(y) * rows.width + x;
      rows.hits[n] = tracer.follow(camera.ray_from(0.5 * x + 0.25, 0.5 * y + 0.25), camera.towards);
      if (rows.hits[n].any && !rows.hits[n].on_section)
        rows.open[n] = tracer.open(rows.hits[n], x % 2 + 2 * (y % 2));
    }
  });
  return rows;
}

}  // namespace

Camera camera_for(const PictureOptions& options, const Box3& box) {
  const double turned = options.turned_deg / deg_per_rad, raised = options.raised_deg / deg_per_rad;
  const Vec3 right(std::cos(turned), std::sin(turned), 0);
  const Vec3 flat(-std::sin(turned), std::cos(turned), 0);
  const Vec3 towards = std::cos(raised) * flat - std::sin(raised) * Vec3::UnitZ();
  const Eigen::Matrix3d turn = options.stock_from_setup.linear();
  Camera camera;
  camera.width = std::clamp(options.width, 16, 8192);
  camera.height = std::clamp(options.height, 16, 8192);
  camera.right = turn * right;
  camera.towards = turn * towards;
  camera.up = camera.right.cross(camera.towards);
  camera.middle = options.focus ? options.focus->at : box.center();
  double wide = 1e-6, high = 1e-6;
  for (int c = 0; c < 8; ++c) {
    const Vec3 d = box.corner(static_cast<Box3::CornerType>(c)) - camera.middle;
    wide = std::max(wide, 2 * std::abs(d.dot(camera.right)));
    high = std::max(high, 2 * std::abs(d.dot(camera.up)));
    camera.far = std::max(camera.far, d.norm() + 1);
  }
  if (options.focus) wide = high = 2 * std::max(options.focus->radius, 0.1);
  camera.mm_per_pixel = std::max(wide / (0.84 * camera.width), high / (0.78 * camera.height));
  return camera;
}

Picture draw(const stock::Stock& stock, const PictureOptions& options) {
  Box3 box = measure::extent(stock, Eigen::Matrix3d::Identity());
  if (box.isEmpty()) box = Box3(Vec3::Zero(), Vec3::Ones());
  box.min() -= Vec3::Constant(stock.voxel());
  box.max() += Vec3::Constant(stock.voxel());
  const Camera camera = camera_for(options, box);
  const Rows rows = trace(stock, options, camera);
  Picture picture{camera.width, camera.height, {}};
  picture.rgb.resize(3 * static_cast<std::size_t>(camera.width) * camera.height);
  tbb::parallel_for(0, camera.height, [&](int y) {
    for (int x = 0; x < camera.width; ++x) {
      Eigen::Vector3d sum = Eigen::Vector3d::Zero();
      for (int k = 0; k < 4; ++k)
        sum += ray_colour(rows, 2 * x + k % 2, 2 * y + k / 2, camera, stock.voxel());
      for (int k = 0; k < 3; ++k)
        picture.rgb[3 * (static_cast<std::size_t>(y) * camera.width + x) + k] = byte(sum[k] / 4);
    }
  });
  if (options.zero_mark) draw_zero(picture, camera, options.stock_from_setup);
  if (options.focus) draw_ring(picture, camera, options.focus->at);
  draw_scale_bar(picture, camera);
  PictureOptions with_rest = options;
  if (options.part != nullptr)
    with_rest.legend.push_back(
        {plain, fmt::format("OVER +{:g} MM", deviation_grey_ends * options.deviation_end)});
  draw_legend(picture, with_rest);
  return picture;
}

}  // namespace proveout::picture
