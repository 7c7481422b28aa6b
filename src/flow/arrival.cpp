#include "flow/arrival.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::flow {
namespace {

// A flow direction is taken as one when the inflow's vectors add up to this share of their sum; three equal
// inflows 60° apart give 0.67. Below, the front closes in from several sides and reaches the node last.
constexpr double kOneWay = 0.6;
// Where the sum is a smaller share than this, fronts have met, and the pressure integral says nothing of their
// distance.
constexpr double kMet = 0.36;
// The distance to the front is read when it is so many cells: nearer, the front's raggedness, which is half a cell, is
// as large as what is read.
constexpr double kCellsPast = 0.8;
// Where more than this of a node's control volume lies upstream, the front ends at the node: it goes no further, so
// that the integral says nothing of a distance. Within the sheet about half of it does.
constexpr double kEnds = 0.8;

}  // namespace

Arrivals::Arrivals(const Links& links, const Network& net, const std::vector<int>& inlet) : links_(links), net_(net) {
  const int n = net.size();
  for (auto* v : {&first_, &by_level_, &full_at_, &passed_}) v->assign(n, kNever);
  for (auto* v : {&level_, &filled_, &air_}) v->assign(n, 0.0);
  watched_.assign(n, 0);
  for (int i : inlet) passed_[i] = 0, watched_[i] = 1;
}

// Distance of the front beyond a full node, mm. Nearer than a cell the front has no further row of cells to stand in:
// the tangent of the root, from where the resin stands when the node's volume is just full.
double Arrivals::beyond(int i, double integral) const {
  const double square = net_.reach[i] * std::max(0.0, integral - air_[i]), width = net_.width[i];
  return square < width * width ? 0.5 * square / width + (1 - level_[i]) * width : std::sqrt(square);
}

Arrivals::Way Arrivals::way(int i, const std::vector<double>& integral) const {
  Vec3 sum = Vec3::Zero();
  double all = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
    const int j = net_.to[e];
    const double q = net_.t[e] * (integral[j] - integral[i]);
    if (!(q > 0)) continue;
    sum -= q / links_.length[e] * links_.way[e];
    all += q;
  }
  const double length = sum.norm();
  if (!(length > 0)) return {1, 0};
  const double ratio = length / all;
  return {1 - std::min(1.0, ratio / kOneWay) * (1 - fraction_upstream(links_, i, sum / length)), ratio};
}

void Arrivals::note(const Front& front, double from) {
  const auto watch = [&](int i) {
    if (!watched_[i]) watched_[i] = 1, watch_.push_back(i);
  };
  for (int i : front.joined()) watch(i), air_[i] = front.integral_before()[i];
  for (int i : front.fed()) watch(i), air_[i] = front.integral()[i];
  const double to = front.volume(), inlet_integral = front.inlet_integral() - inlet_integral_;
  inlet_integral_ = front.inlet_integral();
  std::size_t kept = 0;
  for (int i : watch_) {
    if (front.full(i) && full_at_[i] == kNever) {
      // Where the front has ended before the step did, the inlet's whole pressure integral has come on from then;
      // before it, none.
      const double over = inlet_integral > 0 ? (front.integral()[i] - air_[i]) / inlet_integral : 0;
      full_at_[i] = to - std::clamp(over, 0.0, 1.0) * (to - from);
    }
    const double before = filled_[i], now = filled_[i] = front.filled()[i];
    if (first_[i] == kNever && now > 1e-6 * net_.volume[i]) first_[i] = from;  // 1e-6: rounding
    if (by_level_[i] == kNever && first_[i] != kNever) {
      const double level = level_[i] = way(i, front.integral()).level;
      if (now >= level * net_.volume[i])
        by_level_[i] = from + std::clamp((level * net_.volume[i] - before) / (now - before), 0.0, 1.0) *
                                  (std::min(to, full_at_[i]) - from);
    }
    if (front.full(i)) {
      if (beyond(i, front.integral()[i]) >= kCellsPast * net_.width[i]) {
        settle(i, front);
        continue;  // done with
      }
    }
    watch_[kept++] = i;
  }
  watch_.resize(kept);
}

// The front has come on at an even pace since it passed the nodes upstream.
void Arrivals::settle(int i, const Front& front) {
  const auto& integral = front.integral();
  if (level_[i] > kEnds || way(i, integral).ratio < kMet) return;
  const double now = front.volume();
  double past = 0, since = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
    const int j = net_.to[e];
    if (passed_[j] < now && integral[j] > integral[i]) past += beyond(j, integral[j]), since += now - passed_[j];
  }
  if (past > 0) passed_[i] = std::clamp(now - beyond(i, integral[i]) * since / past, first_[i], full_at_[i]);
}

std::vector<double> Arrivals::finish(const Front& front) {
  const auto& integral = front.integral();
  std::sort(watch_.begin(), watch_.end(), [&](int a, int b) { return integral[a] > integral[b]; });
  for (int i : watch_)
    if (front.full(i)) settle(i, front);
  for (std::size_t i = 0; i < passed_.size(); ++i)
    if (passed_[i] == kNever) passed_[i] = by_level_[i];
  return passed_;
}

}  // namespace gapfront::flow
