// What hose, weight, age and thickness do to the fill, in words.
#include <algorithm>
#include <cmath>

#include "gapfront/process_words.hpp"

namespace gapfront::pipeline {
namespace {

// Of the pressure limit: a hose that takes less is well chosen, a vent line that does is none to speak of (own choice).
constexpr double kMuch = 0.1, kLittle = 0.01;

void hose(const FlowOptions& o, const SupplyCourse& s, Messages& out) {
  const Supply& h = o.supply;
  if (h.hose_length > 0) {
    out.push_back(Message(h.gauge_at_pump ? "supply.hose-takes-from-limit" : "supply.hose-takes",
                          {arg::pressure(s.hose_peak), arg::pressure(s.pump_peak)}));
    const double bore = h.hose_bore * std::pow(s.hose_peak / (kMuch * o.pressure_limit), 0.25);
    if (h.gauge_at_pump && bore > 1.02 * h.hose_bore)
      out.push_back(Message("supply.wider-hose", {arg::length(std::ceil(bore), 0), arg::fraction(kMuch, 0)}));
    out.push_back(Message("supply.hose-holds", {arg::volume(h.hose_volume())}));
  }
  if (h.pump_above != 0)
    out.push_back(Message(h.pump_above > 0 ? "supply.pump-stands-above" : "supply.pump-stands-below",
                          {arg::length(std::abs(h.pump_above), 0), arg::pressure(std::abs(s.head))}));
  if (s.vent_air > kLittle * (o.pressure_limit + atmosphere_pa - o.cavity_pressure))
    out.push_back(Message("supply.vent-line-narrow", {arg::pressure(s.vent_air)}));
  if (h.pot_volume > 0 && s.bled > 0)
    out.push_back(Message(s.bled > h.pot_volume ? "supply.catch-pot-overflows" : "supply.catch-pot-takes",
                          {arg::volume(s.bled), arg::volume(h.pot_volume)}));
}

void weight(const FlowOptions& o, const SupplyCourse& s, double fill_time, Messages& out) {
  if (!o.gravity.on()) return;
  out.push_back(Message("supply.weight-counts", {arg::pressure(s.column)}));
  if (std::isfinite(s.stands_at))
    out.push_back(Message("supply.stands-under-weight", {arg::time(s.stands_at, fill_time), arg::area(s.left_dry)}));
  if (s.runs_down) out.push_back(Message("supply.runs-down"));
}

void age(const FlowOptions& o, const SupplyCourse& s, double fill_time, Messages& out) {
  if (o.ageing.on()) {
    out.push_back(Message("supply.thickens", {arg::number(s.thickest, 2)}));
    if (s.past_known) out.push_back(Message("supply.past-what-is-known", {arg::time(o.ageing.known_to)}));
    out.push_back(Message("supply.exotherm"));
  }
  if (s.thin_time > 0) {
    out.push_back(Message("supply.by-viscosity", {arg::time(s.thin_time, fill_time), arg::time(s.thick_time, fill_time),
                                                  arg::area(s.thick_dry)}));
  }
}

void thickness(const FlowOptions& o, const SupplyCourse& s, double fill_time, Messages& out) {
  if (!(o.wet_out.through > 0)) return;
  if (s.soak_time > 0)
    out.push_back(Message("supply.stack-soaks", {arg::time(s.soak_time, fill_time), arg::place(s.soak_at)}));
  if (s.soak_dry > 0)
    out.push_back(Message("supply.stack-stays-dry", {arg::area(s.soak_dry), arg::place(s.soak_dry_at)}));
  out.push_back(Message(s.soak_time == 0 && s.soak_dry == 0 ? "supply.no-channel" : "supply.one-front"));
}

}  // namespace

Messages supply_words(const Predicted& r) {
  const SupplyCourse& s = r.filling.supply;
  Messages out;
  if (const ClosingOptions& c = r.job.flow.closing; c.wet_glass < 1)
    out.push_back(Message(
        "supply.wet-glass",
        {arg::fraction(c.wet_glass, 0), arg::fraction(std::min(1.0, c.wet_glass * (1 + 2 * c.wet_glass_spread)), 0)}));
  if (!s.on) return out;
  const double fill_time = r.nominal_filling.fill_time;
  hose(r.job.flow, s, out), weight(r.job.flow, s, fill_time, out);
  age(r.job.flow, s, fill_time, out), thickness(r.job.flow, s, fill_time, out);
  return out;
}

}  // namespace gapfront::pipeline
