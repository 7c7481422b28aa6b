// What a log says, as data with a covariance, and how far a prediction is from it.
#include <algorithm>
#include <cmath>
#include <limits>

#include "diagnose/shot.hpp"

namespace gapfront::diagnosis {
namespace {

constexpr double kNoVolume = std::numeric_limits<double>::infinity();
// Errors of a model are alike over this share of the injected volume (own choice: a fifth).
constexpr double kAlike = 0.2;
// What a vent that is never reached counts as, against the injected volume.
constexpr double kMissed = 1.3;
// A vent that is dry when the resin has stopped was none; how many sigma that is (own choice: somebody may have looked
// at the wrong one).
constexpr double kDryVent = 4;
// Once the resin has come to rest none arrives at a vent. One sigma of when that is noted, of the time of filling (own
// choice: who watches looks that often).
constexpr double kLate = 0.05;

}  // namespace

Evidence::Evidence(const ShotLog& log, const Stretches& stretches, const FlowOptions& job, const ShotOptions& o)
    : raw_(log), log_(stretches), job_(job), o_(o) {
  const int n = static_cast<int>(log_.size());
  const double whole = log_.edge.back();
  Eigen::VectorXd model(n), drops(n);
  for (int k = 0; k < n; ++k) {
    const int a = std::max(0, k - 1), b = std::min(n - 1, k + 1);
    const double slope = std::abs(log_.pressure[b] - log_.pressure[a]) / (whole / n * (b - a));
    const double drop = log_.pressure[k] + atmosphere_pa - job.cavity_pressure;
    drops[k] = drop;
    model[k] = std::hypot(o.model_pressure * drop, slope * o.model_volume * log_.edge[k + 1]);
  }
  Eigen::MatrixXd covariance(n, n);
  for (int a = 0; a < n; ++a)
    for (int b = 0; b < n; ++b)
      covariance(a, b) = model[a] * model[b] * std::exp(-std::abs(log_.edge[a] - log_.edge[b]) / (kAlike * whole)) +
                         (a == b ? o.pressure * o.pressure : 0);
  // A stretch's rate is as wrong as the volumes at its two ends; the next one shares one of them, the other way.
  const double noise = volume_noise(log.samples);
  const auto of_rate = [&](int k) { return drops[k] * noise / (log_.edge[k + 1] - log_.edge[k]); };
  for (int a = 0; a < n; ++a)
    for (int b = std::max(0, a - 1); b < std::min(n, a + 2); ++b)
      covariance(a, b) += of_rate(a) * of_rate(b) * (a == b ? 2 : -1);
  const Eigen::MatrixXd lower = covariance.llt().matrixL();
  whiten_ = lower.triangularView<Eigen::Lower>().solve(Eigen::MatrixXd::Identity(n, n));
  for (const VentSeen& seen : log.vents)
    for (std::size_t v = 0; v < job.vents.size(); ++v)
      if (job.vents[v].name == seen.vent)
        // A time just after the last row is one at the log's end: check_log() lets through no later one.
        seen_.push_back(
            {v, std::isfinite(seen.time) ? volume_at(log, std::min(seen.time, log_.end)) : kNoVolume, seen.time});
}

double Evidence::too_late(double seen, double predicted) const {
  if (!log_.stopped || !std::isfinite(seen)) return 0;
  const double expected = predicted < raw_.samples.back().volume ? time_at(raw_, predicted) : log_.rest_time;
  return std::max(0.0, seen - std::max(expected, log_.rest_time)) / (kLate * (log_.rest_time - log_.start));
}

Eigen::VectorXd Evidence::residuals(const Outlook& o) const {
  const int n = static_cast<int>(log_.size());
  Eigen::VectorXd out(data()), off(n);
  for (int k = 0; k < n; ++k) off[k] = log_.pressure[k] - o.pressure[k];
  out.head(n) = whiten_ * off;
  const double last = log_.edge.back();
  for (std::size_t k = 0; k < seen_.size(); ++k) {
    const double seen = seen_[k].volume, predicted = std::min(o.vents[seen_[k].vent], kMissed * std::max(last, 1e-9));
    const double spread = o_.model_volume * (std::isfinite(seen) ? seen : last);
    // Not seen: only what should have come counts.
    double missing = std::max(0.0, last - predicted) / spread;
    if (log_.stopped && std::isfinite(o.vents[seen_[k].vent])) missing = std::max(missing, kDryVent);
    const double by_volume = (seen - predicted) / spread, late = too_late(seen_[k].time, o.vents[seen_[k].vent]);
    out[n + static_cast<int>(k)] = !std::isfinite(seen) ? missing : late > std::abs(by_volume) ? late : by_volume;
  }
  if (log_.stands)
    out[data() - 1] = std::isfinite(o.rest) ? (log_.volume - o.rest) / (kRestSpread * std::max(o.rest, 1e-9)) : 0;
  return out;
}

double Evidence::volume_lost(double upto, double leak) const {
  if (!(leak > 0)) return 0;
  // What leaks is driven by the pressure above atmosphere.
  const auto& e = log_.edge;
  const auto next = std::lower_bound(e.begin(), e.end(), upto);
  double over = 0;
  if (next == e.begin())
    over = log_.over_before.front() * upto / e.front();
  else if (next == e.end())
    over = log_.over_before.back() * upto / e.back();
  else {
    const std::size_t k = static_cast<std::size_t>(next - e.begin());
    over = log_.over_before[k - 1] +
           (upto - e[k - 1]) / (e[k] - e[k - 1]) * (log_.over_before[k] - log_.over_before[k - 1]);
  }
  return leak * e.back() * over / std::max(log_.over_before.back(), 1e-9);
}

double Evidence::injected_for(double inside, double leak) const {
  double v = inside;
  for (int k = 0; k < 30; ++k) v = inside + volume_lost(v, leak);
  return v;
}

std::vector<double> Evidence::pressures(const Course& c, const Effects& x) const {
  std::vector<double> out;
  for (std::size_t k = 0; k < log_.size(); ++k) {
    const double from = log_.edge[k] - volume_lost(log_.edge[k], x.leak),
                 to = log_.edge[k + 1] - volume_lost(log_.edge[k + 1], x.leak);
    const double share = std::max(0.0, to - from) / (log_.edge[k + 1] - log_.edge[k]);
    const double resists = c.resistance(from, to);
    // A cavity that is full stands at the pump's limit.
    const double drop = std::isfinite(resists)
                            ? job_.viscosity * std::exp(x.resistance) * share * log_.rate[k] * resists
                            : job_.pressure_limit + atmosphere_pa - job_.cavity_pressure - x.vacuum;
    out.push_back(drop + job_.cavity_pressure + x.vacuum - atmosphere_pa);
  }
  return out;
}

std::vector<double> Evidence::vents(const Course& c, const Effects& x) const {
  std::vector<double> out;
  for (const double v : c.vents) out.push_back(std::isfinite(v) ? injected_for(v, x.leak) : kNoVolume);
  return out;
}

Outlook Evidence::outlook(const Course& c, const Effects& x) const {
  return {pressures(c, x), vents(c, x), injected_for(std::min(c.rest, c.full), x.leak)};
}

Outlook Evidence::cut_off(Outlook o) const {
  for (double& v : o.vents)
    if (v > log_.volume) v = kNoVolume;
  o.rest = kNoVolume;
  return o;
}

}  // namespace gapfront::diagnosis
