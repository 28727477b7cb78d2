// Cutter radius compensation (NISTIR 6556 section 3.5.10 and appendix B): the path of the tool's
// centre beside a programmed contour in xy. Convex corners get an arc of the tool's radius about
// the corner; concave ones, an error in the report, are cut off where the offset paths meet in the
// shop profile.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "parser/nc/motion.h"

namespace proveout::nc {

class Compensation {
 public:
  using Emit = std::function<void(const Motion&)>;

  bool on() const { return side_ != 0; }
  // side: +1 left, -1 right of the path; radius: mm. start: where the tool stands, setup frame.
  void begin(int side, double radius, const Vec3& start, bool strict);
  // Gives the pending motion out and stops; the tool stays where it is.
  // Gives out what is pending and stays on: a wait comes between two moves.
  void pause(const Emit& emit);
  void end(const Emit& emit);
  // Takes a programmed motion (line or arc in xy, rapids too). Error text where it cannot be done.
  std::optional<std::string> add(const Motion& programmed, const Emit& emit);
  // A motion along z only passes unchanged; the tool's centre, setup frame.
  const Vec3& centre() const { return centre_; }

 private:
  std::optional<std::string> first(const Motion& programmed);
  std::optional<std::string> join(const Motion& programmed, Motion& offset, const Emit& emit);
  void step_over(const Motion& m, Motion& offset, const Emit& emit) const;
  std::optional<Motion> beside(const Motion& programmed, std::string& why) const;

  int side_ = 0;
  double radius_ = 0;
  bool strict_ = false;
  bool entered_ = false;
  Vec3 centre_ = Vec3::Zero();
  std::optional<Motion> pending_;     // offset path of the last motion, its end still open
  std::optional<Motion> programmed_;  // that motion as programmed
};

}  // namespace proveout::nc
