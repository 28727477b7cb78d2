// The signed distance to a tool body swept along one motion, in double precision: what the kernels
// work out in single precision about a local origin, in one plain text for single points.
//
// Outside rounded bodies the distance is Euclidean. At sharp rims it is the largest of the
// distances to the faces, so never more than the distance; inside it is that of the best single
// pose, so never too deep. It changes by no more than the way between two points (1-Lipschitz),
// and its zero is the swept body's surface exactly.
// Notation of sweep.h: rho from the tool's axis, h above the body's foot.
#pragma once

#include <vector>

#include "sim/stock/sweep.h"

namespace proveout::stock {

// What a swept body is like at a point.
struct Nearness {
  double distance = 0;        // mm, negative inside
  Vec3 slope = Vec3::Zero();  // of the distance, setup frame; about unit length
  double curvature = 0;       // 1/mm: bound on how fast the slope turns beside its face
  double gap = 0;             // mm: how much less the next face's distance is; large: only one face
  // 1/mm: bound on how fast the slope turns where the distance falls short of its plane: 0 where
  // the distance is a convex function, as that to a convex body moved straight is (a least over the
  // poses of a function convex in point and pose together); unbounded where nothing is known.
  double hollow = unbounded;
  static constexpr double unbounded = 1e9;
};

class SweptDistance {
 public:
  // motion and profile must outlive this. Setup frame.
  SweptDistance(const nc::Motion& motion, const Profile& profile);

  // point: mm, setup frame.
  double at(const Vec3& point) const;
  Nearness near(const Vec3& point) const;
  // Distances (mm) to single faces of a body with edges, none of them more than that to the body
  // anywhere about the point but by 0.5 hollow r^2, r from the point: where one of them says that
  // the body does not reach, it does not. Setup frame.
  void faces_near(const Vec3& point, std::vector<Nearness>& to) const;
  // Of the swept body: mm, setup frame.
  const Box3& box() const { return box_; }
  SweepKind kind() const { return kind_; }
  // Where the tip stands on the path nearest to a point; setup frame.
  Vec3 nearest_tip(const Vec3& point) const;
  const Profile& profile() const { return *profile_; }
  const nc::Motion& motion() const { return *motion_; }

 private:
  struct Meridian {
    double distance = 0, by_rho = 0, by_h = 0, gap = 1e9, curvature = 0;
  };
  Meridian meridian(double rho, double h) const;
  double meridian_distance(double rho, double h) const;
  Meridian rounded(double rho, double h) const;
  Meridian faces(double rho, double h) const;
  Meridian polygon(double rho, double h) const;
  // Horizontal way from the path to the point.
  Eigen::Vector2d from_path(const Vec3& point) const;
  Nearness level(const Vec3& point) const;
  Nearness ball_ramp(const Vec3& point) const;
  Nearness cylinder_ramp(const Vec3& point) const;
  double along_path(const Vec3& point, double& share) const;
  double at_share(const Vec3& point, double share) const;
  Nearness cylinder_helix(const Vec3& point) const;
  double arc_hollow(const Vec3& point, double rho) const;
  Nearness by_search(const Vec3& point) const;

  const nc::Motion* motion_;
  const Profile* profile_;
  SweepKind kind_;
  Box3 box_;
  double foot_ = 0, top_ = 0;  // height of the foot at the start (level: lowest); body's
  double ux_ = 1, uy_ = 0, run_ = 0, rise_ = 0;  // straight motions
  double radius_ = 0, from_ = 0, turn_ = 0;      // arcs about z: radius, start angle, signed sweep
  bool helix_ = false;                           // about z, of one radius, of a plain cylinder
};

}  // namespace proveout::stock
