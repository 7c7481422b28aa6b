// What holds the mold shut, through result.json and onto the page.
#include <catch2/catch.hpp>
#include <cmath>

#include "report/clamping_json.hpp"
#include "report/html.hpp"

using namespace gapfront;

namespace {

constexpr double newton = 1e6;  // Pa·mm²

nlohmann::json again(const report::Ordered& j) { return nlohmann::json::parse(j.dump()); }

}  // namespace

TEST_CASE("Closing, opening, advice and glass are read back as they were written") {
  Closing c;
  c.closing = 750 * newton, c.reinforcement = 1000.5 * newton, c.area = 5e4, c.stands_open = 0.149;
  c.regions = {{Vec3(1, 2, 3), 40, 10 * newton, 0.01}};
  CHECK(report::closing_json(report::read_closing(again(report::closing_json(c)))) == report::closing_json(c));
  Opening o;
  o.dry = {0, 3500 * newton, 0, 4e4, 2};  // nothing opens: the safety has no number
  o.history = {o.dry, {1.5, 2 * newton, 3 * newton, -1e4, 0}};
  CHECK(report::opening_json(report::read_opening(again(report::opening_json(o)))) == report::opening_json(o));
  ProcessAdvice a;
  a.steps = {{0, 2e4}, {5e4, 1e4}}, a.pressure_limit = -500;
  a.own.min_safety = INFINITY, a.advised.fill_time = 12.25, a.bound_by_opening = true;
  a.mode = PumpMode::pressure, a.keeps_limits = a.in_time = false, a.gel_time = 10, a.own.limit_from = 0.05;
  a.to_be_in_time = {{ProcessChange::Kind::higher_limit, 5e4, 2e9, Vec3(1, 2, 3), 9}};
  a.help = {OpeningHelp::Reason::vacuum_gone, 1.25, 1, {{ProcessChange::Kind::clamping, 3e9}}};
  CHECK(report::advice_json(report::read_advice(again(report::advice_json(a)))) == report::advice_json(a));
  Breathing b;
  CHECK_FALSE(report::read_breathing(again(report::breathing_json(b))).computed);
  b.computed = b.converged = true, b.changes = {0.1, 0.0004};
  b.dry.minimum = -0.3, b.dry.min_node = 1, b.filling.maximum = 0.1, b.worst.max_node = 2;
  b.as_scanned = {12, 3, 0.5, 0.25}, b.at_dry = {14, 0, 0, 2}, b.at_worst = {10, 1, 3, 0};
  CHECK(report::breathing_json(report::read_breathing(again(report::breathing_json(b)))) == report::breathing_json(b));
  const std::vector<ZoneState> zones{{"", 1, 2, 3, 4, 5 * newton, 0.1, 0.2, 0.3, 0.4}, {"patch"}};
  CHECK(report::zones_json(report::read_zones(again(report::zones_json(zones)))) == report::zones_json(zones));
  LaminateOptions reinforcement, read;
  reinforcement.plies = {{find_reinforcement("woven roving 600"), 2, 0}};
  reinforcement.zones.resize(1);
  reinforcement.zones[0].name = "patch", reinforcement.zones[0].plies = reinforcement.plies;
  report::read_plies(again(report::plies_json(reinforcement)), read);
  CHECK(report::plies_json(read) == report::plies_json(reinforcement));
}

TEST_CASE("The page says in one sentence whether the mold closes and stays shut") {
  Inspection r;
  r.filling.opening.history.resize(1);
  r.closing.closing = 2000 * newton, r.closing.reinforcement = 500 * newton;
  r.filling.opening.force = {12, 1500 * newton, 900 * newton, 0, 0};
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("stays shut") && Catch::Contains("0.90\u00a0kN"));
  r.filling.opening.force.opening = 1600 * newton;
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("The mold opens:"));
  r.closing.reinforcement = 2500 * newton, r.closing.stands_open = 0.15;
  CHECK_THAT(report::clamping_sentence(r), Catch::Contains("cannot close") && Catch::Contains("0.150\u00a0mm"));
}
