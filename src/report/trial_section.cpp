// "Try it on this mold": what the page computes with, and what its controls begin with.
#include <cmath>
#include <nlohmann/json.hpp>

#include "gapfront/live.hpp"
#include "report/assets.hpp"
#include "report/html.hpp"
#include "report/trial.hpp"
#include "units/digits.hpp"

namespace gapfront::report {
namespace {

using Values = nlohmann::json;

/// For numbers that are shown: internal units in one shown, its name, decimals.
Values shown_json(Dimension d, UnitSystem u) {
  return {{"per", per_shown_unit(d, u)}, {"unit", shown_unit(d, u)}, {"decimals", shown_decimals(d, u)}};
}

Values names_of(const auto& ports) {
  Values out = Values::array();
  for (const auto& p : ports) out.push_back(p.name);
  return out;
}

Values number_or_null(double x) { return std::isfinite(x) ? Values(x) : Values(); }

const char* law_word(PermeabilityLaw::Kind k) {
  switch (k) {
    case PermeabilityLaw::Kind::power:
      return "power";
    case PermeabilityLaw::Kind::exponential:
      return "exponential";
    case PermeabilityLaw::Kind::kozeny_carman:
      return "kozeny-carman";
    case PermeabilityLaw::Kind::table:
      return "table";
  }
  return "";
}

/// A ply with all that a job line says of it.
Values ply_of(const Ply& p) {
  const auto& g = p.reinforcement;
  return {{"name", g.name},
          {"count", p.count},
          {"areal_weight", g.areal_weight},
          {"loft", g.loft},
          {"density", g.density},
          {"direction", p.direction_deg},
          {"cloth", g.cloth},
          {"bending_length", g.bending_length},
          {"permeability",
           {{"law", law_word(g.permeability.kind)},
            {"a", g.permeability.a},
            {"b", g.permeability.b},
            {"table", g.permeability.table},
            {"ratio", g.permeability.ratio},
            {"spread", g.permeability.spread}}},
          {"compaction",
           {{"law", g.compaction.kind == CompactionLaw::Kind::table ? "table" : "power"},
            {"a", g.compaction.a},
            {"b", g.compaction.b},
            {"table", g.compaction.table}}}};
}

Values plies_of(const std::vector<Ply>& plies) {
  Values out = Values::array();
  for (const Ply& p : plies) out.push_back(ply_of(p));
  return out;
}

/// The port that a correction moves or adds; null: none.
Values port_of(const Correction& c) {
  const bool vent = c.kind == Kind::vent_move || c.kind == Kind::vent_enlarge || c.kind == Kind::vent_add;
  if (!vent && c.kind != Kind::inlet_move && c.kind != Kind::inlet_add) return {};
  return {{"kind", vent ? "vent" : "inlet"},
          {"adds", c.kind == Kind::vent_add || c.kind == Kind::inlet_add},
          {"name", c.port}};
}

/// What a correction sets of the process, as correct::apply() does; null: nothing.
Values settings_of(const Correction& c) {
  switch (c.kind) {
    case Kind::vacuum_level:
      return {{"cavity", c.setting}};
    case Kind::lower_limit:
      return {{"limit", c.setting}};
    case Kind::resin_warmed:
      return {{"viscosity", c.setting}, {"gel", c.gel_time}};
    case Kind::vent_open:
      return {{"open", c.port}};
    case Kind::pump_steps: {
      Values steps = Values::array();
      for (const RateStep& s : c.schedule) steps.push_back({s.from, s.rate});
      return {{"limit", c.setting}, {"schedule", steps}};
    }
    default:
      return {};
  }
}

Values region_of(const Region& r) {
  const auto list = [](const std::vector<Vec3>& points) {
    Values out = Values::array();
    for (const Vec3& p : points) out.push_back({p.x(), p.y(), p.z()});
    return out;
  };
  return {{"polygon", list(r.polygon)}, {"box", list(r.box)}, {"path", list(r.path)}, {"radius", r.radius}};
}

/// What a correction changes in the lay-up, as correct::apply() does; null: nothing.
Values lay_up_of(const Correction& c) {
  if (c.stack.empty() && c.packed.empty() && c.cut.empty() && c.added.empty()) return {};
  Values zones = Values::array();
  for (const LaminateZone& z : c.added)
    zones.push_back({{"name", z.name}, {"adds", z.adds}, {"where", region_of(z.where)}, {"plies", plies_of(z.plies)}});
  return {{"stack", plies_of(c.stack)}, {"packed", c.packed}, {"cut", c.cut}, {"zones", zones}};
}

/// Proposed corrections, in the order of the case.
Values proposals(const Inspection& r, const LiveCase& c, const Voice& v) {
  Values out = Values::array();
  for (const Correction& live : c.corrections) {
    Values one = {{"name", live.name}, {"kind", ""}, {"says", ""}, {"chosen", false}};
    one["port"] = port_of(live), one["sets"] = settings_of(live), one["lays"] = lay_up_of(live);
    for (std::size_t k = 0; k < r.plan.candidates.size(); ++k) {
      const Correction& found = r.plan.candidates[k];
      if (found.name != live.name) continue;
      one["kind"] = say(word_of(found.kind), v), one["says"] = say(found.instruction, v);
      for (const int chosen : r.plan.chosen)
        if (chosen == static_cast<int>(k)) one["chosen"] = true;
    }
    out.push_back(one);
  }
  return out;
}

/// Whether a line of the job gives this key.
bool says(const std::string& job, const std::string& key) {
  for (std::size_t at = 0; (at = job.find(key, at)) != std::string::npos; ++at) {
    const std::size_t line = job.rfind('\n', at) + 1, next = job.find_first_not_of(" \t", at + key.size());
    if (job.find_first_not_of(" \t", line) == at && next != std::string::npos && job[next] == '=') return true;
  }
  return false;
}

/// Keys that stand in the way of a line that says the same otherwise, or that must follow it.
Values said_in(const Job& job) {
  Values out = Values::object();
  for (const char* key : {"clamping", "cavity_pressure", "viscosity_table"}) out[key] = says(job.text, key);
  return out;
}

/// Time, pressure at the inlet, rate and share filled, to what a film shows of them.
Values course_of(const Filling& f) {
  const auto to = [](double x, double per_unit) { return std::round(x * per_unit) / per_unit; };
  Values out = Values::array();
  for (const auto& s : f.history)
    if (std::isfinite(s.time))
      out.push_back({to(s.time, 10), to(s.inlet_pressure, 0.1), to(s.rate, 0.1), to(s.filled, 1e3)});
  return out;
}

Values trial_page_data(const Inspection& r) {
  const Voice v = voice_of(r.job);
  const LiveCase c = live::unpack(r.live);
  const auto schedule = c.flow.schedule;
  return {{"packed", trial_text(r.live)},
          {"corrections", proposals(r, c, v)},
          {"plies", plies_of(c.laminate.plies)},
          {"inlets", names_of(c.flow.inlets)},
          {"vents", names_of(c.flow.vents)},
          {"vent_radius", c.flow.vents.empty() ? 5.0 : c.flow.vents[0].radius},
          {"viscosity", c.flow.viscosity},
          {"pressure_limit", c.flow.pressure_limit},
          {"cavity_pressure", c.flow.cavity_pressure},
          {"clamping", c.laminate.clamping_pressure},
          {"said", said_in(r.job)},
          {"rate", schedule.empty() ? Values() : Values(schedule[0].rate)},
          {"rate_steps", schedule.size()},
          {"atmosphere", atmosphere_pa},
          {"safety", number_or_null(c.flow.closing.safety)},
          {"histories", {course_of(r.nominal_filling), course_of(r.filling), course_of(r.filling_after)}},
          {"invented", r.job.invented},
          {"time_decimals", second_decimals(r.nominal_filling.fill_time)},
          {"area", shown_json(Dimension::area, v.units)},
          {"length", shown_json(Dimension::length, v.units)},
          {"pressure", shown_json(Dimension::pressure, v.units)},
          {"flow_rate", shown_json(Dimension::flow_rate, v.units)}};
}

}  // namespace

std::string trial_section(const Inspection& r) {
  if (r.live.empty()) return "";
  const Voice v = voice_of(r.job);
  // Both are shown by the scripts that can do it.
  std::string out = "<div id=\"film\" class=\"controls\" hidden><button type=\"button\" id=\"film-make\">" +
                    told(v, "film.make") + "</button><progress id=\"film-progress\" hidden></progress>" +
                    "<span id=\"film-status\" role=\"status\"></span></div>\n";
  out +=
      "<section id=\"try-section\" hidden>" + heading("try", told(v, "try.heading")) + para(told(v, "try.what-it-is"));
  if (r.breathing.computed) out += para(told(v, "try.light-half"));
  return out + "<div id=\"try-bench\"></div></section>\n";
}

std::string trial_scripts(const Inspection& r) {
  if (r.live.empty()) return "";
  return "<script type=\"application/json\" id=\"trial\">" + script_safe(trial_page_data(r).dump()) +
         "</script>\n<script type=\"text/plain\" id=\"engine\">" + live_wasm + "</script>\n";
}

}  // namespace gapfront::report
