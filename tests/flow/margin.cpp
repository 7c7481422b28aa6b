// What holds the mold shut against what pushes it open, against balances worked by hand.
#include <algorithm>
#include <catch2/catch.hpp>

#include "flow/half.hpp"
#include "flow/margin.hpp"
#include "gapfront/error.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

constexpr double newton = 1e6;  // Pa·mm²

// One ply of 0.6 mm solid glass with Vf = a·P^0.25 and 3.2 mm loft: at 3 mm nothing worth the name, at 2 mm (Vf 0.3)
// P = (0.3/a)⁴, which a makes 20 kPa.
LaminateOptions reinforcement() {
  LaminateOptions o;
  Reinforcement g;
  g.name = "test", g.source = {Message("test.free", {arg::name("test")})};
  g.areal_weight = 2.55e-3 * 0.6, g.density = 2.55e-3, g.loft = 3.2;
  g.permeability = {PermeabilityLaw::Kind::power, 1e-5, 3, {}, 1, 0};
  g.compaction = {CompactionLaw::Kind::power, 0.3 / std::pow(2e4, 0.25), 0.25, {}};
  o.plies = {{g, 1, 0}};
  return o;
}

LaminateMap squeezed(const Sheet& s, double compaction) {
  auto m = uniform(s);
  for (auto& n : m.nodes) n.compaction = compaction;
  return m;
}

FlowOptions edge_to_edge() {
  auto o = options({{0, 0, 0}, {0, 100, 0}}, {{500, 0, 0}, {500, 100, 0}});
  o.rate_setting = 0;  // these molds hold 0.1 L: what a pump is set to has a test of its own
  return o;
}

}  // namespace

TEST_CASE("The vacuum closes only where resin has not come") {
  // 500 × 100 mm = 0.05 m². Atmosphere 101 325 Pa, cavity 51 325 Pa absolute, glass 10 kPa everywhere, clamps 1000 N.
  // Dry: closes 0.05·50 000 + 1000 = 3500 N, opens 0.05·10 000 = 500 N. Half of it wet at 20 kPa above atmosphere:
  // closes 0.025·50 000 + 1000 = 2250 N, opens 0.025·20 000 + 500 = 1000 N; local margin there −20 − 10 = −30 kPa,
  // whatever the vacuum was. Nodes on the border belong to half a cell, so nodes are taken by cells that do not share.
  const Sheet s = strip(20, 4, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325;
  o.closing.force = 1000 * newton;
  const flow::OpeningWatch watch(s, squeezed(s, 1e4), o);
  std::vector<double> p(s.size(), 51325);
  const auto dry = watch.balance(0, p);
  CHECK(dry.closing == Approx(3500 * newton));
  CHECK(dry.opening == Approx(500 * newton));
  CHECK(dry.minimum == Approx(50000 - 10000));
  double wet = 0;
  for (std::size_t i = 0; i < s.size(); ++i)
    if (s.mesh.points[i].x() < 245) p[i] = atmosphere_pa + 2e4, wet += s.area[i];
  const auto half = watch.balance(1, p);
  CHECK(half.closing / newton == Approx((0.05 - wet / 1e6) * 50000 + 1000));
  CHECK(half.opening / newton == Approx(wet / 1e6 * 20000 + 500));
  CHECK(half.minimum == Approx(-30000));
  CHECK(half.margin() == Approx(half.closing - half.opening));
}

TEST_CASE("Pressure, clamps and a perimeter channel add up along the opening axis") {
  // A roof of two slopes at 45°: its mean normal is vertical, and each half is seen at cos 45°. 0.2 bar spread over the
  // face, and a channel 50 mm wide at 80 kPa below atmosphere around the rim of 2·(200 + 2·100) mm.
  const Sheet flat = strip(20, 20, 200, 200);
  Mesh m = flat.mesh;
  for (auto& p : m.points) {
    const double x = p.x() - 100;
    p = Vec3(x * std::sqrt(0.5), p.y(), -std::abs(x) * std::sqrt(0.5));
  }
  Sheet s = finish(m);
  for (std::size_t i = 0; i < s.size(); ++i) {
    const double x = s.mesh.points[i].x();
    s.normals[i] = Vec3(x < -1e-6 ? -1 : x > 1e-6 ? 1 : 0, 0, 1).normalized();
  }
  CHECK(flow::opening_axis(s).dot(Vec3::UnitZ()) == Approx(1));
  auto o = edge_to_edge();
  o.closing.pressure = 2e4;
  o.closing.perimeter_vacuum = 8e4, o.closing.perimeter_width = 50;
  const flow::OpeningWatch watch(s, squeezed(s, 0), o);
  const auto b = watch.balance(0, std::vector<double>(s.size(), atmosphere_pa));
  // The ridge's own nodes look straight up: their share (one cell in 20) is seen in full.
  const double seen = 200 * 200 * (19.0 / 20 * std::sqrt(0.5) + 1.0 / 20);
  CHECK(b.closing == Approx(2e4 * seen + 8e4 * 50 * 800));
  CHECK(b.opening == 0);
  CHECK(std::isinf(b.safety()));
}

TEST_CASE("The margin of a fill is least at its end, at the inlet, and worse if the pump runs on") {
  // Constant pressure of 20 kPa above atmosphere on a strip: p falls in a straight line behind the front, from
  // atmosphere + 20 kPa to 51 325 Pa. Local margin at the inlet −20 − 10 kPa from the first moment. With the front at
  // 0.9 L (t = 0.81 T, eq. 2: T = 0.83·0.2·500²/(2·1e-3·70e3) = 296.4 s), p crosses atmosphere at 20/70 of that: opens
  // 0.045·(20/70)·10 kPa mean + 0.05·10 kPa = 628.6 N; closes 0.045·(50/70)·25 kPa mean + 0.005·50 kPa = 1053.6 N. With
  // the pump on when all is full, all is at the inlet's pressure: opens 0.05·30 kPa = 1500 N.
  const Sheet s = strip(50, 4, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325, o.pressure_limit = 2e4;
  const auto f = flow::fill(s, squeezed(s, 1e4), o);
  const auto& k = f.opening;
  CHECK(k.place.minimum == Approx(-30000).epsilon(1e-6));
  CHECK(s.mesh.points[k.place.node].x() == 0);
  const auto at = std::min_element(k.history.begin(), k.history.end(), [](const auto& a, const auto& b) {
    return std::abs(a.time - 0.81 * 296.4) < std::abs(b.time - 0.81 * 296.4);
  });
  CHECK(at->opening / newton == Approx(628.6).epsilon(0.01));
  CHECK(at->closing / newton == Approx(1053.6).epsilon(0.02));
  CHECK(k.force.time > 0.9 * f.fill_time);
  CHECK(k.force.margin() < at->margin());
  CHECK(k.held.opening / newton == Approx(1500).epsilon(1e-6));
  CHECK(k.held.closing == 0);
  CHECK(k.dry.margin() / newton == Approx(2500 - 500));
  // Mean over the fill, by the area taken: with the front at x, p at the middle is 70·(1 − 0.5/x) kPa above the cavity,
  // from x = 0.5 on; ∫ dx over 0.5…1 = 70·(0.5 − 0.5 ln 2) = 10.74 kPa.
  CHECK(k.mean_pressure[2 * 51 + 25] - 51325 == Approx(10740).epsilon(0.03));
  CHECK(k.minimum[0] == Approx(-30000).epsilon(1e-6));
  CHECK(k.history.size() <= 400);
}

TEST_CASE("The force that opens a mold as its last vent closes is that of the closed form on any mesh") {
  // A disc fed all around its rim at a constant rate Q, its vent in the middle, and cavity and atmosphere at one
  // pressure. With the area a still to come p(r) = Q·µ/(4π·T) · ln(π·r²/a), T = K·h, so that over the disc of area A
  // F = Q·µ/(4π·T) · (A·ln(A/a) − A + a): without bound as a goes to nothing. What counts is a = A/500.
  constexpr double rate = 5e3, area = M_PI * 300 * 300, a = area / 500;
  const double force = rate * 0.2 / (4 * M_PI * 3e-3) * (area * std::log(area / a) - area + a);
  for (const int rings : {30, 37, 45, 60}) {
    const Sheet s = disc(rings, 300);
    auto o = options({}, {{0, 0, 0}});
    o.inlets = {{"perimeter", true, {}, 0}};
    o.schedule = {{0, rate}}, o.pressure_limit = 1e9;
    const auto f = flow::fill(s, uniform(s), o);
    CHECK(f.opening.force.opening == Approx(force).epsilon(0.03));
    CHECK(f.opening.force.time == Approx(f.fill_time).epsilon(0.005));
  }
}

TEST_CASE("A mold that cannot close on its glass says by how much and where") {
  // 2 mm everywhere: 20 kPa over 0.05 m² = 1000 N, against 15 kPa of vacuum = 750 N. It stands off until Vf^4 has
  // fallen by 3/4: h = 2·(4/3)^(1/4) = 2.149 mm.
  const Sheet s = strip(20, 4, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = atmosphere_pa - 15e3;
  auto g = reinforcement();
  g.clamping_pressure = 15e3;
  const auto c = flow::close_mold(s, std::vector<double>(s.size(), 2), g, o);
  CHECK_FALSE(c.closes());
  CHECK(c.reinforcement / newton == Approx(1000).epsilon(1e-6));
  CHECK(c.closing / newton == Approx(750).epsilon(1e-6));
  CHECK(c.stands_open == Approx(2 * std::pow(4 / 3.0, 0.25) - 2).margin(2e-4));
  // A tight end only: it closes, and the region is named.
  std::vector<double> gap(s.size(), 3.3);  // beyond the loft: no push
  for (std::size_t i = 0; i < s.size(); ++i)
    if (s.mesh.points[i].x() > 430) gap[i] = 1.9;
  const auto d = flow::close_mold(s, gap, g, o);
  CHECK(d.closes());
  CHECK(d.stands_open == 0);
  REQUIRE(d.regions.size() == 1);
  CHECK(d.regions[0].centre.x() > 430);
  CHECK(d.regions[0].fraction > 0.9);
}

TEST_CASE("The advised schedule keeps the mold shut with the safety asked for") {
  // A limit of 0.8 bar would open this mold; the opening margin must hold the rate down, and the fill that is run says
  // that it does.
  const Sheet s = strip(50, 6, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325, o.pressure_limit = 8e4;
  o.closing.force = 300 * newton;
  o.closing.safety = 1.5;
  const auto laminate = squeezed(s, 5e3);
  const auto own = flow::fill(s, laminate, o);
  CHECK(own.opening.force.safety() < 1);
  const auto a = flow::advise_process(s, laminate, o, own);
  REQUIRE(a.steps.size() >= 2);
  CHECK(a.steps.size() <= 5);
  CHECK(a.bound_by_opening);
  CHECK(a.own.min_safety == own.opening.force.safety());
  // The advice carried out, to its end: what the report says of it.
  o.schedule = a.steps, o.pressure_limit = a.pressure_limit;
  const auto f = flow::fill(s, laminate, o);
  CHECK(f.fill_time == a.advised.fill_time);
  CHECK(f.opening.force.safety() == a.advised.min_safety);
  CHECK(f.opening.force.safety() > 0.995 * 1.5);
  CHECK(a.advised.peak_pressure < 1.005 * 0.9 * 8e4);
  CHECK(f.fill_time < 1.6 * own.fill_time);
}

TEST_CASE("The advised inlet stays below its share of the limit to the last drop") {
  // Straight, towards a vent in the middle, and in two lanes of which one takes four times the flow: at the end the
  // front closes on the vent, where any rate would take ever more pressure. Clamps enough, so that the inlet's limit
  // binds, and once few, so that the opening does. What that costs: 299 s against 231 s at the full limit straight, 31
  // s against 18 s radially, 161 s against 121 s in two lanes.
  struct Case {
    const char* name;
    Sheet sheet;
    FlowOptions flow;
    double few;
  };
  std::vector<Case> cases{{"straight", strip(40, 4, 500, 100), edge_to_edge(), 1500},
                          {"radial in", disc(16, 200), options({}, {{0, 0, 0}}), 4000},
                          {"two lanes", strip(40, 8, 500, 100), edge_to_edge(), 1500}};
  cases[1].flow.inlets = {{"rim", true, {}, 0}}, cases[1].flow.vents[0].radius = 14;
  cases[1].flow.rate_setting = 0;
  for (auto& c : cases) {
    auto laminate = squeezed(c.sheet, 5e3);
    if (c.name == std::string("two lanes"))
      for (std::size_t i = 0; i < c.sheet.size(); ++i)
        if (c.sheet.mesh.points[i].y() > 70) laminate.nodes[i].conductance = laminate.nodes[i].conductance2 *= 4;
    auto& o = c.flow;
    o.cavity_pressure = 51325, o.pressure_limit = 4e4;
    for (const double force : {1e5, c.few}) {
      o.closing.force = force * newton;
      const auto own = flow::fill(c.sheet, laminate, o);
      const auto a = flow::advise_process(c.sheet, laminate, o, own);
      REQUIRE_FALSE(a.steps.empty());
      CHECK(a.keeps_limits);
      CHECK(a.mode == PumpMode::rates);
      CHECK(a.pressure_limit <= 0.9 * 4e4);
      auto advised = o;
      advised.schedule = a.steps, advised.pressure_limit = a.pressure_limit;
      const auto f = flow::fill(c.sheet, laminate, advised);
      INFO(c.name << " with " << force << " N");
      for (const auto& h : f.history) CHECK(h.inlet_pressure <= 1.005 * 0.9 * 4e4);
      CHECK(*std::max_element(f.peak_pressure.begin(), f.peak_pressure.end()) - atmosphere_pa <= 1.005 * 0.9 * 4e4);
      CHECK(f.opening.force.safety() > 0.995 * o.closing.safety);
      CHECK(f.fill_time == a.advised.fill_time);
      CHECK(f.fill_time < 1.75 * own.fill_time);
    }
  }
}

TEST_CASE("A light half is kept shut at every place when that is asked for") {
  // 30 kPa pressed on from outside, glass 5 kPa, safety 1.25: the inlet may come to 30/1.25 − 5 = 19 kPa above
  // atmosphere.
  const Sheet s = strip(50, 6, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325, o.pressure_limit = 8e4;
  o.closing.pressure = 3e4, o.closing.everywhere = true;
  const auto laminate = squeezed(s, 5e3);
  const auto a = flow::advise_process(s, laminate, o, flow::fill(s, laminate, o));
  REQUIRE_FALSE(a.steps.empty());
  CHECK(a.bound_by_opening);
  o.schedule = a.steps, o.pressure_limit = a.pressure_limit;
  for (const auto& h : flow::fill(s, laminate, o).history) CHECK(h.inlet_pressure < 1.005 * 19000);
}

TEST_CASE("Glass that alone takes up the clamping leaves no schedule") {
  const Sheet s = strip(20, 4, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325;
  const auto laminate = squeezed(s, 6e4);
  const auto a = flow::advise_process(s, laminate, o, flow::fill(s, laminate, o));
  CHECK(a.steps.empty());
  CHECK(a.mode == PumpMode::none);
  // 60 kPa of glass against 50 kPa of vacuum on 0.05 m²: 500 N short, and with the safety 0.05·(1.25·60 − 50) kPa =
  // 1250 N once the resin has come; then no vacuum is left, only 0.05·1.25·(60 kPa + the resin's) closes it.
  CHECK(a.help.reason == OpeningHelp::Reason::reinforcement_alone);
  for (const auto& c : a.help.changes) CHECK(c.kind >= ProcessChange::Kind::clamping);
  REQUIRE_FALSE(a.help.changes.empty());
  CHECK(a.help.changes[0].amount > 0.05 * 1.25 * 60e3 * newton);
}

TEST_CASE("Where nothing holds the mold but the vacuum that the resin takes away, the advice says so") {
  const Sheet s = strip(20, 4, 500, 100);
  const auto o = edge_to_edge();
  const auto a = flow::advise_process(s, uniform(s), o, flow::fill(s, uniform(s), o));
  CHECK(a.steps.empty());
  CHECK(a.mode == PumpMode::none);
}

TEST_CASE("Wet glass pushes with the upper end of its share, dry glass with all of it") {
  // As above: 0.05 m² under 10 kPa of glass opens with 500 N dry; wet glass keeps 50 % ± 10 % (standard), so at the
  // most 60 %: with all of it wet at atmosphere 300 N.
  const Sheet s = strip(20, 4, 500, 100);
  auto o = edge_to_edge();
  o.cavity_pressure = 51325, o.closing.wet_glass = 0.5, o.closing.wet_glass_spread = 0.1;
  const flow::OpeningWatch watch(s, squeezed(s, 1e4), o);
  CHECK(watch.balance(0, std::vector<double>(s.size(), 51325)).opening == Approx(500 * newton));
  CHECK(watch.balance(0, std::vector<double>(s.size(), atmosphere_pa)).opening == Approx(300 * newton));
  // Never more than dry.
  o.closing.wet_glass_spread = 0.8;
  const flow::OpeningWatch loose(s, squeezed(s, 1e4), o);
  CHECK(loose.balance(0, std::vector<double>(s.size(), atmosphere_pa)).opening == Approx(500 * newton));
}

TEST_CASE(
    "In the middle of a half too soft to carry anything wet glass that was squeezed before stands as its law says") {
  // There the glass alone answers: w·P_d (P(h)/P_d)^u = atmosphere + press − fluid. Dry under 50 kPa of vacuum and 10
  // kPa of press: P_d = 60 kPa. Then resin at 20 kPa below atmosphere: with w = 0.5 and u = 3, P(h) =
  // P_d·(30/(0.5·60))^(1/3). P = (Vf/a)⁴ with Vf = 0.6 mm/h: h = 0.6/(a·P^0.25).
  const Sheet s = disc(12, 400);
  auto o = options({}, {{0, 0, 0}});
  o.inlets = {{"rim", true, {}, 0}};
  o.cavity_pressure = atmosphere_pa - 5e4, o.closing.pressure = 1e4;
  StiffZone soft;
  soft.modulus = 1e5, soft.thickness = 0.5;
  o.closing.half = {soft};
  o.closing.wet_glass = 0.5, o.closing.unloading = 3;
  const LaminateOptions laminate = reinforcement();
  const double a = 0.3 / std::pow(2e4, 0.25);
  const auto height = [&](double p) { return 0.6 / (a * std::pow(p, 0.25)); };
  const std::vector<double> gap(s.size(), height(6e4));
  flow::Half half(s, gap, laminate, o);
  std::vector<double> move(s.size(), 0);
  REQUIRE(half.settle(std::vector<double>(s.size(), o.cavity_pressure), move));
  CHECK(std::abs(move[0]) < 0.005);
  half.squeezed(move);
  REQUIRE(half.settle(std::vector<double>(s.size(), atmosphere_pa - 2e4), move));
  CHECK(gap[0] + move[0] == Approx(height(6e4 * std::cbrt(30.0 / 30.0))).margin(0.01));
  REQUIRE(half.settle(std::vector<double>(s.size(), atmosphere_pa - 5e3), move));
  CHECK(gap[0] + move[0] == Approx(height(6e4 * std::cbrt(15.0 / 30.0))).margin(0.01));
}
