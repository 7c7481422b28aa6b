#include "core/beta.hpp"

#include <cmath>
#include <initializer_list>

namespace gapfront {
namespace {

/// By its continued fraction (Lentz; from memory); converges for x below (p + 1)/(p + q + 2).
double beta_tail(double a, double b, double t) {
  const double tiny = 1e-300;
  double c = 1, d = 1 - (a + b) * t / (a + 1);
  d = 1 / (std::abs(d) < tiny ? tiny : d);
  double sum = d;
  // 200 terms: the fraction converges in O(√max(a, b)) of them.
  for (int i = 1; i < 200; ++i) {
    for (const double e : {i * (b - i) * t / ((a + 2 * i - 1) * (a + 2 * i)),
                           -(a + i) * (a + b + i) * t / ((a + 2 * i) * (a + 2 * i + 1))}) {
      d = 1 + e * d, c = 1 + e / c;
      d = 1 / (std::abs(d) < tiny ? tiny : d);
      if (std::abs(c) < tiny) c = tiny;
      sum *= c * d;
    }
    if (std::abs(c * d - 1) < 1e-14) break;
  }
  return sum * std::exp(std::lgamma(a + b) - std::lgamma(a) - std::lgamma(b) + a * std::log(t) + b * std::log1p(-t)) /
         a;
}

}  // namespace

double beta_fraction(double x, double p, double q) {
  if (x >= 1) return 1;
  if (x <= 0) return 0;
  return x < (p + 1) / (p + q + 2) ? beta_tail(p, q, x) : 1 - beta_tail(q, p, 1 - x);
}

}  // namespace gapfront
