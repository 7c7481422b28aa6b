// One rigid body set down on another: where it comes to rest, how well that is known, and whether it can rock.
#pragma once
#include <vector>

#include "gapfront/geometry.hpp"

namespace gapfront::align {

/// A place where both lands were measured. `row` says how far a motion (sinking, two turns) opens it: clearance after
/// the motion = clearance + row · motion.
struct ContactPlace {
  Vec3 row = Vec3::Zero();
  double clearance = 0, u = 0;  ///< mm, and its standard uncertainty
  bool rough = false;           ///< an edge runs through it: it holds the body up, but tells nothing finely
};

struct ContactFit {
  Vec3 motion = Vec3::Zero();
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of the motion; noise and rocking together
  std::vector<int> carrying;                             ///< places in contact under the centred load
  double rock = 0;      ///< greatest change of clearance from one rest to another, mm; 0: it sits in one way only
  int rock_place = -1;  ///< where that is
  bool settled = true;  ///< every rest was found within the most rounds
  bool tips = false;    ///< the load falls beside everything that could carry: nothing is known
};

/// Rest of a rigid body under a load. A rest is the lowest position (in the load's direction) that enters no place by
/// more than its noise can feign: a linear program in three unknowns. There the places within three standard
/// uncertainties of contact carry, and a least-squares fit to them makes the rest finer. Where a clamped mold is
/// pulled hardest nobody knows exactly, so the load is placed at the lands' centre and around it, up to `load_play`
/// of the lands' size away. Rests that agree are averaged; a body that rocks between two is put in the middle, says
/// so, and its covariance covers both.
ContactFit set_down(const std::vector<ContactPlace>&, double load_play);

/// Least load · q with rows[i] · q ≥ bounds[i], by the dual simplex method; false: unbounded within ±`far`.
bool lowest_point(const Vec3& load, const std::vector<Vec3>& rows, const std::vector<double>& bounds, double far,
                  Vec3& q);

}  // namespace gapfront::align
