#include "flow/front.hpp"

#include <algorithm>
#include <limits>

namespace gapfront {

Front::Front(const Network& net, const std::vector<int>& inlet) : net_(net), inlet_(inlet), solver_(net, inlet) {
  const int n = net.size();
  wet_.assign(n, 0), listed_.assign(n, 0);
  w_.assign(n, 0.0), filled_.assign(n, 0.0);
  owed_ = net.volume;
  for (int i : inlet) wet_[i] = 1, filled_[i] = net.volume[i], full_ += net.volume[i], joined_.push_back(i);
  for (int i = 0; i < n; ++i)
    if (!(net.volume[i] > 0)) wet_[i] = 1;  // a point that belongs to no triangle
  list_fed(0);
  w_before_ = w_earlier_ = w_;
}

double Front::inflow(int i) const {
  double sum = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) sum += net_.t[e] * (w_[net_.to[e]] - w_[i]);
  return sum;
}

void Front::list_fed(std::size_t from) {
  if (from == joined_.size()) return;
  for (std::size_t k = from; k < joined_.size(); ++k)
    for (int e = net_.start[joined_[k]]; e < net_.start[joined_[k] + 1]; ++e)
      if (const int j = net_.to[e]; !wet_[j] && !listed_[j]) listed_[j] = 1, fed_.push_back(j);
  fed_.erase(std::remove_if(fed_.begin(), fed_.end(), [&](int i) { return wet_[i]; }), fed_.end());
}

void Front::fill_up(int i) {
  // A first guess in balance with its neighbours, and no lower than the air it takes the place of.
  double sum = -owed_[i], t = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) sum += net_.t[e] * w_[net_.to[e]], t += net_.t[e];
  if (t > 0) w_[i] = std::max(w_[i], sum / t);
  wet_[i] = 1;
  filled_[i] = net_.volume[i];
  full_ += net_.volume[i];
  joined_.push_back(i);
  solver_.join(i);
}

void Front::begin(double pushed) {
  const double last = pushed_ - pushed_before_, on = last > 0 ? (pushed - pushed_) / last : 0;
  w_earlier_ = w_before_, w_before_ = w_, filled_before_ = filled_, fed_before_ = fed_;
  pushed_earlier_ = pushed_before_, pushed_before_ = pushed_;
  full_before_ = full_, partly_before_ = partly_, bled_before_ = bled_;
  joined_.clear();
  pushed_ = pushed;
  for (int i : inlet_) w_[i] = pushed;
  for (int i : solver_.rows()) w_[i] += on * (w_before_[i] - w_earlier_[i]);
}

void Front::balance(double loose) {
  solver_.solve(w_, owed_, loose);
  partly_ = 0;
  for (int i : fed_) partly_ += filled_[i] = inflow(i);
  bled_ = bled_shut_;
  for (int i : bleeding_) bled_ += inflow(i) - net_.volume[i];
}

void Front::undo() {
  for (auto i = joined_.rbegin(); i != joined_.rend(); ++i) solver_.leave(*i), wet_[*i] = 0, listed_[*i] = 0;
  for (int i : fed_) listed_[i] = 0;
  joined_.clear();
  fed_ = fed_before_;
  for (int i : fed_) listed_[i] = 1;
  w_ = w_before_, w_before_ = w_earlier_, filled_ = filled_before_;
  pushed_ = pushed_before_, pushed_before_ = pushed_earlier_;
  full_ = full_before_, partly_ = partly_before_, bled_ = bled_before_;
}

double Front::trim() {
  double over = std::numeric_limits<double>::infinity();
  if (bleeding_.empty())
    for (int i : solver_.rows()) over = std::min(over, w_[i]);
  over = std::clamp(over, 0.0, pushed_ - pushed_before_);
  for (int i : solver_.rows()) w_[i] -= over;
  for (int i : inlet_) w_[i] -= over;
  pushed_ -= over;
  return over;
}

void Front::bleed(int i) {
  solver_.leave(i);
  bleeding_.push_back(i);
}

void Front::shut(int i) {
  bleeding_.erase(std::find(bleeding_.begin(), bleeding_.end(), i));
  owed_[i] = inflow(i);
  bled_shut_ += owed_[i] - net_.volume[i];
  solver_.join(i);
}

double Front::entered() const {
  double sum = 0;
  for (int i : inlet_) sum += net_.volume[i] - inflow(i);
  return sum;
}

}  // namespace gapfront
