#include "report/fields.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <stdexcept>

#include "gapfront/text.hpp"
#include "units/digits.hpp"
#include "units/words.hpp"

namespace gapfront::report {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

struct Shown {
  double per;  ///< internal units per shown unit
  int decimals;
  const char* unit;
};

Shown shown_as(Dimension d, UnitSystem s) {
  const bool inch = s == UnitSystem::inch;
  switch (d) {
    case Dimension::length:
      return inch ? Shown{25.4, 4, "in"} : Shown{1, 3, "mm"};
    case Dimension::area:
      return inch ? Shown{645.16, 2, "in²"} : Shown{100, 1, "cm²"};
    case Dimension::volume:
      return inch ? Shown{16387.064, 2, "in³"} : Shown{1000, 1, "cm³"};
    case Dimension::pressure:
      return inch ? Shown{6894.757, 1, "psi"} : Shown{1e5, 2, "bar"};
    case Dimension::flow_rate:
      return Shown{1e6 / 60, 3, "L/min"};  // a tight mold takes a few mL a minute
    case Dimension::time:
      return Shown{1, 1, "s"};
    case Dimension::fraction:
      return Shown{0.01, 1, "%"};
    default:
      return Shown{1, 3, ""};
  }
}

double median_of(std::vector<double> v) {
  v.erase(std::remove_if(v.begin(), v.end(), [](double x) { return !std::isfinite(x); }), v.end());
  if (v.empty()) return 0;
  std::nth_element(v.begin(), v.begin() + v.size() / 2, v.end());
  return v[v.size() / 2];
}

/// Lengths across the cavity by the U of the gap, times by the fill time.
void set_decimals(std::vector<Field>& all, const Inspection& r) {
  double U = 0;
  for (const Field& f : all)
    if (f.id == "U_mm") U = median_of(f.values);
  for (Field& f : all) {
    if (f.dimension == Dimension::length && f.id != "lead_mm")
      f.decimals = decimals_for(U / per_shown_unit(f.dimension, r.job.units), shown_decimals(f.dimension, r.job.units));
    if (f.dimension == Dimension::time) f.decimals = second_decimals(r.nominal_filling.fill_time);
  }
}

}  // namespace

std::vector<Field> fields(const Inspection& r) {
  const std::size_t n = r.sheet.size();
  std::vector<Field> all;
  // In doubt only what was measured is there: the gap as registered, and what its uncertainty is made of.
  const auto withheld = [&](const std::string& id) {
    static const std::set<std::string> kept{
        "gap_mm",     "gap_along_normal_mm", "nominal_mm",        "deviation_mm",
        "U_mm",       "limit_low_mm",        "limit_high_mm",     "u_lower_mm",
        "u_upper_mm", "u_instrument_mm",     "u_registration_mm", "u_temperature_mm"};
    return r.doubt && kept.count(id) == 0;
  };
  auto add = [&](const char* id, const char* title, const char* meaning, Dimension d, Scale s, bool zero, auto value) {
    Field f{id, Message(title), Message(meaning), d, s, zero, std::vector<double>(n, none)};
    if (const auto column = r.columns.find(id); column != r.columns.end() && column->second.size() == n)
      f.values = column->second;
    else if (r.columns.empty() && !withheld(id))
      for (std::size_t i = 0; i < n; ++i)
        if (const double v = value(i); std::isfinite(v)) f.values[i] = v;
    all.push_back(std::move(f));
  };
  auto data_only = [&](auto... field) {
    add(field...);
    all.back().on_screen = false;
  };
  const auto& gap = r.gap.nodes;
  auto measured = [&](std::size_t i, double v) { return gap[i].measured ? v : none; };
  auto after = [&](std::size_t i) { return r.plan.gap_after.size() == n ? measured(i, r.plan.gap_after[i]) : none; };
  const auto limits =
      r.columns.empty() ? conformity::tolerance_limits(r.sheet, r.job.tolerance) : std::vector<NodeLimits>();
  // What creeps into shut-in air after the end of the fill has come by its end, as far as anybody waits for it.
  auto till_end = [](const Filling& f, double t) {
    return f.fill_time > 0 && std::isfinite(t) ? std::min(t, f.fill_time) : t;
  };
  using D = Dimension;
  using S = Scale;
  add("gap_mm", "gap.gap-2", "gap.cavity-thickness-diameter-ball", D::length, S::sequence, false,
      [&](auto i) { return measured(i, gap[i].gap); });
  data_only("gap_along_normal_mm", "gap.gap-along-lower-normal", "gap.length-from-lower-face", D::length, S::sequence,
            false, [&](auto i) { return measured(i, gap[i].along_normal); });
  add("nominal_mm", "gap.nominal", "gap.laminate-thickness-gap-should", D::length, S::sequence, false,
      [&](auto i) { return r.verdict.nominal[i]; });
  add("deviation_mm", "gap.deviation", "gap.gap-minus-nominal-brown", D::length, S::diverging, true,
      [&](auto i) { return measured(i, r.verdict.deviation[i]); });
  add("U_mm", "gap.expanded-uncertainty-u", "gap.gap-within-u-about", D::length, S::amount, false,
      [&](auto i) { return measured(i, gap[i].U); });
  add("conformity", "gap.conformity", "gap.conforming-undecided-nonconforming-not", D::mass, S::amount, false,
      [&](auto i) { return static_cast<double>(r.verdict.node[i]); });
  add("remainder_mm", "gap.remainder", "gap.deviation-left-when-best", D::length, S::diverging, true,
      [&](auto i) { return r.verdict.remainder.size() == n ? measured(i, r.verdict.remainder[i]) : none; });
  add("fibre_volume_fraction", "gap.fibre-volume-fraction", "gap.share-cavity-glass", D::fraction, S::sequence, false,
      [&](auto i) { return r.laminate.nodes[i].vf; });
  add("weight_fraction", "gap.glass-weight", "gap.share-laminates-weight-glass", D::fraction, S::sequence, false,
      [&](auto i) { return r.laminate.nodes[i].weight_fraction; });
  add("channel_mm", "gap.open-channel", "gap.height-glass-does-not", D::length, S::amount, false,
      [&](auto i) { return r.laminate.nodes[i].channel; });
  data_only("compaction_Pa", "clamping.push-glass-2", "clamping.pressure-squeezes-dry-glass", D::pressure, S::amount,
            false, [&](auto i) { return r.laminate.nodes[i].compaction; });
  add("load_share", "clamping.load-glass", "clamping.push-glass-share-clamping", D::fraction, S::amount, false,
      [&](auto i) { return r.laminate.nodes[i].compaction / r.job.laminate.clamping_pressure; });
  data_only("glass_state", "clamping.state-glass", "clamping.order-under-filled-over", D::mass, S::amount, false,
            [&](auto i) {
              const auto& g = r.laminate.nodes[i];
              return g.over_packed ? 2.0 : g.under_filled ? 1.0 : g.weight_out ? 3.0 : 0.0;
            });
  auto at = [&](const std::vector<double>& v, std::size_t i) { return v.size() == n ? v[i] : none; };
  add("opening_margin_Pa", "clamping.local-margin", "gap.local-margin-meaning", D::pressure, S::diverging, true,
      [&](auto i) { return at(r.filling.opening.minimum, i); });
  data_only("breathing_vacuum_mm", "clamping.breathing-vacuum", "clamping.upper-half-against-shape-scanned", D::length,
            S::diverging, true, [&](auto i) { return at(r.breathing.dry.move, i); });
  data_only("breathing_mm", "clamping.breathing-mean-fill", "clamping.upper-half-against-shape-scanned-2", D::length,
            S::diverging, true, [&](auto i) { return at(r.breathing.filling.move, i); });
  data_only("breathing_worst_mm", "clamping.breathing-least-margin", "clamping.upper-half-against-shape-scanned-2",
            D::length, S::diverging, true, [&](auto i) { return at(r.breathing.worst.move, i); });
  data_only("gap_filling_mm", "clamping.gap-under-vacuum-resin", "clamping.what-resin-meets-where", D::length,
            S::sequence, false,
            [&](auto i) { return r.flow_gap.size() == n ? r.flow_gap[i] + at(r.breathing.filling.move, i) : none; });
  add("arrival_nominal_s", "gap.arrival-nominal-gap", "gap.when-front-would-pass", D::time, S::sequence, false,
      [&](auto i) { return till_end(r.nominal_filling, r.nominal_filling.arrival[i]); });
  add("arrival_s", "gap.arrival-measured-gap", "gap.when-front-passes-gap", D::time, S::sequence, false,
      [&](auto i) { return till_end(r.filling, r.filling.arrival[i]); });
  add("lead_s", "gap.lead", "gap.nominal-arrival-minus-measured", D::time, S::diverging, true,
      [&](auto i) { return r.lead.seconds.size() == n ? r.lead.seconds[i] : none; });
  data_only("lead_mm", "work.lead-length-front", "work.lead-times-speed-nominal", D::length, S::diverging, true,
            [&](auto i) { return r.lead.mm.size() == n ? r.lead.mm[i] : none; });
  auto chance = [&](const char* id, const char* title, const char* meaning, const std::vector<double>& p) {
    add(id, title, meaning, D::fraction, S::amount, false, [&](auto i) { return p.size() == n ? p[i] : none; });
  };
  chance("p_lead", "work.probability-lead", "work.share-drawn-fillings-which", r.ensemble.leads);
  chance("p_dry", "work.probability-staying-dry", "work.share-drawn-fillings-which-resin", r.ensemble.dry);
  chance("p_last", "work.probability-filling-last", "work.share-drawn-fillings-which-this", r.ensemble.last);
  add("peak_pressure_Pa", "gap.highest-resin-pressure", "gap.absolute-over-whole-fill", D::pressure, S::amount, false,
      [&](auto i) { return r.filling.peak_pressure.size() == n ? r.filling.peak_pressure[i] : none; });
  add("gap_after_mm", "gap.gap-after-corrections", "gap.re-computed-not-measured", D::length, S::sequence, false,
      after);
  add("deviation_after_mm", "gap.deviation-after-corrections", "gap.re-computed-not-measured", D::length, S::diverging,
      true, [&](auto i) { return after(i) - r.verdict.nominal[i]; });
  add("conformity_after", "gap.conformity-after-corrections", "gap.re-computed-gap-same", D::mass, S::amount, false,
      [&](auto i) {
        const double y = after(i);
        if (!std::isfinite(y)) return static_cast<double>(Conformity::not_measured);
        return static_cast<double>(conformity::decide(y, {limits[i].low, limits[i].high}, gap[i].U));
      });
  const auto& arrival_after = r.filling_after.arrival;
  auto at_after = [&](std::size_t i) {
    return arrival_after.size() == n ? till_end(r.filling_after, arrival_after[i]) : none;
  };
  add("arrival_after_s", "gap.arrival-after-corrections", "gap.re-computed-not-measured", D::time, S::sequence, false,
      at_after);
  add("lead_after_s", "gap.lead-after-corrections", "gap.re-computed-not-measured", D::time, S::diverging, true,
      [&](auto i) {  // with a port moved the nominal front is another one as well
        const auto& moved = r.plan.nominal_arrival_after;
        return (moved.size() == n ? moved[i] : till_end(r.nominal_filling, r.nominal_filling.arrival[i])) - at_after(i);
      });
  data_only("limit_low_mm", "gap.lower-limit", "gap.least-gap-allowed", D::length, S::sequence, false,
            [&](auto i) { return limits[i].low; });
  data_only("limit_high_mm", "gap.upper-limit", "gap.greatest-gap-allowed", D::length, S::sequence, false,
            [&](auto i) { return limits[i].high; });
  auto part = [&](const char* id, const char* title, double NodeGap::*u) {
    data_only(id, title, "gap.standard-uncertainty-gap-this", D::length, S::amount, false,
              [&, u](auto i) { return measured(i, gap[i].*u); });
  };
  part("u_lower_mm", "gap.u-fit-lower-scan", &NodeGap::u_lower);
  part("u_upper_mm", "gap.u-fit-upper-scan", &NodeGap::u_upper);
  part("u_instrument_mm", "gap.u-instrument", &NodeGap::u_instrument);
  part("u_registration_mm", "gap.u-registration", &NodeGap::u_registration);
  part("u_temperature_mm", "gap.u-temperature", &NodeGap::u_temperature);
  data_only("fit_area_mm2", "outcome.area-fit", "outcome.face-fits-noise-averaged", D::area, S::amount, false,
            [&](auto i) { return measured(i, gap[i].fit_area); });
  set_decimals(all, r);
  return all;
}

const Field& find_field(const std::vector<Field>& all, const std::string& id) {
  for (const auto& f : all)
    if (f.id == id) return f;
  throw std::logic_error("no field " + id);
}

std::vector<Conformity> node_classes(const Inspection& r) {
  std::vector<Conformity> out;
  const auto all = fields(r);  // must outlive the loop: find_field refers into it
  for (double v : find_field(all, "conformity").values)
    out.push_back(v >= 0 && v <= static_cast<int>(Conformity::not_measured)
                      ? static_cast<Conformity>(static_cast<int>(v))
                      : Conformity::not_measured);
  return out;
}

long long shown_steps(double value, const Field& f, UnitSystem s) {
  return std::llround(value / per_shown_unit(f.dimension, s) * std::pow(10, decimals_of(f, s)));
}

int shown_decimals(Dimension d, UnitSystem s) { return shown_as(d, s).decimals; }

namespace {
/// To whole steps of the last decimal, as the page's script gets them; printf would take a tie the other way at times.
double rounded(double v, int decimals) {
  const double per = std::pow(10, decimals);
  return static_cast<double>(std::llround(v * per)) / per;
}
}  // namespace

std::string shown(double value, Dimension d, UnitSystem s) {
  if (!std::isfinite(value)) return "–";
  const Shown a = shown_as(d, s);
  int decimals = a.decimals;
  if (d == Dimension::area || d == Dimension::volume) decimals = size_decimals(value / a.per, s);
  if (d == Dimension::flow_rate && std::abs(value / a.per) > 0.0995) decimals = 2;  // as a pump is set
  return spoken(rounded(value / a.per, decimals), decimals);
}

int decimals_of(const Field& f, UnitSystem s) { return f.decimals < 0 ? shown_decimals(f.dimension, s) : f.decimals; }

std::string shown_unit(Dimension d, UnitSystem s) { return shown_as(d, s).unit; }
double per_shown_unit(Dimension d, UnitSystem s) { return shown_as(d, s).per; }

}  // namespace gapfront::report

namespace gapfront::report {

std::string field_list() {
  Inspection none_yet;  // of no node: only the names and meanings are wanted
  std::string out;
  for (const auto& f : report::fields(none_yet)) out += f.id + "\t" + say(f.title) + ": " + say(f.meaning) + "\n";
  return out;
}

}  // namespace gapfront::report
