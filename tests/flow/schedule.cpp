// What is advised to whoever stands at the pump, and what would have to change: against fills made by hand.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "gapfront/flow.hpp"
#include "sheets.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

constexpr double newtons = 1e6;  // Pa·mm²
constexpr double flow_never = std::numeric_limits<double>::infinity();
constexpr double tenth_litre = 1e5 / 60;  // per minute, mm³/s

/// 500 × 100 mm, resin from one end, vent at the other; glass that pushes back with `compaction`.
struct Bench {
  Sheet sheet = strip(40, 4, 500, 100);
  LaminateMap laminate = uniform(sheet);
  FlowOptions flow = options({{0, 0, 0}, {0, 100, 0}}, {{500, 0, 0}, {500, 100, 0}});
  explicit Bench(double compaction = 5e3) {
    for (auto& n : laminate.nodes) n.compaction = compaction;
    flow.cavity_pressure = 51325, flow.pressure_limit = 4e4, flow.closing.force = 1e5 * newtons;
  }
  Filling own() const { return flow::fill(sheet, laminate, flow); }
  ProcessAdvice advice() const { return flow::advise_process(sheet, laminate, flow, own()); }
  Filling with(const ProcessAdvice& a) const {
    auto o = flow;
    o.schedule = a.steps, o.pressure_limit = a.pressure_limit;
    return flow::fill(sheet, laminate, o);
  }
  const ProcessChange* change(const std::vector<ProcessChange>& all, ProcessChange::Kind kind) const {
    for (const auto& c : all)
      if (c.kind == kind) return &c;
    return nullptr;
  }
};

}  // namespace

TEST_CASE("Advised rates are what the pump can be set to, no two alike, none below the least") {
  Bench b;
  b.flow.viscosity = 0.02;  // ten times as fast: about 0.3 L/min on the average
  for (const double minimum : {0.0, 2 * tenth_litre}) {
    b.flow.min_rate = minimum;
    const auto a = b.advice();
    REQUIRE(a.mode == PumpMode::rates);
    for (std::size_t k = 0; k < a.steps.size(); ++k) {
      CHECK(a.steps[k].rate / tenth_litre == Approx(std::round(a.steps[k].rate / tenth_litre)));
      CHECK(a.steps[k].rate >= std::max(minimum, tenth_litre) * (1 - 1e-9));
      if (k > 0) CHECK(a.steps[k].rate < a.steps[k - 1].rate);
    }
    const auto f = b.with(a);
    CHECK(f.fill_time == a.advised.fill_time);
    for (const auto& h : f.history) CHECK(h.inlet_pressure <= 1.005 * 0.9 * 4e4);
  }
}

TEST_CASE("A rate below the pump's least is refused with both") {
  Bench b;
  b.flow.schedule = {{0, 0.5 * tenth_litre}}, b.flow.min_rate = 2 * tenth_litre;
  CHECK_THROWS_WITH(b.own(), Catch::Contains("0.05 L/min") && Catch::Contains("0.2 L/min"));
}

TEST_CASE("A fill of a few seconds gets one pressure and no steps that nobody could set") {
  Bench b;
  b.flow.rate_setting = 0, b.flow.viscosity = 0.004;
  CHECK(b.own().fill_time < 6);
  const auto a = b.advice();
  CHECK(a.mode == PumpMode::pressure);
  CHECK(a.steps.empty());
  CHECK(a.keeps_limits);
}

TEST_CASE("Where no rate of the pump is slow enough, one pressure is advised from the start") {
  // 0.015 L/min on the average: the least setting stands at the limit before a tenth of the resin is in.
  Bench b;
  b.flow.viscosity *= 2;
  b.flow.schedule = {{0, 10 * tenth_litre}};
  const auto a = b.advice();
  CHECK(a.mode == PumpMode::pressure);
  CHECK(a.steps.empty());
  CHECK(a.pressure_limit == Approx(0.9 * 4e4));
  CHECK(a.own.limit_from < 0.1);  // 1 L/min stands at the limit almost at once
  // At constant pressure the time goes with 1/(limit + vacuum): 36 + 50 kPa in place of 40 + 50.
  CHECK(a.advised.fill_time == Approx(b.own().fill_time * 90 / 86).epsilon(0.02));
}

TEST_CASE("A fill that ends after the gel time is never advised without saying so and what would do") {
  Bench b;
  const double time = b.advice().advised.fill_time;
  b.flow.gel_time = 1.2 * time;
  CHECK(b.advice().in_time);
  b.flow.gel_time = 0.7 * time;
  const auto a = b.advice();
  CHECK_FALSE(a.in_time);
  CHECK(a.advised.fill_time > b.flow.gel_time);
  // Time goes with viscosity: 0.7 · 0.95 of 0.2 Pa·s, rounded down to two digits, is 0.13.
  const auto* thin = b.change(a.to_be_in_time, ProcessChange::Kind::thinner_resin);
  REQUIRE(thin);
  CHECK(thin->amount == Approx(0.13));
  CHECK(thin->fill_time == Approx(0.13 / 0.2 * a.advised.fill_time).epsilon(0.02));
  // And with 1/(limit + vacuum): 86 kPa / 0.7 = 123 kPa, less the vacuum = 73 kPa at least. What is named is what fills
  // so: nothing is taken off it.
  const auto* more = b.change(a.to_be_in_time, ProcessChange::Kind::higher_limit);
  REQUIRE(more);
  CHECK(more->amount > 72e3);
  CHECK(more->amount < 84e3);
  CHECK(more->second == 0);  // 100 kN hold anything
  for (const auto& c : a.to_be_in_time) CHECK(c.fill_time <= b.flow.gel_time);
}

TEST_CASE("A higher limit comes with the clamps that it takes") {
  Bench b;
  b.flow.closing.force = 800 * newtons;
  b.flow.gel_time = 0.7 * b.advice().advised.fill_time;
  const auto a = b.advice();
  REQUIRE_FALSE(a.in_time);
  const auto* more = b.change(a.to_be_in_time, ProcessChange::Kind::higher_limit);
  REQUIRE(more);
  CHECK(more->second > 0);
  auto o = b.flow;
  o.schedule.clear();
  o.pressure_limit = more->amount, o.closing.force += more->second;
  const auto f = flow::fill(b.sheet, b.laminate, o);
  CHECK(f.opening.force.safety() >= 0.999 * o.closing.safety);
  CHECK(f.fill_time == Approx(more->fill_time));
  CHECK(f.fill_time <= b.flow.gel_time);
}

TEST_CASE("The job's own limit, held from the start, is not told as a higher one") {
  // At constant pressure the time goes with 1/(limit + vacuum): with the nine tenths of the limit that advice spares
  // 90/86 of the time, which is too late; a slow pump is later still.
  Bench b;
  const double own = b.own().fill_time;
  b.flow.schedule = {{0, tenth_litre}};
  REQUIRE(b.own().fill_time > 1.02 * own);
  b.flow.gel_time = 1.02 * own;
  const auto a = b.advice();
  REQUIRE_FALSE(a.in_time);
  CHECK_FALSE(b.change(a.to_be_in_time, ProcessChange::Kind::higher_limit));
  const auto* alone = b.change(a.to_be_in_time, ProcessChange::Kind::limit_alone);
  REQUIRE(alone);
  CHECK(alone->amount == b.flow.pressure_limit);
  CHECK(alone->second == 0);
  CHECK(alone->fill_time == Approx(own));
}

TEST_CASE("Where a deeper vacuum fills in time it is named first, and needs no clamps") {
  // At constant pressure the time goes with 1/(limit + vacuum), and the vacuum closes the mold as well.
  Bench b;
  b.flow.closing.force = 800 * newtons;
  b.flow.gel_time = 0.95 * b.advice().advised.fill_time;
  const auto a = b.advice();
  REQUIRE_FALSE(a.in_time);
  REQUIRE_FALSE(a.to_be_in_time.empty());
  const ProcessChange& first = a.to_be_in_time.front();
  CHECK(first.kind == ProcessChange::Kind::cavity_vacuum);
  auto o = b.flow;
  o.cavity_pressure = atmosphere_pa - first.amount;
  if (first.second > 0)
    o.schedule.clear(), o.pressure_limit = first.second;
  else
    o.schedule = a.steps, o.pressure_limit = a.pressure_limit;
  const auto f = flow::fill(b.sheet, b.laminate, o);
  CHECK(f.fill_time == Approx(first.fill_time));
  CHECK(f.fill_time <= b.flow.gel_time);
  CHECK(f.opening.force.safety() >= 0.99 * o.closing.safety);
}

TEST_CASE("No gentler way to inject is named that makes the resin gel before the mold is full") {
  Bench b;
  b.flow.closing.force = 600 * newtons;
  b.flow.pressure_limit = 8e4;
  const auto own = b.own();
  const auto gentler = [&](double gel, bool stops) {
    b.flow.gel_time = gel, b.flow.ageing.gel = stops ? gel : flow_never;
    const auto now = b.own();
    REQUIRE(flow::in_time(now, b.flow));
    REQUIRE(now.opening.force.margin() < 0);
    const auto help = flow::opening_help(b.sheet, b.laminate, b.flow, now);
    CHECK(b.change(help.changes, ProcessChange::Kind::clamping));
    return b.change(help.changes, ProcessChange::Kind::lower_limit) != nullptr ||
           b.change(help.changes, ProcessChange::Kind::slower) != nullptr;
  };
  for (const bool stops : {false, true}) {
    CHECK(gentler(10 * own.fill_time, stops));
    CHECK_FALSE(gentler(1.02 * own.fill_time, stops));
  }
}

TEST_CASE("A setting of the job that holds and fills in time is no way that does not") {
  // At constant pressure the time goes with 1/(limit + vacuum): with nine tenths of the limit 90/86 of the job's own.
  Bench b;
  b.flow.schedule.clear();
  const double own = b.own().fill_time;
  b.flow.gel_time = 1.02 * own;
  const auto a = b.advice();
  CHECK(a.in_time);
  CHECK(a.to_be_in_time.empty());
  CHECK(a.pressure_limit == b.flow.pressure_limit);
  CHECK(a.advised.fill_time == Approx(own));
  CHECK_FALSE(a.keeps_limits);  // nothing of the limit is spared, and that is said
}

TEST_CASE("A setting that only holds the mold shut because the resin gels first is not taken for one that holds") {
  Bench b;
  b.flow.closing.force = 600 * newtons;
  b.flow.pressure_limit = 8e4;
  const auto own = b.own();
  REQUIRE(own.opening.force.margin() < 0);
  b.flow.gel_time = 0.2 * own.fill_time;
  REQUIRE(b.own().opening.force.safety() > b.flow.closing.safety);
  const auto a = b.advice();
  CHECK_FALSE(a.in_time);
  CHECK(a.pressure_limit < b.flow.pressure_limit);
}

TEST_CASE("What is empty when the resin gels stays dry, however long the front would run on") {
  // Straight front at constant pressure: x goes with the square root of time; at 0.36 of the fill time 0.4 is empty.
  Bench b;
  b.flow.schedule.clear();
  const auto whole = b.own();
  CHECK(flow::dry_area(whole) == 0);
  b.flow.gel_time = 0.36 * whole.fill_time;
  const auto f = b.own();
  CHECK(f.fill_time == Approx(whole.fill_time).epsilon(0.01));
  CHECK(flow::dry_area(f) == Approx(0.4 * 500 * 100).epsilon(0.03));
  REQUIRE(f.pockets.size() == 1);
  CHECK(f.pockets[0].closed_at == b.flow.gel_time);
  CHECK(f.opening.history.back().time <= b.flow.gel_time);
  // Where the front stops of itself because the resin's age is known, as much is dry.
  b.flow.ageing.gel = b.flow.gel_time;
  CHECK(flow::dry_area(b.own()) == Approx(flow::dry_area(f)).epsilon(0.03));
  b.flow.ageing = {}, b.flow.gel_time = 1.001 * whole.fill_time;
  CHECK(flow::dry_area(b.own()) == 0);
}

TEST_CASE("A mold that a slow pump fills gets the limit that holds it shut at the end, not one of its first steps") {
  Bench b;
  b.flow.closing.force = 600 * newtons;
  b.flow.pressure_limit = 8e4;
  const auto at_pressure = flow::opening_help(b.sheet, b.laminate, b.flow, b.own());
  const auto* wanted = b.change(at_pressure.changes, ProcessChange::Kind::lower_limit);
  REQUIRE(wanted);
  b.flow.rate_setting = 0;
  const auto whole = b.own();
  b.flow.schedule = {{0, whole.injected / whole.fill_time}};  // the mean rate of that
  for (const double times : {0.3, 1.0, 5.0}) {
    FlowOptions o = b.flow;
    o.schedule[0].rate *= times;
    const auto own = flow::fill(b.sheet, b.laminate, o);
    const auto help = flow::opening_help(b.sheet, b.laminate, o, own);
    INFO(times << " safety " << own.opening.force.safety());
    if (!(own.opening.force.margin() < 0)) continue;
    const auto* c = b.change(help.changes, ProcessChange::Kind::lower_limit);
    REQUIRE(c);
    CHECK(c->amount == Approx(wanted->amount).margin(1000));
  }
}

TEST_CASE("A mold that the resin opens: each change named holds it shut when it is made") {
  Bench b;
  b.flow.closing.force = 600 * newtons;
  b.flow.pressure_limit = 8e4;
  const auto own = b.own();
  REQUIRE(own.opening.force.margin() < 0);
  const auto help = flow::opening_help(b.sheet, b.laminate, b.flow, own);
  CHECK(help.reason == OpeningHelp::Reason::resin);
  CHECK(b.change(help.changes, ProcessChange::Kind::lower_limit));
  CHECK(b.change(help.changes, ProcessChange::Kind::clamping));
  CHECK(b.change(help.changes, ProcessChange::Kind::perimeter));
  for (const auto& c : help.changes) {
    INFO(to_string(c.kind) << " " << c.amount << " " << c.second);
    auto o = b.flow;
    if (c.kind == ProcessChange::Kind::lower_limit) o.pressure_limit = c.amount;
    if (c.kind == ProcessChange::Kind::cavity_vacuum) o.cavity_pressure = atmosphere_pa - c.amount;
    if (c.kind == ProcessChange::Kind::clamping) o.closing.force += c.amount;
    if (c.kind == ProcessChange::Kind::perimeter)
      o.closing.perimeter_vacuum = c.amount, o.closing.perimeter_width = c.second;
    const auto f = flow::fill(b.sheet, b.laminate, o);
    CHECK(f.opening.force.safety() >= help.factor * (1 - 1e-6));
    if (c.fill_time > 0) CHECK(f.fill_time == c.fill_time);
  }
  // A little less would not do: the amounts are no larger than a shop's step.
  auto o = b.flow;
  o.closing.force += b.change(help.changes, ProcessChange::Kind::clamping)->amount - 150 * newtons;
  CHECK(flow::fill(b.sheet, b.laminate, o).opening.force.safety() < help.factor);
}

TEST_CASE("Where the vacuum goes with the resin and the glass outweighs the rest, no limit is named") {
  // Dry: 0.05 m² · 50 kPa + 400 N = 2900 N against 0.05 · 35 kPa = 1750 N of glass. Full, with resin at atmosphere at
  // the inlet and the vacuum at the vent: 400 N + 0.05 · 25 kPa = 1650 N; flooded, 400 N.
  Bench b(35e3);
  b.flow.closing.force = 400 * newtons;
  const auto own = b.own();
  REQUIRE(own.opening.dry.margin() > 0);
  REQUIRE(own.opening.force.margin() < 0);
  const auto help = flow::opening_help(b.sheet, b.laminate, b.flow, own);
  CHECK(help.reason == OpeningHelp::Reason::vacuum_gone);
  CHECK_FALSE(b.change(help.changes, ProcessChange::Kind::lower_limit));
  CHECK(b.change(help.changes, ProcessChange::Kind::clamping));
}

TEST_CASE("With its only vent blocked the air is pressed together until it stops the resin") {
  // Boyle: from 51 325 Pa absolute to the inlet's 141 325: 0.363 of the cavity stays dry, at constant pressure and with
  // a pump that comes to its limit late.
  Bench b;
  b.flow.vents[0].blocked_from = 0;
  for (const double rate : {0.0, 500.0}) {
    b.flow.schedule.clear();
    if (rate > 0) b.flow.schedule = {{0, rate}};
    const auto f = b.own();
    double dry = 0, all = 0;
    for (const auto& p : f.pockets) dry += p.final_volume, all += p.initial_volume;
    INFO(rate);
    CHECK(dry / all == Approx(51325.0 / (atmosphere_pa + 4e4)).epsilon(0.02));
  }
  // Shut half way it keeps what is ahead of the front then.
  b.flow.schedule.clear();
  b.flow.vents[0].blocked_from = INFINITY;
  const double time = b.own().fill_time;
  b.flow.vents[0].blocked_from = time / 4;  // x ∝ √t: half of the length is wet
  const auto half = b.own();
  REQUIRE(half.pockets.size() == 1);
  CHECK(half.pockets[0].initial_volume == Approx(0.5 * 500 * 100 * 3 * 0.83).epsilon(0.1));
}
