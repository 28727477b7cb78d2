#include "sim/causes/causes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "sim/causes/blank_signs.h"
#include "sim/causes/kinds_explained.h"
#include "sim/causes/program_signs.h"
#include "sim/causes/setup_shift.h"
#include "sim/causes/support_signs.h"

namespace proveout::causes {
namespace {

using run::Cause;
using run::CauseKind;

constexpr double nearly_all = 0.85;  // of the surface near the part (choice)
constexpr double same_shift = 0.1;   // of the shift, or a voxel: shifts of two setups are one

// Whether the part was cut rightly, or what the tool cut, of which a comment names another size,
// fits the part better with the declared one. f: a 'tool-size-differs'.
bool fits_as_declared(const run::JobResult& r, const std::vector<ShiftFit>& shifts,
                      const Finding& f) {
  if (r.part.compared && f.detail == "tool-size-differs" && !looks_shifted(r.findings)) return true;
  for (std::size_t i = 0; i < std::min(shifts.size(), r.setups.size()); ++i) {
    if (r.setups[i].name == f.setup) return shifts[i].declared_fits.contains(f.tool);
  }
  return false;
}

class Causes {
 public:
  Causes(const run::JobResult& result, const std::vector<ShiftFit>& shifts)
      : r_(result), shifts_(shifts) {}

  std::vector<Cause> all() {
    origin();
    for (std::size_t i = 0; i < r_.setups.size(); ++i) {
      const run::SetupResult& s = r_.setups[i];
      add(distance_mode(s, r_.inputs->setups[i], r_.job, r_.job.setups[i], blank_in(s)));
      if (auto c = length_unit(s, r_.inputs->setups[i], r_.job, r_.job.setups[i], blank_in(s))) {
        lengths_.insert(s.name);
        causes_.push_back(std::move(*c));
      }
      turn(s);
      half_round(i);
      zero(i);
      add(spindle(s));
      add(length_offset(s));
      add(feed_unit(s, r_.inputs->setups[i], r_.job, r_.inputs->material));
    }
    tools();
    blank();
    material();
    supports();
    drop_doubted();
    return counted();
  }

 private:
  void add(std::optional<Cause> cause) {
    if (cause) causes_.push_back(std::move(*cause));
  }

  Box3 blank_in(const run::SetupResult& s) const {
    return r_.inputs->blank.transformed(s.stock_from_setup.inverse());
  }

  double tell() const { return std::max(0.02, 0.25 * r_.voxel); }

  // All setups off by the same shift of the stock: the part lies elsewhere, unless the later ones
  // are zeroed on what the first one milled and follow it.
  void origin() {
    if (shifts_.size() < 2 || !r_.job.part) return;
    const Vec3& first = shifts_.front().shift;
    const double near = std::max(r_.voxel, same_shift * first.norm());
    for (std::size_t i = 0; i < shifts_.size(); ++i) {
      if (!shifts_[i].found || (shifts_[i].shift - first).norm() > near) return;
    }
    bool follows = true;
    for (std::size_t i = 1; i < r_.setups.size(); ++i)
      follows = follows && r_.job.setups[i].zero.on == job::ZeroOn::milled;
    // A milled zero's height is the blank's own or follows as well: then nothing tells them apart.
    if (follows) return;
    origin_off_ = true;
    Vec3 mean = Vec3::Zero();
    for (const ShiftFit& s : shifts_) mean += s.shift / static_cast<double>(shifts_.size());
    Cause c;
    c.kind = CauseKind::origin;
    c.shift = -mean;
    c.text = fmt::format(
        "the part lies off by {} from where the programs cut it, in every setup alike: [part] "
        "origin, or the mesh's own zero",
        in_words(mean, tell()));
    c.remedy = fmt::format("try [part] origin = {}", list_of(r_.job.part->origin + mean));
    causes_.push_back(std::move(c));
  }

  const ShiftFit* shift_found(const std::string& setup) const {
    for (std::size_t i = 0; i < std::min(shifts_.size(), r_.setups.size()); ++i) {
      if (r_.setups[i].name == setup && shifts_[i].found) return &shifts_[i];
    }
    return nullptr;
  }

  const run::ZeroSearch* search_of(const std::string& setup) const {
    for (const run::ZeroSearch& s : r_.zero_search) {
      if (s.setup == setup && !s.fits.empty()) return &s;
    }
    return nullptr;
  }

  // From the declared zero the program mostly runs through air, from another it does not: the
  // little it then leaves on the work lies on the part by many shifts.
  static bool cuts_little(const run::ZeroSearch* search) {
    const auto all = [](const run::ZeroTrial& t) { return t.useful_mm3 + t.gouged_mm3; };
    return search != nullptr && all(search->fits.front()) > 1.3 * all(search->declared);
  }

  // By what a setup zeroed on what an earlier one milled lies off with it, along x and y of the
  // machine, mm, stock axes: once that one is mended this one has only its own left.
  Vec3 carried(std::size_t i) const {
    if (i == 0 || !shifts_.front().found || r_.job.setups[i].zero.on != job::ZeroOn::milled ||
        r_.job.setups[i].zero.at)
      return Vec3::Zero();
    const Vec3 up = r_.setups[i].stock_from_setup.linear().col(2);
    Vec3 out = shifts_.front().shift;
    for (int axis = 0; axis < 2; ++axis) {
      // The blank's own faces do not move with it.
      if (r_.setups[i].zero_touch.face[static_cast<std::size_t>(axis)] != setup::FaceOf::blank)
        continue;
      const Vec3 along = r_.setups[i].stock_from_setup.linear().col(axis);
      out -= along * along.dot(out);
    }
    return out - up * up.dot(out);
  }

  void zero(std::size_t i) {
    const run::SetupResult& s = r_.setups[i];
    if (origin_off_ || turned_.contains(s.name)) return;
    const run::ZeroSearch* search = search_of(s.name);
    const bool fitted = i < shifts_.size() && shifts_[i].found && !cuts_little(search);
    if (search == nullptr && !fitted) return;
    const Eigen::Matrix3d setup_from_stock = s.stock_from_setup.linear().transpose();
    Cause c;
    c.kind = CauseKind::zero;
    c.setup = s.name;
    Vec3 off = fitted ? Vec3(setup_from_stock * (shifts_[i].shift - carried(i))) : Vec3::Zero();
    if (fitted && off.norm() < std::max(tell(), shifts_[i].within)) return;  // it follows
    // The part lies elsewhere for the first setup's program as well, or not at all.
    const bool same = part_off_ && (shifts_[i].shift - *part_off_).norm() <= r_.voxel;
    if (fitted && i > 0 && (shifts_[i].part_moves || same)) return;
    std::string named;
    if (search != nullptr) {
      const run::ZeroTrial& best = search->fits.front();
      const Vec3 by_search = setup_from_stock * (s.stock_from_setup.translation() -
                                                 best.stock_from_setup.translation());
      // A named corner that agrees with the fit, or that alone was found.
      if (!fitted || (by_search - off).norm() <= 2 * search->voxel) {
        named = best.words;
        if (!fitted) off = by_search;
      }
    }
    c.shift = off;
    if (named.empty() && fitted && nothing_tells_zero_from_part(i)) {
      zero_or_origin(i, off, std::move(c));
      return;
    }
    if (!fitted) by_search_.insert(s.name);
    const bool height = off.head<2>().norm() < tell() && !r_.job.setups[i].zero.at;
    c.text = fmt::format("setup {}'s zero{} lies off by {}", s.name,
                         height && named.empty() ? ", or the blank's thickness," : "",
                         in_words(off, tell()));
    if (named.empty() && shifts_[i].one_level)
      c.text += ", or its depths do";
    else if (named.empty() && shifts_[i].by_little)
      c.text += ", or the little it cuts there";
    c.text += named.empty() ? ": the program fits the part when the zero is moved back by that"
                            : fmt::format(": the program fits {}", named);
    c.remedy =
        named.empty()
            ? fmt::format("move the zero by {} (setup's axes)", list_of(-off))
            : fmt::format("give the setup zero = {{ {} }}, or post for the declared one", named);
    // A rim of the blank that a later zero finds is left by what went before.
    const bool rim = named.empty() && on_blanks_faces(i, off);
    if (rim)
      c.remedy +=
          "; on = \"milled\" takes the blank's own faces there, a rim or a corner left standing "
          "too: give a band that was milled, or the place (at = [..])";
    if (named.empty()) c.text += by_which_tool(i);
    if (rim && cut_wrongly_before(i)) return;
    if (!rim) own_zero_.insert(s.name);
    causes_.push_back(std::move(c));
  }

  // An earlier setup cuts into the part by no shift, turn or tool that is told: what it left
  // standing is what a later zero on milled faces finds, and that one lies off with it.
  bool cut_wrongly_before(std::size_t i) const {
    for (std::size_t k = 0; k < std::min(i, shifts_.size()); ++k) {
      const std::string& name = r_.setups[k].name;
      if (shifts_[k].found || shifts_[k].walls_off != 0 || turned_.contains(name)) continue;
      if (std::any_of(r_.findings.begin(), r_.findings.end(), [&](const Finding& f) {
            return f.kind == FindingKind::gouge && f.level == Severity::error && f.setup == name;
          }))
        return true;
    }
    return false;
  }

  // Declared on what was milled, and the face that gives an axis along which it lies off is none.
  bool on_blanks_faces(std::size_t i, const Vec3& off) const {
    if (r_.job.setups[i].zero.on != job::ZeroOn::milled) return false;
    for (int axis = 0; axis < 2; ++axis) {
      const auto face = r_.setups[i].zero_touch.face[static_cast<std::size_t>(axis)];
      if (face == setup::FaceOf::blank && std::abs(off[axis]) >= tell()) return true;
    }
    return false;
  }

  // The first setup, and every later one is zeroed on what it milled or there is none: a zero that
  // lies off and a part that lies off the other way cut the same.
  bool nothing_tells_zero_from_part(std::size_t i) const {
    if (i != 0) return false;
    for (std::size_t k = 1; k < r_.setups.size(); ++k) {
      if (r_.job.setups[k].zero.on != job::ZeroOn::milled) return false;
    }
    return true;
  }

  // Where nothing tells whether a comment or the job has a tool's size; else empty.
  std::string by_which_tool(std::size_t i) const {
    if (!shifts_[i].as_declared) return "";
    const Eigen::Matrix3d setup_from_stock = r_.setups[i].stock_from_setup.linear().transpose();
    return fmt::format(" (with the tool the comment names; with the declared one by {})",
                       in_words(setup_from_stock * *shifts_[i].as_declared, tell()));
  }

  // A zero declared at faces or middles is one a person touches off; one that would lie at no such
  // place speaks for a part that was put elsewhere. Along z alone a program posted for another
  // height is the commoner mistake.
  void zero_or_origin(std::size_t i, const Vec3& off, Cause c) {
    const run::SetupResult& s = r_.setups[i];
    const bool sideways = off.head<2>().norm() > std::max(tell(), std::abs(off.z()) / 4);
    const Vec3 part = s.stock_from_setup.linear() * off;
    const std::string where = in_words(off, tell());
    const bool room = !sideways || shifts_[i].one_level || has_room(r_, part);
    if (!room) {
      c.text = fmt::format("setup {}'s zero lies off by {}: {}", s.name, where,
                           "the blank has no room for the part to lie elsewhere");
    } else if ((sideways && !r_.job.setups[i].zero.at) || shifts_[i].part_moves) {
      c.kind = CauseKind::origin;
      c.setup.clear();
      c.shift = -part;
      part_off_ = shifts_[i].shift;
      c.text = fmt::format("[part] origin, or setup {}'s zero, lies off by {}: both cut the same",
                           s.name, where);
    } else {
      c.text =
          shifts_[i].one_level
              ? fmt::format(
                    "setup {}'s zero lies off by {}, or the part{} or the program's "
                    "depths do: all cut the same",
                    s.name, where, r_.job.setups[i].zero.at ? "" : ", the blank's thickness")
          : sideways || r_.job.setups[i].zero.at
              ? fmt::format("setup {}'s zero lies off by {}, or the part does: both cut the same",
                            s.name, where)
              : fmt::format(
                    "setup {}'s zero lies off by {}, or the part or the blank's thickness does: "
                    "all cut the same",
                    s.name, where);
    }
    c.text += by_which_tool(i);
    const std::string move_zero = fmt::format("move the zero by {} (setup's axes)", list_of(-off));
    const std::string move_part =
        fmt::format("[part] origin = {}", list_of(r_.job.part->origin + part));
    c.remedy = c.kind == CauseKind::origin
                   ? fmt::format("try {}; or, if the part lies right, {}", move_part, move_zero)
               : room ? fmt::format("{}; or, if the zero is right, try {}", move_zero, move_part)
                      : move_zero;
    if (!r_.job.setups[i].zero.at && r_.job.stock.mesh.empty())
      c.remedy += "; a blank of another size than declared does the same: measure it";
    causes_.push_back(std::move(c));
  }

  // The work turned half round: declared as turned over about x or y, it was so about the other.
  void half_round(std::size_t i) {
    const run::SetupResult& s = r_.setups[i];
    if (i >= shifts_.size() || !shifts_[i].half_round || turned_.contains(s.name)) return;
    if (search_of(s.name) != nullptr) return;
    turned_.insert(s.name);
    const auto& turns = r_.job.setups[i].turn;
    const bool over = turns.size() == 1 && std::abs(turns.front().degrees) == 180;
    const job::Axis axis = over ? turns.front().about : job::Axis::z;
    Cause c;
    c.kind = CauseKind::turn;
    c.setup = s.name;
    c.text = fmt::format("setup {}'s program fits the work turned {}, not as declared", s.name,
                         axis == job::Axis::x   ? "about y"
                         : axis == job::Axis::y ? "about x"
                                                : "half round about the tool's axis");
    c.remedy = "declare the turn as it will lie on the machine, or post again for the declared one";
    causes_.push_back(std::move(c));
  }

  // Where an earlier setup lies off, the sides meet no better as declared than turned.
  void turn(const run::SetupResult& s) {
    const bool before = std::any_of(causes_.begin(), causes_.end(), [&](const Cause& c) {
      return (c.kind == CauseKind::zero || c.kind == CauseKind::turn) && c.setup != s.name;
    });
    if (origin_off_ || before) return;
    for (const flip::Flip& f : r_.flips) {
      if (f.later != s.name || f.decision != flip::Decision::other || f.best_other == 0) continue;
      const flip::Placement& better = f.placements[f.best_other];
      // That fits badly too, where another zero fits: the sides were compared in the wrong place.
      // From a zero that mostly cuts air the little that meets the work lies near the part by
      // chance.
      const run::ZeroSearch* search = search_of(s.name);
      const double badly = cuts_little(search) ? tell() : r_.voxel;
      if (search != nullptr && better.from_part > badly) continue;
      // A program mirrored and the work turned are two mistakes, a zero that lies off is one.
      if (better.mirrored && (search != nullptr || shift_found(s.name) != nullptr)) continue;
      // Moved, the surface lies on the part; turned, it does not.
      const ShiftFit* moved = shift_found(s.name);
      if (moved != nullptr && better.from_part > moved->within) continue;
      turned_.insert(s.name);
      Cause c;
      c.kind = CauseKind::turn;
      c.setup = s.name;
      c.text =
          fmt::format("setup {}'s program fits the work {}, not as declared", s.name, better.name);
      c.remedy =
          "declare the turn as it will lie on the machine, or post again for the declared one";
      causes_.push_back(std::move(c));
    }
  }

  // Comments that name another size or shape, where that tool's cuts are wrong; one cause a tool.
  void tools() {
    for (const Finding& f : r_.findings) {
      if (!speaks_of_tool(f)) continue;
      const bool as_declared = fits_as_declared(r_, shifts_, f);
      if (!as_declared) by_comment_.insert(f.tool);
      const auto before = std::find_if(causes_.begin(), causes_.end(), [&](const Cause& c) {
        return c.kind == CauseKind::tool && c.tool == f.tool;
      });
      if (before != causes_.end()) {
        if (before->setup != f.setup) before->setup.clear();
        continue;
      }
      Cause c;
      c.kind = CauseKind::tool;
      c.setup = f.setup;
      c.tool = f.tool;
      c.text = f.text;
      c.remedy = as_declared
                     ? "its cuts fit the part as declared: measure it, mend the comment"
                     : "declare the tool that will be in the holder, or post for the declared one";
      causes_.push_back(std::move(c));
    }
    for (std::size_t i = 0; i < std::min(shifts_.size(), r_.setups.size()); ++i) {
      const double off = shifts_[i].walls_off;
      if (off == 0 || origin_off_) continue;
      Cause c;
      c.kind = CauseKind::tool;
      c.setup = r_.setups[i].name;
      c.text = fmt::format(
          "setup {} {} {:.2f} mm on every wall alike: posted for a tool {:.2f} mm {} in diameter "
          "than declared, or with an allowance",
          c.setup, off > 0 ? "leaves" : "takes", std::abs(off), 2 * std::abs(off),
          off > 0 ? "larger" : "smaller");
      c.remedy = "hold the tool's diameter in the job against the post, and look for an allowance";
      causes_.push_back(std::move(c));
    }
  }

  // Its sides swapped, or a comment that names another blank.
  void blank() {
    if (!r_.setups.empty()) {
      if (auto c = sides_swapped(r_.setups.front(), blank_in(r_.setups.front()))) {
        c->setup.clear();  // all setups run on it
        causes_.push_back(std::move(*c));
        return;
      }
    }
    for (const Finding& f : r_.findings) {
      if (f.detail != "blank-size-differs") continue;
      Cause c;
      c.kind = CauseKind::blank;
      c.text = f.text;
      c.remedy = "declare the blank that will be clamped, or post for the declared one";
      causes_.push_back(std::move(c));
      return;
    }
    too_small();
  }

  void too_small() {
    const bool placed = std::any_of(causes_.begin(), causes_.end(), [](const Cause& c) {
      return c.kind == CauseKind::origin || c.kind == CauseKind::zero;
    });
    if (placed) return;
    std::optional<Cause> lacking = lacks_part(r_);
    outside_ = lacking.has_value();
    add(std::move(lacking));
  }

  // A zero on walls that a tool of another size than its comment names has left lies off by no more
  // than the radii differ: the tool's doing.
  bool follows_tool(const Cause& zero) const {
    double radii = 0;
    for (const Finding& f : r_.findings) {
      if (f.detail == "tool-size-differs" && by_comment_.contains(f.tool))
        radii = std::max(radii, std::abs(smaller_radius(f)));
    }
    for (std::size_t i = 1; radii > 0 && i < r_.setups.size(); ++i) {
      if (r_.setups[i].name != zero.setup || !zero.shift) continue;
      return r_.job.setups[i].zero.on == job::ZeroOn::milled &&
             std::abs(zero.shift->z()) < tell() &&
             zero.shift->head<2>().cwiseAbs().maxCoeff() < radii + tell();
    }
    return false;
  }

  // Zeros that a coarse search alone proposes are not named beside a tool, or a blank, that the
  // programs themselves contradict: they fit what that made of the part.
  void drop_doubted() {
    const bool contradicted = std::any_of(causes_.begin(), causes_.end(), [&](const Cause& c) {
      return (c.kind == CauseKind::tool && by_comment_.contains(c.tool)) ||
             c.kind == CauseKind::blank;
    });
    if (!contradicted) return;
    std::erase_if(causes_, [&](const Cause& c) {
      return c.kind == CauseKind::zero && (by_search_.contains(c.setup) || follows_tool(c));
    });
  }

  void material() {
    for (const Finding& f : r_.findings) {
      if (f.detail != "other-material") continue;
      Cause c;
      c.kind = CauseKind::material;
      c.setup = f.setup;
      c.text = fmt::format("setup {} {}", f.setup, f.text);
      c.remedy = "post feeds and depths for the material that will be cut";
      causes_.push_back(std::move(c));
      break;
    }
  }

  void supports() {
    add(supports_gone(r_));
    add(frame_left_on(r_));
  }

  // Setups a cause of one setup reaches: those zeroed on what it milled.
  bool reaches(const Cause& cause, const std::string& setup) const {
    if (cause.setup.empty() || cause.setup == setup) return true;
    // What is cut nowhere near the work leaves the next setup other work than it was posted for.
    const bool astray = cause.kind == CauseKind::mode ||
                        (cause.kind == CauseKind::units && lengths_.contains(cause.setup));
    if (!astray && cause.kind != CauseKind::zero && cause.kind != CauseKind::offset) return false;
    bool after = false;
    for (std::size_t i = 0; i < r_.setups.size(); ++i) {
      if (after && r_.setups[i].name == setup)
        return r_.job.setups[i].zero.on == job::ZeroOn::milled;
      after = after || r_.setups[i].name == cause.setup;
    }
    return false;
  }

  // Causes in order of what they explain, each counting what those before it have not.
  std::vector<Cause> counted() {
    std::vector<bool> taken(r_.findings.size());
    std::vector<Cause> out, left = std::move(causes_);
    const auto explained = [&](const Cause& c) {
      std::vector<std::size_t> with;
      for (std::size_t i = 0; i < r_.findings.size(); ++i) {
        const Finding& f = r_.findings[i];
        // What a setup fails to take off is told of whoever left the surface.
        const bool left_on = f.kind == FindingKind::excess || f.kind == FindingKind::unreached;
        const bool of_lengths =
            c.kind == CauseKind::units && lengths_.contains(c.setup) && is_of_place(f.kind);
        // Whether blank or program is in the other unit is the same question.
        const bool of_blank = c.kind == CauseKind::units && lengths_.contains(c.setup) &&
                              f.detail == "blank-unit-doubtful";
        // A part that reaches out of the blank the way the zero lies off is the same mistake.
        const bool of_height = c.kind == CauseKind::zero && f.detail == "part-outside-blank" &&
                               c.shift && c.shift->head<2>().norm() < tell();
        const bool too_small = outside_ && c.kind == CauseKind::blank;
        if (too_small && f.detail != "part-outside-blank" &&
            (f.kind != FindingKind::gouge || !was_never_there(r_, f)))
          continue;
        // A setup that lies off by a shift of its own is not right once another one is mended.
        if (c.setup != f.setup && own_zero_.contains(f.setup) && is_of_surface(f) &&
            (c.kind == CauseKind::zero || c.kind == CauseKind::origin))
          continue;
        const bool outside = too_small && f.detail == "part-outside-blank";
        const bool of_blank_or_unit = of_lengths || of_blank || of_height || outside;
        if (taken[i] || !counts(f) || !(is_of(c.kind, f) || of_blank_or_unit)) continue;
        // How the sides meet hangs on both.
        const bool of_sides = f.kind == FindingKind::flip_mismatch &&
                              (c.kind == CauseKind::turn || c.kind == CauseKind::zero);
        if (!left_on && !of_blank && !of_height && !of_sides && !reaches(c, f.setup)) continue;
        if (c.tool != 0 && f.tool != c.tool) continue;
        // Beside cuts that fit the declared tool the comment's word is all that is wrong with it.
        if (c.kind == CauseKind::tool && c.tool != 0 && !by_comment_.contains(c.tool) &&
            !speaks_of_tool(f))
          continue;
        with.push_back(i);
      }
      return with;
    };
    while (!left.empty()) {
      // One that explains an error stands before those of warnings alone.
      std::size_t best = 0;
      std::pair<bool, std::size_t> most{false, 0};
      for (std::size_t i = 0; i < left.size(); ++i) {
        const std::vector<std::size_t> with = explained(left[i]);
        const bool errors = std::any_of(with.begin(), with.end(), [&](std::size_t f) {
          return r_.findings[f].level == Severity::error;
        });
        if (std::pair(errors, with.size()) <= most) continue;
        most = {errors, with.size()};
        best = i;
      }
      if (most.second == 0) break;
      left[best].findings = explained(left[best]);
      left[best].explains = left[best].findings.size();
      for (const std::size_t i : left[best].findings) taken[i] = true;
      out.push_back(std::move(left[best]));
      left.erase(left.begin() + static_cast<std::ptrdiff_t>(best));
    }
    std::size_t remains = 0;
    for (const Finding& f : r_.findings) remains += counts(f) ? 1 : 0;
    for (Cause& c : out) c.remains = remains -= c.explains;
    return out;
  }

  const run::JobResult& r_;
  const std::vector<ShiftFit>& shifts_;
  std::vector<Cause> causes_;
  std::optional<Vec3> part_off_;  // named as [part] origin or the first zero: mm, stock axes
  std::set<std::string> turned_;
  std::set<std::string> lengths_;              // setups whose lengths are read in another unit
  std::set<std::string> by_search_;            // setups whose zero a coarse search alone found
  std::set<std::string> own_zero_;             // setups with a cause 'zero' of their own
  std::set<int> by_comment_;                   // tools whose comment may be right
  bool origin_off_ = false, outside_ = false;  // outside_: the blank lacks some of the part
};

}  // namespace

std::vector<run::Cause> find_causes(const run::JobResult& result,
                                    const std::vector<ShiftFit>& shifts) {
  if (!result.inputs) return {};
  return Causes(result, shifts).all();
}

void tell_confined(run::JobResult& result, const std::vector<ShiftFit>& shifts) {
  std::vector<bool> explained(result.findings.size());
  for (const Cause& c : result.causes) {
    for (const std::size_t i : c.findings) explained[i] = true;
  }
  for (std::size_t i = 0; i < result.findings.size(); ++i) {
    Finding& f = result.findings[i];
    const bool of_part = f.kind == FindingKind::gouge || f.kind == FindingKind::excess;
    if (explained[i] || !of_part || !f.detail.empty() || f.level != Severity::error) continue;
    for (std::size_t k = 0; k < std::min(shifts.size(), result.setups.size()); ++k) {
      const ShiftFit& fit = shifts[k];
      const bool told = !fit.found && !fit.half_round && fit.walls_off == 0;
      // What is off by less than counts as on the part says nothing of the rest of the surface.
      const bool seen = f.value > 2 * fit.within;
      if (result.setups[k].name == f.setup && told && seen && fit.near_on >= nearly_all)
        f.detail = "confined";
    }
  }
}

bool comments_contradict(const run::JobResult& result, const std::vector<Finding>& findings,
                         const std::vector<ShiftFit>& shifts) {
  return std::any_of(findings.begin(), findings.end(), [&](const Finding& f) {
    return f.detail == "blank-size-differs" ||
           (speaks_of_tool(f) && !fits_as_declared(result, shifts, f));
  });
}

bool looks_shifted(const std::vector<Finding>& findings) {
  return std::any_of(findings.begin(), findings.end(),
                     [](const Finding& f) { return counts(f) && is_of_surface(f); });
}

}  // namespace proveout::causes
