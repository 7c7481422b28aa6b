// A shot's log as evidence, on logs of planted causes.
#include <catch2/catch.hpp>

#include "gapfront/error.hpp"
#include "gapfront/text.hpp"
#include "planted_shot.hpp"

using namespace gapfront;
using namespace gapfront::test;

namespace {

bool named_first(const ShotShop& shop, const PlantedShot& p, const ShotFound& f) {
  const ShotCandidate& first = f.causes[0];
  return first.cause == p.cause &&
         (p.cause != ShotCause::clogged_vent || first.subject == shop.flow.vents[p.vent].name);
}

double probability_of(const ShotFound& f, ShotCause cause) {
  double sum = 0;
  for (const ShotCandidate& c : f.causes)
    if (c.cause == cause) sum += c.probability;
  return sum;
}

}  // namespace

TEST_CASE("Of thirty planted causes nine in ten are named first, and no normal shot is called abnormal") {
  const ShotShop shop;
  std::mt19937_64 random(2);
  std::normal_distribution<double> normal;
  // What the tool's history knows: six shots within 7 %, about what the job says.
  ShotOptions o;
  o.earlier.assign(6, 0);
  const ShotFound first =
      diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, planted_log(shop, {}, random));
  const double as_job = first.resists / first.resistance.value;
  for (double& r : o.earlier) r = as_job * std::exp(0.07 * normal(random));
  const auto judge = [&](const PlantedShot& p) {
    return diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, planted_log(shop, p, random),
                                 o);
  };
  int found = 0, normal_found = 0, accused = 0;
  for (const PlantedShot& p : thirty_causes()) {
    const ShotFound f = judge(p);
    found += named_first(shop, p, f);
    normal_found += f.verdict == ShotVerdict::normal;
  }
  CHECK(found >= 27);
  CHECK(normal_found <= 1);
  for (int k = 0; k < 6; ++k) {
    const ShotFound f = judge({});
    accused += f.verdict == ShotVerdict::abnormal || f.verdict == ShotVerdict::unexplained;
  }
  CHECK(accused == 0);
}

// Under constant pressure the rate falls as 1/√t; rows some seconds apart make a straight line of its beginning. A
// scale that jitters by a thousandth of what it holds makes each stretch's rate uncertain by some per cent. Of a log
// that is cut short only a part is seen, so it is not called normal either.
TEST_CASE("A normal shot is not called abnormal for a log that is cut short, coarse, or jitters in its volume") {
  ShotShop shop;
  shop.flow.schedule.clear(), shop.flow.viscosity *= 10;
  std::mt19937_64 random(4);
  std::normal_distribution<double> normal;
  const ShotLog fine = planted_log(shop, {}, random);
  const double whole = fine.samples.back().volume;
  int accused = 0;
  for (const double until : {0.4, 0.6, 0.9})
    for (const double noise : {0.0, 1e-3, 5e-3}) {
      ShotLog log;
      for (std::size_t k = 0; k < fine.samples.size() && fine.samples[k].volume <= until * whole; k += 6) {
        log.samples.push_back(fine.samples[k]);
        log.samples.back().volume += k ? noise * whole * normal(random) : 0;
      }
      const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
      CAPTURE(until, noise, to_string(f.causes[0].cause), f.causes[0].probability);
      CHECK(f.verdict != ShotVerdict::abnormal);
      CHECK(f.verdict != ShotVerdict::normal);
      CHECK(f.judged == Approx(until).margin(0.05));
      accused += f.causes[0].cause != ShotCause::none || f.causes[0].probability < 0.6;
    }
  CHECK(accused <= 3);
}

// One-dimensional flow at a constant rate: p = µ Q x/(K h w), x = V/(φ h w) (Darcy 1856; references, 5). The log is
// made from that formula alone; the fit must give back the factor on the viscosity that it was made with.
TEST_CASE("A log made from Darcy's closed form gives back the resistance that it was made with") {
  ShotShop shop;
  shop.flow.vents = {{"right", {Vec3(200, 0, 0), Vec3(200, 120, 0)}, 1, 0}};
  const NodeLaminate n = laminate::evaluate_stack(shop.laminate.plies, 2, shop.laminate);
  for (const double factor : {0.8, 1.3}) {
    ShotLog log;
    const double rate = 656, width = 120;
    const double full = n.fluid_thickness * width * 200;
    for (double t = 0; t <= full / rate; t += 0.5) {
      const double x = rate * t / (n.fluid_thickness * width);
      const double push = factor * shop.flow.viscosity * rate * x / (n.conductance * width);
      log.samples.push_back({t, shop.flow.cavity_pressure + push - atmosphere_pa, rate * t});
    }
    log.vents = {{"right", full / rate - 0.1}};
    const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
    CHECK(f.cavity == Approx(full).epsilon(0.01));
    CHECK(f.resistance.value == Approx(factor).epsilon(0.03));
    CHECK(f.resistance.low < factor);
    CHECK(f.resistance.high > factor);
    CHECK(f.leak.value < 0.02);
    // Without a measured viscosity nobody can tell thick resin from tight glass: both stand beside each other.
    const bool thick = factor > 1;
    CHECK(probability_of(f, thick ? ShotCause::thick_resin : ShotCause::thin_resin) ==
          Approx(2 * probability_of(f, thick ? ShotCause::low_permeability : ShotCause::high_permeability))
              .epsilon(0.05));
  }
}

TEST_CASE("A log that begins at one atmosphere without resin is asked for absolute pressures, and no other") {
  const ShotShop shop;
  const auto asks = [&](double added) {
    std::mt19937_64 random(5);
    ShotLog log = planted_log(shop, {}, random);
    for (ShotSample& s : log.samples) s.pressure += added;
    const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
    return std::count_if(f.check.begin(), f.check.end(),
                         [](const Message& m) { return m.id == "shot.check-absolute"; });
  };
  std::mt19937_64 random(5);
  CHECK(asks(0) == 0);
  CHECK(asks(atmosphere_pa - planted_log(shop, {}, random).samples.front().pressure) == 1);
}

TEST_CASE("What took more resin than the cavity holds is not told as a blocked inlet") {
  const ShotShop shop;
  std::mt19937_64 random(5);
  ShotLog log = planted_log(shop, {}, random);
  for (ShotSample& s : log.samples) s.volume *= 2.7;
  const ShotSample end = log.samples.back();
  for (int k = 1; k <= 40; ++k) log.samples.push_back({end.time + 5 * k, end.pressure, end.volume});
  const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
  CHECK(std::none_of(f.causes.begin(), f.causes.end(),
                     [](const ShotCandidate& c) { return c.cause == ShotCause::inlet_blocked; }));
}

TEST_CASE("A shot that runs as its measured resin lets it is normal, and the job's viscosity is to be looked at") {
  const ShotShop shop;
  const auto notes = [&](double measured) {
    std::mt19937_64 random(5);
    ShotLog log = planted_log(shop, {.cause = ShotCause::thick_resin, .amount = measured}, random);
    log.viscosity = measured * shop.flow.viscosity;
    const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
    CHECK(f.verdict == ShotVerdict::normal);
    return std::count_if(f.check.begin(), f.check.end(),
                         [](const Message& m) { return m.id == "shot.note-measured-viscosity"; });
  };
  CHECK(notes(1.2) == 1);
  CHECK(notes(1.02) == 0);
}

// Under the pump's limit of 1.3 bar shut-in air, at half an atmosphere or less, would let the resin go on to three
// quarters of the cavity (Boyle): a vent that lets no air out does not stop it at 60 %.
TEST_CASE("Resin that stops early under the pump's full pressure is an inlet's fault, not a vent's") {
  ShotShop shop;
  shop.flow.vents = {{"right", {Vec3(200, 0, 0), Vec3(200, 120, 0)}, 1, 0}};
  std::mt19937_64 random(6);
  ShotLog log = planted_log(shop, {}, random);
  const double whole = log.samples.back().volume;
  for (ShotSample& s : log.samples)
    if (s.volume > 0.6 * whole) s.volume = 0.6 * whole, s.pressure = shop.flow.pressure_limit;
  for (const bool watched : {true, false}) {
    log.vents.clear();
    if (watched) log.vents = {{"right", INFINITY}};
    const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
    CHECK(f.verdict == ShotVerdict::abnormal);
    CHECK(f.causes[0].cause == ShotCause::inlet_blocked);
    CHECK(f.causes[0].amount.value == Approx(0.6).margin(0.02));
    CHECK(probability_of(f, ShotCause::clogged_vent) < 0.01);
  }
}

TEST_CASE("A vent that stays dry, or is reached when the resin has long stopped, counts against a normal shot") {
  const ShotShop shop;
  std::mt19937_64 random(9);
  const ShotLog log = planted_log(shop, {}, random);
  const double end = log.samples.back().time;
  const auto judge = [&](double seen) {
    ShotLog other = log;
    other.vents[1].time = seen;
    return diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, other);
  };
  CHECK(judge(log.vents[1].time).verdict == ShotVerdict::normal);
  CHECK(judge(INFINITY).verdict != ShotVerdict::normal);
  CHECK(judge(INFINITY).verdict != ShotVerdict::unclear);
  const ShotFound late = judge(end - 1);
  CHECK(late.verdict == ShotVerdict::unexplained);
  CHECK(late.headline.at(0).id == "shot.unexplained-vent");
  CHECK_THROWS_WITH(judge(end + 60), Catch::Contains("but the log ends at"));
}

TEST_CASE("A viscosity that was measured far from the job's is a fact, and not to be measured again") {
  const ShotShop shop;
  std::mt19937_64 random(5);
  ShotLog log = planted_log(shop, {.cause = ShotCause::thick_resin, .amount = 1.6}, random);
  log.viscosity = 1.6 * shop.flow.viscosity;
  const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
  CHECK(f.verdict == ShotVerdict::abnormal);
  CHECK(f.headline.at(0).id == "shot.measured-resin");
  CHECK(f.causes[0].amount.value == Approx(1.6));
  CHECK(probability_of(f, ShotCause::none) == 0);
  for (const Message& m : f.check) CHECK(m.id != "shot.check-resin");
}

TEST_CASE("A log of which nothing can be said is refused with the remedy") {
  const ShotShop shop;
  std::mt19937_64 random(5);
  const ShotLog good = planted_log(shop, {}, random);
  const auto judge = [&](const ShotLog& log) {
    return diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
  };
  using Catch::Contains;
  ShotLog log = good;
  log.samples.resize(5);
  CHECK_THROWS_WITH(judge(log), Contains("only 5 rows"));
  log = good;
  std::swap(log.samples[3], log.samples[9]);
  CHECK_THROWS_WITH(judge(log), Contains("do not rise"));
  log = good;
  log.samples[40].volume = 0;
  CHECK_THROWS_WITH(judge(log), Contains("the volume falls"));
  log = good;
  log.vents[0].vent = "upper";
  CHECK_THROWS_WITH(judge(log), Contains("\"upper\""));
}

TEST_CASE("A shot into a tool without inlets or vents is refused as its filling is") {
  const ShotShop shop;
  std::mt19937_64 random(1);
  ShotLog log = planted_log(shop, {}, random);
  log.vents.clear();
  FlowOptions no_vents = shop.flow, no_inlets = shop.flow;
  no_vents.vents.clear(), no_inlets.inlets.clear();
  for (const FlowOptions& flow : {no_vents, no_inlets})
    CHECK_THROWS_AS(diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, flow, log), Error);
}

TEST_CASE("A jump of the pressure that the rate does not go along with is told, and the shot is not normal") {
  const ShotShop shop;
  std::mt19937_64 random(11);
  ShotLog log = planted_log(shop, {}, random);
  const auto judge = [&](const ShotLog& l) {
    return diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, l);
  };
  REQUIRE(judge(log).steps.empty());
  REQUIRE(judge(log).verdict == ShotVerdict::normal);
  for (ShotSample& s : log.samples)
    if (s.time >= 25 && s.time < 30) s.pressure -= 2e4;
  const ShotFound f = judge(log);
  REQUIRE(f.steps.size() == 2);
  CHECK(f.steps[0].time == Approx(24.75));
  CHECK(f.steps[0].before - f.steps[0].after == Approx(2e4).margin(6e3));  // four standard errors
  CHECK(f.steps[1].time == Approx(29.75));
  CHECK(f.steps[1].after - f.steps[1].before == Approx(2e4).margin(6e3));
  CHECK(f.pressure_noise == Approx(1000).epsilon(0.4));
  CHECK(f.verdict != ShotVerdict::normal);
  CHECK_THAT(say(f.headline), Catch::Contains("its pressure jumped"));
  CHECK_THAT(say(f.check[0]), Catch::Contains("the pressure fell at once by"));
  CHECK_FALSE(f.resistance_holds());
}

TEST_CASE("A pressure that falls and rises as the pump is set to is no jump") {
  ShotShop shop;
  shop.flow.schedule = {{0, 656}, {12000, 250}, {20000, 600}};
  std::mt19937_64 random(12);
  const ShotLog log = planted_log(shop, {}, random);
  const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
  CHECK(f.steps.empty());
}

TEST_CASE("What is fitted as if nothing else were the matter is no finding where another cause is named") {
  const ShotShop shop;
  std::mt19937_64 random(13);
  const auto judge = [&](const PlantedShot& p) {
    return diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, planted_log(shop, p, random));
  };
  const ShotFound poor = judge({ShotCause::poor_vacuum, 3.5e4}), none = judge({});
  REQUIRE(poor.causes[0].cause == ShotCause::poor_vacuum);
  CHECK_FALSE(poor.resistance_holds());
  CHECK_FALSE(poor.leak_holds());
  REQUIRE(none.causes[0].cause == ShotCause::none);
  CHECK(none.resistance_holds());
  CHECK(none.leak_holds());
}

// Of a row every two seconds three or four are left of the filling: the last stretch is that of none of them.
TEST_CASE("An inlet that is blocked in the first third of a filling is named as one that is blocked later") {
  const ShotShop shop;
  std::mt19937_64 random(21);
  for (const double share : {0.08, 0.18, 0.33})
    for (const std::size_t every : {1, 4}) {
      const ShotLog fine = planted_log(shop, {}, random);
      ShotLog log;
      const double whole = fine.samples.back().volume;
      for (std::size_t k = 0; k < fine.samples.size(); k += every) {
        ShotSample s = fine.samples[k];
        if (s.volume > share * whole) s.volume = share * whole, s.pressure = shop.flow.pressure_limit;
        log.samples.push_back(s);
      }
      for (const Vent& v : shop.flow.vents) log.vents.push_back({v.name, INFINITY});
      const ShotFound f = diagnosis::judge_shot(shop.sheet, shop.nominal_gap, shop.laminate, shop.flow, log);
      CAPTURE(share, every, to_string(f.causes[0].cause), f.causes[0].p_value);
      CHECK(f.verdict == ShotVerdict::abnormal);
      CHECK(f.causes[0].cause == ShotCause::inlet_blocked);
    }
}
