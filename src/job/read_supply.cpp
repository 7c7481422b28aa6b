// [flow.supply], [flow.ageing] and what else the front may or may not be asked: hose, weight, age, thickness.
#include <algorithm>
#include <cmath>

#include "job/sections.hpp"

namespace gapfront::job {
namespace {

void read_hose(Table t, FlowOptions& flow) {
  Supply& s = flow.supply;
  s.hose_length = t.quantity("hose_length", Dimension::length, Sign::positive).value_or(0);
  s.hose_bore = t.quantity("hose_bore", Dimension::length, Sign::positive).value_or(0);
  if ((s.hose_length > 0) != (s.hose_bore > 0)) t.fail("a hose needs hose_length and hose_bore; give both, or neither");
  s.gauge_at_pump = t.word("gauge", {"inlet", "pump"}, "inlet") == "pump";
  s.pump_above = t.quantity("pump_above", Dimension::length).value_or(0);
  s.max_rate = t.quantity("greatest_rate", Dimension::flow_rate, Sign::positive).value_or(0);
  s.vent_length = t.quantity("vent_line", Dimension::length, Sign::positive).value_or(0);
  s.vent_bore = t.quantity("vent_bore", Dimension::length, Sign::positive).value_or(0);
  if ((s.vent_length > 0) != (s.vent_bore > 0))
    t.fail("a vent line needs vent_line and vent_bore; give both, or neither");
  s.pot_volume = t.quantity("catch_pot", Dimension::volume, Sign::positive).value_or(0);
  t.done();
}

/// Viscosity over age, of one temperature.
struct AgeCurve {
  double temperature = 0;
  std::vector<std::pair<double, double>> points;
  double at(double age) const {
    auto next =
        std::upper_bound(points.begin(), points.end(), age, [](double a, const auto& p) { return a < p.first; });
    if (next == points.begin()) return next->second;
    if (next == points.end()) return points.back().second;
    const auto& [t0, v0] = *(next - 1);
    return v0 * std::pow(next->second / v0, (age - t0) / (next->first - t0));
  }
};

/// What is known at every temperature beside it; straight in the logarithm between two temperatures.
AgeCurve curve_at(Table& t, std::vector<AgeCurve> curves, std::optional<double> temperature) {
  if (curves.size() == 1 && !temperature) return curves[0];
  if (!temperature) t.fail("curve", "there are several; give [flow] temperature = \"22 C\" (of the resin as it flows)");
  std::sort(curves.begin(), curves.end(), [](const auto& a, const auto& b) { return a.temperature < b.temperature; });
  // A single curve holds for its own temperature; 1 K is what a workshop keeps.
  if (curves.size() == 1 && std::abs(curves[0].temperature - *temperature) <= 1) return curves[0];
  for (std::size_t k = 0; k + 1 < curves.size(); ++k) {
    const AgeCurve &a = curves[k], &b = curves[k + 1];
    if (*temperature < a.temperature || *temperature > b.temperature || !(b.temperature > a.temperature)) continue;
    const double share = (*temperature - a.temperature) / (b.temperature - a.temperature);
    AgeCurve out;
    std::vector<double> ages;
    for (const auto* c : {&a, &b})
      for (const auto& p : c->points) ages.push_back(p.first);
    std::sort(ages.begin(), ages.end());
    ages.erase(std::unique(ages.begin(), ages.end()), ages.end());
    // No further than the shorter of the two was measured.
    const double end = std::min(a.points.back().first, b.points.back().first);
    for (const double age : ages)
      if (age <= end) out.points.emplace_back(age, a.at(age) * std::pow(b.at(age) / a.at(age), share));
    return out;
  }
  t.fail("curve", "none is of the resin's temperature; measure it there, or above and below it");
}

void read_ageing(Table t, FlowOptions& flow, std::optional<double> temperature) {
  const auto pot_life = t.quantity("pot_life", Dimension::time, Sign::positive);
  std::vector<AgeCurve> curves;
  for (auto& c : t.tables("curve")) {
    AgeCurve curve;
    const auto at = c.quantity("temperature", Dimension::temperature);
    curve.points = c.pairs("viscosity", Dimension::time, Dimension::viscosity);
    if (curve.points.empty())
      c.fail("viscosity is missing; add viscosity = [[\"1 min\", \"0.2 Pa.s\"], [\"15 min\", \"0.4 Pa.s\"]]");
    curve.temperature = at ? *at : temperature.value_or(0);
    c.done();
    curves.push_back(std::move(curve));
  }
  if (pot_life && !curves.empty()) t.fail("pot_life", "give either pot_life or curves, not both");
  if (!pot_life && curves.empty()) t.fail("how does it age? give pot_life = \"20 min\", or [[flow.ageing.curve]]");
  if (pot_life) {
    if (!(flow.gel_time > *pot_life))
      t.fail("pot_life", "needs [flow] gel_time, which is longer: both count from mixing on");
    flow.ageing = flow::rise_to_gel(*pot_life, flow.gel_time);
  } else {
    const AgeCurve curve = curve_at(t, std::move(curves), temperature);
    if (curve.points.size() < 2)
      t.fail("curve", "the two that lie about the temperature share less than two ages; measure longer");
    for (const auto& [age, viscosity] : curve.points) flow.ageing.rise.emplace_back(age, viscosity / flow.viscosity);
    flow.ageing.known_to = curve.points.back().first;
    if (flow.gel_time > 0) flow.ageing.gel = flow.gel_time;
  }
  flow.ageing.start = t.quantity("age", Dimension::time, Sign::not_negative).value_or(0);
  if (flow.gel_time > 0) {
    if (!(flow.gel_time > flow.ageing.start)) t.fail("age", "the resin has gelled before it enters");
    flow.gel_time -= flow.ageing.start;  // what is left of it when the fill begins
  }
  t.done();
}

}  // namespace

void read_supply(Table& t, FlowOptions& flow, std::optional<double> temperature) {
  if (auto s = t.table("supply")) read_hose(*s, flow);
  if (const auto down = t.point("down")) {
    flow.gravity.down = *down;
    if (!(down->norm() > 0)) t.fail("down", "has no direction; write e.g. \"0, -1, 0 mm\"");
  }
  flow.gravity.density =
      t.quantity("liquid_density", Dimension::density, Sign::positive).value_or(flow.gravity.density);
  if (auto a = t.table("ageing")) read_ageing(*a, flow, temperature);
  flow.viscosity_spread = t.number("viscosity_spread", Sign::not_negative).value_or(0);
  if (!(flow.viscosity_spread < 1)) t.fail("viscosity_spread", "is a share below 1, e.g. 0.1 for 10 %");
  flow.wet_out.through = t.number("through_thickness", Sign::positive).value_or(0);
}

std::vector<RunnerSection> read_sections(Table& t) {
  std::vector<RunnerSection> out;
  for (auto& s : t.tables("section")) {
    RunnerSection r;
    r.at = s.need("at", s.point("at"), "\"0, 0, 0 mm\"");
    r.width = s.need_positive("width", Dimension::length, "\"12 mm\"");
    r.depth = s.need_positive("depth", Dimension::length, "\"8 mm\"");
    s.done();
    out.push_back(r);
  }
  if (out.size() == 1)
    t.fail("section", "needs two or more places; for one section all along give runner_width and runner_depth");
  return out;
}

}  // namespace gapfront::job
