#include "flow/multigrid.hpp"

#include <algorithm>
#include <cmath>

namespace gapfront::flow {
namespace {

// So many nodes are solved directly: a dense factor of 60 costs less than one sweep over a sheet of 10,000.
constexpr int kFew = 60;
// A neighbour belongs to the same cluster if its conductance is at least this share of the node's strongest: weak ones
// (across an open channel's edge, along stretched cells) hold no common pressure.
constexpr double kStrong = 0.25;
// One step on a coarser network is enough when it has shrunk the residual to this share (Notay 2010).
constexpr double kGoodEnough = 0.25;

double dot(const std::vector<int>& rows, const std::vector<double>& a, const std::vector<double>& b) {
  double s = 0;
  for (int i : rows) s += a[i] * b[i];
  return s;
}

}  // namespace

Ladder::Ladder(const Network& net) {
  rungs.push_back({net.start, net.to, {}, {}, {}});
  reverse.resize(net.to.size());
  for (int i = 0; i < net.size(); ++i)
    for (int e = net.start[i]; e < net.start[i + 1]; ++e)
      reverse[e] = static_cast<int>(
          std::lower_bound(net.to.begin() + net.start[net.to[e]], net.to.begin() + net.start[net.to[e] + 1], i) -
          net.to.begin());
  for (std::vector<double> w = net.t; rungs.back().size() > kFew && coarsen(w);) {
  }
  for (Rung& r : rungs) r.lie = Rows(r.start, r.to);
}

// A node none of whose strong neighbours is taken makes a cluster with all of them; those left over join the strongest
// neighbour's. `w`: conductances of the last rung's entries, then of the new one's. False when that does not shrink the
// network any more.
bool Ladder::coarsen(std::vector<double>& w) {
  Rung& f = rungs.back();
  const int n = f.size();
  std::vector<double> minimum(n, 0);
  for (int i = 0; i < n; ++i) {
    for (int e = f.start[i]; e < f.start[i + 1]; ++e) minimum[i] = std::max(minimum[i], w[e]);
    minimum[i] *= kStrong;
  }
  const auto holds = [&](int i, int e) { return w[e] > 0 && w[e] >= minimum[i]; };
  std::vector<int> parent(n, -1);
  int clusters = 0;
  for (int i = 0; i < n; ++i) {
    bool free = parent[i] < 0;
    for (int e = f.start[i]; free && e < f.start[i + 1]; ++e) free = !holds(i, e) || parent[f.to[e]] < 0;
    if (!free) continue;
    parent[i] = clusters;
    for (int e = f.start[i]; e < f.start[i + 1]; ++e)
      if (holds(i, e)) parent[f.to[e]] = clusters;
    ++clusters;
  }
  const auto first = parent;
  for (int i = 0; i < n; ++i) {
    if (parent[i] >= 0) continue;
    double best = 0;
    for (int e = f.start[i]; e < f.start[i + 1]; ++e)
      if (first[f.to[e]] >= 0 && w[e] > best) best = w[e], parent[i] = first[f.to[e]];
    if (parent[i] < 0) parent[i] = clusters++;
  }
  if (clusters > 0.8 * n) return false;
  Rung c;
  std::vector<std::vector<int>> near(clusters);
  for (int i = 0; i < n; ++i)
    for (int e = f.start[i]; e < f.start[i + 1]; ++e)
      if (parent[f.to[e]] != parent[i]) near[parent[i]].push_back(parent[f.to[e]]);
  c.start.assign(clusters + 1, 0);
  for (int k = 0; k < clusters; ++k) {
    std::sort(near[k].begin(), near[k].end());
    near[k].erase(std::unique(near[k].begin(), near[k].end()), near[k].end());
    c.start[k + 1] = c.start[k] + static_cast<int>(near[k].size());
    c.to.insert(c.to.end(), near[k].begin(), near[k].end());
  }
  std::vector<double> sum(c.to.size(), 0.0);
  f.up.assign(f.to.size(), -1);
  for (int i = 0; i < n; ++i)
    for (int e = f.start[i]; e < f.start[i + 1]; ++e) {
      const int a = parent[i], b = parent[f.to[e]];
      if (a == b) continue;
      f.up[e] = static_cast<int>(std::lower_bound(c.to.begin() + c.start[a], c.to.begin() + c.start[a + 1], b) -
                                 c.to.begin());
      sum[f.up[e]] += w[e];
    }
  f.parent = std::move(parent);
  rungs.push_back(std::move(c));
  w = std::move(sum);
  return true;
}

Multigrid::Multigrid(const Network& net, std::shared_ptr<const Ladder> ladder)
    : net_(net), ladder_(ladder ? std::move(ladder) : std::make_shared<const Ladder>(net)) {
  for (const Ladder::Rung& r : ladder_->rungs) {
    Level& l = levels_.emplace_back();
    l.on = &r;
    l.w.assign(r.lie.places(), 0.0);
    l.members.assign(r.size(), 0);
    for (auto* v : {&l.inner, &l.boundary, &l.diagonal, &l.inverse, &l.r, &l.x, &l.c1, &l.v1, &l.c2, &l.v2, &l.res})
      v->assign(r.size(), 0.0);
  }
}

void Multigrid::Level::add(int i, double in, double out) {
  inner[i] += in, boundary[i] += out;
  diagonal[i] = inner[i] + boundary[i];
  inverse[i] = 1 / std::max(diagonal[i], 1e-300);
}

void Multigrid::add(int i, int entry, double w) {
  for (auto& l : levels_) {
    l.w[l.on->lie.place[entry]] += w;
    l.add(i, w, 0);
    if (l.on->up.empty() || (entry = l.on->up[entry]) < 0) break;
    i = l.on->parent[i];
  }
}

void Multigrid::add_boundary(int i, double w) {
  for (auto& l : levels_) {
    l.add(i, 0, w);
    if (!l.on->parent.empty()) i = l.on->parent[i];
  }
}

void Multigrid::join(int node) {
  changed_ = true;
  for (int e = net_.start[node]; e < net_.start[node + 1]; ++e) {
    const int j = net_.to[e];
    if (joined(j)) {
      add(node, e, net_.t[e]), add(j, ladder_->reverse[e], net_.t[e]);
      add_boundary(j, -net_.t[e]);
    } else {
      add_boundary(node, net_.t[e]);
    }
  }
  int i = node;
  for (auto& l : levels_) {
    if (l.members[i]++ == 0) l.rows.push_back(i);
    if (!l.on->parent.empty()) i = l.on->parent[i];
  }
}

void Multigrid::leave(int node) {
  changed_ = true;
  int i = node;
  for (auto& l : levels_) {
    if (--l.members[i] == 0) {  // mostly one that joined lately
      const auto at = std::find(l.rows.rbegin(), l.rows.rend(), i).base() - 1;
      if (at - l.rows.begin() < static_cast<long>(l.sorted)) --l.sorted;
      l.rows.erase(at);
    }
    if (!l.on->parent.empty()) i = l.on->parent[i];
  }
  for (int e = net_.start[node]; e < net_.start[node + 1]; ++e) {
    const int j = net_.to[e];
    if (joined(j)) {
      add(node, e, -net_.t[e]), add(j, ladder_->reverse[e], -net_.t[e]);
      add_boundary(j, net_.t[e]);
    } else {
      add_boundary(node, -net_.t[e]);
    }
  }
}

void Multigrid::prepare() {
  if (!changed_) return;
  changed_ = false;
  for (auto& l : levels_) {
    const auto joined = l.rows.begin() + static_cast<long>(l.sorted);
    std::sort(joined, l.rows.end());
    std::inplace_merge(l.rows.begin(), joined, l.rows.end());
    l.sorted = l.rows.size();
  }
  const auto& c = levels_.back();
  if (c.on->size() > kFew) return;
  Eigen::MatrixXd a = Eigen::MatrixXd::Identity(c.on->size(), c.on->size());
  for (int i : c.rows) {
    a(i, i) = std::max(c.diagonal[i], 1e-300);
    for (int e = c.on->start[i]; e < c.on->start[i + 1]; ++e) a(i, c.on->to[e]) = -c.w[c.on->lie.place[e]];
  }
  coarsest_.compute(a);
}

void Multigrid::multiply(const Level& l, const double* x, double* y) {
  const Weighted rows(l.on->lie, l.w);
  const double* diagonal = l.diagonal.data();
  for (int i : l.rows) {
    double s = diagonal[i] * x[i];
    rows.each(i, [&](double w, int j) { s -= w * x[j]; });
    y[i] = s;
  }
}

// Forward sweep, correction from the coarser network, backward sweep (Gauss–Seidel, symmetric as a whole).
void Multigrid::cycle(std::size_t level, const double* r, double* z) {
  auto& l = levels_[level];
  // Sums end with the entry that the sweep comes from: all others are known before.
  const Weighted rows(l.on->lie, l.w);
  const double* inverse = l.inverse.data();
  // From z = 0: what lies later in the sweep is nothing yet, and afterwards all that is left of the residual.
  for (int i : l.rows) z[i] = rows.below(i, r[i], z) * inverse[i];
  if (level + 1 < levels_.size()) {
    auto& c = levels_[level + 1];
    const int* parent = l.on->parent.data();
    for (int i : c.rows) c.r[i] = 0;
    for (int i : l.rows) c.r[parent[i]] += rows.above(i, 0, z);
    solve(level + 1);
    for (int i : l.rows) z[i] += c.x[parent[i]];
  }
  for (auto i = l.rows.rbegin(); i != l.rows.rend(); ++i)
    z[*i] = rows.above(*i, rows.below(*i, r[*i], z), z) * inverse[*i];
}

// x ≈ A⁻¹ r on a coarser network: directly on the coarsest, else up to two preconditioned steps.
void Multigrid::solve(std::size_t level) {
  auto& l = levels_[level];
  if (level + 1 == levels_.size() && l.on->size() <= kFew) {
    b_.setZero(l.on->size());
    for (int i : l.rows) b_[i] = l.r[i];
    coarsest_.solveInPlace(b_);
    for (int i : l.rows) l.x[i] = b_[i];
    return;
  }
  cycle(level, l.r.data(), l.c1.data());
  multiply(l, l.c1.data(), l.v1.data());
  const double rho = dot(l.rows, l.c1, l.v1), r0 = dot(l.rows, l.r, l.r);
  const double a = rho > 0 ? dot(l.rows, l.c1, l.r) / rho : 0;
  double r1 = 0;
  for (int i : l.rows) {
    l.x[i] = a * l.c1[i];
    l.res[i] = l.r[i] - a * l.v1[i];
    r1 += l.res[i] * l.res[i];
  }
  if (!(rho > 0) || r1 <= kGoodEnough * kGoodEnough * r0) return;
  cycle(level, l.res.data(), l.c2.data());
  multiply(l, l.c2.data(), l.v2.data());
  const double gamma = dot(l.rows, l.c2, l.v1);
  const double left = dot(l.rows, l.c2, l.v2) - gamma * gamma / rho;
  if (!(left > 0)) return;
  const double b = dot(l.rows, l.c2, l.res) / left;
  for (int i : l.rows) l.x[i] += b * l.c2[i] - gamma * b / rho * l.c1[i];
}

}  // namespace gapfront::flow
