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

PressureSolver::PressureSolver(const Network& net, std::shared_ptr<const Ladder> ladder)
    : grid_(net, std::move(ladder)) {
  for (auto* v : {&r_, &before_, &z_, &d_, &q_}) v->setZero(net.size());
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
  // Whole vectors up to the last unknown: nodes are numbered as they get wet, and few of the others lie between. Their
  // entries stay 0; reads beyond n meet weights of 0.
  const Eigen::Index n = rows.empty() ? 0 : rows.back() + 1;
  auto r = r_.head(n), before = before_.head(n), z = z_.head(n), d = d_.head(n), q = q_.head(n);
  for (auto* v : {&r, &z, &d, &q}) v->setZero();
  Eigen::Map<Eigen::VectorXd> answer(w.data(), n);
  const Weighted net(grid_.lie(), laid);
  double size = 0;
  for (int i : rows) {
    double sum = 0;
    net.each(i, [&](double t, int j) { sum += t * (w[j] - w[i]); });
    r[i] = sum - rhs[i];
    size += rhs[i];
  }
  double left = r.lpNorm<1>();
  loose = std::max(loose, kRounding * size);
  double rz = 0;
  for (int k = 0; k < kMaxIterations && left > loose; ++k) {
    grid_.precondition(r_.data(), z_.data());
    // The preconditioner is not the same linear map every time: β after Polak and Ribière.
    const double next = r.dot(z), beta = k ? (next - before.dot(z)) / rz : 0;
    rz = next;
    d = z + beta * d, before = r;
    grid_.multiply(d_.data(), q_.data());
    for (auto& s : soft) {
      s.moves = 0;
      for (const auto& [i, t] : s.links) s.moves += t * d[i] / s.stiff;
      for (const auto& [i, t] : s.links) q[i] -= t * s.moves;
    }
    const double dq = d.dot(q);
    if (!(dq > 0)) break;
    const double step = d.dot(r) / dq;
    answer += step * d, r -= step * q;
    left = r.lpNorm<1>();
    for (std::size_t c = 0; c < soft.size(); ++c) constraints[c].integral += step * soft[c].moves;
  }
  for (const auto& c : constraints)
    for (int i : c.nodes) w[i] = c.integral;
  return left <= loose;
}

}  // namespace gapfront::flow
