// Order statistics, and distributions against the tables.
#include "core/statistics.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "core/distributions.hpp"
#include "core/neighbours.hpp"
#include "core/sha256.hpp"

using namespace gapfront;

TEST_CASE("Median, ranks and quantiles of a short list, by hand") {
  CHECK(median(std::vector<double>{}) == 0);
  CHECK(median(std::vector<double>{3, 1, 2}) == 2);
  CHECK(median(std::vector<double>{4, 1, 3, 2}) == 3);  // the upper of the two
  CHECK(ranked_value({4, 1, 3, 2}, 0.5) == 2);          // rank 1.5, rounded down
  CHECK(quantile({4, 1, 3, 2}, 0.5) == Approx(2.5));
  CHECK(quantile({10, 20}, 0.975) == Approx(19.75));
  CHECK(robust_sigma({1, 1, 1, 100}) == Approx(1.4826));  // one outlier of four says nothing
  // Of weights 1, 1 and 8 the third value alone has more than half.
  CHECK(weighted_percentile({{1, 1}, {2, 1}, {3, 8}}, 0.5) == 3);
  CHECK(weighted_percentile({{1, 1}, {2, 1}, {3, 8}}, 0.1) == 1);
}

TEST_CASE("Smoothing takes half of the neighbours' mean and leaves out what is not finite") {
  const std::vector<std::vector<int>> around{{1}, {0, 2}, {1}};  // three in a row
  const auto once = smoothed({0, 4, NAN}, around, 1);
  CHECK(once[0] == 2);
  CHECK(once[1] == 2);
  CHECK(std::isnan(once[2]));
}

TEST_CASE("Tails and quantiles agree with the tables") {
  // 5 % points of chi-square for 1, 2, 3 and 10 degrees of freedom (e.g. Abramowitz & Stegun 1964, table 26.8).
  CHECK(p_value(3.841459, 1) == Approx(0.05).epsilon(1e-5));
  CHECK(p_value(5.991465, 2) == Approx(0.05).epsilon(1e-5));
  CHECK(p_value(7.814728, 3) == Approx(0.05).epsilon(1e-5));
  CHECK(p_value(18.307038, 10) == Approx(0.05).epsilon(1e-5));
  CHECK(p_value(5, 0) == 1);
  CHECK(std::isnan(p_value(NAN, 3)));
  // Their closed forms for two degrees of freedom: exp(-x/2), and of F: (1 + 2 f/n)^(-n/2).
  CHECK(p_value(3, 2) == Approx(std::exp(-1.5)).epsilon(1e-12));
  CHECK(f_beyond(3, 2, 7) == Approx(std::pow(1 + 6 / 7.0, -3.5)).epsilon(1e-12));
  // Beyond three sigma: 0.135 %; the limit is where a chi-square has as little left.
  CHECK(normal_limit(0.5 * std::erfc(3 / std::sqrt(2.0))) == Approx(3).epsilon(1e-12));
  CHECK(p_value(chi2_limit(6, 3), 6) == Approx(0.00134989803).epsilon(1e-8));
  CHECK(student_limit(0.025, 8) == Approx(2.306004).epsilon(1e-6));  // table 26.10
  CHECK(student_limit(0.025, 1) == Approx(12.706205).epsilon(1e-6));
  // Clopper & Pearson's upper limit where none of n was hit: 1 − 0.025^(1/n).
  CHECK(beta_quantile(0.975, 1, 64) == Approx(1 - std::pow(0.025, 1 / 64.0)).epsilon(1e-12));
}

TEST_CASE("SHA-256 of abc is that of FIPS 180-4") {
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

// Of 10 and 12 taken from 22 with 21 hits: the one miss lies among the 10 with the chance 10/22, among the 12 with
// 12/22. Fisher's tea tasting, 3 of 4 against 1 of 4: 34/70 (Fisher, The Design of Experiments, 1935).
TEST_CASE("Fisher's exact test adds up all tables that are no likelier than the one seen") {
  CHECK(fisher_exact(9, 10, 12, 12) == Approx(10 / 22.0));
  CHECK(fisher_exact(3, 4, 1, 4) == Approx(34 / 70.0));
  CHECK(fisher_exact(9, 10, 64, 64) == Approx(10 / 74.0));
  CHECK(fisher_exact(5, 10, 5, 10) == Approx(1));
  CHECK(fisher_exact(0, 0, 5, 10) == 1);
}
