#include "sim/propose/supports.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "sim/measure/probe.h"

namespace proveout::propose {
namespace {

constexpr double near_share = 0.35, far_share = 0.65;  // of the kerf: the middle of it
constexpr double touch_share = 0.2, beyond_share = 0.9;
constexpr double longest_kerfs = 5.5, largest_kerfs2 = 10;

class Cells {
 public:
  Cells(const stock::Stock& stock, const solid::PartDistance& part, const Vec3& origin, double kerf)
      : cell_(stock.voxel()), kerf_(kerf) {
    const Box3 mesh = mesh::bounds(part.mesh());
    const Vec3 margin = Vec3::Constant(1.3 * kerf);
    low_ = mesh.min() + origin - margin;
    const Vec3 size = mesh.sizes() + 2 * margin;
    for (int axis = 0; axis < 3; ++axis)
      n_[static_cast<std::size_t>(axis)] = static_cast<int>(std::ceil(size[axis] / cell_));
    distance_.assign(count(), none);
    const measure::StockProbe probe(stock);
    const double reach = 1.4 * kerf;
    for (std::size_t i = 0; i < distance_.size(); ++i) {
      const Vec3 p = place(i);
      if (probe.at(p) >= 0) continue;
      distance_[i] = static_cast<float>(part.at(p - origin, reach));
    }
  }

  std::size_t count() const {
    return static_cast<std::size_t>(n_[0]) * static_cast<std::size_t>(n_[1]) *
           static_cast<std::size_t>(n_[2]);
  }
  std::array<int, 3> index(std::size_t i) const {
    const auto z = static_cast<int>(i % static_cast<std::size_t>(n_[2]));
    const std::size_t xy = i / static_cast<std::size_t>(n_[2]);
    return {static_cast<int>(xy / static_cast<std::size_t>(n_[1])),
            static_cast<int>(xy % static_cast<std::size_t>(n_[1])), z};
  }
  std::optional<std::size_t> at(const std::array<int, 3>& k) const {
    for (std::size_t a = 0; a < 3; ++a)
      if (k[a] < 0 || k[a] >= n_[a]) return std::nullopt;
    return (static_cast<std::size_t>(k[0]) * static_cast<std::size_t>(n_[1]) +
            static_cast<std::size_t>(k[1])) *
               static_cast<std::size_t>(n_[2]) +
           static_cast<std::size_t>(k[2]);
  }
  Vec3 place(std::size_t i) const {
    const auto k = index(i);
    return low_ + cell_ * Vec3(k[0] + 0.5, k[1] + 0.5, k[2] + 0.5);
  }
  // Material as far from the part, in kerfs.
  bool between(std::size_t i, double from, double to) const {
    return distance_[i] > from * kerf_ && distance_[i] < to * kerf_;
  }
  double cell() const { return cell_; }

  // The connected places of material in the middle of the kerf.
  std::vector<std::vector<std::size_t>> middles() const {
    std::vector<std::vector<std::size_t>> out;
    std::vector<bool> seen(count(), false);
    for (std::size_t i = 0; i < count(); ++i) {
      if (seen[i] || !between(i, near_share, far_share)) continue;
      std::vector<std::size_t> piece{i};
      seen[i] = true;
      for (std::size_t k = 0; k < piece.size(); ++k) {
        const auto c = index(piece[k]);
        for (int n = 0; n < 27; ++n) {
          const auto other = at({c[0] + n / 9 - 1, c[1] + n / 3 % 3 - 1, c[2] + n % 3 - 1});
          if (!other || seen[*other] || !between(*other, near_share, far_share)) continue;
          seen[*other] = true;
          piece.push_back(*other);
        }
      }
      out.push_back(std::move(piece));
    }
    return out;
  }

  // Whether there is material in that range of distances in the box.
  bool any_in(const Box3& box, double from, double to) const {
    std::array<int, 3> low{}, high{};
    for (std::size_t a = 0; a < 3; ++a) {
      const auto axis = static_cast<int>(a);
      low[a] = std::max(0, static_cast<int>((box.min()[axis] - low_[axis]) / cell_));
      high[a] = std::min(n_[a] - 1, static_cast<int>((box.max()[axis] - low_[axis]) / cell_));
    }
    for (int x = low[0]; x <= high[0]; ++x)
      for (int y = low[1]; y <= high[1]; ++y)
        for (int z = low[2]; z <= high[2]; ++z)
          if (const auto i = at({x, y, z}); i && between(*i, from, to)) return true;
    return false;
  }

 private:
  static constexpr float none = -1e9F;
  double cell_, kerf_;
  Vec3 low_;
  std::array<int, 3> n_{};
  std::vector<float> distance_;
};

// The axis along which the part's distance grows most at a place, and which way.
std::pair<int, double> outward(const solid::PartDistance& part, const Vec3& at) {
  Vec3 slope;
  for (int axis = 0; axis < 3; ++axis) {
    const Vec3 step = 0.2 * Vec3::Unit(axis);
    slope[axis] = part.at(at + step) - part.at(at - step);
  }
  int axis = 0;
  slope.cwiseAbs().maxCoeff(&axis);
  return {axis, slope[axis] < 0 ? -1.0 : 1.0};
}

}  // namespace

Standing standing(const stock::Stock& stock, const solid::PartDistance& part, const Vec3& origin,
                  double kerf) {
  Standing out;
  const Cells cells(stock, part, origin, kerf);
  const double half = 0.5 * cells.cell();
  for (const auto& piece : cells.middles()) {
    Box3 box;
    Vec3 middle = Vec3::Zero();
    for (const std::size_t i : piece) {
      box.extend(cells.place(i));
      middle += cells.place(i);
    }
    middle /= static_cast<double>(piece.size());
    const auto [axis, way] = outward(part, middle - origin);
    const double part_face = middle[axis] - way * part.at(middle - origin);
    const double beyond = part_face + way * (kerf + 1);
    Box3 support(box.min().array() - half - 0.3, box.max().array() + half + 0.3);
    // A round cutter leaves a support wider at both its ends than in its middle.
    for (const int across : {0, 1}) {
      if (across == axis || axis == 2) continue;
      support.min()[across] -= kerf / 2 + 0.2;
      support.max()[across] += kerf / 2 + 0.2;
    }
    support.min()[axis] = std::min(part_face, beyond);
    support.max()[axis] = std::max(part_face, beyond);
    if (!cells.any_in(support, 0, touch_share) || !cells.any_in(support, beyond_share, 1.3))
      continue;
    const double volume = static_cast<double>(piece.size()) * std::pow(cells.cell(), 3);
    const double section = volume / ((far_share - near_share) * kerf);
    Vec3 across = box.sizes();
    across[axis] = 0;
    if (across.maxCoeff() > longest_kerfs * kerf || section > largest_kerfs2 * kerf * kerf) {
      out.remarks.push_back(
          fmt::format("at [{:.0f}, {:.0f}, {:.0f}] of the stock {:.0f} mm2 tie the part to the "
                      "blank: more than "
                      "a support is, so it is not declared as one",
                      middle.x(), middle.y(), middle.z(), section));
      continue;
    }
    for (int a = 0; a < 3; ++a) {
      support.min()[a] = std::floor(10 * support.min()[a] + 0.5) / 10;
      support.max()[a] = std::floor(10 * support.max()[a] + 0.5) / 10;
    }
    out.supports.push_back(support);
  }
  return out;
}

}  // namespace proveout::propose
