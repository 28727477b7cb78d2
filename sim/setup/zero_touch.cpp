#include "sim/setup/zero_touch.h"

#include <fmt/format.h>

#include <cmath>

#include "sim/setup/pose.h"

namespace proveout::setup {
namespace {

constexpr std::array<std::array<const char*, 2>, 3> face_names = {
    {{"left", "right"}, {"front", "back"}, {"bottom", "top"}}};

// "3 mm in from the blank's left face", from the nearer of the two faces.
std::string place_on_blank(int axis, double from_low, double size) {
  const bool near_low = from_low <= size / 2;
  const char* face = face_names[static_cast<std::size_t>(axis)][near_low ? 0 : 1];
  const double in = near_low ? from_low : size - from_low;
  const char* inward = axis == 2 ? (near_low ? "above" : "below") : "in from";
  const char* outward = axis == 2 ? (near_low ? "below" : "above") : "outside";
  return fmt::format("{:.2f} mm {} the blank's {} face", std::abs(in), in >= 0 ? inward : outward,
                     face);
}

std::string along(int axis, job::ZeroEdge edge, FaceOf face, double offset, double from_low,
                  double size) {
  const auto& names = face_names[static_cast<std::size_t>(axis)];
  const std::string place = place_on_blank(axis, from_low, size);
  if (face == FaceOf::point) return fmt::format("at a point {}", place);
  const std::string shift = offset == 0 ? "" : fmt::format(" and {:+.2f} mm of offset", offset);
  const char* whose = "that earlier setups left";
  if (edge == job::ZeroEdge::centre) {
    return face == FaceOf::blank
               ? fmt::format("midway between the blank's own {} and {} faces{}, {}", names[0],
                             names[1], shift, place)
               : fmt::format("midway between the {} and {} faces {}{}, {}", names[0], names[1],
                             whose, shift, place);
  }
  const char* name = names[edge == job::ZeroEdge::min ? 0 : 1];
  if (face == FaceOf::blank && offset == 0) return fmt::format("at the blank's own {} face", name);
  if (face == FaceOf::blank)
    return fmt::format("at the blank's own {} face{}, {}", name, shift, place);
  return fmt::format("at the {} face {}{}, {}", name, whose, shift, place);
}

}  // namespace

ZeroTouch zero_touch(const job::Setup& setup, const Box3& blank, const Box3& milled_extent,
                     double voxel, double highest) {
  const Eigen::Matrix3d machine_from_stock = machine_from_stock_rotation(setup.turn);
  const Box3 lying = turned(blank, machine_from_stock);
  const Vec3 zero =
      machine_from_stock * stock_from_setup(setup, blank, milled_extent, false).translation();
  const std::array<job::ZeroEdge, 3> edges = {setup.zero.x, setup.zero.y, setup.zero.z};
  ZeroTouch out;
  out.from_low = zero - lying.min();
  const char* axes = "xyz";
  out.text = "zero: ";
  for (int k = 0; k < 3; ++k) {
    const auto i = static_cast<std::size_t>(k);
    const bool low = edges[i] != job::ZeroEdge::max, high = edges[i] != job::ZeroEdge::min;
    const bool moved = setup.zero.on == job::ZeroOn::milled && !milled_extent.isEmpty() &&
                       ((low && std::abs(milled_extent.min()[k] - lying.min()[k]) > voxel / 2) ||
                        (high && std::abs(milled_extent.max()[k] - lying.max()[k]) > voxel / 2));
    out.face[i] = setup.zero.at ? FaceOf::point : moved ? FaceOf::earlier_setups : FaceOf::blank;
    out.text += fmt::format(
        "{}{} {}", k == 0 ? "" : "; ", axes[k],
        along(k, edges[i], out.face[i], setup.zero.offset[k], out.from_low[k], lying.sizes()[k]));
  }
  out.on_material = highest > -1e8;
  if (out.on_material) {
    out.surface = std::abs(highest) < 5e-3 ? 0 : highest;
    out.text += fmt::format(". Within {:g} mm of X0 Y0 the highest material stands at Z {:.2f}",
                            probe_mm, out.surface);
  } else {
    out.text += fmt::format(
        ". No material lies within {:g} mm of X0 Y0: touch off somewhere else and set it over",
        probe_mm);
  }
  return out;
}

}  // namespace proveout::setup
