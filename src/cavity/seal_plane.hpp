// The flange as a plane, and the lower face as heights over it.
#pragma once
#include <optional>
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

/// Frame of the flange: `n` from the lower half to the upper.
struct FlangeFrame {
  Vec3 at = Vec3::Zero(), e1 = Vec3::UnitX(), e2 = Vec3::UnitY(), n = Vec3::UnitZ();
  double tolerance = 0;  ///< mm; what is nearer to the plane belongs to it
  Vec3 local(const Vec3& p) const { return {(p - at).dot(e1), (p - at).dot(e2), (p - at).dot(n)}; }
  Vec3 world(double u, double v, double h) const { return at + u * e1 + v * e2 + h * n; }
};

/// The plane whose points reach farthest round: a flange surrounds the face, whatever else is flat. None when no plane
/// holds enough of the scan.
std::optional<FlangeFrame> find_flange(const Surface& lower, const Surface& upper);

/// Values on a square grid over the flange's plane, node (i, j) at (u0 + i·cell, v0 + j·cell).
struct PlanGrid {
  double u0 = 0, v0 = 0, cell = 1;
  int nu = 0, nv = 0;
  int at(int i, int j) const { return j * nu + i; }
  int size() const { return nu * nv; }
  double u(int k) const { return u0 + (k % nu) * cell; }
  double v(int k) const {
    const int row = k / nu;
    return v0 + row * cell;
  }
};

struct PlanHeights {
  PlanGrid grid;
  std::vector<double> height;  ///< of the lower face over the plane, mm; bridged over holes; 0 outside
  std::vector<char> seen;      ///< 1 where the scan says so
  std::vector<char> outside;   ///< 1 beyond the edge of the scan
};
/// A grid of about two point spacings, with a local plane of the points at each node; what lies in a mask is bridged.
PlanHeights plan_heights(const Surface& lower, const FlangeFrame&, const std::vector<Mask>&);

/// Fills in what is not `known` from around by averaging until it is smooth; leaves `outside` alone.
void bridge(const PlanGrid&, std::vector<double>& value, const std::vector<char>& known,
            const std::vector<char>& outside);

}  // namespace gapfront::cavity
