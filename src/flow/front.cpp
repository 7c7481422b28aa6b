#include "flow/front.hpp"

#include <algorithm>
#include <limits>

namespace gapfront::flow {
namespace {

// Rows of cells behind the front in which a step is worked out before the rest is asked; what lies further back goes on
// evenly.
// With 4 the whole sheet has to be balanced more often, and 6 are no better.
constexpr int kRowsNear = 5;
// Sweeps there and back over them before cells are taken in, over-relaxed: as good as three that are not. With 1.0 or
// 1.5 there is more balancing.
constexpr int kSweeps = 2;
constexpr double kOverRelaxation = 1.3;

}  // namespace

Front::Front(const Network& net, const std::vector<int>& inlet, std::shared_ptr<const Ladder> ladder)
    : net_(net), inlet_(inlet), solver_(net, std::move(ladder)) {
  const int n = net.size();
  wet_.assign(n, 0), listed_.assign(n, 0);
  w_.assign(n, 0.0), filled_.assign(n, 0.0), resistance_.assign(n, 0.0), held_.assign(n, 0.0);
  for (auto* v : {&joined_in_, &seen_in_, &layer_}) v->assign(n, 0);
  rhs_ = net.volume;
  laid_ = solver_.lie().laid(net.t);
  for (int i = 0; i < n; ++i) {
    double ways = 0;
    for (int e = net.start[i]; e < net.start[i + 1]; ++e) ways += net.t[e];
    if (ways > 0) resistance_[i] = 1 / ways, held_[i] = (1 / kOverRelaxation - 1) * ways;
  }
  for (int i : inlet) wet_[i] = 1, filled_[i] = net.volume[i], full_ += net.volume[i], joined_.push_back(i);
  for (int i = 0; i < n; ++i)
    if (!(net.volume[i] > 0)) wet_[i] = 1;  // a point that belongs to no triangle
  list_fed(0);
  w_before_ = w_earlier_ = w_earliest_ = w_;
}

double Front::inflow(int i) const {
  double sum = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) sum += net_.t[e] * (w_[net_.to[e]] - w_[i]);
  return sum + fallen(i);
}

// Of the step: since when it has been full, by the row in which it filled.
double Front::full_share(int i) const {
  if (!wet_[i]) return 0;
  return joined_in_[i] == step_ && step_ > 0 && layer_[i] > 0 ? 1 - (layer_[i] - 0.5) / std::max(1, layers_) : 1;
}

void Front::fall(double step) {
  if (!drops_) return;
  if (base_.empty()) base_ = rhs_, body_.assign(net_.size(), 0.0), body_before_ = body_;
  body_ = body_before_, fallen_ = fallen_before_ + step;
  for (int i = 0; i < net_.size(); ++i) {
    if (!wet_[i]) continue;
    const double here = full_share(i);
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
      const int j = net_.to[e];
      if (wet_[j] && j < i) continue;  // seen from the other end
      double moved = net_.t[e] * (*drops_)[e] * step * std::max(here, full_share(j));
      // Nothing falls back out of a node that holds nothing yet: weight may at most undo what the pressure brings
      // there.
      if (!wet_[j] && moved < 0)
        moved = -std::min(-moved, std::max(0.0, net_.t[e] * (w_[i] - w_before_[i] - w_[j] + w_before_[j])));
      body_[i] -= moved, body_[j] += moved;
    }
  }
  for (int i = 0; i < net_.size(); ++i) rhs_[i] = base_[i] - body_[i];
  for (std::size_t k = 0; k < inlet_.size(); ++k) w_[inlet_[k]] = inlet_integral_ + (*heads_)[k] * fallen_;
}

double Front::balanced(int i) const {
  double sum = -rhs_[i];
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) sum += net_.t[e] * w_[net_.to[e]];
  return resistance_[i] > 0 ? sum * resistance_[i] : w_[i];
}

void Front::list_fed(std::size_t from) {
  if (from == joined_.size()) return;
  for (std::size_t k = from; k < joined_.size(); ++k)
    for (int e = net_.start[joined_[k]]; e < net_.start[joined_[k] + 1]; ++e)
      if (const int j = net_.to[e]; !wet_[j] && !listed_[j]) listed_[j] = 1, front_nodes_.push_back(j);
  front_nodes_.erase(std::remove_if(front_nodes_.begin(), front_nodes_.end(), [&](int i) { return wet_[i]; }),
                     front_nodes_.end());
}

void Front::fill_up(int i) {
  // A first guess in balance with its neighbours, and no lower than the air it takes the place of.
  w_[i] = std::max(w_[i], balanced(i));
  layer_[i] = net_.size();
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
    if (const int j = net_.to[e]; wet_[j]) layer_[i] = std::min(layer_[i], layer_[j] + 1);
  layers_ = std::max(layers_, layer_[i]);
  joined_in_[i] = step_;
  near_.push_back(i);
  wet_[i] = 1;
  filled_[i] = net_.volume[i];
  full_ += net_.volume[i];
  joined_.push_back(i);
  solver_.join(i);
}

// The full nodes near the front, from the back.
void Front::mark_near() {
  near_.clear();
  const auto see = [&](int i) {
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
      if (const int j = net_.to[e]; seen_in_[j] != step_ && solver_.joined(j)) seen_in_[j] = step_, near_.push_back(j);
  };
  for (int i : front_nodes_) see(i);
  std::size_t k = 0;
  for (int row = 1; row < kRowsNear; ++row)
    for (const std::size_t end = near_.size(); k < end; ++k) see(near_[k]);
  std::reverse(near_.begin(), near_.end());
}

void Front::begin(double inlet_integral) {
  for (int i : joined_) layer_[i] = 0;
  joined_.clear();
  w_earliest_.swap(w_earlier_), w_earlier_.swap(w_before_), w_before_ = w_;
  filled_before_ = filled_, front_nodes_before_ = front_nodes_;
  inlet_integral_earliest_ = inlet_integral_earlier_, inlet_integral_earlier_ = inlet_integral_before_,
  inlet_integral_before_ = inlet_integral_, inlet_integral_ = inlet_integral;
  full_before_ = full_, partly_before_ = partly_, bled_before_ = bled_;
  if (drops_) body_before_ = body_, fallen_before_ = fallen_;
  layers_ = 0;
  ++step_;
  // The parabola through the last three states, where it was full in all of them; else the line through two.
  const double on = inlet_integral - inlet_integral_before_, last = inlet_integral_before_ - inlet_integral_earlier_;
  const double first = inlet_integral_earlier_ - inlet_integral_earliest_;
  const double line = last > 0 ? on / last : 0, curve = first > 0 ? line * (on + last) / (last + first) : 0;
  for (int i : solver_.rows()) {
    const double d = w_before_[i] - w_earlier_[i];
    w_[i] += line * d;
    if (curve > 0 && step_ - joined_in_[i] > 2) w_[i] += curve * (d - last / first * (w_earlier_[i] - w_earliest_[i]));
  }
  for (int i : inlet_) w_[i] = inlet_integral;
  mark_near();
}

void Front::relax() {
  // balanced() written out: through `this` the compiler would load each list anew after every w that is written.
  const Weighted rows(solver_.lie(), laid_);
  const double *rhs = rhs_.data(), *resistance = resistance_.data(), *held = held_.data();
  double* w = w_.data();
  // Each node needs the value computed just before: that neighbour comes last in the sum, so that the rest need not
  // wait.
  const auto begin = [=](int i) { return held[i] * w[i] - rhs[i]; };
  const auto end = [=](int i, double sum) {
    if (resistance[i] > 0) w[i] = sum * (kOverRelaxation * resistance[i]);
  };
  for (int k = 0; k < kSweeps; ++k) {
    for (int i : near_) end(i, rows.below(i, rows.above(i, begin(i), w), w));
    for (auto i = near_.rbegin(); i != near_.rend(); ++i) end(*i, rows.above(*i, rows.below(*i, begin(*i), w), w));
  }
  weigh();
}

bool Front::balance(double loose, std::vector<GasPocketConstraint>& constraints) {
  const bool solved = solver_.solve(w_, laid_, rhs_, loose, constraints);
  weigh();
  return solved;
}

void Front::weigh() {
  partly_ = 0;
  for (int i : front_nodes_) partly_ += filled_[i] = inflow(i);
  bled_ = bled_closed_;
  for (int i : bleeding_) bled_ += inflow(i) - net_.volume[i];
}

void Front::undo() {
  for (auto i = joined_.rbegin(); i != joined_.rend(); ++i)
    solver_.leave(*i), wet_[*i] = listed_[*i] = 0, layer_[*i] = 0;
  for (int i : front_nodes_) listed_[i] = 0;
  joined_.clear();
  front_nodes_ = front_nodes_before_;
  for (int i : front_nodes_) listed_[i] = 1;
  w_ = w_before_, w_before_ = w_earlier_, w_earlier_ = w_earliest_, filled_ = filled_before_;
  inlet_integral_ = inlet_integral_before_, inlet_integral_before_ = inlet_integral_earlier_,
  inlet_integral_earlier_ = inlet_integral_earliest_;
  full_ = full_before_, partly_ = partly_before_, bled_ = bled_before_;
  if (drops_) fall(0);
}

double Front::trim() {
  double over = std::numeric_limits<double>::infinity();
  if (bleeding_.empty())
    for (int i : solver_.rows()) over = std::min(over, w_[i]);
  over = std::clamp(over, 0.0, inlet_integral_ - inlet_integral_before_);
  for (int i : solver_.rows()) w_[i] -= over;
  for (int i : inlet_) w_[i] -= over;
  inlet_integral_ -= over;
  return over;
}

void Front::bleed(int i) {
  solver_.leave(i);
  bleeding_.push_back(i);
}

void Front::shut(int i) {
  bleeding_.erase(std::find(bleeding_.begin(), bleeding_.end(), i));
  const double come = inflow(i);
  rhs_[i] = come - fallen(i);
  if (drops_) base_[i] = come;
  bled_closed_ += come - net_.volume[i];
  solver_.join(i);
}

double Front::entered() const {
  double sum = 0;
  for (int i : inlet_) sum += net_.volume[i] - inflow(i);
  return sum;
}

}  // namespace gapfront::flow
