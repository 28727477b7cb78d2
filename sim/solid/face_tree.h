// A closed mesh's triangles in a tree of boxes: the nearest place of its surface, and what the
// surface is like about a place. Sign of the distance by the angle-weighted normal of the nearest
// feature (Baerentzen and Aanaes, "Signed distance computation using the angle weighted
// pseudonormal", IEEE TVCG 11 (2005) 243-253).
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "parser/mesh/mesh.h"

namespace proveout::solid {

class FaceTree {
 public:
  // mesh: closed, must outlive this; mm.
  explicit FaceTree(const mesh::Mesh& mesh);
  // mm, negative inside. reach: what lies farther than it from the surface, inside too, may be
  // returned as reach; > 0, mm.
  double at(const Vec3& point, double reach = 1e30) const;
  // Distance and what it is measured to. Where nothing lies within reach, distance is reach and
  // face is -1.
  struct Nearest {
    double distance = 0;        // mm, negative inside
    Vec3 slope = Vec3::Zero();  // of the distance, unit: the way it grows
    Vec3 on = Vec3::Zero();     // mm, the nearest place of the surface
    bool within_face = false;   // it lies within a triangle, not on an edge or corner
    int face = -1;              // triangle
  };
  // hint: a triangle that may be near, from a search near by, or -1: the same distance, sooner.
  Nearest nearest(const Vec3& point, double reach = 1e30, int hint = -1) const;
  // Whether all of the surface within reach (mm) of a point faces the way normal (unit) does, to
  // the sine given: the surface is plain there.
  bool plain_within(const Vec3& point, double reach, const Vec3& normal, double sine) const;
  // How far from normal (unit) the normals of the triangles within reach (mm) of a point lie: the
  // longest difference, 0 to 2; what is more than most may be returned as 2.
  double normals_apart(const Vec3& point, double reach, const Vec3& normal, double most) const;
  // How far the surface within reach (mm) of a place on it may rise above the plane through that
  // place square to normal (unit, outwards), and fall below it: mm, never less than it does.
  struct OffPlane {
    double above = 0, below = 0;
  };
  OffPlane off_plane(const Vec3& on, double reach, const Vec3& normal) const;
  const mesh::Mesh& mesh() const { return *mesh_; }

 private:
  // Two boxes and what they hold, in one line of the processor's cache.
  struct alignas(64) Node {
    std::array<Eigen::Vector3f, 2> low, high;
    std::array<std::uint32_t, 2> first{};  // into order_, or another node
    std::array<std::uint32_t, 2> count{};  // triangles; 0: another node
    // Square of the way from a point to a box, mm2: a hair less, as rounding of the point must not
    // hide a triangle.
    double square(std::size_t which, const Eigen::Vector3f& point) const {
      const Eigen::Vector3f away = (low[which] - point).cwiseMax(point - high[which]).cwiseMax(0.f);
      return 0.999999 * static_cast<double>(away.squaredNorm());
    }
  };
  struct Waiting {  // of a walk down the tree
    std::uint32_t first = 0, count = 0;
    double square = 0;
  };
  static constexpr std::size_t most_waiting = 128;  // two a level
  struct Found {
    double square = 0;
    std::uint32_t triangle = 0;
    int feature = 0;
    Vec3 on = Vec3::Zero();
    bool any = false;
  };
  Box3 box_of(std::uint32_t first, std::uint32_t count) const;
  std::uint32_t build(std::uint32_t first, std::uint32_t count);
  void pseudonormals();
  Found find(const Vec3& point, double reach, int hint) const;
  // look(triangle) for those whose boxes come within reach of a point, until it says false.
  template <class Look>
  void triangles_near(const Vec3& point, double reach, Look look) const;
  // Whether a triangle comes within reach of a point.
  bool comes_within(std::uint32_t triangle, const Vec3& point, double reach) const;
  Vec3 normal_of(const Found& found) const;

  const mesh::Mesh* mesh_;
  std::vector<Node> nodes_;
  std::vector<std::uint32_t> order_;
  std::vector<Vec3> face_normal_, vertex_normal_;
  std::vector<std::array<Vec3, 3>> edge_normal_;  // of edges k, k+1 of each triangle
};

}  // namespace proveout::solid
