#include "flow/pressure.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

namespace gapfront {
namespace {

// What does not balance may add up to this share of what leaves the wetted part. The residual alone would not do: next
// to an open channel at the inlet its scale is so large that a front in tight glass counts as solved before it flows.
constexpr double least_balance = 0.01;

struct Outlet {
  int from;
  double c, p;
};

}  // namespace

PressureSolver::PressureSolver(const Network& net) : net_(net) {
  for (auto* v : {&diagonal_, &r_, &z_, &d_, &q_}) v->assign(net.size(), 0.0);
}

int PressureSolver::solve(const std::vector<char>& wet, std::vector<double>& p, double tolerance) {
  const auto& [start, to, t] = std::tie(net_.start, net_.to, net_.t);
  rows_.clear();
  std::vector<Outlet> outlets;
  for (int i = 0; i < net_.size(); ++i)
    if (wet[i]) rows_.push_back(i);
  double scale = 0, rr = 0;
  for (int i : rows_) {
    double diagonal = 0, r = 0, flow = 0;
    for (int e = start[i]; e < start[i + 1]; ++e) {
      const int j = to[e];
      const double c = wet[j] ? t[e] : front(t[e]);
      diagonal += c;
      r += c * (p[j] - p[i]);
      if (!wet[j]) flow += c * p[j], outlets.push_back({i, c, p[j]});
    }
    diagonal_[i] = diagonal > 0 ? diagonal : 1;
    r_[i] = r;
    rr += r * r;
    scale += flow * flow;
  }
  // z = (D + L) D⁻¹ (D + Lᵀ) preconditioner, rows in ascending order.
  const auto precondition = [&] {
    for (int i : rows_) {
      double s = r_[i];
      for (int e = start[i]; e < start[i + 1] && to[e] < i; ++e)
        if (wet[to[e]]) s += t[e] * z_[to[e]];
      z_[i] = s / diagonal_[i];
    }
    for (auto it = rows_.rbegin(); it != rows_.rend(); ++it) {
      const int i = *it;
      double s = 0;
      for (int e = start[i + 1] - 1; e >= start[i] && to[e] > i; --e)
        if (wet[to[e]]) s += t[e] * z_[to[e]];
      z_[i] += s / diagonal_[i];
    }
  };
  const auto balanced = [&] {
    double loose = 0, out = 0;
    for (int i : rows_) loose += std::abs(r_[i]);
    for (const auto& o : outlets) out += std::max(0.0, o.c * (p[o.from] - o.p));
    return loose <= least_balance * out;
  };
  const double goal = tolerance * tolerance * scale;
  double rz = 0;
  int k = 0;
  // 1000: far above what a sheet of 1e5 nodes needs (a few hundred from a cold start).
  for (; k < 1000 && (rr > goal || !balanced()); ++k) {
    precondition();
    double next = 0;
    for (int i : rows_) next += r_[i] * z_[i];
    const double beta = k ? next / rz : 0;
    rz = next;
    double dq = 0;
    for (int i : rows_) d_[i] = z_[i] + (k ? beta * d_[i] : 0);
    for (int i : rows_) {
      double s = diagonal_[i] * d_[i];
      for (int e = start[i]; e < start[i + 1]; ++e)
        if (wet[to[e]]) s -= t[e] * d_[to[e]];
      q_[i] = s;
      dq += d_[i] * s;
    }
    if (!(dq > 0)) break;
    const double alpha = rz / dq;
    rr = 0;
    for (int i : rows_) {
      p[i] += alpha * d_[i];
      r_[i] -= alpha * q_[i];
      rr += r_[i] * r_[i];
    }
  }
  return k;
}

}  // namespace gapfront
