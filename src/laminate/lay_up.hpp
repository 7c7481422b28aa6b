// Which stack lies where, and what runs beside it.
#pragma once
#include <utility>
#include <vector>

#include "laminate/stack.hpp"

namespace gapfront::laminate {

/// Which stack lies where; one entry per node, but for `stacks`.
struct LayUp {
  std::vector<Stack> stacks;
  std::vector<std::size_t> stack_of;
  std::vector<std::vector<int>> zones;
  std::vector<Vec3> axis;  ///< direction 0 of the plies
};
LayUp lay_up(const Sheet&, const LaminateOptions&);

// Steps of turn and threads, rad: a quarter of a degree. At 50° of shear half of that is 0.3 % of areal weight; nodes
// that are alike to this share a stack.
inline constexpr double kDrapeStep = 3.141592653589793 / 720;
/// What a direction is beyond whole quarter turns, 0 to 90 degrees: threads that cross squarely lie alike.
double quarter_rest(double degrees);
/// The net that lays this ply; −1: none.
int net_of(const Ply&, const std::vector<DrapedCloth>&);
/// Direction `angle` (rad) of a ply at a node: `axis` laid onto the sheet, and turned.
Vec3 ply_axis(const Vec3& normal, Vec3 axis, double angle);
/// What the nets do at a node, in whole steps: nodes of the same key have the same sheared plies.
std::vector<int> drape_key(const LaminateOptions&, std::size_t node);
/// Cloth among these plies as its net lays it there; direction 0 is then that of the first net.
void shear_plies(std::vector<Ply>&, const LaminateOptions&, std::size_t node);

/// The plies at a place, draped as its zones say, not as a net does.
std::vector<Ply> plies_at(const Vec3&, const LaminateOptions&);

/// Where a path is nearest to a place: how far, mm, and the way of the path there (its piece, not of unit length).
std::pair<double, Vec3> beside_path(const std::vector<Vec3>& path, const Vec3&);

/// What a channel along an inside radius carries at a node, per width of the sheet, mm³.
struct Beside {
  double conductance = 0;
  Vec3 along = Vec3::Zero();
};
/// Per node; empty: there is no channel.
std::vector<Beside> channels(const Sheet&, const std::vector<double>& gap, const LaminateOptions&);
/// Adds it to what the node conducts.
void add_beside(NodeLaminate&, const Beside&, const Vec3& normal);

}  // namespace gapfront::laminate
