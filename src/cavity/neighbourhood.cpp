#include "cavity/neighbourhood.hpp"

namespace gapfront::cavity {

void gather(const Surface& surface, const Vec3& centre, double radius, Scratch& s) {
  surface.offsets_within(centre, radius, s.found);
  s.centre = centre;
  s.near = Eigen::Index(s.found.size());
  if (s.x.size() < s.near + 8)
    for (List* list : {&s.x, &s.y, &s.z, &s.pu, &s.pv, &s.ph, &s.u, &s.v, &s.h, &s.weight, &s.residual})
      list->resize((2 * s.near + 8) / 4 * 4);
  for (Eigen::Index i = 0; i < s.near; ++i) {
    const Vec3& p = s.found[std::size_t(i)];
    s.x[i] = p.x(), s.y[i] = p.y(), s.z[i] = p.z();
  }
  // A kilometre off, the padding is outside of every neighbourhood.
  for (Eigen::Index i = s.near; i < s.near + 4; ++i) s.x[i] = s.y[i] = s.z[i] = 1e6;
}

void project(const Vec3& origin, const Eigen::Matrix3d& axes, Scratch& s) {
  const Vec3 shift = axes.transpose() * (s.centre - origin);
  for (Eigen::Index i = 0; i < s.near; i += 4) {
    const Pack x = pack(s.x, i), y = pack(s.y, i), z = pack(s.z, i);
    s.pu.segment<4>(i) = axes(0, 0) * x + axes(1, 0) * y + axes(2, 0) * z + shift.x();
    s.pv.segment<4>(i) = axes(0, 1) * x + axes(1, 1) * y + axes(2, 1) * z + shift.y();
    s.ph.segment<4>(i) = axes(0, 2) * x + axes(1, 2) * y + axes(2, 2) * z + shift.z();
  }
}

}  // namespace gapfront::cavity
