// Program coordinates turned (G68), scaled (G51) or mirrored (G51.1) against the setup frame, and
// polar words (G16). All common practice, no source.
#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "parser/nc/interpreter.h"
#include "parser/nc/modal_groups.h"

namespace proveout::nc {
namespace {

constexpr std::string_view axis_letters = "XYZ";
constexpr std::string_view offset_letters = "IJK";

std::size_t slot(Group g) { return static_cast<std::size_t>(g); }

Vec3 turned(const Vec3& p, const Vec3& centre, double angle) {
  const double c = std::cos(angle), s = std::sin(angle);
  const double x = p.x() - centre.x(), y = p.y() - centre.y();
  return Vec3(centre.x() + c * x - s * y, centre.y() + s * x + c * y, p.z());
}

}  // namespace

Vec3 Interpreter::to_program(const Vec3& p) const {
  Vec3 q = p - origin();
  if (rotated_) q = turned(q, rotation_centre_, -rotation_);
  if (scaling_ || mirroring_) q = about_ + (q - about_).cwiseQuotient(factor_);
  return q;
}

Vec3 Interpreter::from_program(const Vec3& q) const {
  Vec3 p = q;
  if (scaling_ || mirroring_) p = about_ + (p - about_).cwiseProduct(factor_);
  if (rotated_) p = turned(p, rotation_centre_, rotation_);
  return p + origin();
}

// Whether a turn that is positive in the program is negative in the setup frame.
bool Interpreter::mirrored_in(Plane plane) const {
  const PlaneAxes a = axes_of(plane);
  return factor_[a.first] * factor_[a.second] < 0;
}

// By what an arc's radius is scaled; nullopt where it would be no arc.
std::optional<double> Interpreter::plane_factor(Plane plane) const {
  const PlaneAxes a = axes_of(plane);
  const double f = std::abs(factor_[a.first]);
  if (std::abs(f - std::abs(factor_[a.second])) > 1e-12 * f) return std::nullopt;
  return f;
}

// What it may not change under: what controls combine in different ways.
bool Interpreter::frame_may_change(std::size_t column, std::string_view what) {
  if (compensation_.on()) {
    return fail("compensation", column, 3,
                fmt::format("no {} while cutter compensation is on", what));
  }
  if (rotated_ || polar_ || scaling_ || mirroring_) {
    return fail(scaling_ || mirroring_ ? "scaling" : "rotation", column, 3,
                fmt::format("{} while coordinates are {} already", what,
                            rotated_   ? "turned"
                            : polar_   ? "polar"
                            : scaling_ ? "scaled"
                                       : "mirrored"),
                "controls combine them in different orders: end one before the other");
  }
  return true;
}

// False, with an error, under G91, in the shop profile: for what some controls add to what is in
// force then, and others set.
bool Interpreter::means_the_same_by_increments(std::string_view code, std::size_t column,
                                               std::string_view what) {
  const int distance = g_[slot(Group::distance)];
  if (strict() || (distance >= 0 ? distance == 900 : absolute_)) return true;
  return fail(code, column, 3,
              fmt::format("{} under G91 adds to what is in force on some controls, and is read as "
                          "under G90 on others",
                          what),
              "post it under G90");
}

bool Interpreter::plane_mode(int code) {
  const std::size_t column = g_column_[slot(Group::plane)];
  const Plane plane = code == 170 ? Plane::xy : code == 180 ? Plane::zx : Plane::yz;
  if (plane != Plane::xy && compensation_.on())
    return fail("compensation", 0, 1, "the plane may not change while cutter compensation is on");
  // What is turned in xy leaves the other planes: an arc there lies in none of the three.
  if (plane != plane_ && (rotated_ || polar_)) return frame_may_change(column, "another plane");
  plane_ = plane;
  return true;
}

// G68/G69 turn program coordinates about a point; G15/G16 read radius and angle.
bool Interpreter::rotation(const Block& block) {
  const int turn = g_[slot(Group::rotation)], polar = g_[slot(Group::polar)];
  const std::size_t column = g_column_[slot(Group::rotation)];
  if ((turn >= 0 || polar >= 0) && strict()) {
    return fail("rotation", 0, 1, "the report has no rotation or polar words");
  }
  if (turn == 690) rotated_ = false;
  if (turn == 680) {
    if (plane_ != Plane::xy)
      return fail("rotation", column, 3, "G68 is followed in the xy plane only");
    if (!block.take('R')) return fail("rotation", column, 3, "G68 without an angle R");
    if (block.any("IJK")) {
      return fail("rotation", column, 3, "G68 with I, J, K turns in space, which is not followed",
                  "give the program of each side a setup of its own");
    }
    if (!means_the_same_by_increments("rotation", column, "G68")) return false;
    if ((scaling_ || mirroring_) && !frame_may_change(column, "G68")) return false;
    if (compensation_.on() && !frame_may_change(column, "G68")) return false;
    rotated_ = false;
    const Vec3 now = to_program(position_);
    block.take_all("XY");
    rotation_centre_ = Vec3(block.has('X') ? to_mm(block['X']) : now.x(),
                            block.has('Y') ? to_mm(block['Y']) : now.y(), 0);
    rotation_ = block['R'] / deg_per_rad;
    rotated_ = true;
    half_a_place_ = 3;
  }
  if (polar == 150) polar_ = false;
  if (polar == 160) {
    if (plane_ != Plane::xy)
      return fail("rotation", g_column_[slot(Group::polar)], 3,
                  "G16 is followed in the xy plane only");
    if ((scaling_ || mirroring_) && !frame_may_change(g_column_[slot(Group::polar)], "G16"))
      return false;
    polar_ = true;
    half_a_place_ = 3;
  }
  return true;
}

// G51: about X Y Z, by P in all axes or by I, J, K in each; G50 ends it.
bool Interpreter::scaling(const Block& block, int code, std::size_t column) {
  if (code == 500) {
    if (compensation_.on() && scaling_) return frame_may_change(column, "G50");
    if (scaling_) factor_ = Vec3::Ones();
    scaling_ = false;
    return true;
  }
  if (scaling_) {
    scaling_ = false;
    factor_ = Vec3::Ones();
  }
  if (!frame_may_change(column, "G51")) return false;
  if (block.any(axis_letters) && !means_the_same_by_increments("scaling", column, "G51"))
    return false;
  const auto factor = [&](char letter, double& out) {
    if (!block.take(letter)) return true;
    out = block[letter];
    if (!block.has_point(letter)) {
      if (reads_.is(Read::scale_p, "thousandths")) out /= 1000;
      if (out != 0 && std::abs(out) != 1) {
        assume(Read::scale_p, block.column[static_cast<std::size_t>(letter - 'A')], 2,
               fmt::format("{}{:g} of G51 is a factor of {:g}", letter, block[letter], out));
      }
    }
    return (std::abs(out) >= 1e-3 && std::abs(out) <= 1000) ||
           fail_at(block, letter, "scaling", fmt::format("a factor of {:g} in {}", out, letter),
                   "factors run from 0.001 to 1000");
  };
  double all = 1;
  if (!block.any("PIJK")) return fail("scaling", column, 3, "G51 without a factor P or I, J, K");
  if (block.has('P') && block.any("IJK")) {
    return fail_at(block, 'P', "scaling", "G51 with a factor P for all axes and I, J, K for each",
                   "post one of both");
  }
  if (!factor('P', all)) return false;
  Vec3 factors = Vec3::Constant(all), about = to_program(position_);
  for (int k = 0; k < 3; ++k) {
    if (!factor(offset_letters[static_cast<std::size_t>(k)], factors[k])) return false;
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (block.take(letter)) about[k] = to_mm(block[letter]);
  }
  factor_ = factors;
  about_ = about;
  scaling_ = true;
  return true;
}

// G51.1: mirrored about the X, Y, Z given; G50.1 ends it for the axes given, or for all.
bool Interpreter::mirroring(const Block& block, int code, std::size_t column) {
  const bool any = block.any(axis_letters);
  block.take_all(axis_letters);
  if (code == 501) {
    if (mirroring_ && compensation_.on()) return frame_may_change(column, "G50.1");
    for (int k = 0; k < 3; ++k) {
      const char letter = axis_letters[static_cast<std::size_t>(k)];
      if (mirroring_ && (!any || block.has(letter))) factor_[k] = 1;
      if (!block.has(letter) || block[letter] == 0) continue;
      reporter_.of(std::string("G50.1 ") + letter);
      fail_at(block, letter, "word-unused",
              fmt::format("the number of {}{:g} says nothing here: mirroring in {} ends", letter,
                          block[letter], letter));
    }
    mirroring_ = mirroring_ && factor_ != Vec3::Ones();
    return true;
  }
  if (!any) return fail("axis-words-missing", column, 5, "G51.1 without axis words");
  if (!block.only_zeros(axis_letters) && !means_the_same_by_increments("scaling", column, "G51.1"))
    return false;
  const bool before = std::exchange(mirroring_, false);
  if (!frame_may_change(column, "G51.1")) return false;
  if (!before) factor_ = Vec3::Ones();
  for (int k = 0; k < 3; ++k) {
    const char letter = axis_letters[static_cast<std::size_t>(k)];
    if (!block.has(letter)) continue;
    factor_[k] = -1;
    about_[k] = to_mm(block[letter]);
  }
  mirroring_ = true;
  return true;
}

}  // namespace proveout::nc
