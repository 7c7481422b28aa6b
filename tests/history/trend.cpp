// The line through few inspections, and the cycles left.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "gapfront/recheck.hpp"
#include "history/wear_end.hpp"

using namespace gapfront;

namespace {

struct Coverage {
  double rate = 0, left = 0;
};

/// 4000 histories at 0, 1500, 3000 and 4200 cycles; gap 3 mm growing by 0.1 mm per 1000 cycles, u = 6 µm, known.
Coverage coverage(double u_common) {
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal;
  const double rate = 1e-4, u = 0.006, limit = 3.6, truth = (limit - 3) / rate;
  const int histories = 4000;
  Coverage c;
  for (int k = 0; k < histories; ++k) {
    const double shared = u_common * normal(random);
    std::vector<TrendPoint> points;
    for (const double x : {0.0, 1500.0, 3000.0, 4200.0})
      points.push_back({x, 3 + rate * x + shared + u * normal(random), u});
    const Line line = history::fit_line(points);
    c.rate += std::abs(line.rate - rate) <= line.t * line.u_rate;
    const auto when = history::crossing(line, limit, u_common);
    c.left += when[1] <= truth && truth <= when[2];
  }
  return {c.rate / histories, c.left / histories};
}

}  // namespace

TEST_CASE("Rate and crossing intervals hold the truth in 93 of 100 histories at the least") {
  for (const double common : {0.0, 0.015}) {
    const Coverage c = coverage(common);
    CAPTURE(common, c.rate, c.left);
    CHECK(c.rate >= 0.93);
    CHECK(c.left >= 0.93);
  }
}

TEST_CASE("A line that may be level has no upper bound on the crossing") {
  // Rate 0.001 mm over 1000 cycles against u = 0.01 mm: nothing is known about the slope.
  const Line line = history::fit_line({{0, 3, 0.01}, {500, 3.0005, 0.01}, {1000, 3.001, 0.01}});
  CHECK(std::isinf(history::crossing(line, 3.3, 0)[2]));
}

TEST_CASE("A level line near its limit may have reached it already") {
  // At the first point the value is 0.005 mm below the limit with u = 0.01 mm: no bound on either side.
  const auto when =
      history::crossing(history::fit_line({{0, 3.295, 0.01}, {500, 3.295, 0.01}, {1000, 3.296, 0.01}}), 3.3, 0);
  CHECK(when[1] < 0);
  CHECK(std::isinf(when[2]));
}

TEST_CASE("Exact points on a line give back the line and where it crosses") {
  const Line line = history::fit_line({{0, 3, 0.001}, {1000, 3.1, 0.001}, {3000, 3.3, 0.001}});
  CHECK(line.rate == Approx(1e-4));
  CHECK(line.at_first == Approx(3));
  CHECK(history::crossing(line, 3.6, 0)[0] == Approx(6000));
}

TEST_CASE("Dates go to days and back, and what is no date is refused") {
  CHECK(day_number("1970-01-02") == 1);
  CHECK(date_text(*day_number("2026-05-20")) == "2026-05-20");
  CHECK_FALSE(day_number("2026-02-30"));
  CHECK_FALSE(day_number("20.5.2026"));
}

TEST_CASE(
    "The cycles of the fastest pace are not more than the true ones in 95 of 100 histories, and not needlessly few") {
  // Wear of 0.26 mm of 0.30 mm, the last 0.21 mm in 300 cycles: 57.1 cycles are left. Of the newest gap the noise of
  // its fits is in the pace too, and `common` is not.
  const double truth = 0.04 / (0.21 / 300);
  std::mt19937_64 random(1);
  std::normal_distribution<double> normal;
  for (const double u : {0.003, 0.006, 0.008})
    for (const double common : {0.0, 0.004, 0.008}) {
      const int histories = 4000;
      int held = 0;
      double sum = 0;
      for (int k = 0; k < histories; ++k) {
        std::vector<TrendPoint> points;
        for (const auto& [cycles, wear] :
             {std::pair(0.0, 0.0), std::pair(300.0, 0.01), std::pair(600.0, 0.05), std::pair(900.0, 0.26)})
          points.push_back({cycles, wear + u * normal(random), u});
        const double room = 0.3 - (points.back().value + common * normal(random));
        const double told = history::soonest_of(points, room, std::hypot(u, common), 1);
        held += told <= truth, sum += told / histories;
      }
      INFO("u " << u << ", common " << common << ": holds in " << double(held) / histories << ", mean " << sum);
      CHECK(held >= 0.95 * histories);
      CHECK(sum > truth * std::max(0.0, 1 - 2.5 * std::hypot(u, common) / 0.04 - 2.5 * u / 0.21));
    }
}
