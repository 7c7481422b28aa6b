#include "core/distributions.hpp"

#include <algorithm>
#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/hypergeometric.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

namespace gapfront {
namespace {

namespace policies = boost::math::policies;
/// What makes no sense gives NaN, as in all other arithmetic; nothing is thrown.
using Quiet =
    policies::policy<policies::domain_error<policies::ignore_error>, policies::overflow_error<policies::ignore_error>,
                     policies::evaluation_error<policies::ignore_error>>;
using ChiSquared = boost::math::chi_squared_distribution<double, Quiet>;
using Fisher = boost::math::fisher_f_distribution<double, Quiet>;
using Normal = boost::math::normal_distribution<double, Quiet>;
using Student = boost::math::students_t_distribution<double, Quiet>;
using Beta = boost::math::beta_distribution<double, Quiet>;
using Hypergeometric = boost::math::hypergeometric_distribution<double, Quiet>;
using boost::math::complement;

}  // namespace

double p_value(double chi2, double dof) {
  if (chi2 <= 0 || dof <= 0) return 1;
  return cdf(complement(ChiSquared(dof), chi2));
}

double chi2_limit(double dof, double z) { return quantile(complement(ChiSquared(dof), cdf(complement(Normal(), z)))); }

double f_beyond(double f, double m, double n) { return cdf(complement(Fisher(m, n), f)); }

double normal_beyond(double z) { return cdf(complement(Normal(), z)); }

double normal_limit(double chance) { return quantile(complement(Normal(), chance)); }

double student_limit(double chance, double dof) { return quantile(complement(Student(dof), chance)); }

double beta_quantile(double chance, double p, double q) { return quantile(Beta(p, q), chance); }

double fisher_exact(int a, int m, int b, int n) {
  if (m <= 0 || n <= 0) return 1;
  const int hits = a + b;
  const Hypergeometric table(unsigned(hits), unsigned(m), unsigned(m + n));
  // Tables as likely as the one seen differ from it by rounding.
  const double seen = pdf(table, unsigned(a)) * (1 + 1e-9);
  double sum = 0;
  for (int k = std::max(0, hits - n); k <= std::min(hits, m); ++k)
    if (const double p = pdf(table, unsigned(k)); p <= seen) sum += p;
  return std::min(1.0, sum);
}

}  // namespace gapfront
