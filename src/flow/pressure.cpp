#include "flow/pressure.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::flow {
namespace {

// Rounding: sums of 1e5 numbers keep about 1e-12 of their terms.
constexpr double kRounding = 1e-12;
// Far above what is needed (under 30 from a cold start, at any size).
constexpr int kMaxIterations = 300;

// Breadth first from the inlet; parts that it does not reach come last.
std::vector<int> outwards(const Network& net, const std::vector<int>& inlet) {
  std::vector<int> order = inlet;
  std::vector<char> seen(net.size(), 0);
  for (int i : order) seen[i] = 1;
  std::size_t k = 0;
  for (int seed = 0; seed <= net.size(); ++seed) {
    for (; k < order.size(); ++k)
      for (int e = net.start[order[k]]; e < net.start[order[k] + 1]; ++e)
        if (const int j = net.to[e]; !seen[j]) seen[j] = 1, order.push_back(j);
    if (seed < net.size() && !seen[seed]) seen[seed] = 1, order.push_back(seed);
  }
  return order;
}

std::vector<int> inverse(const std::vector<int>& order) {
  std::vector<int> place(order.size());
  for (std::size_t k = 0; k < order.size(); ++k) place[order[k]] = static_cast<int>(k);
  return place;
}

Network renumbered(const Network& net, const std::vector<int>& order, const std::vector<int>& place) {
  Network out;
  out.start.push_back(0);
  for (int i : order) {
    out.volume.push_back(net.volume[i]);
    std::vector<std::pair<int, double>> row;
    for (int e = net.start[i]; e < net.start[i + 1]; ++e) row.emplace_back(place[net.to[e]], net.t[e]);
    std::sort(row.begin(), row.end());
    for (const auto& [j, t] : row) out.to.push_back(j), out.t.push_back(t);
    out.start.push_back(static_cast<int>(out.to.size()));
  }
  return out;
}

}  // namespace

PressureSolver::PressureSolver(const Network& net, const std::vector<int>& inlet)
    : order_(outwards(net, inlet)), place_(inverse(order_)), net_(renumbered(net, order_, place_)), grid_(net_) {
  for (auto* v : {&w_, &r_, &before_, &z_, &d_, &q_}) v->assign(net.size(), 0.0);
}

void PressureSolver::join(int node) {
  rows_.push_back(node);
  grid_.join(place_[node]);
}

void PressureSolver::leave(int node) {
  rows_.erase(std::find(rows_.rbegin(), rows_.rend(), node).base() - 1);  // mostly one that joined lately
  grid_.leave(place_[node]);
}

int PressureSolver::solve(std::vector<double>& w, const std::vector<double>& rhs, double loose,
                          std::vector<GasPocketConstraint>& constraints) {
  grid_.prepare();
  // A cushion's push is eliminated: to the nodes around it A becomes A − b bᵀ/stiff, b its links, stiff Σ b + gives.
  struct Soft {
    std::vector<std::pair<int, double>> links;  // by place; unknowns only
    double stiff, moves;
  };
  std::vector<Soft> soft;
  for (auto& c : constraints) {
    Soft s{{}, c.gives, 0};
    double sum = -c.keeps;
    for (const auto& [i, t] : c.links) {
      s.stiff += t, sum += t * w[i];
      if (joined(i)) s.links.emplace_back(place_[i], t);
    }
    c.integral = sum / s.stiff;
    for (int i : c.nodes) w[i] = c.integral;
    soft.push_back(std::move(s));
  }
  for (std::size_t k = 0; k < order_.size(); ++k) w_[k] = w[order_[k]];
  const auto& rows = grid_.rows();
  double size = 0, left = 0;
  for (int i : rows) {
    double r = 0;
    for (int e = net_.start[i]; e < net_.start[i + 1]; ++e) r += net_.t[e] * (w_[net_.to[e]] - w_[i]);
    r_[i] = r - rhs[order_[i]];
    left += std::abs(r_[i]);
    size += rhs[order_[i]];
  }
  loose = std::max(loose, kRounding * size);
  double rz = 0;
  int k = 0;
  for (; k < kMaxIterations && left > loose; ++k) {
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
    for (int i : rows) w_[i] += dr / dq * d_[i], r_[i] -= dr / dq * q_[i], left += std::abs(r_[i]);
    for (std::size_t c = 0; c < soft.size(); ++c) constraints[c].integral += dr / dq * soft[c].moves;
  }
  for (const auto& c : constraints)
    for (int i : c.nodes) w[i] = c.integral;
  for (int i : rows) w[order_[i]] = w_[i];
  return k;
}

}  // namespace gapfront::flow
