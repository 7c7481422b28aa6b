// Hose, weight of the resin, a pump with a greatest rate, vents closed by hand: against closed forms.
#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

constexpr double kPhi = 0.83, kMu = 0.2, kK = 1e-3, kDp = 1e5, kH = 3, kLength = 500, kWidth = 60;

Sheet lane(int n = 100) { return strip(n, 6, kLength, kWidth); }
FlowOptions lane_options() { return options({{0, 0, 0}, {0, kWidth, 0}}, {{kLength, 0, 0}, {kLength, kWidth, 0}}); }

// Greatest difference of the arrivals from t(x), as a share of t at the far edge; the last row of cells, where the
// front ends, is the mesh's matter.
double off(const Sheet& s, const Filling& f, const std::function<double(double)>& t) {
  double most = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    most = std::max(most, std::abs(f.arrival[i] - t(s.mesh.points[i].x())) / t(kLength));
  return most;
}

}  // namespace

TEST_CASE("A straight front behind a hose follows the closed form") {
  // Hagen–Poiseuille: Δp = R µ Q, R = 128 L/(π d⁴). With Q = φ h w ẋ and Q µ (x/(K h w) + R) = Δp:
  // t = φ µ/Δp · (x²/(2 K) + R h w x).
  const Sheet s = lane();
  auto o = lane_options();
  o.supply.hose_length = 4000, o.supply.hose_bore = 8, o.supply.gauge_at_pump = true;
  const double r = 128 * 4000 / (M_PI * 4096);
  CHECK(o.supply.resistance() == Approx(r));
  const auto exact = [&](double x) { return kPhi * kMu / kDp * (x * x / (2 * kK) + r * kH * kWidth * x); };
  const auto f = flow::fill(s, uniform(s), o);
  const double worst = off(s, f, exact);
  WARN("behind a hose: worst node off by " << 100 * worst << " %; it takes " << exact(kLength) << " s, without "
                                           << kPhi * kMu * kLength * kLength / (2 * kK * kDp) << " s");
  CHECK(worst < 0.01);
  CHECK(f.injected == Approx(f.resin).epsilon(1e-9));
  for (const auto& h : f.history) CHECK(h.gauge_pressure == Approx(kDp).epsilon(1e-6));
  // At a share z of the length the inlet has x/(x + R K h w) of the pressure.
  const auto& h = f.history[f.history.size() / 2];
  const double x = h.filled * kLength;
  CHECK(h.inlet_pressure == Approx(kDp * x / (x + r * kK * kH * kWidth)).epsilon(0.02));
}

TEST_CASE("With the gauge at the inlet a hose changes nothing but what the pump has to bring") {
  const Sheet s = lane(50);
  auto o = lane_options();
  const auto plain = flow::fill(s, uniform(s), o);
  o.supply.hose_length = 4000, o.supply.hose_bore = 8, o.supply.pump_above = -1000;
  const auto f = flow::fill(s, uniform(s), o);
  CHECK(f.arrival == plain.arrival);
  // At the first step the rate is greatest: loss R µ Q; a metre of resin of 1.1 g/cm³ is 10 787 Pa.
  double rate = 0;
  for (const auto& h : f.history) rate = std::max(rate, h.rate);
  CHECK(f.supply.hose_peak == Approx(o.supply.resistance() * kMu * rate).epsilon(1e-9));
  CHECK(f.supply.pump_peak == Approx(kDp + f.supply.hose_peak + 1.1e-3 * 9806.65 * 1000).epsilon(1e-6));
}

TEST_CASE("At a set rate the limit at the pump is met when hose and sheet together resist as much") {
  // Eq. 5 with the hose: p = µ Q (x/(K h w) + R). With Q = 400 mm³/s it stands at the limit from
  // x = K h w (Δp/(µ Q) − R) on.
  const Sheet s = lane(200);
  auto o = lane_options();
  o.supply.hose_length = 1000, o.supply.hose_bore = 10, o.supply.gauge_at_pump = true;
  o.schedule = {{0, 400}};
  const double at = kK * kH * kWidth * (kDp / (kMu * 400) - o.supply.resistance());
  REQUIRE(at > 50);
  REQUIRE(at < 450);
  const auto f = flow::fill(s, uniform(s), o);
  double until = 0;
  for (const auto& h : f.history)
    if (h.gauge_pressure < 0.999 * kDp) until = h.filled * kLength;
  CHECK(until == Approx(at).epsilon(0.02));
}

TEST_CASE("A pump that goes no faster than its greatest rate delivers that") {
  const Sheet s = lane(50);
  auto o = lane_options();
  o.supply.max_rate = 500;
  const auto f = flow::fill(s, uniform(s), o);
  o.supply.max_rate = 0, o.schedule = {{0, 500}};
  CHECK(f.arrival == flow::fill(s, uniform(s), o).arrival);
  o.supply.max_rate = 400;
  CHECK_THROWS_WITH(flow::fill(s, uniform(s), o), Catch::Contains("above the pump's greatest"));
}

TEST_CASE("A front that climbs or falls under its weight follows the closed form") {
  // ẋ = K/(φ µ) · (Δp/x ∓ ρ g) with x along the wall. Upwards, a = ρ g/Δp: t = φ µ/(K ρ g) · (−x − ln(1 − a x)/a);
  // downwards with −a. A heavy fluid (6 g/cm³) makes it a matter of 29 % over half a metre.
  const Sheet s = lane();
  auto o = lane_options();
  o.gravity.density = 6e-3;
  for (const double up : {1.0, -1.0}) {
    o.gravity.down = Vec3(-up, 0, 0);
    const double g = up * 6e-3 * 9806.65, a = g / kDp;
    const auto exact = [&](double x) { return kPhi * kMu / (kK * g) * (-x - std::log(1 - a * x) / a); };
    const auto f = flow::fill(s, uniform(s), o);
    const double worst = off(s, f, exact);
    WARN((up > 0 ? "upwards" : "downwards") << ": worst node off by " << 100 * worst << " %; it takes "
                                            << exact(kLength) << " s, lying flat " << 207.5 << " s");
    CHECK(worst < 0.01);
    CHECK(f.injected == Approx(f.resin).epsilon(1e-9));
    CHECK(flow::settled(f));
  }
}

TEST_CASE("Resin rises no higher than its pressure carries it") {
  // Δp = ρ g x: with 0.2 bar and 6 g/cm³ at 340 mm.
  const Sheet s = lane(50);
  auto o = lane_options();
  o.gravity.density = 6e-3, o.gravity.down = -Vec3::UnitX();
  const auto at = [&](double pressure) {
    o.pressure_limit = pressure;
    const double top = pressure / (6e-3 * 9806.65);
    Filling f = flow::fill(s, uniform(s), o);
    double most = 0, least = kLength;
    for (std::size_t i = 0; i < s.size(); ++i) {
      const double x = s.mesh.points[i].x();
      if (std::isfinite(f.arrival[i]))
        most = std::max(most, x);
      else
        least = std::min(least, x);
    }
    INFO("up to " << most << " mm, dry from " << least << " mm; " << top << " mm by the column");
    CHECK(std::abs(most - top) < 10.1);  // a row of cells
    CHECK(least > top - 10.1);
    return f;
  };
  for (double pressure = 6e3; pressure < 2.8e4; pressure += 1e3) at(pressure);
  const Filling f = at(2e4);
  CHECK(f.injected == Approx(f.resin).epsilon(1e-9));
}

TEST_CASE("Level, its weight changes nothing") {
  const Sheet s = lane(50);
  auto o = lane_options();
  const auto plain = flow::fill(s, uniform(s), o);
  o.gravity.down = -Vec3::UnitZ();
  const auto f = flow::fill(s, uniform(s), o);
  for (std::size_t i = 0; i < s.size(); ++i) CHECK(f.arrival[i] == Approx(plain.arrival[i]).epsilon(1e-3).margin(0.05));
}

TEST_CASE("A vent closed by hand shuts in what air is left") {
  // Boyle: closed when the front stands at x, the air is pressed from p_v to p_v + Δp: (L − x)·p_v/(p_v + Δp) is left.
  const Sheet s = lane(100);
  auto o = lane_options();
  const double at = kPhi * kMu * 300 * 300 / (2 * kK * kDp);  // x = 300 mm, eq. 2
  o.vents[0].blocked_from = at;
  const auto f = flow::fill(s, uniform(s), o);
  REQUIRE(f.pockets.size() == 1);
  CHECK(f.pockets[0].closed_at == Approx(at).epsilon(0.02));
  CHECK(f.pockets[0].area == Approx((kLength - 300) * kWidth * atmosphere_pa / (atmosphere_pa + kDp)).epsilon(0.02));
}

TEST_CASE("The stack below an open channel is wet through when the pressure integral since the front has soaked it") {
  // Behind a straight front at constant pressure p = Δp (1 − x/x_f), x_f² ~ t, so that ∫ p dt/µ since it passed x at
  // t_x is Δp/µ · (√t − √t_x)². Soaking down from the channel: z² = 2 K_z/φ · ∫ p dt/µ; through at z = loft.
  const Sheet s = lane(100);
  auto o = lane_options();
  o.wet_out.through = 0.002;
  NodeLaminate n = state(kK, 2.5, 0.83);  // 2.5 mm of glass
  n.loft = 2.5, n.channel = 0.5;
  n.conductance += std::pow(0.5, 3) / 12, n.conductance2 = n.conductance, n.fluid_thickness += 0.5;
  const auto f = flow::fill(s, uniform(s, n), o);
  const double soak = kPhi * 2.5 * 2.5 / (2 * 0.002 * kK), root = std::sqrt(kMu * soak / kDp);
  const double end = n.fluid_thickness * kMu * kLength * kLength / (2 * n.conductance * kDp);
  const auto arrival = [&](double x) { return end * x * x / (kLength * kLength); };
  REQUIRE(f.wet_through.size() == s.size());
  double worst = 0, dry = 0, most = 0;
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double came = arrival(s.mesh.points[i].x()), through = std::pow(std::sqrt(came) + root, 2);
    if (through < 0.97 * end) worst = std::max(worst, std::abs(f.wet_through[i] - through) / end);
    if (through > 1.03 * end && s.mesh.points[i].x() < kLength - 5.1) {  // the front ends in the last row of cells
      CHECK(std::isinf(f.wet_through[i]));
      // So far down: z/h = (√t_end − √t_x)/root.
      const double left = 1 - (std::sqrt(end) - std::sqrt(came)) / root;
      dry = std::max(dry, std::abs(f.dry_below[i] - left)), most = std::max(most, left);
    }
  }
  WARN("soaking: times off by " << 100 * worst << " % of the fill time, dry share by " << dry << " of up to " << most);
  CHECK(worst < 0.01);
  CHECK(dry < 0.02);
  CHECK(f.supply.soak_dry > 0);
  CHECK(f.supply.soak_time > 0);
  // Without the question there is no answer, and the same front.
  o.wet_out.through = 0;
  const auto plain = flow::fill(s, uniform(s, n), o);
  CHECK(plain.arrival == f.arrival);
  CHECK(plain.wet_through.empty());
  CHECK_FALSE(plain.supply.on);
}

TEST_CASE("What runs in a channel along a radius does not help the glass beside it to get wet") {
  // The glass soaks by its own permeability; the same glass with a channel beside it, at the same pressure integral,
  // takes as long.
  const Sheet s = lane(50);
  auto o = lane_options();
  o.wet_out.through = 0.002;
  NodeLaminate n = state(kK, 2.5, 0.83);
  n.loft = 2.5, n.channel = 0.5, n.conductance += std::pow(0.5, 3) / 12, n.conductance2 = n.conductance;
  n.fluid_thickness += 0.5;
  auto lam = uniform(s, n);
  const auto plain = flow::fill(s, lam, o);
  // Beside the way of the front and not along it, so that the front is the same.
  for (auto& node : lam.nodes) {
    node.direction = Vec3::UnitY(), node.beside = 5 * node.conductance, node.conductance += node.beside;
  }
  const auto f = flow::fill(s, lam, o);
  double most = 0;
  int through = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    if (std::isfinite(plain.wet_through[i]))
      ++through, most = std::max(most, std::abs(f.wet_through[i] - plain.wet_through[i]));
  CHECK(through > 100);
  CHECK(most < 1e-3 * plain.fill_time);
}

TEST_CASE("The greatest pressure at a pump that never reaches the atmosphere's is told as it is") {
  // Eq. 5: at a constant rate p = µ Q x/(K h w) over the vents' pressure. Fast to 40 %, then at a fifth of that: the
  // greatest pressure is that of the fast part's end, and stays below atmosphere (at the end it is less).
  const Sheet s = lane(100);
  auto o = lane_options();
  o.cavity_pressure = 1e4, o.pressure_limit = -1e4;
  const double volume = kPhi * kH * kWidth * kLength;
  o.schedule = {{0, 300}, {0.4 * volume, 60}};
  o.supply.hose_length = 1, o.supply.hose_bore = 100;  // asked for, and without a resistance worth the name
  const auto f = flow::fill(s, uniform(s), o);
  double most = -1e9;
  for (const auto& h : f.history) most = std::max(most, h.inlet_pressure);
  REQUIRE(most < 0);
  REQUIRE(f.history.back().inlet_pressure < most - 1e4);
  CHECK(f.supply.pump_peak == Approx(most).epsilon(1e-6));
}

TEST_CASE("A runner whose section changes evenly along the rim fills as its resistance adds up") {
  // Sheet almost without permeability beside it: the runner fills by itself from its feed, both ways round. Between the
  // sections the square duct's side falls evenly, a(s); κ = 0.4217 a⁴/12 (White, Viscous
  // Fluid Flow: 0.0351 a⁴; from memory), volume a² ds:
  // t = µ/Δp ∫ a² R ds, R(s) = ∫₀ˢ ds'/κ.
  const Sheet s = strip(60, 60, 300, 300);
  auto o = options({}, {{150, 150, 0}});
  o.inlets = {{"runner", true, {{0, 0, 0}}, 1e-6, 0, 0, {{{0, 0, 0}, 10, 10}, {{300, 300, 0}, 6, 6}}}};
  NodeLaminate n = state(1e-6, 1e-3, 0.5);
  const auto f = flow::fill_watched(s, uniform(s, n),
                                    [&] {
                                      auto short_of = o;
                                      short_of.ageing.gel = 0.6;  // the sheet beside it would take for ever
                                      return short_of;
                                    }(),
                                    {});
  double r = 0, t = 0;
  int seen = 0;
  const double step = 0.5;
  for (double at = 0.5 * step; at < 600; at += step) {
    const double a = 10 - 4 * at / 600;
    r += 0.5 * step / (0.4217 * std::pow(a, 4) / 12);
    t += kMu / 1e5 * a * a * r * step;
    r += 0.5 * step / (0.4217 * std::pow(a, 4) / 12);
    if (std::abs(std::remainder(at + 0.5 * step, 100)) > 1e-6 || t > 0.5) continue;
    const Vec3 place = at < 300 ? Vec3(at + 0.5 * step, 0, 0) : Vec3(300, at + 0.5 * step - 300, 0);
    for (std::size_t i = 0; i < s.size(); ++i)
      if ((s.mesh.points[i] - place).norm() < 1e-6) {
        INFO("after " << at << " mm: " << f.arrival[i] << " s, " << t << " s by the integral");
        CHECK(std::abs(f.arrival[i] - t) < 0.02 * 0.5);
        ++seen;
      }
  }
  CHECK(seen >= 3);
}

TEST_CASE("Resin that runs down faster than the pump brings it is told of, and none that does not") {
  // Downwards at a rate: weight alone drives K ρ g/µ · h w = 1e-3·58.8/0.2·180 = 53 mm³/s through the lane. At 20 mm³/s
  // the column hangs, at 200 it is pressed.
  const Sheet s = lane(50);
  auto o = lane_options();
  o.gravity.density = 6e-3, o.gravity.down = Vec3::UnitX();
  o.schedule = {{0, 20}};
  CHECK(flow::fill(s, uniform(s), o).supply.runs_down);
  o.schedule = {{0, 200}};
  CHECK_FALSE(flow::fill(s, uniform(s), o).supply.runs_down);
}
