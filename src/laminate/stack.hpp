// A stack of plies between two walls, prepared once and asked at many gaps.
#pragma once
#include <array>
#include <vector>

#include "gapfront/laminate.hpp"

namespace gapfront::laminate {

/// Principal values of a symmetric 2×2 tensor, the greater first, and the angle from x to its direction, rad.
struct Principal {
  double first, across, angle;
};
Principal principal(double xx, double xy, double yy);

/// What the plies do at a given thickness of the whole stack.
struct StackState {
  double pressure = 0;     ///< shared by all plies, Pa
  std::vector<double> vf;  ///< per layer
};

/// Plies of the same glass share one layer, whatever their direction. Sheared cloth conducts as its two families of
/// threads do, each by its share of the glass and turned with it (superposition of layers: Advani, Bruschke & Parnas
/// 1994, from memory); unsheared, they give the law's ratio. The mean over all directions is the law's at the fibre
/// fraction there.
class Stack {
 public:
  explicit Stack(const std::vector<Ply>& plies);
  double loft() const { return loft_; }
  double solid() const { return solid_; }
  double minimum() const { return min_; }      ///< thinnest the stack can be, mm
  double fibre_mass() const { return mass_; }  ///< g/mm²
  /// The pressure at which the layers' thicknesses add up to `thickness` (between least and loft).
  StackState squeeze(double thickness) const;
  /// In-plane conductance tensor Σ K·h of the layers, in axes (first, across) of direction 0: xx, xy, yy, mm³.
  std::array<double, 3> conductance(const StackState&) const;
  bool isotropic() const { return isotropic_; }
  double shear() const { return shear_; }      ///< greatest of its cloth, rad
  double thickness_at(double pressure) const;  ///< mm, pressed by so many Pa

 private:
  struct Layer {
    Reinforcement reinforcement;
    double solid = 0, loft_vf = 0, onset_vf = 0;
    double onset_pressure = 0, max_pressure = 0;  // Pa, at onset_vf and packed solid
    double xx = 0, xy = 0, yy = 0;                // direction tensor, weighted by share of the layer's plies
  };
  double vf_at(const Layer&, double pressure) const;
  std::vector<Layer> layers_;
  double loft_ = 0, solid_ = 0, min_ = 0, mass_ = 0, max_pressure_ = 0;
  bool isotropic_ = true;
  double shear_ = 0;
  std::vector<std::pair<double, double>> curve_;  // (ln pressure, thickness), thickness falling
};

}  // namespace gapfront::laminate
