#include "cavity/neighbourhood.hpp"
#include <algorithm>
#include <limits>
#include "cavity/surface_reader.hpp"

namespace gapfront::cavity {

void gather(const Surface& surface, const Vec3& centre, double radius, Scratch& s) {
  s.centre = centre, s.reach = radius;
  s.near = Eigen::Index(SurfaceReader::offsets_within(surface, centre, radius, s.xyz));
  const auto padded = std::size_t(s.near + 8);
  if (s.xyz[0].size() < padded)
    for (List& list : s.xyz) list.resize(padded);
  if (s.u.size() < padded)
    for (List* list : {&s.pu, &s.pv, &s.ph, &s.u, &s.v, &s.h, &s.weight, &s.inner_weight, &s.residual})
      list->resize(2 * padded);
  // A kilometre off, the padding is outside of every neighbourhood.
  for (List& list : s.xyz) std::fill_n(list.begin() + s.near, 4, 1e6f);
}

std::optional<Vec3> nearest_gathered(const Scratch& s) {
  if (s.near == 0) return std::nullopt;
  const auto square = [&](Eigen::Index i) -> Pack {
    return pack(s.xyz[0], i).square() + pack(s.xyz[1], i).square() + pack(s.xyz[2], i).square();
  };
  Pack minimum = Pack::Constant(std::numeric_limits<float>::infinity());
  for (Eigen::Index i = 0; i < s.near; i += 4) minimum = minimum.min(square(i));
  const float wanted = minimum.minCoeff();
  std::size_t at = 0;
  for (Eigen::Index i = 0; i < s.near; i += 4)
    if (const Pack d2 = square(i); d2.minCoeff(&at) == wanted) {
      at += std::size_t(i);
      break;
    }
  return s.centre + Vec3(s.xyz[0][at], s.xyz[1][at], s.xyz[2][at]);
}

void project(const Vec3& origin, const Eigen::Matrix3d& axes, Scratch& s) {
  const Eigen::Vector3f shift = (axes.transpose() * (s.centre - origin)).cast<float>();
  const Eigen::Matrix3f a = axes.cast<float>();
  for (Eigen::Index i = 0; i < s.near; i += 4) {
    const Pack x = pack(s.xyz[0], i), y = pack(s.xyz[1], i), z = pack(s.xyz[2], i);
    pack(s.pu, i) = a(0, 0) * x + a(1, 0) * y + a(2, 0) * z + shift.x();
    pack(s.pv, i) = a(0, 1) * x + a(1, 1) * y + a(2, 1) * z + shift.y();
    pack(s.ph, i) = a(0, 2) * x + a(1, 2) * y + a(2, 2) * z + shift.z();
  }
}

}  // namespace gapfront::cavity
