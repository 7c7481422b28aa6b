// A straight line through few points of known uncertainty, and when it reaches a limit.
#include <cmath>
#include <limits>

#include "core/distributions.hpp"
#include "gapfront/error.hpp"
#include "gapfront/recheck.hpp"

namespace gapfront::history {
namespace {

// Degrees of freedom of a standard uncertainty that is itself known to 25 % (JCGM 100 eq. G.3: ½ · 0.25⁻²).
constexpr double kPriorFreedom = 8;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

}  // namespace

Line fit_line(const std::vector<TrendPoint>& points) {
  double sw = 0, sc = 0;
  for (const auto& p : points) sw += 1 / (p.u * p.u), sc += p.cycles / (p.u * p.u);
  const double mean = sw > 0 ? sc / sw : 0;
  double sxx = 0, sxy = 0, sy = 0;
  for (const auto& p : points) {
    const double w = 1 / (p.u * p.u), x = p.cycles - mean;
    sxx += w * x * x, sxy += w * x * p.value, sy += w * p.value;
  }
  if (points.size() < 2 || !(sxx > 0))
    throw Error(Fault::input, "re-check: all inspections are at the same number of cycles; give cycles in each job");
  Line l;
  l.first = points.front().cycles;
  l.rate = sxy / sxx;
  l.at_first = sy / sw + l.rate * (l.first - mean);
  double chi2 = 0;
  for (const auto& p : points) chi2 += std::pow((p.value - l.at_first - l.rate * (p.cycles - l.first)) / p.u, 2);
  l.dof = kPriorFreedom + double(points.size()) - 2;
  l.scale = std::sqrt(std::max(1.0, (kPriorFreedom + chi2) / l.dof));
  l.t = student_limit(0.025, l.dof);
  const double s2 = l.scale * l.scale, x = l.first - mean;
  l.v11 = s2 / sxx, l.v01 = s2 * x / sxx, l.v00 = s2 * (1 / sw + x * x / sxx);
  l.u_rate = std::sqrt(l.v11);
  return l;
}

std::array<double, 3> crossing(const Line& l, double limit, double u_common) {
  // Fieller: all x with (a + b x − L)² ≤ t² var(a + b x), x from the first point.
  const double t2 = l.t * l.t, a = l.at_first - limit;
  const double A = l.rate * l.rate - t2 * l.v11, B = a * l.rate - t2 * l.v01,
               C = a * a - t2 * (l.v00 + u_common * u_common);
  const double best = l.rate != 0 ? l.first - a / l.rate : kInfinity;
  const double root = B * B - A * C;
  if (root < 0) return {best, -kInfinity, kInfinity};
  const double r1 = (-B - std::sqrt(root)) / A, r2 = (-B + std::sqrt(root)) / A;
  if (A > 0) return {best, l.first + std::min(r1, r2), l.first + std::max(r1, r2)};
  // The slope may be nil: open above. Where the limit may be reached already at the first point, open below as well.
  if (C <= 0) return {best, -kInfinity, kInfinity};
  return {best, l.first + std::max(r1, r2), kInfinity};
}

}  // namespace gapfront::history
