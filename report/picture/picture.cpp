#include "report/picture/picture.h"

#include <fmt/format.h>
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

// Follows rays through one stock; one per thread, for its accessors remember where they were.
class Tracer {
 public:
  Tracer(const stock::Stock& stock, const Box3& box, const PictureOptions& options)
      : options_(options),
        box_(box),
        fields_(stock.fields()),
        h_(stock.voxel()),
        band_(0.999 * stock::Stock::Fields::band_voxels * stock.voxel()),
        distance_(stock.fields()),
        provenance_(stock.fields().provenance->tree()) {}

  Hit follow(const Vec3& from, const Vec3& along) const {
    Hit hit;
    double t = 0, end = 0;
    if (!within_box(from, along, t, end)) return hit;
    bool cut_by_section = false;
    if (options_.section && !within_section(from, along, t, end, cut_by_section)) return hit;
    if (cut_by_section && near_value(from + t * along) < 0 && value(from + t * along) < 0) {
      hit = {true, true, t, from + t * along, options_.section->normal, section_colour};
      return hit;
    }
    if (!march(from, along, t, end)) return hit;
    hit.any = true;
    hit.far = t;
    hit.at = from + t * along;
    hit.normal = slope(hit.at);
    hit.colour = colour(hit.at);
    return hit;
  }

  // Share of short rays over the surface that find no material near by, 0..1. Of eight directions
  // two are tried, which two says quarter (0..3): the four rays of a pixel together try all.
  double open(const Hit& hit, int quarter) const {
    const Vec3 n = hit.normal;
    const Vec3 side = (std::abs(n.x()) < 0.7 ? Vec3::UnitX() : Vec3::UnitY()).cross(n).normalized();
    const Vec3 other = n.cross(side);
    double sum = 0;
    for (int k = quarter; k < rays; k += 4) {
      const double turn = 2 * pi * k / rays, lift = k % 2 ? 0.45 : 1.1;
      const Vec3 along = (std::cos(turn) * side + std::sin(turn) * other + lift * n).normalized();
      double t = 0;
      const Vec3 from = hit.at + 0.8 * h_ * n;
      sum += march(from, along, t, near_by) ? t / near_by : 1;
    }
    return 4 * sum / rays;
  }

 private:
  static constexpr int rays = 8;
  static constexpr double near_by = 7;  // mm
  static constexpr Rgb section_colour{222, 206, 170};

  bool within_box(const Vec3& from, const Vec3& along, double& t, double& end) const {
    end = 1e30;
    for (int a = 0; a < 3; ++a) {
      if (std::abs(along[a]) < 1e-12) {
        if (from[a] < box_.min()[a] || from[a] > box_.max()[a]) return false;
        continue;
      }
      const double t0 = (box_.min()[a] - from[a]) / along[a];
      const double t1 = (box_.max()[a] - from[a]) / along[a];
      t = std::max(t, std::min(t0, t1));
      end = std::min(end, std::max(t0, t1));
    }
    return t < end;
  }

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

  // Moves t to the first place on the surface; false: none before end.
  bool march(const Vec3& from, const Vec3& along, double& t, double end) const {
    double before = t;
    while (t < end) {
      const Vec3 at = from + t * along;
      double d = near_value(at);
      if (d < 2 * h_) d = value(at);
      if (d <= 0) {
        for (int k = 0; k < 10; ++k) {  // halve onto the zero
          const double middle = 0.5 * (before + t);
          (value(from + middle * along) <= 0 ? t : before) = middle;
        }
        return true;
      }
      before = t;
      if (d >= band_) {  // where the field is kept in blocks, the whole block is crossed at once
        const double through = way_through_block(at, along);
        if (through > 0) {
          t += through;
          continue;
        }
      }
      // The nearest voxel's centre is up to 0.87 voxels away; the sampled field is no more than
      // that off.
      t += std::max(0.2 * h_, d >= 2 * h_ ? d - 0.9 * h_ : 0.8 * d);
    }
    return false;
  }

  // mm from a place in the air to the end of the block of one value it lies in; 0 where every voxel
  // has its own.
  double way_through_block(const Vec3& at, const Vec3& along) const {
    const Vec3 i = in_voxels(at);
    const openvdb::Coord c(whole(i.x()), whole(i.y()), whole(i.z()));
    const int depth = distance_.depth(c);
    if (depth >= 3) return 0;
    const int size = depth == 2 ? 8 : depth == 1 ? 128 : 4096;
    double way = 1e30;
    for (int a = 0; a < 3; ++a) {
      if (std::abs(along[a]) < 1e-12) continue;
      const int low = c[a] & ~(size - 1);
      way = std::min(way, ((along[a] > 0 ? low + size : low) - i[a]) / along[a]);
    }
    return std::max(0.0, way) * h_ + 1e-3 * h_;
  }

  // Towards minus infinity, for places of ordinary size.
  static int whole(double v) {
    constexpr int far = 1 << 24;
    return static_cast<int>(v + far) - far;
  }

  // Among the voxels' middles, and among the voxels: voxel (0, 0, 0) is the cube from 0 to 1.
  Vec3 index_of(const Vec3& at) const { return fields_.index(at); }
  Vec3 in_voxels(const Vec3& at) const { return fields_.index(at) + Vec3::Constant(0.5); }

  double near_value(const Vec3& at) const {
    const Vec3 i = in_voxels(at);
    return distance_.at(openvdb::Coord(whole(i.x()), whole(i.y()), whole(i.z())));
  }

  double value(const Vec3& at) const {
    const Vec3 i = index_of(at);
    const openvdb::Coord c(whole(i.x()), whole(i.y()), whole(i.z()));
    const Vec3 f = i - Vec3(c.x(), c.y(), c.z());
    double sum = 0;
    for (int k = 0; k < 8; ++k) {
      const int dx = k & 1, dy = k >> 1 & 1, dz = k >> 2;
      sum += (dx ? f.x() : 1 - f.x()) * (dy ? f.y() : 1 - f.y()) * (dz ? f.z() : 1 - f.z()) *
             distance_.at(c.offsetBy(dx, dy, dz));
    }
    return sum;
  }

  Vec3 slope(const Vec3& at) const {
    Vec3 g;
    for (int a = 0; a < 3; ++a) {
      const Vec3 step = 0.6 * h_ * Vec3::Unit(a);
      g[a] = value(at + step) - value(at - step);
    }
    return g.norm() > 1e-12 ? g.normalized() : Vec3(Vec3::UnitZ());
  }

  Rgb colour(const Vec3& at) const {
    if (options_.part != nullptr) {
      const double end = options_.deviation_end;
      const double share = options_.part->at_mostly_near(at, 5 * end) / end;
      return share > deviation_grey_ends ? plain : deviation_colour(share);
    }
    if (!options_.colour_of) return plain;
    const Vec3 i = index_of(at);
    const openvdb::Coord c(static_cast<int>(std::lround(i.x())),
                           static_cast<int>(std::lround(i.y())),
                           static_cast<int>(std::lround(i.z())));
    return options_.colour_of(static_cast<stock::MotionId>(provenance_.getValue(c)));
  }

  const PictureOptions& options_;
  Box3 box_;
  const stock::Stock::Fields& fields_;
  double h_, band_;
  stock::DistanceReader distance_;
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

Rows trace(const stock::Stock& stock, const PictureOptions& options, const Camera& camera,
           const Box3& box) {
  Rows rows{2 * camera.width, 2 * camera.height, {}, {}};
  const std::size_t count = static_cast<std::size_t>(rows.width) * rows.height;
  rows.hits.resize(count);
  rows.open.assign(count, 1);
  tbb::parallel_for(0, rows.height, [&](int y) {
    const Tracer tracer(stock, box, options);
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
  const Rows rows = trace(stock, options, camera, box);
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
