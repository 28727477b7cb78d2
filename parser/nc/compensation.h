// Cutter radius compensation (NISTIR 6556 section 3.5.10 and appendix B): the path of the tool's
// centre beside a programmed contour in xy. Convex corners get an arc of the tool's radius about
// the corner; concave ones, an error in the report, are cut off where the offset paths meet in the
// shop profile.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "parser/nc/motion.h"

namespace proveout::nc {

class Compensation {
 public:
  using Emit = std::function<void(const Motion&)>;

  bool on() const { return side_ != 0; }
  double beside() const { return side_ * radius_; }  // mm to the left of the path
  // side: +1 left, -1 right of the path; radius: mm. start: where the tool stands, setup frame.
  void begin(int side, double radius, const Vec3& start, bool strict);
  // The last place the program prints, mm: joints that are tangent but for its rounding go straight
  // on.
  void last_place(double mm) { last_place_ = mm; }
  // Gives out what is pending and stays on: a wait comes between two moves.
  void pause(const Emit& emit);
  // Gives the pending motion out and stops; the tool stays where it is.
  void end(const Emit& emit);
  // Takes a programmed motion (line or arc in xy, rapids too); by_radius: an arc given by R, not by
  // its centre. Error text where it cannot be done.
  std::optional<std::string> add(const Motion& programmed, bool by_radius, const Emit& emit);
  // Behind a refusal: what the largest tool is that would have come as far, in words; empty where
  // that does not help.
  std::string largest_that_fits() const;
  // A motion along z only passes unchanged; the tool's centre, setup frame.
  const Vec3& centre() const { return centre_; }

 private:
  struct Programmed : Motion {
    bool by_radius = false;
  };
  std::optional<std::string> follow(const Programmed& programmed, const Emit& emit);
  std::optional<std::string> first(const Programmed& programmed);
  bool straight_on(const Programmed& programmed, double turn, Motion& offset, const Emit& emit);
  std::optional<std::string> join(const Programmed& programmed, Motion& offset, const Emit& emit);
  void step_over(const Motion& m, Motion& offset, const Emit& emit) const;
  std::optional<Motion> beside(const Motion& programmed, std::string& why) const;

  int side_ = 0;
  double radius_ = 0;
  bool strict_ = false;
  double last_place_ = 1e-3;
  Vec3 start_ = Vec3::Zero();
  std::vector<Programmed> seen_;  // programmed since the beginning, the first most_seen
  bool entered_ = false;
  Vec3 centre_ = Vec3::Zero();
  std::optional<Motion> pending_;         // offset path of the last motion, its end still open
  std::optional<Programmed> programmed_;  // that motion as programmed
};

}  // namespace proveout::nc
