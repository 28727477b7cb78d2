#include "report/mesh/simplify.h"

#include <meshoptimizer.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>

namespace proveout::mesh_files {
namespace {

constexpr std::uint32_t unused = ~std::uint32_t{0};

// The vertices the triangles still name, in their old order.
page::Surface compacted(const page::Surface& from, std::vector<std::uint32_t> triangles) {
  page::Surface out;
  std::vector<std::uint32_t> renamed(from.vertices.size() / 3, unused);
  for (const std::uint32_t v : triangles) renamed[v] = 0;
  std::uint32_t count = 0;
  for (std::size_t v = 0; v < renamed.size(); ++v) {
    if (renamed[v] == unused) continue;
    renamed[v] = count++;
    for (std::size_t a = 0; a < 3; ++a) out.vertices.push_back(from.vertices[3 * v + a]);
    if (!from.made_by.empty()) out.made_by.push_back(from.made_by[v]);
    if (!from.deviation.empty()) out.deviation.push_back(from.deviation[v]);
  }
  for (std::uint32_t& v : triangles) v = renamed[v];
  out.triangles = std::move(triangles);
  return out;
}

// Collapsing can lay a flap on itself: two triangles of the same corners, facing each other.
// Without them the surface is as closed as before, and each of their edges is left with its two
// neighbours.
void drop_flaps(std::vector<std::uint32_t>& triangles) {
  struct Face {
    std::array<std::uint32_t, 3> corners;  // in order of number
    bool turned;                           // against the order of the triangle
    std::size_t at;
  };
  std::vector<Face> faces(triangles.size() / 3);
  for (std::size_t f = 0; f < faces.size(); ++f) {
    std::array<std::uint32_t, 3> c = {triangles[3 * f], triangles[3 * f + 1], triangles[3 * f + 2]};
    bool turned = false;
    for (const std::size_t k : {0, 1, 0}) {
      if (c[k] < c[k + 1]) continue;
      std::swap(c[k], c[k + 1]);
      turned = !turned;
    }
    faces[f] = {c, turned, f};
  }
  std::sort(faces.begin(), faces.end(), [](const Face& a, const Face& b) {
    return std::tie(a.corners, a.at) < std::tie(b.corners, b.at);
  });
  std::vector<char> dropped(faces.size());
  for (std::size_t i = 0; i + 1 < faces.size(); ++i) {
    if (faces[i].corners != faces[i + 1].corners || faces[i].turned == faces[i + 1].turned)
      continue;
    dropped[faces[i].at] = dropped[faces[i + 1].at] = 1;
    ++i;
  }
  std::vector<std::uint32_t> kept;
  for (std::size_t f = 0; f < dropped.size(); ++f) {
    if (dropped[f]) continue;
    kept.insert(kept.end(), triangles.begin() + static_cast<std::ptrdiff_t>(3 * f),
                triangles.begin() + static_cast<std::ptrdiff_t>(3 * f + 3));
  }
  triangles = std::move(kept);
}

// Boxes of edge reach that hold a place, and all about them.
class Surroundings {
 public:
  Surroundings(std::span<const Vec3> places, double reach) : reach_(reach) {
    for (const Vec3& p : places) {
      const Cell middle = cell(p);
      for (int n = 0; n < 27; ++n)
        cells_.push_back({middle[0] + n % 3 - 1, middle[1] + n / 3 % 3 - 1, middle[2] + n / 9 - 1});
    }
    std::sort(cells_.begin(), cells_.end());
    cells_.erase(std::unique(cells_.begin(), cells_.end()), cells_.end());
  }
  bool hold(const Vec3& p) const {
    return !cells_.empty() && std::binary_search(cells_.begin(), cells_.end(), cell(p));
  }

 private:
  using Cell = std::array<int, 3>;
  Cell cell(const Vec3& p) const {
    return {static_cast<int>(std::floor(p.x() / reach_)),
            static_cast<int>(std::floor(p.y() / reach_)),
            static_cast<int>(std::floor(p.z() / reach_))};
  }
  double reach_;
  std::vector<Cell> cells_;
};

// Left: triangles that stay; the border between them and the others is locked.
std::vector<std::uint32_t> collapsed(const page::Surface& surface, double tolerance,
                                     const std::vector<std::uint32_t>& left,
                                     const std::vector<std::uint32_t>& others) {
  const std::size_t vertices = surface.vertices.size() / 3, stride = 3 * sizeof(float);
  const float* places = surface.vertices.data();
  const float scale = meshopt_simplifyScale(places, vertices, stride);
  std::vector<std::uint32_t> out(others.size());
  const unsigned options = left.empty() ? 0 : meshopt_SimplifyLockBorder;
  out.resize(meshopt_simplify(out.data(), others.data(), others.size(), places, vertices, stride, 0,
                              static_cast<float>(tolerance) / scale, options));
  out.insert(out.end(), left.begin(), left.end());
  drop_flaps(out);
  return out;
}

}  // namespace

bool closed(const page::Surface& surface) {
  std::vector<std::uint64_t> ahead, back;
  ahead.reserve(surface.triangles.size());
  back.reserve(surface.triangles.size());
  for (std::size_t t = 0; t + 2 < surface.triangles.size(); t += 3) {
    for (std::size_t k = 0; k < 3; ++k) {
      const std::uint64_t a = surface.triangles[t + k], b = surface.triangles[t + (k + 1) % 3];
      if (a == b) return false;
      ahead.push_back(a << 32 | b);
      back.push_back(b << 32 | a);
    }
  }
  std::sort(ahead.begin(), ahead.end());
  std::sort(back.begin(), back.end());
  return ahead == back;
}

page::Surface simplified(const page::Surface& surface, double tolerance,
                         std::span<const Vec3> untouched, double reach) {
  if (surface.empty()) return surface;
  const Surroundings surroundings(untouched, reach);
  std::vector<std::uint32_t> left, others;
  for (std::size_t t = 0; t + 2 < surface.triangles.size(); t += 3) {
    const std::uint32_t* corners = &surface.triangles[t];
    const bool stays = std::any_of(corners, corners + 3, [&](std::uint32_t v) {
      const float* at = &surface.vertices[3 * static_cast<std::size_t>(v)];
      return surroundings.hold(Vec3(at[0], at[1], at[2]));
    });
    std::vector<std::uint32_t>& to = stays ? left : others;
    to.insert(to.end(), corners, corners + 3);
  }
  for (int attempt = 0; attempt < 3; ++attempt, tolerance /= 4) {
    page::Surface out = compacted(surface, collapsed(surface, tolerance, left, others));
    if (!out.empty() && closed(out)) return out;
  }
  return surface;
}

}  // namespace proveout::mesh_files
