// By which shift a setup's surface would lie on the part: how far off the zero, or the part, was
// declared. Unlike a list of corners it finds any shift, and unlike sim/flip/best_fit height too.
#pragma once

#include <functional>
#include <optional>
#include <set>
#include <span>
#include <vector>

#include "sim/measure/surface_samples.h"
#include "sim/solid/part_distance.h"

namespace proveout::causes {

// Shares are of the samples given.
struct ShiftFit {
  bool found = false;                  // the shift explains what is wrong with the surface
  Vec3 shift = Vec3::Zero();           // mm, stock axes: the surface lies this far off the part
  double on_before = 0, on_after = 0;  // within `within` of the part, as it lies and moved
  double inside_before = 0, inside_after = 0;  // deeper than `within` inside the part
  double within = 0;                           // mm
  std::size_t samples = 0;
  // mm: no shift, but every wall lies so far off the part along its own normal (positive: material
  // was left), as a tool of another diameter leaves it; 0: not so.
  double walls_off = 0;
  // Only floors at one height, and what hangs on them, speak for the shift, and it is along the
  // tool's axis: a program that goes too deep there, and not deep enough, cuts the same.
  bool one_level = false;
  // Most of the surface tells nothing of the shift: what does may as well have been posted
  // elsewhere.
  bool by_little = false;
  // No shift, but the surface lies on the part once it is turned half round about the tool's axis
  // through the blank's middle: the work lies the other way round, or was turned over another way.
  bool half_round = false;
  // The part moved in the blank puts the surface on it; a zero moved by as much would not, for it
  // takes much of what was cut out of the blank.
  bool part_moves = false;
  // Of the surface as near to the part as the tools' radii, the share on it as it lies.
  double near_on = 0;
  // Tools another size of which a comment names, and whose cuts fit the part better as declared.
  std::set<int> declared_fits;
  // mm, stock axes: where nothing tells whether comment or job has the size of a tool, the shift
  // that fits as well with the declared one; `shift` is with the one named.
  std::optional<Vec3> as_declared;
};

// samples: the setup's surface, stock coordinates, without the blank's own and without supports;
// starts: shifts worth a try besides those along the axes, mm, stock axes; within: mm, > 0, what
// counts as on the part (half a voxel); reach: mm, the largest shift. A direction no surface faces
// keeps its start. Weighted least squares from each start, with Tukey's biweight on the residuals
// (as sim/flip/best_fit.h), its scale drawn in from a quarter of the reach to `within`; of all
// ends the one with most of the surface on the part and none inside it, and of shifts as good the
// one along the fewest axes. found: along no axis the opposite shift fits nearly as well, as it
// does where walls on both sides have an allowance, and much more of the surface lies on the part
// than before, at least a quarter of it, and next to none inside; or, where most of the surface
// tells nothing (walls of a shift along them, waste), some does and next to nothing that lay on the
// part leaves it (by_little): along one axis, or along two where nearly all of it lies on the part
// then. blank: about the unmachined stock, stock coordinates, mm; a sample that a shift
// takes out of it tells nothing: there would be no material with such a surface. Null where it is
// not known. Starts are tried at the same time; the outcome is the same for any number of threads.
ShiftFit fit_shift(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                   std::span<const Vec3> starts, double within, double reach,
                   const Box3* blank = nullptr);

// The same where the part lies elsewhere in the blank than declared and the zeros lie right: no
// sample leaves the blank, and only shifts that leave the part in it count. Fills part_moves.
// blank: about the unmachined stock, stock coordinates, mm.
ShiftFit fit_part_shift(std::span<const measure::SurfaceSample> samples,
                        const solid::PartDistance& part, std::span<const Vec3> starts,
                        double within, double reach, const Box3& blank);

// Where the surface lies within a few `within` of the part as it is: the shift by which it does
// best (no search), and the shares; found is not filled. within, reach: mm, as above.
ShiftFit fit_in_place(std::span<const measure::SurfaceSample> samples,
                      const solid::PartDistance& part, double within, double reach);

// That search from one start: weighted least squares, `steps` times (> 0), the scale of the
// biweight drawn in from scale to last_scale (mm, > 0); reach: mm, what lies farther from the part
// is left out.
Vec3 refined_shift(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                   Vec3 shift, int steps, double scale, double last_scale, double reach);

// Fills one_level of a shift that was found. up: the tool's axis, stock axes, unit.
void tell_levels(std::span<const measure::SurfaceSample> samples, const solid::PartDistance& part,
                 const Vec3& up, ShiftFit& fit);

// Fills walls_off, and takes back a shift that fits less of the surface than it does. up: the
// tool's axis, stock axes, unit. radius_of: mm, of the tool that made a sample: walls as far off
// the part as that are the far side of a slot about it, which is waste.
void tell_walls_off(std::span<const measure::SurfaceSample> samples,
                    const solid::PartDistance& part, const Vec3& up, double reach,
                    const std::function<double(const measure::SurfaceSample&)>& radius_of,
                    ShiftFit& fit);

}  // namespace proveout::causes
