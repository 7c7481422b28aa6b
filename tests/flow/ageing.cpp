// Resin that thickens as it ages: closed forms.
#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

constexpr double kOldPhi = 0.83, kFresh = 0.2, kPerm = 1e-3, kPush = 1e5, kFar = 500;

FlowOptions ageing_options() { return options({{0, 0, 0}, {0, 60, 0}}, {{kFar, 0, 0}, {kFar, 60, 0}}); }

}  // namespace

TEST_CASE("The rise by pot life and gel time has doubled at the one and ends at the other") {
  const ResinAge a = flow::rise_to_gel(900, 1500);
  // (1 − 0.6)^−n = 2: n = ln 2/ln 2.5.
  const double n = std::log(2.0) / std::log(2.5);
  CHECK(a.factor(0) == Approx(1));
  CHECK(a.factor(900) == Approx(2).epsilon(1e-3));
  CHECK(std::isinf(a.factor(1500)));
  double worst = 0;
  for (double t = 0; t < 1490; t += 7) worst = std::max(worst, std::abs(a.factor(t) / std::pow(1 - t / 1500, -n) - 1));
  CHECK(worst < 1.01e-3);
  CHECK_THROWS_WITH(flow::rise_to_gel(900, 900), Catch::Contains("shorter than the gel time"));
}

TEST_CASE("A front of ageing resin stands where the integral of pressure over viscosity says") {
  // x² = 2 K/φ · ∫ Δp/µ dt. With µ = µ₀ (1 − t/T)^−n: ∫ = Δp T/((n + 1) µ₀) · (1 − (1 − t/T)^(n+1)), so
  // t(x) = T · (1 − (1 − (n + 1) φ µ₀ x²/(2 K Δp T))^(1/(n+1))).
  const Sheet s = strip(100, 6, kFar, 60);
  auto o = ageing_options();
  o.ageing = flow::rise_to_gel(200, 400);  // n = 1
  const auto exact = [&](double x) {
    return 400 * (1 - std::sqrt(1 - 2 * kOldPhi * kFresh * x * x / (2 * kPerm * kPush * 400)));
  };
  REQUIRE(std::isnan(exact(kFar)));  // 207.5 s of fresh resin; there are 200
  const auto f = flow::fill(s, uniform(s), o);
  double worst = 0, reached = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double x = s.mesh.points[i].x();
    if (std::isfinite(f.arrival[i])) reached = std::max(reached, x);
    // Beside the end the front hardly moves, and its time is ill defined.
    if (x < 0.9 * kFar) worst = std::max(worst, std::abs(f.arrival[i] - exact(x)) / 400);
  }
  WARN("ageing: worst node off by " << 100 * worst << " % of the gel time");
  CHECK(worst < 0.01);
  // It stops at x = sqrt(2 K Δp · 200 s/(φ µ₀)) = 490.9 mm.
  const double end = std::sqrt(2 * kPerm * kPush * 200 / (kOldPhi * kFresh));
  CHECK(f.supply.gelled_at == Approx(400));
  CHECK(f.supply.left_dry == Approx((kFar - end) * 60).epsilon(0.1));
  CHECK(flow::dry_area(f) > 0);
  CHECK(f.injected == Approx(f.resin).epsilon(1e-9));
  CHECK(std::abs(f.injected - end * 60 * 3 * kOldPhi) < 0.005 * f.injected);
  CHECK(f.warnings.size() == 1);
}

TEST_CASE("A mold is full in time unless its front stops as the resin gels, or would run on past that") {
  const Sheet s = strip(50, 4, kFar, 60);
  const auto in_time = [&](const FlowOptions& o) { return flow::in_time(flow::fill(s, uniform(s), o), o); };
  auto o = ageing_options();  // 207.5 s at constant viscosity
  CHECK(in_time(o));
  o.gel_time = 200;
  CHECK_FALSE(in_time(o));
  o.gel_time = 220;
  CHECK(in_time(o));
  o.gel_time = 400, o.ageing = flow::rise_to_gel(200, 400);  // stops at 490.9 mm, see above
  CHECK(flow::fill(s, uniform(s), o).fill_time < o.gel_time);
  CHECK_FALSE(in_time(o));
  o.gel_time = 4000, o.ageing = flow::rise_to_gel(2000, 4000);
  CHECK(in_time(o));
}

TEST_CASE("What still creeps into shut-in air as the resin gels makes no fill late: that is a matter of the vents") {
  const Sheet s = strip(50, 4, kFar, 60);
  // The vent across the middle is passed after 51.9 s at constant viscosity, and the far half is shut in then.
  FlowOptions o = options({{0, 0, 0}, {0, 60, 0}}, {{kFar / 2, 0, 0}, {kFar / 2, 60, 0}});
  const Filling whole = flow::fill(s, uniform(s), o);
  REQUIRE(whole.pockets.size() == 1);
  REQUIRE(whole.fill_time > 70);
  for (const double gel : {60.0, 45.0}) {  // after the vent is passed, and before
    o.gel_time = gel, o.ageing = {};
    CHECK(flow::in_time(flow::fill(s, uniform(s), o), o) == (gel > 52));
    o.ageing.rise = {{0, 1}, {gel, 1}}, o.ageing.gel = gel;  // as thin as fresh until then
    const Filling f = flow::fill(s, uniform(s), o);
    CHECK(std::isfinite(f.supply.gelled_at));
    CHECK(flow::in_time(f, o) == (gel > 52));
  }
}

TEST_CASE("Resin that has stood before it enters is as thick as its age") {
  // A table, straight in the logarithm: µ = 0.2 · 4^(t/600). ∫ dt/µ from a on over t: (1 − e^(−k t)) e^(−k a)/(k µ₀).
  const Sheet s = strip(60, 6, kFar, 60);
  auto o = ageing_options();
  o.ageing.rise = {{0, 1}, {600, 4}};
  o.ageing.start = 120;
  const double k = std::log(4.0) / 600, thick = kFresh * std::exp(120 * k);
  const auto exact = [&](double x) { return -std::log(1 - k * kOldPhi * thick * x * x / (2 * kPerm * kPush)) / k; };
  const auto f = flow::fill(s, uniform(s), o);
  double worst = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    worst = std::max(worst, std::abs(f.arrival[i] - exact(s.mesh.points[i].x())) / exact(kFar));
  CHECK(worst < 0.01);
  CHECK(f.supply.thickest == Approx(o.ageing.factor(120 + f.fill_time)).epsilon(1e-3));
  CHECK_FALSE(std::isfinite(f.supply.gelled_at));
}

TEST_CASE("Refuses resin that has gelled before it enters, and ages out of order") {
  const Sheet s = strip(4, 4, kFar, 60);
  auto o = ageing_options();
  o.ageing.gel = 300, o.ageing.start = 300;
  CHECK_THROWS_WITH(flow::fill(s, uniform(s), o), Catch::Contains("gelled before it enters"));
  o.ageing = {};
  o.ageing.rise = {{10, 1}, {10, 2}};
  CHECK_THROWS_WITH(flow::fill(s, uniform(s), o), Catch::Contains("must rise"));
}
