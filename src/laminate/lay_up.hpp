// Which stack lies where, and what runs beside it.
#pragma once
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

/// The plies at a place, draped as its zones say.
std::vector<Ply> plies_at(const Vec3&, const LaminateOptions&);

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
