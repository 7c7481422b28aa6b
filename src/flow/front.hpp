// The wetted part of the sheet, as a function of the time-integrated pressure of the inlet.
#pragma once
#include <vector>

#include "flow/pressure.hpp"

namespace gapfront::flow {

/// Darcy's law summed over time. With the time-integrated pressure w = ∫ (p − p_vent)/µ dt of each node, the resin in
/// its control volume is Σ_j t_ij (w_j − w_i). Either the volume is full, and w is unknown; or it is not, and w is that
/// of the air there: nothing where a vent is open. Which are full follows from that alone (the transform is Baiocchi's,
/// 1972; for moving fronts Elliott and Janovský, 1981; both from memory): steps of any size end in the same state,
/// errors do not add up, and time, viscosity and flow rate come in only afterwards. Control volumes fill, and do not
/// empty.
class Front {
 public:
  Front(const Network&, const std::vector<int>& inlet, std::shared_ptr<const Ladder> ladder = {});
  /// With weight: `drops[e]`, by how much the head of a column of resin from a node to its neighbour presses on, Pa;
  /// `heads`, the same from the inlet's middle to each of its nodes. Both must outlive it.
  void weigh_down(const std::vector<double>& drops, const std::vector<double>& heads) {
    drops_ = &drops, heads_ = &heads;
  }

  double inlet_integral() const { return inlet_integral_; }  ///< time-integrated pressure of the inlet
  double volume() const { return full_ + partly_ + bled_; }  ///< in the sheet, and bled, mm³
  double bled() const { return bled_; }                      ///< mm³
  bool full(int node) const { return wet_[node]; }
  const std::vector<char>& wet() const { return wet_; }                     ///< 1: full
  const std::vector<double>& integral() const { return w_; }                ///< the same of each node
  const std::vector<double>& integral_before() const { return w_before_; }  ///< at the start of the step
  const std::vector<double>& filled() const { return filled_; }             ///< resin per node, mm³
  const std::vector<int>& fed() const { return front_nodes_; }              ///< not full, beside ones that are
  const std::vector<int>& joined() const { return joined_; }                ///< full since the step began

  int layers() const { return layers_; }  ///< rows of cells that filled one after the other since the step began

  /// A step on to that pressure integral of the inlet; the first guess goes on as in the last steps.
  void begin(double inlet_integral);
  /// Within it, where resin has weight: what that moves in a step of so much ∫ dt/µ. Darcy's law with ρ g brings along
  /// each link t·drop for as long as there is resin at either end; that is a given addition to what the pressures
  /// bring.
  void fall(double step);
  double fallen(int node) const { return drops_ ? body_[node] : 0; }  ///< into a node by its weight, mm³
  /// Integrals near the front, and contents, about in balance with what lies further back as it is: cheap, and enough
  /// to see which cells fill next.
  void relax();
  /// Integrals, also those of shut-in gas (`constraints`), and contents in balance with what is full now; `loose` mm³
  /// of resin may be unaccounted for. False: more are, and the solver gave up.
  bool balance(double loose, std::vector<GasPocketConstraint>& constraints);
  /// Fed nodes that hold more than their volume, by the share `over`, become full, if `may(node)`; returns how many.
  template <class May>
  int take_in(May&& may, double over = 0) {
    const std::size_t before = joined_.size();
    // 1e-12: rounding; a node that is full to it would otherwise cost a step of no size.
    for (int i : front_nodes_)
      if (filled_[i] >= net_.volume[i] * (1 + over - 1e-12) && may(i)) fill_up(i);
    list_fed(before);
    return static_cast<int>(joined_.size() - before);
  }
  void undo();  ///< back to where the step began
  /// The pressure integral of the air at a node that is not full.
  void set_air(int node, double integral) { w_[node] = integral; }
  double trim();         ///< when all are full: takes back the integral since, and returns it
  void bleed(int node);  ///< from now on resin leaves at this full node, against the vent's pressure
  void shut(int node);   ///< no more
  /// What came through the inlets, mm³: by the flow in their links, without regard to what is found in the sheet.
  double entered() const;

 private:
  double full_share(int node) const;
  void fill_up(int node);
  void list_fed(std::size_t from);
  void mark_near();
  void weigh();
  double inflow(int node) const;
  double balanced(int node) const;  // its integral, were the others as they are

  const Network& net_;
  const std::vector<int>& inlet_;
  PressureSolver solver_;
  std::vector<char> wet_, listed_;
  std::vector<double> w_, w_before_, w_earlier_, w_earliest_;  // now, and at the start of this step and the last two
  std::vector<double> filled_, filled_before_, rhs_;           // mm³
  std::vector<double> laid_;                                   // conductances, as the solver's rows lie
  std::vector<double> resistance_, held_;                      // 1 / Σ t, 0 where nothing leads to; see relax
  std::vector<int> front_nodes_, front_nodes_before_, joined_, bleeding_, near_;
  std::vector<int> joined_in_, seen_in_, layer_;  // per node: step in which it filled; last in near_; its row then
  const std::vector<double>*drops_ = nullptr, *heads_ = nullptr;
  std::vector<double> base_, body_, body_before_;  // rhs_ without weight; what weight has brought, mm³
  double fallen_ = 0, fallen_before_ = 0;          // ∫ dt/µ until now
  int step_ = 0, layers_ = 0;
  double inlet_integral_ = 0, inlet_integral_before_ = 0, inlet_integral_earlier_ = 0, inlet_integral_earliest_ = 0;
  double full_ = 0, full_before_ = 0, partly_ = 0, partly_before_ = 0, bled_ = 0, bled_before_ = 0, bled_closed_ = 0;
};

}  // namespace gapfront::flow
