// Mating lands of both halves, met place by place.
#pragma once
#include <functional>
#include <vector>

#include "gapfront/align.hpp"

namespace gapfront::align {

/// Frame of the lands: `axis` is their mean normal, from the lower half to the upper one.
struct LandFrame {
  Vec3 centre = Vec3::Zero(), e1 = Vec3::UnitX(), e2 = Vec3::UnitY(), axis = Vec3::UnitZ();
  double size = 1;  ///< root mean square distance of the lower lands from their centre, mm
};

struct LandPlace {
  Vec3 at = Vec3::Zero();       ///< tool frame, on the upper land
  Vec3 normal = Vec3::UnitZ();  ///< mean of both lands
  double gap = 0, u = 0;        ///< along the normal, mm, and its standard uncertainty from scatter and fit
  bool rough = false;           ///< far more scatter than usual: an edge or a step runs through it
};

struct Lands {
  LandFrame frame;
  double cell = 0;    ///< side of a place, mm
  int one_sided = 0;  ///< places that only one half covers
  std::vector<LandPlace> places;
};

/// Says of a place in the tool frame whether it is on the lands.
using OnLands = std::function<bool(const Vec3&)>;

/// Where the halves, closed by a first pose, come within `within` mm of the stand-off: places of the lower half about
/// one `voxel` apart. The cavity is far wider, so what is found is the rim, flat or curved.
std::vector<Vec3> close_places(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, double stand_off,
                               double within, double voxel);

/// Points of both halves (tool frame, upper half closed by a first pose) on the lands, gathered in square cells; in
/// each cell a robust plane per half, and the gap between the two at the cell's middle. No point serves two cells, so
/// the places are independent. Cells are as small as about 25 points of the sparser half allow, and at most about 2500.
/// Throws Error{measurement} when the region holds too few points.
Lands find_lands(const std::vector<Vec3>& lower, const std::vector<Vec3>& upper, const OnLands& on_lands);

}  // namespace gapfront::align
