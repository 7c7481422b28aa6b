// Where a port can be bored.
#pragma once
#include "gapfront/sheet.hpp"

namespace gapfront::correct {

class PortPlaces {
 public:
  explicit PortPlaces(const Sheet&);  ///< must outlive it
  /// Whether a mouth of `radius` mm about `p` stays within the seal line, and off what is masked: a mouth across the
  /// line cuts the seal, and beside a target it spoils the next registration.
  bool holds(const Vec3& p, double radius) const;
  /// The node nearest to `p` where it does; where none does, the nearest.
  Vec3 nearest(const Vec3& p, double radius) const;

 private:
  const Sheet& sheet_;
  std::vector<std::vector<Vec3>> rim_;
};

}  // namespace gapfront::correct
