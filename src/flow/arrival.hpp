// When the front passes each node, finer than the control volumes and the steps.
#pragma once
#include <limits>
#include <vector>

#include "flow/front.hpp"

namespace gapfront::flow {

constexpr double kNever = std::numeric_limits<double>::infinity();

/// The pressure integral grows with the square of the distance to the front (∇·C∇w = resin per area, w and its slope
/// nothing at the front). When the front is a little beyond a node, that distance, and the pace at which it has come
/// from the nodes upstream, tell when it was there. Where it comes from several sides, the share of the control volume
/// that is filled decides.
class Arrivals {
 public:
  Arrivals(const Links&, const Network&, const std::vector<int>& inlet);
  /// After a step that began with `from` mm³ injected.
  void note(const Front&, double from);
  /// Injected volume at which the front passed each node, mm³; kNever where it has not.
  std::vector<double> finish(const Front&);

 private:
  struct Way {
    double level, ratio;  // share of the volume that is filled when the node is reached; 1: all from one side
  };
  Way way(int node, const std::vector<double>& integral) const;
  double beyond(int node, double integral) const;
  void settle(int node, const Front&);

  const Links& links_;
  const Network& net_;
  std::vector<double> first_, full_at_, by_level_, passed_;  // injected volume, mm³
  std::vector<double> level_, filled_, air_;
  std::vector<char> watched_;
  std::vector<int> watch_;
  double inlet_integral_ = 0;  // by the inlet until now
};

}  // namespace gapfront::flow
