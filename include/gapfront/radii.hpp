// Inside radii: where the sheet has them, how far glass stands off them, and the channel that leaves.
#pragma once
#include <vector>
#include "gapfront/laminate.hpp"

namespace gapfront {

/// Glass across an inside radius.
struct Bridge {
  double free_radius = 0;  ///< of the bend that the glass takes by itself, mm
  double height = 0;       ///< between face and glass in the middle of the corner, mm
  double area = 0;         ///< of the channel's section, mm²
  double conductance = 0;  ///< flow along it is this / µ · |dp/ds|, mm⁴
  double limit = 0;        ///< greatest height that the closed mold leaves, mm
};

/// Which bends of the sheet are looked for.
struct RadiiSearch {
  double largest = 30;      ///< radius, mm: glass lies down in wider ones (own choice)
  double least_turn = 0.7;  ///< rad; 40°: with less, glass hardly leaves the corner (own choice)
};
/// A bend of the sheet that glass on it has to follow.
struct FoundRadius {
  std::vector<Vec3> path;  ///< along the middle of the rounding, on the lower face
  bool closed = false;     ///< the path comes back to its start
  bool lower = true;       ///< inside radius of the lower half (the sheet bends towards the cavity); else of the upper
  double radius = 0;       ///< of that half's face, mm
  double u = 0;            ///< standard uncertainty of the radius, mm
  double turn = 0;         ///< by which it turns, rad
  double length = 0;       ///< mm
  bool resolved = true;    ///< wider than two edges of the mesh or nearly; otherwise the radius is only "so or less"
};

namespace laminate {
/// Bends of the sheet with a radius, by the change of its normals, longest first. The turn is a sum over the band; the
/// radius comes of the band's area, less what the mesh smears. `gap` (mm per node) lies between the lower face's
/// radius and that of the upper half. Masked nodes and the rim are left out.
std::vector<FoundRadius> find_radii(const Sheet&, const std::vector<double>& gap, const RadiiSearch& = {});
/// Whether a path of the options runs along it, or near its middle.
bool is_named(const FoundRadius&, const LaminateOptions&);
/// Section between a rounding of radius `face` and a bend of radius `glass` in a corner that turns by `turn`, mm²:
/// (glass² − face²)(tan(turn/2) − turn/2), both tangent to the same walls.
double bridge_area(double face, double glass, double turn);
/// Radius of a strip that is pressed into a corner without sticking: it leaves the walls without a moment, so a beam of
/// bending stiffness G = `stiffness` (Pa·mm³, per width) under `pressure` p (Pa) turns by p s³/(12 G) over the free
/// length s (own derivation by the linear beam). Returned is the radius of the arc that stands as far off the corner as
/// the elastica of that length does, a quarter less than s/turn for a little turn: tests/external/bridge_elastica.py.
double free_radius(double stiffness, double pressure, double turn);
/// What the glass of `plies` does at a radius where the gap is so wide, mm. Nothing where it is packed, or with roving.
Bridge bridge(const InsideRadius&, const std::vector<Ply>& plies, double gap, const LaminateOptions&);
/// The bridges of the options' radii, for gaps in mm per node; of each the mean gap along it is taken.
std::vector<Bridge> bridges(const Sheet&, const std::vector<double>& gap, const LaminateOptions&);
/// Length, mm.
double length_of(const InsideRadius&);
/// Glass roving that fills the channel, g, at half glass by volume (from memory, order of magnitude), whatever the
/// plies are of.
double roving_mass(const InsideRadius&, const Bridge&);
}  // namespace laminate

}  // namespace gapfront
