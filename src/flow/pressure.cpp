#include "flow/pressure.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::flow {
namespace {

// Rounding: sums of 1e5 numbers keep about 1e-12 of their terms.
constexpr double kRounding = 1e-12;
// Far above what is needed (under 30 from a cold start, at any size).
constexpr int kMaxIterations = 300;

}  // namespace

PressureSolver::PressureSolver(const Network& net) : grid_(net) {
  for (auto* v : {&r_, &before_, &z_, &d_, &q_}) v->assign(net.size(), 0.0);
}

bool PressureSolver::solve(std::vector<double>& w, const std::vector<double>& laid, const std::vector<double>& rhs,
                           double loose, std::vector<GasPocketConstraint>& constraints) {
  grid_.prepare();
  // A pocket's pressure integral is eliminated: to the nodes around it A becomes A − b bᵀ/stiff, b its links, stiff Σ b
  // + gives.
  struct Soft {
    std::vector<std::pair<int, double>> links;  // to unknowns
    double stiff, moves;
  };
  std::vector<Soft> soft;
  for (auto& c : constraints) {
    Soft s{{}, c.gives, 0};
    double sum = -c.keeps;
    for (const auto& [i, t] : c.links) {
      s.stiff += t, sum += t * w[i];
      if (joined(i)) s.links.emplace_back(i, t);
    }
    c.integral = sum / s.stiff;
    for (int i : c.nodes) w[i] = c.integral;
    soft.push_back(std::move(s));
  }
  const auto& rows = grid_.rows();
  const Weighted net(grid_.lie(), laid);
  double size = 0, left = 0;
  for (int i : rows) {
    double r = 0;
    net.each(i, [&](double t, int j) { r += t * (w[j] - w[i]); });
    r_[i] = r - rhs[i];
    left += std::abs(r_[i]);
    size += rhs[i];
  }
  loose = std::max(loose, kRounding * size);
  double rz = 0;
  for (int k = 0; k < kMaxIterations && left > loose; ++k) {
    grid_.precondition(r_, z_);
    // The preconditioner is not the same linear map every time: β after Polak and Ribière.
    double next = 0, old = 0;
    for (int i : rows) next += r_[i] * z_[i], old += before_[i] * z_[i];
    const double beta = k ? (next - old) / rz : 0;
    rz = next;
    for (int i : rows) d_[i] = z_[i] + (k ? beta * d_[i] : 0), before_[i] = r_[i];
    grid_.multiply(d_, q_);
    for (auto& s : soft) {
      s.moves = 0;
      for (const auto& [i, t] : s.links) s.moves += t * d_[i] / s.stiff;
      for (const auto& [i, t] : s.links) q_[i] -= t * s.moves;
    }
    double dq = 0, dr = 0;
    for (int i : rows) dq += d_[i] * q_[i], dr += d_[i] * r_[i];
    if (!(dq > 0)) break;
    left = 0;
    for (int i : rows) w[i] += dr / dq * d_[i], r_[i] -= dr / dq * q_[i], left += std::abs(r_[i]);
    for (std::size_t c = 0; c < soft.size(); ++c) constraints[c].integral += dr / dq * soft[c].moves;
  }
  for (const auto& c : constraints)
    for (int i : c.nodes) w[i] = c.integral;
  return left <= loose;
}

}  // namespace gapfront::flow
