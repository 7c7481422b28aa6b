// Jumps of a log's pressure: glass, resin and cavity change it slowly, or as the rate changes.
#include <algorithm>
#include <cmath>

#include "core/statistics.hpp"
#include "diagnose/shot.hpp"

namespace gapfront::diagnosis {
namespace {

// Rows on either side of a jump that a line is laid through: a bubble of some rows still shows both its ends.
constexpr int kRows = 4;
// Far beyond the noise: so many standard errors; and of what drives the resin at least so much, or it matters little
// (own choices).
constexpr double kFarBeyond = 8, kLeastJump = 0.1;
// A jump is one if half of it comes from one row to the next, and half of it is not the rate's.
constexpr double kAtOnce = 0.5;
// Standard errors of the rate that a pressure may follow.
constexpr double kRateErrors = 3;

/// One sigma of the readings about a smooth course, Pa; of a gauge in coarse steps no less than its rounding makes.
double reading_noise(const std::vector<ShotSample>& rows) {
  std::vector<double> third;
  double step = 0;
  for (std::size_t k = 1; k < rows.size(); ++k)
    if (const double d = std::abs(rows[k].pressure - rows[k - 1].pressure); d > 0 && (step == 0 || d < step)) step = d;
  for (std::size_t k = 3; k < rows.size(); ++k)
    third.push_back(
        std::abs(rows[k].pressure - 3 * rows[k - 1].pressure + 3 * rows[k - 2].pressure - rows[k - 3].pressure));
  return std::max(robust_sigma(std::move(third)) / std::sqrt(20.0), step / std::sqrt(12.0));
}

/// A line through kRows rows, at a time beside them; standard errors per sigma of one row.
struct RowLine {
  double value = 0, slope = 0, value_error = 0, slope_error = 0, span = 0;
};

RowLine line_through(const ShotSample* rows, double ShotSample::*of, double at) {
  double time = 0, mean = 0, square = 0, product = 0;
  for (int k = 0; k < kRows; ++k) time += rows[k].time / kRows, mean += rows[k].*of / kRows;
  for (int k = 0; k < kRows; ++k)
    square += std::pow(rows[k].time - time, 2), product += (rows[k].time - time) * (rows[k].*of - mean);
  RowLine out;
  out.slope = product / square, out.slope_error = 1 / std::sqrt(square);
  out.value = mean + out.slope * (at - time);
  out.value_error = std::sqrt(1.0 / kRows + std::pow(at - time, 2) / square);
  out.span = rows[kRows - 1].time - rows[0].time;
  return out;
}

struct Jump {
  ShotStep step;
  double size() const { return std::abs(step.after - step.before); }
};

struct Noise {
  double pressure, volume;
};

/// Between row k and the one before it; nothing where there is none.
Jump jump_at(const std::vector<ShotSample>& rows, std::size_t k, double drop, const Noise& noise) {
  const double at = 0.5 * (rows[k - 1].time + rows[k].time);
  const ShotSample *early = &rows[k - kRows], *late = &rows[k];
  const RowLine a = line_through(early, &ShotSample::pressure, at), b = line_through(late, &ShotSample::pressure, at);
  const double jump = b.value - a.value, error = noise.pressure * std::hypot(a.value_error, b.value_error);
  const double drive = std::max({a.value, b.value, -drop}) + drop;
  if (!(std::abs(jump) > std::max(kFarBeyond * error, kLeastJump * drive))) return {};
  if (std::abs(jump) < std::abs(a.slope) * a.span + std::abs(b.slope) * b.span) return {};  // it is steep all around
  if ((rows[k].pressure - rows[k - 1].pressure) * jump < kAtOnce * jump * jump) return {};
  // What drives the resin follows the rate in proportion.
  const RowLine qa = line_through(early, &ShotSample::volume, at), qb = line_through(late, &ShotSample::volume, at);
  if (!(qa.slope > 0)) return {};
  const double follows = (a.value + drop) * std::max(0.0, qb.slope) / qa.slope - drop, left = b.value - follows;
  const double of_rate = std::abs(a.value + drop) * noise.volume *
                         std::hypot(qa.slope_error * std::max(0.0, qb.slope) / qa.slope, qb.slope_error) / qa.slope;
  if (left * jump < kAtOnce * jump * jump || std::abs(left) < kFarBeyond * error + kRateErrors * of_rate) return {};
  return {{at, a.value, b.value}};
}

}  // namespace

void find_steps(const ShotLog& log, const Stretches& stretches, const FlowOptions& job, ShotFound& out) {
  const auto& rows = log.samples;
  const Noise noise{reading_noise(rows), volume_noise(rows)};
  const double drop = atmosphere_pa - job.cavity_pressure, from = stretches.edge_time.front(),
               to = stretches.stopped ? std::min(stretches.edge_time.back(), stretches.rest_time)
                                      : stretches.edge_time.back();
  Jump best;
  std::size_t best_at = 0;
  const auto keep = [&] {
    if (best.size() > 0) out.steps.push_back(best.step);
    best = {};
  };
  for (std::size_t k = kRows; k + kRows <= rows.size(); ++k) {
    if (rows[k - kRows].time < from || rows[k + kRows - 1].time > to) continue;
    const Jump jump = jump_at(rows, k, drop, noise);
    if (jump.size() > 0 && best.size() > 0 && k >= best_at + kRows) keep();
    if (jump.size() > best.size()) best = jump, best_at = k;
  }
  keep();
  if (!out.steps.empty()) out.pressure_noise = noise.pressure;
}

}  // namespace gapfront::diagnosis
