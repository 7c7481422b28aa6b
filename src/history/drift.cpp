#include "history/drift.hpp"

#include <Eigen/LU>
#include <cmath>
#include <limits>
#include <random>

#include "core/distributions.hpp"
#include "core/neighbours.hpp"
#include "core/rigid_motion.hpp"
#include "core/statistics.hpp"
#include "history/frame_transform.hpp"

namespace gapfront::history {
namespace {

// 200 sheets of noise: they tell a node's sigma to 5 %, and how many independent tests a sheet amounts to to 7 %.
constexpr int kDraws = 200;
constexpr double kFalse = 0.01;
// A place grows down to 15 % of its own peak, or to two σ of the smoothed field where that is higher.
constexpr double kGrow = 0.15, kGrowSigmas = 2;
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// Of the difference of two fits: the covariance's integral over the face is the sum of both (variance × fit area).
/// A date stored before fit areas were kept takes the other's; where both are so, the noise counts as independent from
/// node to node, and the scatter's excess over that (`Found::inflation`) raises it.
double fit_area_of(const NodeGap& a, const NodeGap& b) {
  if (a.fit_area <= 0 || b.fit_area <= 0) return std::max(a.fit_area, b.fit_area);
  const double va = a.u_lower * a.u_lower + a.u_upper * a.u_upper, vb = b.u_lower * b.u_lower + b.u_upper * b.u_upper;
  return va + vb > 0 ? (va * a.fit_area + vb * b.fit_area) / (va + vb) : a.fit_area;
}

/// How much more of noise that neighbours share a smoothing leaves than of noise that is independent from node to node:
/// Σ s s ρ / Σ s² of its weights s, over nodes chosen evenly.
double likeness(const Sheet& sheet, const SharedFits& shared, const std::vector<std::vector<int>>& around, int passes) {
  if (shared.empty()) return 1;
  constexpr std::size_t some = 40;  // alike all over an even sheet, so that these tell it to a few per cent
  double with = 0, without = 0;
  for (std::size_t k = 0; k < some; ++k) {
    std::vector<double> s(sheet.size(), 0);
    s[(2 * k + 1) * sheet.size() / (2 * some)] = 1;
    s = smoothed(std::move(s), around, passes);
    for (const double v : s) without += v * v, with += v * v;
    for (std::size_t i = 0; i < s.size(); ++i)
      if (s[i] != 0) shared.after(i, [&](std::size_t j, double rho) { with += 2 * rho * s[i] * s[j]; });
  }
  return std::sqrt(std::max(with, without) / without);
}

/// All but the rigid part.
Drift difference(const Sheet& sheet, const Record& now, const Record& then) {
  Drift d;
  d.map = now.gap;
  d.map.pivot = then.gap.pivot;
  d.map.registration = then.gap.registration + move_pivot(now.gap.registration, now.gap.pivot, then.gap.pivot);
  const bool same = !now.instrument.empty() && now.instrument == then.instrument;
  d.carry = frame_transform(sheet, now, then);
  d.value.assign(sheet.size(), kNone);
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    NodeGap& n = d.map.nodes[i];
    const NodeGap& b = then.gap.nodes[i];
    n.measured = n.measured && b.measured;
    if (!n.measured) continue;
    d.value[i] = n.gap - b.gap;
    n.gap = d.value[i];
    n.mid = b.mid, n.direction = b.direction;
    n.fit_area = fit_area_of(n, b);
    n.u_lower = std::hypot(n.u_lower, b.u_lower), n.u_upper = std::hypot(n.u_upper, b.u_upper);
    n.u_instrument = same ? 0 : std::hypot(n.u_instrument, b.u_instrument);
    n.u_registration = std::hypot(n.u_registration, b.u_registration);
    n.u_temperature = std::hypot(n.u_temperature, b.u_temperature);
    const double carried = d.carry.u({{static_cast<int>(i), 1.0}});
    n.U = d.map.coverage *
          std::sqrt(n.u_lower * n.u_lower + n.u_upper * n.u_upper + n.u_instrument * n.u_instrument +
                    n.u_registration * n.u_registration + n.u_temperature * n.u_temperature + carried * carried);
  }
  d.shared = shared_fits(sheet, d.map);
  return d;
}

/// The noise of the drift over what U says, where a wide wear leaves nothing flat to take the scatter of: what a node
/// differs from the mean of its neighbours by, over what independent unit noise would (by 20 sheets of it).
double local_scatter(const std::vector<std::vector<int>>& around, const std::vector<double>& z) {
  const auto rough = [&](const std::vector<double>& f) {
    const std::vector<double> mean = smoothed(f, around, 1);
    std::vector<double> out;
    for (std::size_t i = 0; i < f.size(); ++i)
      if (std::isfinite(f[i]) && std::isfinite(mean[i])) out.push_back(std::abs(f[i] - mean[i]));
    return out.empty() ? 0.0 : median(std::move(out));
  };
  std::mt19937_64 random(9);
  std::normal_distribution<double> normal;
  double unit = 0;
  for (int k = 0; k < 20; ++k) {
    std::vector<double> f(z.size());
    for (double& v : f) v = normal(random);
    unit += rough(f) / 20;
  }
  return unit > 0 ? std::max(1.0, rough(z) / unit) : 1;
}

/// The level that maxima of noise exceed with the chance kFalse: that of so many independent Student values as all
/// maxima together say, by maximum likelihood. The third greatest of them alone would scatter by a tenth.
double level_of(const std::vector<double>& maximum) {
  constexpr double dof = kDraws - 1;
  double beyond = 0;
  for (const double m : maximum) beyond += f_beyond(m * m, 1, dof);
  const double tests = double(maximum.size()) / std::max(1e-300, beyond);
  return student_limit(-std::log1p(-kFalse) / tests / 2, dof);
}

}  // namespace

FieldNull field_null(const Sheet& sheet) {
  FieldNull out;
  const auto around = neighbours(sheet.mesh);
  const std::size_t n = sheet.size();
  std::array<std::vector<std::vector<float>>, FieldNull::scales> fields;
  std::mt19937_64 random(8);
  std::normal_distribution<double> normal;
  for (auto& s : out.sigma) s.assign(n, 0);
  for (int d = 0; d < kDraws; ++d) {
    std::vector<double> f(n);
    for (double& v : f) v = normal(random);
    int done = 0;
    for (int k = 0; k < FieldNull::scales; ++k) {
      f = smoothed(std::move(f), around, out.passes[k] - done), done = out.passes[k];
      for (std::size_t i = 0; i < n; ++i) out.sigma[k][i] += f[i] * f[i] / kDraws;
      fields[k].emplace_back(f.begin(), f.end());
    }
  }
  for (auto& s : out.sigma)
    for (double& v : s) v = std::sqrt(v);
  std::vector<double> maximum(kDraws, 0);
  for (int d = 0; d < kDraws; ++d)
    for (int k = 0; k < FieldNull::scales; ++k)
      for (std::size_t i = 0; i < n; ++i) {
        // By the sigma of the other draws, as that of a real sheet is: a draw's own maximum has a share of 8 % in the
        // variance it is compared with, and looks 4 % smaller by it.
        const double own = std::pow(double(fields[k][d][i]), 2), all = kDraws * std::pow(out.sigma[k][i], 2);
        maximum[d] = std::max(maximum[d], std::sqrt(own * (kDraws - 1) / std::max(1e-300, all - own)));
      }
  out.threshold = level_of(maximum);
  return out;
}

std::vector<double> fit_areas(const std::vector<Record>& records) {
  if (records.empty()) return {};
  std::vector<double> out(records[0].gap.nodes.size(), 0), count(out);
  for (const Record& r : records)
    for (std::size_t i = 0; i < std::min(out.size(), r.gap.nodes.size()); ++i)
      if (const NodeGap& n = r.gap.nodes[i]; n.measured && n.fit_area > 0) out[i] += n.fit_area, ++count[i];
  for (std::size_t i = 0; i < out.size(); ++i) out[i] /= std::max(1.0, count[i]);
  return out;
}

Eigen::Matrix3d rigid_covariance(const Sheet& sheet, const Drift& d, const RigidFit& fit) {
  Eigen::Matrix3d minimum = Eigen::Matrix3d::Zero();
  Matrix36 by_transform = Matrix36::Zero();
  double common = 0, weights = 0;
  for (std::size_t i = 0; i < sheet.size(); ++i) {
    const double w = fit.weight[i];
    if (w == 0) continue;
    const NodeGap& n = d.map.nodes[i];
    const Vec3 row = fit.row(sheet, d.map, static_cast<int>(i));
    minimum += w * w * kLeastU * kLeastU * row * row.transpose();
    by_transform += w * row * d.carry.rows[i].transpose();
    common += w * std::hypot(n.u_instrument, n.u_temperature), weights += w;
  }
  common = weights > 0 ? common / weights : 0;
  by_transform = fit.inverse * by_transform;
  return fit.by_fits + fit.inverse * minimum * fit.inverse +
         by_transform * d.carry.covariance * by_transform.transpose() +
         fit.by_registration * d.map.registration * fit.by_registration.transpose() +
         common * common * fit.by_common * fit.by_common.transpose();
}

double rigid_chi2(const Sheet& sheet, const Drift& d, const RigidFit& fit) {
  const Vec3 theta(fit.part.offset, fit.part.tilt.dot(fit.e1), fit.part.tilt.dot(fit.e2));
  return theta.dot(rigid_covariance(sheet, d, fit).fullPivLu().solve(theta));
}

Drift drift_of(const Sheet& sheet, const Record& now, const Record& then, const std::vector<char>& worn) {
  Drift d = difference(sheet, now, then);
  std::vector<double> steady = d.value;
  for (std::size_t i = 0; i < worn.size(); ++i)
    if (worn[i]) steady[i] = kNone;
  d.rigid = conformity::solve_rigid(sheet, d.map, steady);
  d.rest = d.value;
  for (std::size_t i = 0; i < sheet.size(); ++i) d.rest[i] -= d.rigid.part.effect[i];
  d.rigid_p = p_value(rigid_chi2(sheet, d, d.rigid), 3);
  return d;
}

Drift held_drift(const Sheet& sheet, const Record& now, const Record& then) {
  Drift d = difference(sheet, now, then);
  d.held = true, d.rest = d.value;
  d.rigid.weight.assign(sheet.size(), 0), d.rigid.part.effect.assign(sheet.size(), 0);
  std::vector<int> all;
  for (std::size_t i = 0; i < sheet.size(); ++i) all.push_back(static_cast<int>(i));
  const SumErrors e = sum_errors(sheet, d.map, d.shared, mean_weights(sheet, d.map, all));
  d.rigid.part.offset_U = d.rigid.part.rms_U = d.map.coverage * e.registration;
  return d;
}

std::vector<double> Drift::on_rest(const Sheet& sheet, std::vector<double> h) const {
  return rigid.on_remainder(sheet, map, std::move(h));
}

double Drift::u(const Sheet& sheet, const std::vector<double>& h, double inflation) const {
  const SumErrors e = sum_errors(sheet, map, shared, h);
  return std::hypot(inflation * e.fits(), e.common(), carry.u(by_node(h)));
}

Found find_places(const Sheet& sheet, const Drift& d, const FieldNull& null, double min_area) {
  const auto around = neighbours(sheet.mesh);
  const std::size_t n = sheet.size();
  Found out;
  std::vector<double> u(n), z(n);
  for (std::size_t i = 0; i < n; ++i)
    u[i] = std::max(kLeastU, std::hypot(d.map.nodes[i].u_lower, d.map.nodes[i].u_upper)), z[i] = d.rest[i] / u[i];
  const std::vector<double> by_u = z;
  int done = 0;
  for (int k = 0; k < FieldNull::scales; ++k) {
    z = smoothed(std::move(z), around, null.passes[k] - done), done = null.passes[k];
    out.smooth[k] = z;
  }
  // Neighbouring nodes share scan points, so their noise is alike and smoothing removes less of it than of independent
  // noise; the bulk of the field says by how much.
  std::array<double, FieldNull::scales> sigma{};
  std::vector<std::pair<int, int>> seeds;  // (scale, node)
  const auto scatter = [&](int k) {        // of what is in no place
    std::vector<std::pair<double, double>> spread;
    for (std::size_t i = 0; i < n; ++i)
      if (std::isfinite(out.smooth[k][i]) && !out.worn[i])
        spread.push_back({std::abs(out.smooth[k][i]) / null.sigma[k][i], sheet.area[i]});
    return std::max(1.0, kMadToSigma * weighted_percentile(spread, 0.5));
  };
  out.worn.assign(n, 0);
  const auto stands_out = [&](const std::pair<int, int>& s) {
    return std::abs(out.smooth[s.first][s.second]) / (null.sigma[s.first][s.second] * sigma[s.first]);
  };
  const double local = d.held ? local_scatter(around, by_u) : 1;
  for (int k = 0; k < FieldNull::scales; ++k) {
    sigma[k] = d.held ? local * likeness(sheet, d.shared, around, null.passes[k]) : scatter(k);
    for (int i = 0; i < static_cast<int>(n); ++i)
      if (std::isfinite(out.smooth[k][i]) && stands_out({k, i}) > null.threshold) seeds.push_back({k, i});
  }
  std::vector<std::pair<double, double>> wide;
  for (std::size_t i = 0; i < n; ++i)
    if (std::isfinite(d.rest[i])) wide.push_back({null.threshold * sigma[1] * null.sigma[1][i] * u[i], sheet.area[i]});
  out.detects = weighted_percentile(wide, 0.5);

  std::stable_sort(seeds.begin(), seeds.end(),
                   [&](const auto& a, const auto& b) { return stands_out(a) > stands_out(b); });
  std::vector<char> taken(n, 0);
  for (const auto& seed : seeds) {
    const int k = seed.first, top = seed.second;  // no structured binding: clang 14 has none in lambdas
    if (taken[top]) continue;
    const auto& f = out.smooth[k];
    Place p;
    p.top = top, p.sign = f[top] > 0 ? 1 : -1;
    const auto belongs = [&](int i) {
      return !taken[i] && p.sign * f[i] * u[i] > kGrow * std::abs(f[top]) * u[top] &&
             p.sign * f[i] > kGrowSigmas * sigma[k] * null.sigma[k][i];
    };
    p.level = kGrow * std::abs(f[top]) * u[top];
    p.nodes = {top};
    taken[top] = 1;
    for (std::size_t m = 0; m < p.nodes.size(); ++m)
      for (const int j : around[p.nodes[m]])
        if (belongs(j)) taken[j] = 1, p.nodes.push_back(j);
    // Its skirt, below the level but above the noise, is no place of its own.
    std::vector<int> skirt = p.nodes;
    for (std::size_t m = 0; m < skirt.size(); ++m)
      for (const int j : around[skirt[m]])
        if (!taken[j] && p.sign * f[j] > kGrowSigmas * sigma[k] * null.sigma[k][j]) taken[j] = 1, skirt.push_back(j);
    double area = 0;
    for (const int i : p.nodes) area += sheet.area[i];
    if (area < min_area) continue;
    for (const int i : skirt) out.worn[i] = 1;
    std::sort(p.nodes.begin(), p.nodes.end());
    out.places.push_back(std::move(p));
  }
  // A wide place would pass for scatter in part, so it is left out now that it is known.
  // What the fits are known to share is in the uncertainties already; dirt, or dates whose fit areas were not kept, are
  // not.
  out.inflation = local;
  for (int k = 0; k < FieldNull::scales && !d.held; ++k)
    out.inflation = std::max(out.inflation, scatter(k) / likeness(sheet, d.shared, around, null.passes[k]));
  return out;
}

}  // namespace gapfront::history
