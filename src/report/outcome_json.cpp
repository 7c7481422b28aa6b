#include "report/outcome_json.hpp"

#include <limits>

#include "gapfront/report.hpp"

namespace gapfront::report {
namespace {

constexpr const char* kObstacles[] = {"none", "stack cannot fill the section", "glass holds the mold open",
                                      "layout traps air"};

Json chance_json(const Chance& c) {
  if (c.draws == 0) return nullptr;
  return {{"probability", number(c.p)},
          {"interval_95", Json::array({number(c.low), number(c.high)})},
          {"draws_with_air", c.hits},
          {"draws", c.draws}};
}
Chance read_chance(const Json& j) {
  if (j.is_null()) return {};
  return {real(j.at("probability")), real(j.at("interval_95").at(0)), real(j.at("interval_95").at(1)),
          j.at("draws_with_air"), j.at("draws")};
}

Json state_json(const StateOutcome& s) {
  return {{"out_of_tolerance_area_mm2", number(s.out_area)},
          {"out_of_tolerance_area_interval_95_mm2", Json::array({number(s.out_low), number(s.out_high)})},
          {"trapped_air", chance_json(s.air)},
          {"expected_dry_area_mm2", number(s.expected_dry)},
          {"closing_over_opening_force", number(s.balance)},
          {"least_local_margin_Pa", number(s.local_margin)},
          {"closes_on_its_glass", s.closes},
          {"fill_time_s", number(s.fill_time)}};
}
StateOutcome read_state_outcome(const Json& j) {
  StateOutcome s;
  const Json& interval = j.at("out_of_tolerance_area_interval_95_mm2");
  s.out_area = real(j.at("out_of_tolerance_area_mm2")), s.out_low = real(interval.at(0));
  s.out_high = real(interval.at(1));
  s.air = read_chance(j.at("trapped_air")), s.expected_dry = real(j.at("expected_dry_area_mm2"));
  const Json& balance = j.at("closing_over_opening_force");
  s.balance = balance.is_null() ? std::numeric_limits<double>::infinity() : real(balance);
  s.local_margin = real(j.at("least_local_margin_Pa"));
  s.closes = j.at("closes_on_its_glass"), s.fill_time = real(j.at("fill_time_s"));
  return s;
}

}  // namespace

Json outcome_json(const Inspection& r) {
  const Outcome& o = r.outcome;
  return {{"line", outcome_line(r)},
          {"obstacle", kObstacles[static_cast<int>(o.obstacle)]},
          {"corrections_chosen", o.works},
          {"now", state_json(o.now)},
          {"after_corrections", state_json(o.after)},
          {"nominal", state_json(o.nominal)}};
}

void read_outcome(const Json& result, Inspection& r) {
  const auto found = result.find("outcome");
  if (found == result.end()) return;  // written before there was one
  Outcome& o = r.outcome;
  const std::string obstacle = found->at("obstacle");
  for (int k = 0; k < 4; ++k)
    if (obstacle == kObstacles[k]) o.obstacle = static_cast<Obstacle>(k);
  o.works = found->at("corrections_chosen");
  o.now = read_state_outcome(found->at("now"));
  o.after = read_state_outcome(found->at("after_corrections"));
  o.nominal = read_state_outcome(found->at("nominal"));
}

}  // namespace gapfront::report
