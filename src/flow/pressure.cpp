#include "flow/pressure.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront {
namespace {

// What does not balance adds up to no more than this share of what leaves the wetted part. A residual is a source of
// resin that is not there, so this is a bound on the error of the flow, hence of the times: in practice
// far less, for the signs of the residuals are mixed.
constexpr double least_balance = 1e-3;
// Rounding: sums of 1e5 numbers keep about 1e-12 of their terms.
constexpr double rounding = 1e-11;
// Far above what is needed (under 30 from a cold start, at any size).
constexpr int most_iterations = 300;

}  // namespace

PressureSolver::PressureSolver(const Network& net) : net_(net), grid_(net) {
  for (auto* v : {&boundary_, &r_, &before_, &z_, &d_, &q_}) v->assign(net.size(), 0.0);
}

void PressureSolver::prepare() {
  outlets_.clear();
  for (int i : grid_.rows()) {
    boundary_[i] = 0;
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e)
      if (const int j = net_.to[e]; !grid_.joined(j)) {
        const double c = front(net_.t[e]);
        boundary_[i] += c;
        outlets_.push_back({i, j, c});
      }
  }
  grid_.set_boundary(boundary_);
}

double PressureSolver::balanced(int i, const std::vector<double>& p) const {
  double sum = 0, c = 0;
  for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) {
    const double t = front(net_.t[e]);
    sum += t * p[net_.to[e]], c += t;
  }
  return c > 0 ? sum / c : p[i];
}

int PressureSolver::solve(std::vector<double>& p) {
  const auto& rows = grid_.rows();
  grid_.multiply(p, r_);
  for (int i : rows) r_[i] = -r_[i];
  double size = 0;
  for (const auto& o : outlets_) r_[o.from] += o.c * p[o.to], size += std::abs(o.c * p[o.to]);
  const auto solved = [&] {
    double loose = 0, out = 0;
    for (int i : rows) loose += std::abs(r_[i]);
    for (const auto& o : outlets_) out += std::max(0.0, o.c * (p[o.from] - p[o.to]));
    return loose <= std::max(least_balance * out, rounding * size);
  };
  double rz = 0;
  int k = 0;
  for (; k < most_iterations && !solved(); ++k) {
    grid_.precondition(r_, z_);
    // The preconditioner is not the same linear map every time: β after Polak and Ribière.
    double next = 0, old = 0;
    for (int i : rows) next += r_[i] * z_[i], old += before_[i] * z_[i];
    const double beta = k ? (next - old) / rz : 0;
    rz = next;
    for (int i : rows) d_[i] = z_[i] + (k ? beta * d_[i] : 0), before_[i] = r_[i];
    grid_.multiply(d_, q_);
    double dq = 0, dr = 0;
    for (int i : rows) dq += d_[i] * q_[i], dr += d_[i] * r_[i];
    if (!(dq > 0)) break;
    for (int i : rows) p[i] += dr / dq * d_[i], r_[i] -= dr / dq * q_[i];
  }
  return k;
}

}  // namespace gapfront
