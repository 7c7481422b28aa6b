// Shares of random draws and their intervals.
#include <catch2/catch.hpp>
#include <cmath>

#include "gapfront/outcome.hpp"

using namespace gapfront;

TEST_CASE("A share's interval is Clopper and Pearson's") {
  // 0 of n: the upper limit is 1 − 0.025^(1/n), and n of n mirrors it (from the binomial's definition). 1 of 10 and
  // 5 of 10: tabulated exact binomial limits (Clopper & Pearson 1934; to four digits, from memory).
  const Chance none = conformity::chance_of(0, 64), all = conformity::chance_of(64, 64),
               one = conformity::chance_of(1, 10), half = conformity::chance_of(5, 10);
  CHECK(none.p == 0);
  CHECK(none.low == 0);
  CHECK(none.high == Approx(1 - std::pow(0.025, 1 / 64.0)));
  CHECK(all.low == Approx(std::pow(0.025, 1 / 64.0)));
  CHECK(all.high == 1);
  CHECK(one.low == Approx(0.0025).margin(5e-5));
  CHECK(one.high == Approx(0.4450).margin(5e-5));
  CHECK(half.low == Approx(0.1871).margin(5e-5));
  CHECK(half.high == Approx(0.8129).margin(5e-5));
  CHECK(conformity::chance_of(0, 0).draws == 0);
}

TEST_CASE("Draws that count alike give the plain interval, others a wider one") {
  std::vector<char> hit(20, 0);
  for (int k = 0; k < 5; ++k) hit[k] = 1;
  const Chance plain = conformity::chance_of(5, 20),
               same = conformity::weighted_chance(hit, std::vector<double>(20, 3.0));
  CHECK(same.p == Approx(plain.p));
  CHECK(same.low == Approx(plain.low));
  CHECK(same.high == Approx(plain.high));
  CHECK(same.hits == 5);
  CHECK(same.draws == 20);
  // The hits count three times, the others one third: p = 15/20, worth 20²/(5·9 + 15/9) = 8.57 draws.
  std::vector<double> weight(20, 1.0 / 3);
  for (int k = 0; k < 5; ++k) weight[k] = 3;
  const Chance heavy = conformity::weighted_chance(hit, weight), few = conformity::chance_of(6, 8),
               more = conformity::chance_of(7, 9);
  CHECK(heavy.p == Approx(0.75));
  CHECK(heavy.high - heavy.low < few.high - few.low);
  CHECK(heavy.high - heavy.low > more.high - more.low - 0.03);
}
