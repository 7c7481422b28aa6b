// From a scanner's declared errors to what they make of a scan, and from a check measurement to the declaration.
#include "gapfront/instrument.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "core/distributions.hpp"
#include "core/linear.hpp"
#include "gapfront/error.hpp"

namespace gapfront {
namespace {

// Passes are a third of a scan wide where nobody says: own choice (common practice, no source).
constexpr double kPassesAcross = 3;
// A strip of width w is as alike as its overlap, 1 − d/w; exp(−d²/2L²) has the same integral for L = w/√(2π).
constexpr double kLengthOfWidth = 0.4;
// Errors of probing, where their length is not known: far enough to outlast a fit's disc, so that nothing averages out.
constexpr double kProbingLength = 6;
// Fewer rows than these leave a spread unknown to more than half of itself (1/√(2n)).
constexpr std::size_t kEnoughLengths = 8, kEnoughRows = 5, kFewestRows = 3;
constexpr double kSmallest = 1e-6;  // mm: a nanometre is nothing to any scanner

double square(double x) { return x * x; }

/// Posterior means of two variances of which each error has the sum s² + (t L)², on a grid of both from a fiftieth of
/// the errors' size to ten times it, even in their logarithms.
struct LengthSpread {
  double constant2 = 0, slope2 = 0;
};
LengthSpread spread_of(const std::vector<CheckRow>& lengths, double longest) {
  double size2 = square(kSmallest);
  for (const CheckRow& r : lengths) size2 += square(r.measured - r.reference) / double(lengths.size());
  constexpr int kSteps = 40;
  const auto at = [&](int k) { return size2 * std::exp(2 * (std::log(0.02) + (std::log(500.0) * k) / (kSteps - 1))); };
  std::vector<double> log_weight;
  for (int i = 0; i < kSteps; ++i)
    for (int j = 0; j < kSteps; ++j) {
      double log_p = 0;
      for (const CheckRow& r : lengths) {
        const double v = at(i) + at(j) * square(r.reference / longest);
        log_p -= 0.5 * (std::log(v) + square(r.measured - r.reference) / v);
      }
      log_weight.push_back(log_p);
    }
  const double top = *std::max_element(log_weight.begin(), log_weight.end());
  LengthSpread out;
  double sum = 0;
  for (int i = 0; i < kSteps; ++i)
    for (int j = 0; j < kSteps; ++j) {
      const double w = std::exp(log_weight[std::size_t(i) * kSteps + j] - top);
      sum += w, out.constant2 += w * at(i), out.slope2 += w * at(j) / square(longest);
    }
  out.constant2 /= sum, out.slope2 /= sum;
  return out;
}

/// Straight line through the errors by least squares: its slope, with Student's factor.
void common_scale(const std::vector<CheckRow>& lengths, InstrumentCheck& out) {
  const double n = double(lengths.size());
  double mean_l = 0, sxx = 0, sxy = 0, rest = 0;
  for (const CheckRow& r : lengths) mean_l += r.reference / n;
  for (const CheckRow& r : lengths)
    sxx += square(r.reference - mean_l), sxy += (r.reference - mean_l) * (r.measured - r.reference);
  if (n < 4 || !(sxx > 0)) return;
  out.scale = sxy / sxx;
  for (const CheckRow& r : lengths)
    rest += square(r.measured - r.reference - out.mean_error - out.scale * (r.reference - mean_l));
  out.scale_U = student_limit(0.025, n - 2) * std::sqrt(rest / (n - 2) / sxx);
}

void judge_lengths(const std::vector<CheckRow>& lengths, InstrumentCheck& out) {
  out.lengths = lengths.size();
  if (lengths.size() < kFewestRows)
    return out.doubts.push_back(Message("instrument.few-lengths", {static_cast<long>(lengths.size())}));
  double shortest = lengths.front().reference, longest = shortest;
  for (const CheckRow& r : lengths) {
    const double e = r.measured - r.reference;
    shortest = std::min(shortest, r.reference), longest = std::max(longest, r.reference);
    out.mean_error += e / double(lengths.size()), out.largest_error = std::max(out.largest_error, std::abs(e));
  }
  out.longest = longest;
  const LengthSpread s = spread_of(lengths, longest);
  out.u_constant = std::sqrt(s.constant2), out.u_per_metre = 1000 * std::sqrt(s.slope2);
  common_scale(lengths, out);
  if (lengths.size() < kEnoughLengths)
    out.doubts.push_back(Message("instrument.some-lengths", {static_cast<long>(lengths.size())}));
  // By a factor of two of the length the two parts of A + L/K are told apart as well as either is known.
  if (longest < 2 * shortest)
    out.doubts.push_back(Message("instrument.lengths-alike", {arg::length(shortest, 0), arg::length(longest, 0)}));
}

/// Bound of the next one of such values, above nothing, at 95 % of one side (normal values: mean + t s √(1 + 1/n)).
double next_bound(const std::vector<double>& values) {
  const double n = double(values.size());
  double mean = 0, rest = 0, most = 0;
  for (const double v : values) mean += v / n, most = std::max(most, v);
  for (const double v : values) rest += square(v - mean);
  if (n < kFewestRows) return most;
  return std::max(most, mean + student_limit(0.05, n - 1) * std::sqrt(rest / (n - 1) * (1 + 1 / n)));
}

/// Bound of a rectangular distribution with the variance that n steps about zero show: their mean square, and what its
/// posterior mean has more, n/(n − 2).
double step_bound(const std::vector<double>& steps) {
  const double n = double(steps.size());
  double most = 0, squares = 0;
  for (const double s : steps) most = std::max(most, std::abs(s)), squares += s * s;
  return n < kFewestRows ? most : std::max(most, std::sqrt(3 * squares / (n - 2)));
}

void doubt_few(std::size_t rows, const char* id, InstrumentCheck& out) {
  if (rows > 0 && rows < kEnoughRows) out.doubts.push_back(Message(id, {static_cast<long>(rows)}));
}

}  // namespace

double scan::size_of(const std::vector<Vec3>& points) {
  if (points.empty()) return 0;
  Vec3 mean = Vec3::Zero();
  for (const Vec3& p : points) mean += p / double(points.size());
  Eigen::MatrixXd spread = Eigen::MatrixXd::Zero(3, 3);
  for (const Vec3& p : points) spread += (p - mean) * (p - mean).transpose();
  const Vec3 axis = spectrum_of(spread).eigenvectors().col(2);
  double low = 0, high = 0;
  for (const Vec3& p : points) low = std::min(low, axis.dot(p - mean)), high = std::max(high, axis.dot(p - mean));
  return high - low;
}

ScanErrors scan::errors_of(const InstrumentModel& m, double size, double noise) {
  ScanErrors out;
  // A length is the difference of two places: 2 u² = A²/3.
  out.place = m.constant / std::sqrt(6.0);
  // A field that varies over half the scan's size, such that a length as long as the scan errs by what the bound has
  // more there than at nothing: 2 σ² (1 − e⁻²) = ((A + L/K)² − A²)/3.
  if (const double grown = m.per_metre * size / 1000; grown > 0 && size > 0)
    out.fields.push_back(
        {std::sqrt((square(m.constant + grown) - square(m.constant)) / 6 / (1 - std::exp(-2.0))), size / 2});
  // A step is the difference of two passes: 2 σ² = step²/3.
  if (m.step > 0 && size > 0)
    out.fields.push_back({m.step / std::sqrt(6.0), kLengthOfWidth * (m.width > 0 ? m.width : size / kPassesAcross)});
  // Half the range to either side, less what scatters from point to point and averages out.
  const double probing = std::sqrt(std::max(0.0, square(m.probing) / 12 - noise * noise));
  if (const double sigma = std::max(m.sigma, probing); sigma > 0)
    out.shared = {sigma, m.length > 0 ? m.length : kProbingLength};
  return out;
}

InstrumentCheck scan::evaluate_check(const std::vector<CheckRow>& rows) {
  InstrumentCheck out;
  std::vector<CheckRow> lengths, flats;
  std::vector<double> spheres, steps;
  for (const CheckRow& r : rows) switch (r.kind) {
      case CheckRow::Kind::length:
        if (!(r.reference > 0))
          throw Error(Fault::input, "check measurement: a length has no calibrated length; fill in reference");
        lengths.push_back(r);
        break;
      case CheckRow::Kind::sphere:
        spheres.push_back(r.measured);
        break;
      case CheckRow::Kind::flat:
        flats.push_back(r);
        break;
      case CheckRow::Kind::step:
        steps.push_back(r.measured);
        break;
    }
  judge_lengths(lengths, out);
  out.spheres = spheres.size(), out.flats = flats.size(), out.steps = steps.size();
  out.model.constant = std::sqrt(3.0) * out.u_constant, out.model.per_metre = std::sqrt(3.0) * out.u_per_metre;
  double beyond = 1;
  for (const CheckRow& r : lengths)
    if (const double bound = out.model.constant + out.model.per_metre * r.reference / 1000; bound > 0)
      beyond = std::max(beyond, std::abs(r.measured - r.reference) / bound);
  out.model.constant *= beyond, out.model.per_metre *= beyond;
  // A flat's range is a difference of two places that far apart.
  for (const CheckRow& r : flats)
    if (r.reference > 0) {
      out.longest = std::max(out.longest, r.reference);
      out.model.per_metre =
          std::max(out.model.per_metre, 1000 * std::max(0.0, r.measured - out.model.constant) / r.reference);
    }
  if (!spheres.empty()) out.model.probing = next_bound(spheres);
  if (!steps.empty()) out.model.step = step_bound(steps);
  doubt_few(spheres.size(), "instrument.few-spheres", out), doubt_few(steps.size(), "instrument.few-steps", out);
  if (steps.empty()) out.doubts.push_back(Message("instrument.no-steps"));
  return out;
}

}  // namespace gapfront
