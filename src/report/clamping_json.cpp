#include "report/clamping_json.hpp"

#include <cmath>
#include <limits>

namespace gapfront::report {
namespace {

// As in json.cpp: six decimals, null for what is not finite. Forces are written in N.
Ordered number(double v) {
  if (!std::isfinite(v)) return nullptr;
  return std::round(v * 1e6) / 1e6 + 0.0;
}
Ordered newton(double pa_mm2) { return number(pa_mm2 / 1e6); }
Ordered point(const Vec3& p) { return Ordered::array({number(p.x()), number(p.y()), number(p.z())}); }

using Json = nlohmann::json;
double value(const Json& j) { return j.is_null() ? std::numeric_limits<double>::infinity() : j.get<double>(); }
double force(const Json& j) { return value(j) * 1e6; }

Ordered sample(const OpeningSample& s) {
  return {{"time_s", number(s.time)},
          {"closing_N", newton(s.closing)},
          {"opening_N", newton(s.opening)},
          {"least_local_margin_Pa", number(s.minimum)},
          {"node", s.node}};
}
OpeningSample read_sample(const Json& j) {
  return {value(j.at("time_s")), force(j.at("closing_N")), force(j.at("opening_N")),
          value(j.at("least_local_margin_Pa")), j.at("node")};
}

Ordered result(const ScheduleResult& r) {
  return {{"fill_time_s", number(r.fill_time)},
          {"peak_pressure_Pa_above_atmosphere", number(r.peak_pressure)},
          {"least_force_margin_N", newton(r.min_margin)},
          {"least_safety", number(r.min_safety)},
          {"least_local_margin_Pa", number(r.min_local)},
          {"dry_area_mm2", number(r.dry_area)},
          {"pump_at_limit_from_share", number(r.limit_from)},
          {"rate_is_set", r.rate_set}};
}
ScheduleResult read_schedule_result(const Json& j) {
  return {value(j.at("fill_time_s")),
          value(j.at("peak_pressure_Pa_above_atmosphere")),
          force(j.at("least_force_margin_N")),
          value(j.at("least_safety")),
          value(j.at("least_local_margin_Pa")),
          value(j.at("dry_area_mm2")),
          value(j.at("pump_at_limit_from_share")),
          j.at("rate_is_set")};
}

/// An enumerator by its name; the names are those of to_string().
template <class E>
E by_name(const Json& j, E last) {
  for (int k = 0; k <= static_cast<int>(last); ++k)
    if (j.get<std::string>() == to_string(static_cast<E>(k))) return static_cast<E>(k);
  throw Json::other_error::create(600, "unknown name \"" + j.get<std::string>() + "\"", &j);
}

// Forces in N, as everywhere in the file.
double amount_unit(const ProcessChange& c) { return c.kind == ProcessChange::Kind::clamping ? 1e6 : 1; }
double second_unit(const ProcessChange& c) { return c.kind == ProcessChange::Kind::higher_limit ? 1e6 : 1; }

Ordered changes_json(const std::vector<ProcessChange>& changes) {
  Ordered out = Ordered::array();
  for (const auto& c : changes)
    out.push_back({{"kind", to_string(c.kind)},
                   {"amount", number(c.amount / amount_unit(c))},
                   {"second", number(c.second / second_unit(c))},
                   {"at_mm", point(c.at)},
                   {"fill_time_s", number(c.fill_time)}});
  return out;
}
std::vector<ProcessChange> read_changes(const Json& j) {
  std::vector<ProcessChange> out;
  for (const auto& c : j) {
    const Json& at = c.at("at_mm");
    out.push_back({by_name(c.at("kind"), ProcessChange::Kind::higher_limit), value(c.at("amount")),
                   value(c.at("second")), Vec3(value(at.at(0)), value(at.at(1)), value(at.at(2))),
                   value(c.at("fill_time_s"))});
    out.back().amount *= amount_unit(out.back()), out.back().second *= second_unit(out.back());
  }
  return out;
}

Ordered state(const BreathingState& s) {
  return {{"least_mm", number(s.minimum)},
          {"least_node", s.min_node},
          {"greatest_mm", number(s.maximum)},
          {"greatest_node", s.max_node}};
}
BreathingState read_state(const Json& j) {
  BreathingState s;
  s.minimum = value(j.at("least_mm")), s.min_node = j.at("least_node");
  s.maximum = value(j.at("greatest_mm")), s.max_node = j.at("greatest_node");
  return s;
}

Ordered shape(const ShapeFill& s) {
  return {{"fill_time_s", number(s.fill_time)},
          {"dry_area_mm2", number(s.dry_area)},
          {"earlier_s", number(s.earlier)},
          {"later_s", number(s.later)}};
}
ShapeFill read_shape(const Json& j) {
  return {value(j.at("fill_time_s")), value(j.at("dry_area_mm2")), value(j.at("earlier_s")), value(j.at("later_s"))};
}

}  // namespace

Ordered opening_json(const Opening& o) {
  Ordered history = Ordered::array();
  for (const auto& s : o.history)
    history.push_back(
        Ordered::array({number(s.time), newton(s.closing), newton(s.opening), number(s.minimum), s.node}));
  return {{"dry", sample(o.dry)},
          {"least_force_margin", sample(o.force)},
          {"least_local_margin", sample(o.place)},
          {"held_at_the_last_inlet_pressure", sample(o.held)},
          {"history_columns", {"time_s", "closing_N", "opening_N", "least_local_margin_Pa", "node"}},
          {"history", history}};
}

Opening read_opening(const Json& j) {
  Opening o;
  o.dry = read_sample(j.at("dry")), o.force = read_sample(j.at("least_force_margin"));
  o.place = read_sample(j.at("least_local_margin")), o.held = read_sample(j.at("held_at_the_last_inlet_pressure"));
  for (const auto& s : j.at("history"))
    o.history.push_back({value(s.at(0)), force(s.at(1)), force(s.at(2)), value(s.at(3)), s.at(4)});
  return o;
}

Ordered closing_json(const Closing& c) {
  Ordered regions = Ordered::array();
  for (const auto& r : c.regions)
    regions.push_back({{"centre_mm", point(r.centre)},
                       {"area_mm2", number(r.area)},
                       {"load_N", newton(r.load)},
                       {"share_of_load", number(r.fraction)}});
  return {{"closes", c.closes()},
          {"closing_force_N", newton(c.closing)},
          {"glass_force_N", newton(c.reinforcement)},
          {"projected_area_mm2", number(c.area)},
          {"stands_open_mm", number(c.stands_open)},
          {"over_packed_regions", regions}};
}

Closing read_closing(const Json& j) {
  Closing c;
  c.closing = force(j.at("closing_force_N")), c.reinforcement = force(j.at("glass_force_N"));
  c.area = value(j.at("projected_area_mm2")), c.stands_open = value(j.at("stands_open_mm"));
  for (const auto& r : j.at("over_packed_regions")) {
    const Json& at = r.at("centre_mm");
    c.regions.push_back({Vec3(value(at.at(0)), value(at.at(1)), value(at.at(2))), value(r.at("area_mm2")),
                         force(r.at("load_N")), value(r.at("share_of_load"))});
  }
  return c;
}

Ordered zones_json(const std::vector<ZoneState>& zones) {
  Ordered out = Ordered::array();
  for (const auto& z : zones)
    out.push_back({{"name", z.name},
                   {"area_mm2", number(z.area)},
                   {"under_filled_mm2", number(z.under_filled)},
                   {"over_packed_mm2", number(z.over_packed)},
                   {"weight_out_mm2", number(z.weight_out)},
                   {"load_N", newton(z.load)},
                   {"fibre_volume_fraction", {number(z.vf_min), number(z.vf_mean), number(z.vf_max)}},
                   {"weight_fraction_mean", number(z.weight_mean)}});
  return out;
}

std::vector<ZoneState> read_zones(const Json& j) {
  std::vector<ZoneState> out;
  for (const auto& z : j) {
    const Json& vf = z.at("fibre_volume_fraction");
    out.push_back({z.at("name"), value(z.at("area_mm2")), value(z.at("under_filled_mm2")),
                   value(z.at("over_packed_mm2")), value(z.at("weight_out_mm2")), force(z.at("load_N")),
                   value(vf.at(0)), value(vf.at(1)), value(vf.at(2)), value(z.at("weight_fraction_mean"))});
  }
  return out;
}

Ordered plies_json(const LaminateOptions& o) {
  Ordered out = Ordered::array();
  const auto add = [&](const std::string& zone, const std::vector<Ply>& plies) {
    for (const auto& p : plies)
      out.push_back({{"zone", zone},
                     {"glass", p.reinforcement.name},
                     {"count", number(p.count)},
                     {"source", p.reinforcement.source}});
  };
  add("", o.plies);
  for (const auto& z : o.zones) add(z.name, z.plies);
  return out;
}

void read_plies(const Json& j, LaminateOptions& o) {
  for (const auto& p : j) {
    Ply ply;
    ply.reinforcement.name = p.at("glass"), ply.reinforcement.source = p.at("source"), ply.count = value(p.at("count"));
    const std::string zone = p.at("zone");
    if (zone.empty()) {
      o.plies.push_back(ply);
      continue;
    }
    if (o.zones.empty() || o.zones.back().name != zone) o.zones.emplace_back().name = zone;
    o.zones.back().plies.push_back(ply);
  }
}

Ordered advice_json(const ProcessAdvice& a) {
  Ordered steps = Ordered::array();
  for (const auto& s : a.steps) steps.push_back({{"from_mm3", number(s.from)}, {"rate_mm3_s", number(s.rate)}});
  return {{"mode", to_string(a.mode)},
          {"schedule", steps},
          {"pressure_limit_Pa_above_atmosphere", number(a.pressure_limit)},
          {"own", result(a.own)},
          {"advised", result(a.advised)},
          {"bound_by_opening_margin", a.bound_by_opening},
          {"keeps_limits", a.keeps_limits},
          {"gel_time_s", number(a.gel_time)},
          {"in_time", a.in_time},
          {"to_be_in_time", changes_json(a.to_be_in_time)},
          {"opening",
           {{"reason", to_string(a.help.reason)},
            {"safety_wanted", number(a.help.wanted)},
            {"safety_reached", number(a.help.factor)},
            {"changes", changes_json(a.help.changes)}}}};
}

ProcessAdvice read_advice(const Json& j) {
  ProcessAdvice a;
  for (const auto& s : j.at("schedule")) a.steps.push_back({value(s.at("from_mm3")), value(s.at("rate_mm3_s"))});
  if (const auto limit = j.find("pressure_limit_Pa_above_atmosphere"); limit != j.end())
    a.pressure_limit = value(*limit);
  a.own = read_schedule_result(j.at("own")), a.advised = read_schedule_result(j.at("advised"));
  a.bound_by_opening = j.at("bound_by_opening_margin");
  a.mode = by_name(j.at("mode"), PumpMode::pressure);
  a.keeps_limits = j.at("keeps_limits"), a.in_time = j.at("in_time"), a.gel_time = value(j.at("gel_time_s"));
  a.to_be_in_time = read_changes(j.at("to_be_in_time"));
  const Json& opening = j.at("opening");
  a.help.reason = by_name(opening.at("reason"), OpeningHelp::Reason::resin);
  a.help.wanted = value(opening.at("safety_wanted")), a.help.factor = value(opening.at("safety_reached"));
  a.help.changes = read_changes(opening.at("changes"));
  return a;
}

Ordered breathing_json(const Breathing& b) {
  if (!b.computed) return {{"computed", false}};
  Ordered changes = Ordered::array();
  for (double c : b.changes) changes.push_back(number(c));
  return {{"computed", true},
          {"vacuum_on", state(b.dry)},
          {"mean_of_the_fill", state(b.filling)},
          {"at_the_least_margin", state(b.worst)},
          {"converged", b.converged},
          {"change_per_round_mm", changes},
          {"filled_in_one_shape",
           {{"as_scanned", shape(b.as_scanned)},
            {"vacuum_on", shape(b.at_dry)},
            {"at_the_least_margin", shape(b.at_worst)}}}};
}

Breathing read_breathing(const Json& j) {
  Breathing b;
  b.computed = j.at("computed");
  if (!b.computed) return b;
  b.dry = read_state(j.at("vacuum_on")), b.filling = read_state(j.at("mean_of_the_fill"));
  b.worst = read_state(j.at("at_the_least_margin"));
  b.converged = j.at("converged");
  for (const auto& c : j.at("change_per_round_mm")) b.changes.push_back(value(c));
  if (const auto one = j.find("filled_in_one_shape"); one != j.end()) {
    b.as_scanned = read_shape(one->at("as_scanned")), b.at_dry = read_shape(one->at("vacuum_on"));
    b.at_worst = read_shape(one->at("at_the_least_margin"));
  }
  return b;
}

}  // namespace gapfront::report
