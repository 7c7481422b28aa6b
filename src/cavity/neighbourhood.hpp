// The points around a place, as lists of coordinates: arithmetic then runs on four points at a time.
#pragma once
#include <Eigen/Core>
#include <array>
#include <optional>
#include <vector>
#include "gapfront/cavity.hpp"

namespace gapfront::cavity {

using List = std::vector<float>;
using Pack = Eigen::Array4f;
inline Eigen::Map<const Pack> pack(const List& list, Eigen::Index i) { return Eigen::Map<const Pack>(list.data() + i); }
inline Eigen::Map<Pack> pack(List& list, Eigen::Index i) { return Eigen::Map<Pack>(list.data() + i); }
/// 1 where x is above nothing, else 0. Arithmetic in place of Eigen's select, which goes one by one.
inline Pack above(const Pack& x) { return (x * 1e30f).max(0.0f).min(1.0f); }
/// The sum of a pack, always in the same order.
inline double sum(const Pack& p) { return (double(p[0]) + p[1]) + (double(p[2]) + p[3]); }

/// Lists that are re-used from fit to fit, for one surface as long as `reach` is not set back to nothing. Their lengths
/// are padded to fours; the padding weighs nothing.
struct Scratch {
  // The points gathered within `reach` of `centre`, relative to it, and the same in the frame they were last projected
  // on.
  Vec3 centre = Vec3::Zero();
  double reach = 0;
  Eigen::Index near = 0;
  std::array<List, 3> xyz;
  List pu, pv, ph;
  // Those of them that are fitted: place in the patch's tangent plane in units of its radius, height, weight.
  Eigen::Index used = 0;
  List u, v, h, weight, inner_weight, residual;
};

/// Gathers the points of the surface within `radius` of `centre`.
void gather(const Surface&, const Vec3& centre, double radius, Scratch&);

/// Are all points within `radius` of a place gathered already?
inline bool holds(const Scratch& s, const Vec3& place, double radius) {
  return (place - s.centre).norm() + radius <= s.reach;
}

/// The gathered point nearest to the centre, if there is any.
std::optional<Vec3> nearest_gathered(const Scratch&);

/// Coordinates of the gathered points about `origin` along the columns of `axes`, into pu, pv and ph.
void project(const Vec3& origin, const Eigen::Matrix3d& axes, Scratch&);

/// Keeps the points whose weight(u, v, h), u and v in mm in the frame last projected on, is above nothing.
template <class Weight>
void keep(double radius, Scratch& s, const Weight& weight) {
  const float per = float(1 / radius);
  float *u = s.u.data(), *v = s.v.data(), *h = s.h.data(), *w = s.weight.data();
  std::size_t used = 0;
  for (Eigen::Index i = 0; i < s.near; i += 4) {
    const Pack pu = pack(s.pu, i), pv = pack(s.pv, i), ph = pack(s.ph, i), pw = weight(pu, pv, ph);
    const Pack ru = per * pu, rv = per * pv;
    for (Eigen::Index k = 0; k < 4; ++k) {
      u[used] = ru[k], v[used] = rv[k], h[used] = ph[k], w[used] = pw[k];
      used += pw[k] > 0;
    }
  }
  for (std::size_t k = used; k < used + 4; ++k) u[k] = v[k] = h[k] = w[k] = 0;
  s.used = Eigen::Index(used);
}

}  // namespace gapfront::cavity
