// How well a state of the tool accounts for a log: chi-square, evidence, and the joint fit.
#include <algorithm>
#include <cmath>
#include <limits>

#include "diagnose/shot.hpp"
#include "gapfront/draws.hpp"

namespace gapfront::diagnosis {
namespace {

// Of a leak, for the joint fit: one sigma of the share lost.
constexpr double kLeakSpread = 0.05;
// A measured viscosity that differs by more of the spreads between batches is out of the ordinary (19 of 20 do less).
constexpr double kApart = 2;
// Amounts at which a family's evidence is summed.
constexpr int kAmounts = 33;
constexpr double kScales = 3;  // of the prior, that the sum goes to
// A rate that misses what is set by more than this is no scatter of a pump; over so many independent stretches.
constexpr double kRateSpread = 0.06, kRateStretches = 4;
constexpr double kBelowLimit = 0.85;
// An inlet may be blocked at any time of a filling: its density beside that of coming to rest when the cavity is full,
// ln.
const double kAnywhere = std::log(std::sqrt(2 * M_PI) * kRestSpread);
// A cause that explains the rate has a free amount: what that costs (Occam), in ln.
constexpr double kPumpAmount = 2;

double rate_set(const FlowOptions& job, double volume) {
  double rate = 0;
  for (const RateStep& s : job.schedule)
    if (s.from <= volume || rate == 0) rate = s.rate;
  return rate;
}

/// How far the pump was from what it was set to: of the stretches where it should have kept it, ln of the ratio.
std::vector<double> off_set(const Stretches& log, const FlowOptions& job) {
  std::vector<double> out;
  for (std::size_t k = 0; k < log.size(); ++k) {
    if (job.schedule.empty()) {
      const double drop = atmosphere_pa - job.cavity_pressure;
      out.push_back(std::log(std::max(log.pressure[k] + drop, 1.0) / (job.pressure_limit + drop)));
    } else if (log.pressure[k] < kBelowLimit * job.pressure_limit) {
      out.push_back(std::log(log.rate[k] / rate_set(job, 0.5 * (log.edge[k] + log.edge[k + 1]))));
    }
  }
  return out;
}

/// What a family predicts for an amount: between those that were filled in proportion.
Outlook blend(const Family& f, double amount, const Evidence& evidence, Effects effects) {
  if (f.cause == ShotCause::resin_leak) effects.leak = amount;
  if (f.cause == ShotCause::poor_vacuum) effects.vacuum = amount;
  const auto of = [&](std::size_t k) { return evidence.outlook(f.courses[k], effects); };
  if (f.cause == ShotCause::inlet_blocked) return evidence.cut_off(of(0));
  if (f.courses.size() == 1) return of(0);
  const bool falls = f.amount.back() < f.amount.front();
  std::size_t k = 1;
  while (k + 1 < f.amount.size() && (falls ? f.amount[k] > amount : f.amount[k] < amount)) ++k;
  // Factors over a wide range act by their logarithm.
  const bool factor = f.cause == ShotCause::race_track;
  const auto x = [factor](double v) { return factor ? std::log(v) : v; };
  const double part = std::clamp((x(amount) - x(f.amount[k - 1])) / (x(f.amount[k]) - x(f.amount[k - 1])), 0.0, 1.0);
  Outlook a = of(k - 1);
  const Outlook b = of(k);
  // What drives the resin spans decades; it is interpolated by its logarithm.
  const double open = atmosphere_pa - evidence.cavity_pressure() - effects.vacuum;
  for (std::size_t i = 0; i < a.pressure.size(); ++i) {
    const double x = std::max(a.pressure[i] + open, 1.0), y = std::max(b.pressure[i] + open, 1.0);
    a.pressure[i] = x * std::pow(y / x, part) - open;
  }
  for (std::size_t i = 0; i < a.vents.size(); ++i) {
    if (std::isfinite(a.vents[i]) && std::isfinite(b.vents[i]))
      a.vents[i] += part * (b.vents[i] - a.vents[i]);
    else if (part > 0.5)
      a.vents[i] = b.vents[i];
  }
  a.rest += part * (b.rest - a.rest);
  return a;
}

/// Distance from no effect in units that the prior's scale has.
double size_of(const Family& f, double amount) {
  switch (f.cause) {
    case ShotCause::race_track:
      return std::log(amount);
    case ShotCause::more_glass:
    case ShotCause::less_glass:
      return std::abs(amount - 1);
    default:
      return std::abs(amount);
  }
}
double amount_of(const Family& f, double size) {
  switch (f.cause) {
    case ShotCause::race_track:
      return std::exp(size);
    case ShotCause::more_glass:
      return 1 + size;
    case ShotCause::less_glass:
      return 1 - size;
    default:
      return size;
  }
}
/// ln of resin and of glass resistance that a family shifts.
std::pair<double, double> shifts(const Family& f, double size) {
  if (f.cause == ShotCause::thick_resin) return {size, 0};
  if (f.cause == ShotCause::thin_resin) return {-size, 0};
  if (f.cause == ShotCause::low_permeability) return {0, size};
  if (f.cause == ShotCause::high_permeability) return {0, -size};
  return {0, 0};
}

struct Fit {
  double log_evidence, chi2, worst, resistance;
  Outlook at;
};

/// The resistance integrated out by Laplace's method.
Fit fit_resistance(const Family& f, double amount, const ShotContext& c) {
  const auto [resin, glass] = shifts(f, size_of(f, amount));
  const ResistancePrior prior = resistance_prior(c, resin, glass);
  double m = prior.mean, curvature = 1;
  Eigen::VectorXd r;
  Outlook at;
  constexpr double kStep = 1e-4;
  for (int round = 0; round < 6; ++round) {
    at = blend(f, amount, c.evidence, {m, 0, 0});
    r = c.evidence.residuals(at);
    const Outlook next = blend(f, amount, c.evidence, {m + kStep, 0, 0});
    const Eigen::VectorXd slope = (c.evidence.residuals(next) - r) / kStep;
    curvature = slope.squaredNorm() + 1 / (prior.sigma * prior.sigma);
    const double step = -(slope.dot(r) + (m - prior.mean) / (prior.sigma * prior.sigma)) / curvature;
    m += std::clamp(step, -0.7, 0.7);
    if (std::abs(step) < 1e-6) break;
  }
  const double chi2 = r.squaredNorm(), off = (m - prior.mean) / prior.sigma;
  const int ends = c.evidence.ends();
  const double worst = ends > 0 ? r.tail(ends).cwiseAbs().maxCoeff() : 0;
  return {prior.log_evidence - 0.5 * (chi2 + off * off) - std::log(prior.sigma * std::sqrt(curvature)), chi2, worst, m,
          at};
}

}  // namespace

bool measured_apart(const ShotLog& log, const FlowOptions& job, const ShotOptions& o) {
  return log.viscosity > 0 && std::abs(std::log(log.viscosity / job.viscosity)) > kApart * o.viscosity_spread;
}

ResistancePrior resistance_prior(const ShotContext& c, double thicker, double tighter) {
  const ShotOptions& o = c.options;
  double resin = o.viscosity_spread * o.viscosity_spread;
  double glass = std::pow(flow::permeability_spread(c.laminate, o.permeability_spread), 2), known = 0;
  if (static_cast<int>(c.earlier.size()) >= kEnoughShots) {
    // Shots of this tool say what its glass and resin scatter by; the spread of few is held up by two of 8 % (own
    // choice: a steady shop).
    double sum = 0, squares = 2 * 0.08 * 0.08;
    for (const double r : c.earlier) sum += r;
    const double n = double(c.earlier.size());
    known = sum / n;
    for (const double r : c.earlier) squares += (r - known) * (r - known);
    const double variance = squares / (n + 1) * (1 + 1 / n), share = variance / (resin + glass);
    resin *= share, glass *= share;
  }
  ResistancePrior out;
  if (!(c.log.viscosity > 0)) return {thicker + tighter + known, std::sqrt(resin + glass), 0};
  // Normal and normal: what was measured moves the resin's part and narrows it.
  const double read = std::log(c.log.viscosity / c.flow.viscosity), u2 = o.measured_viscosity * o.measured_viscosity;
  // Far from the job's it is no scatter: a fact that holds beside whatever else was the matter.
  if (measured_apart(c.log, c.flow, o)) return {read + tighter + known, std::sqrt(u2 + glass), 0};
  const double both = resin + u2, off = read - thicker;
  out.mean = thicker + resin / both * off + tighter + known;
  out.sigma = std::sqrt(resin * u2 / both + glass);
  out.log_evidence = -0.5 * off * off / both - 0.5 * std::log(2 * M_PI * both);
  return out;
}

Judged judge_family(const Family& f, const ShotContext& c) {
  std::vector<double> sizes{0}, weights{1};
  if (f.cause != ShotCause::none && f.cause != ShotCause::pump && !f.fixed) {
    sizes.clear(), weights.clear();
    double most = kScales * f.scale;
    if (f.courses.size() > 1) most = std::min(most, size_of(f, f.amount.back()));
    if (f.cause == ShotCause::poor_vacuum) most = std::min(most, 0.98 * atmosphere_pa - c.flow.cavity_pressure);
    if (f.cause == ShotCause::resin_leak) most = 0.5;
    double sum = 0;
    for (int k = 0; k < kAmounts; ++k) {
      sizes.push_back(std::max(most, 0.0) * (k + 0.5) / kAmounts);
      weights.push_back(std::exp(-0.5 * std::pow(sizes.back() / f.scale, 2)));
      sum += weights.back();
    }
    for (double& w : weights) w /= sum;
  }
  std::vector<Fit> fits;
  double best = -std::numeric_limits<double>::infinity();
  std::size_t at = 0;
  for (std::size_t k = 0; k < sizes.size(); ++k) {
    fits.push_back(fit_resistance(f, amount_of(f, sizes[k]), c));
    if (fits[k].log_evidence + std::log(weights[k]) > best) best = fits[k].log_evidence + std::log(weights[k]), at = k;
  }
  double sum = 0;
  for (std::size_t k = 0; k < fits.size(); ++k)
    sum += weights[k] = std::exp(fits[k].log_evidence + std::log(weights[k]) - best);
  Judged out;
  out.log_evidence = best + std::log(sum);
  // The rate is judged by itself: no state of the cavity keeps a pump from its rate below the limit.
  double off = 0, ratio = 0;
  const auto rates = off_set(c.stretches, c.flow);
  for (const double r : rates) off += r * r, ratio += r;
  const double chi2_rate =
      rates.empty() ? 0 : off / (kRateSpread * kRateSpread) * std::min(1.0, kRateStretches / double(rates.size()));
  out.log_evidence -= f.cause == ShotCause::pump ? kPumpAmount : 0.5 * chi2_rate;
  out.chi2 = fits[at].chi2, out.worst = fits[at].worst, out.resistance = fits[at].resistance;
  out.at = fits[at].at;
  if (f.cause == ShotCause::inlet_blocked) {
    out.log_evidence += kAnywhere;
    out.amount = {c.stretches.volume / f.courses[0].full, NAN, NAN};
  }
  if (f.cause == ShotCause::pump && !rates.empty()) out.amount = {std::exp(ratio / double(rates.size())), NAN, NAN};
  if (sizes.size() < 2) return out;
  // 95 % of what the amounts' weights add up to.
  double seen = 0, low = sizes.front(), high = sizes.back();
  bool above = false;
  for (std::size_t k = 0; k < sizes.size(); ++k) {
    if (seen <= 0.025 * sum) low = sizes[k];
    seen += weights[k];
    if (!above && seen >= 0.975 * sum) high = sizes[k], above = true;
  }
  const double a = amount_of(f, low), b = amount_of(f, high);
  out.amount = {amount_of(f, sizes[at]), std::min(a, b), std::max(a, b)};
  if (f.cause == ShotCause::thick_resin || f.cause == ShotCause::high_permeability)
    out.amount = {std::exp(sizes[at]), std::exp(low), std::exp(high)};
  if (f.cause == ShotCause::thin_resin || f.cause == ShotCause::low_permeability)
    out.amount = {std::exp(-sizes[at]), std::exp(-high), std::exp(-low)};
  return out;
}

void fit_together(const Family& permeability, const ShotContext& c, ShotFound& out) {
  // ln permeability, ln viscosity, share of the resin that leaks.
  const double resin = c.options.viscosity_spread,
               glass = flow::permeability_spread(c.laminate, c.options.permeability_spread);
  Eigen::Vector3d x(0, 0, 0.01), mean(0, 0, 0), sigma(glass, resin, kLeakSpread);
  if (c.log.viscosity > 0)
    x[1] = mean[1] = std::log(c.log.viscosity / c.flow.viscosity), sigma[1] = c.options.measured_viscosity;
  Family f = permeability;
  f.cause = ShotCause::race_track;  // between factors by their logarithm
  const auto predicted = [&](const Eigen::Vector3d& at) {
    const double k = std::clamp(std::exp(at[0]), f.amount.front(), f.amount.back());
    // Beyond what was filled the whole acts as resistance.
    const double beyond = at[0] - std::log(k);
    return c.evidence.residuals(blend(f, k, c.evidence, {at[1] - beyond, std::max(0.0, at[2]), 0}));
  };
  Eigen::Matrix3d hessian = Eigen::Matrix3d::Identity();
  const Eigen::Vector3d weight = sigma.cwiseInverse().cwiseAbs2();
  for (int round = 0; round < 12; ++round) {
    const Eigen::VectorXd r = predicted(x);
    Eigen::MatrixXd slope(r.size(), 3);
    for (int j = 0; j < 3; ++j) {
      Eigen::Vector3d y = x;
      y[j] += 1e-4;
      slope.col(j) = (predicted(y) - r) / 1e-4;
    }
    hessian = slope.transpose() * slope;
    hessian.diagonal() += weight;
    const Eigen::Vector3d step =
        -solve_symmetric(Eigen::MatrixXd(hessian), slope.transpose() * r + weight.cwiseProduct(x - mean));
    x += step * std::min(1.0, 0.5 / std::max(step.cwiseAbs().maxCoeff(), 1e-12));
    x[2] = std::max(x[2], 0.0);
    if (step.norm() < 1e-6) break;
  }
  const Eigen::MatrixXd covariance = inverse_of(Eigen::MatrixXd(hessian));
  constexpr double kTwoSided = 1.96;
  const auto factor = [&](double ln, double u) {
    return ShotEstimate{std::exp(ln), std::exp(ln - kTwoSided * u), std::exp(ln + kTwoSided * u)};
  };
  out.permeability = factor(x[0], std::sqrt(covariance(0, 0)));
  out.viscosity = factor(x[1], std::sqrt(covariance(1, 1)));
  const double lost = std::sqrt(covariance(2, 2));
  out.leak = {x[2], std::max(0.0, x[2] - kTwoSided * lost), x[2] + kTwoSided * lost};
  out.resistance =
      factor(x[1] - x[0], std::sqrt(std::max(0.0, covariance(0, 0) + covariance(1, 1) - 2 * covariance(0, 1))));
  const ResistancePrior normal = resistance_prior(c, 0, 0);
  out.normal_low = std::exp(normal.mean - kTwoSided * normal.sigma);
  out.normal_high = std::exp(normal.mean + kTwoSided * normal.sigma);
}

}  // namespace gapfront::diagnosis
